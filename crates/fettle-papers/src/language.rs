//! The languages papers are written in, and how each writes days, figures and amounts.

use jiff::civil::Date;

use crate::words::Words;

/// The language of a paper's fixed words. What the record holds is set as it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Language {
    /// English.
    #[default]
    En,
    /// German.
    De,
}

/// Which form of a word goes with a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Plural {
    One,
    Other,
}

impl Language {
    /// Every language, the default first.
    pub const ALL: [Self; 2] = [Self::En, Self::De];

    /// Its code after ISO 639-1.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::En => "en",
            Self::De => "de",
        }
    }

    /// The language with this code; `None` when the papers do not know it.
    #[must_use]
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|it| it.code() == code)
    }

    /// A day in words: `25 November 2026`.
    ///
    /// ```
    /// use fettle_papers::Language;
    /// use jiff::civil::date;
    ///
    /// assert_eq!(Language::En.day(date(2026, 3, 5)), "5 March 2026");
    /// assert_eq!(Language::De.day(date(2026, 3, 5)), "5. März 2026");
    /// ```
    #[must_use]
    pub fn day(self, day: Date) -> String {
        let words = Words::of(self);
        let month = usize::try_from(day.month() - 1)
            .ok()
            .and_then(|at| words.list("house.months").get(at))
            .map_or("", String::as_str);
        let with = [
            ("day", day.day().to_string()),
            ("month", month.to_owned()),
            ("year", day.year().to_string()),
        ];
        words.fill("house.day", &with)
    }

    /// An exact decimal such as `-1234.50` with this language's decimal sign and thousands parted. A text that is no
    /// plain decimal stays as it is.
    ///
    /// ```
    /// use fettle_papers::Language;
    ///
    /// assert_eq!(Language::En.decimal("-1234.50"), "−1,234.50");
    /// assert_eq!(Language::De.decimal("-1234.50"), "−1.234,50");
    /// ```
    #[must_use]
    pub fn decimal(self, exact: &str) -> String {
        let (sign, digits) = match exact.strip_prefix('-') {
            Some(digits) => ("−", digits),
            None => ("", exact),
        };
        let (whole, decimals) = digits
            .split_once('.')
            .map_or((digits, None), |(whole, decimals)| (whole, Some(decimals)));
        let is_number =
            |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        if !is_number(whole) || !decimals.is_none_or(is_number) {
            return exact.to_owned();
        }
        let words = Words::of(self);
        let mut written = sign.to_owned();
        for (at, digit) in whole.chars().enumerate() {
            if at > 0 && (whole.len() - at).is_multiple_of(3) {
                written.push_str(words.say("house.thousands"));
            }
            written.push(digit);
        }
        if let Some(decimals) = decimals {
            written.push_str(words.say("house.decimal"));
            written.push_str(decimals);
        }
        written
    }

    /// A figure as the instruments write it (`−0.35`, `1.2e12`), with this language's decimal sign.
    pub(crate) fn figure(self, figure: &str) -> String {
        match self {
            Self::En => figure.to_owned(),
            Self::De => figure.replace('.', Words::of(self).say("house.decimal")),
        }
    }

    /// An amount with its currency.
    pub(crate) fn money(self, amount: &str, currency: &str) -> String {
        let with = [
            ("amount", self.decimal(amount)),
            ("currency", currency.to_owned()),
        ];
        Words::of(self).fill("house.money", &with).trim().to_owned()
    }

    /// A thing with how many of it there are, unless it is one.
    pub(crate) fn pieces(self, quantity: u32, what: &str) -> String {
        if quantity == 1 {
            return what.to_owned();
        }
        let with = [
            ("quantity", quantity.to_string()),
            ("what", what.to_owned()),
        ];
        Words::of(self).fill("house.quantity", &with)
    }

    /// Grams as kilograms, none lost: `1.250 kg`.
    pub(crate) fn kilograms(self, grams: u32) -> String {
        let exact = format!("{}.{:03}", grams / 1000, grams % 1000);
        let kg = self.decimal(&exact);
        Words::of(self).fill("house.kilograms", &[("kg", kg)])
    }

    /// Minutes as they are told: `45 min`, `2 h`, `2 h 20 min`.
    pub(crate) fn minutes(self, minutes: u32) -> String {
        let key = match (minutes / 60, minutes % 60) {
            (0, _) => "house.minutes",
            (_, 0) => "house.hours",
            _ => "house.hours_and_minutes",
        };
        let with = [
            ("hours", (minutes / 60).to_string()),
            ("minutes", (minutes % 60).to_string()),
        ];
        Words::of(self).fill(key, &with)
    }

    /// Both languages have the plural rule of CLDR's English and German: one is one, all else is other.
    pub(crate) const fn plural(self, n: u64) -> Plural {
        match (self, n) {
            (Self::En | Self::De, 1) => Plural::One,
            _ => Plural::Other,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_parted_and_nothing_is_lost() {
        let cases = [
            ("0", "0", "0"),
            ("999.99", "999.99", "999,99"),
            ("1000", "1,000", "1.000"),
            ("1234567.125", "1,234,567.125", "1.234.567,125"),
            ("-12.5", "−12.5", "−12,5"),
            ("about 12", "about 12", "about 12"),
            ("1.2.3", "1.2.3", "1.2.3"),
            (".5", ".5", ".5"),
            ("", "", ""),
        ];
        for (exact, en, de) in cases {
            assert_eq!(Language::En.decimal(exact), en);
            assert_eq!(Language::De.decimal(exact), de);
        }
    }

    #[test]
    fn minutes_turn_into_hours() {
        for (minutes, want) in [
            (0, "0 min"),
            (59, "59 min"),
            (60, "1 h"),
            (61, "1 h 1 min"),
            (150, "2 h 30 min"),
        ] {
            assert_eq!(Language::En.minutes(minutes), want);
        }
    }

    #[test]
    fn codes_lead_back_to_their_language() {
        for language in Language::ALL {
            assert_eq!(Language::of_code(language.code()), Some(language));
        }
        assert_eq!(Language::of_code("xx"), None);
    }
}
