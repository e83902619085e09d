//! Amounts, minutes and counts as people write them.

use fettle_bench::{Currency, Decimal, Money};

use super::{DecimalSign, Unfit};

/// Signs that stand for one currency alone.
const SIGNS: [(&str, &str); 4] = [("€", "EUR"), ("£", "GBP"), ("₹", "INR"), ("₩", "KRW")];
/// Signs that several currencies have; they stand for the bench's own.
const SHARED_SIGNS: [&str; 3] = ["$", "¥", "kr"];

/// An amount of money: `12.50`, `12,50 €`, `EUR 1.234,50`. `told` is the currency where the amount names none.
pub(crate) fn amount(
    cell: &str,
    told: Currency,
    decimal: Option<DecimalSign>,
) -> Result<Money, Unfit> {
    let no_amount = || Unfit::new("is not an amount", "write a number such as 12.50");
    let first = cell
        .find(|c: char| c.is_ascii_digit())
        .ok_or_else(no_amount)?;
    let last = cell.rfind(|c: char| c.is_ascii_digit()).unwrap_or(first);
    let (before, rest) = cell.split_at(first);
    let (figure, after) = rest.split_at(last - first + 1);
    // `12,-` is a whole amount.
    let after = after
        .trim_start_matches(",-")
        .trim_start_matches(",–")
        .trim();
    let before = before.trim();
    let (sign, negative) = match before.strip_prefix(['-', '−']) {
        Some(rest) => (rest.trim(), true),
        None => match before.strip_suffix(['-', '−']) {
            Some(rest) => (rest.trim(), true),
            None => (before, false),
        },
    };
    let currency = match (sign, after) {
        ("", "") => told,
        (named, "") | ("", named) => currency(named, told).ok_or_else(no_amount)?,
        _ => return Err(no_amount()),
    };
    let value = number(figure, decimal)?;
    if negative && !value.is_zero() {
        return Err(Unfit::new("is below zero", "write 0 or more"));
    }
    Ok(Money::new(value, currency))
}

fn currency(named: &str, told: Currency) -> Option<Currency> {
    if SHARED_SIGNS.contains(&named) {
        return Some(told);
    }
    let sign = SIGNS.iter().find(|(sign, _)| *sign == named);
    let code = sign.map_or(named, |(_, code)| code);
    Currency::new(code).ok()
}

/// Minutes: `90`, `90 min`, `1:30`, `1 h 30`, `1,5 h`.
pub(crate) fn minutes(cell: &str, decimal: Option<DecimalSign>) -> Result<f64, Unfit> {
    let unfit = || {
        Unfit::new(
            "is not a time",
            "write minutes such as 90, or hours such as 1:30",
        )
    };
    let text = cell.to_lowercase();
    let text = text.trim();
    let small = |minutes: f64| {
        let fits = (0.0..=100_000.0).contains(&minutes);
        fits.then_some(minutes)
            .ok_or_else(|| Unfit::new("is no time that work can take", "write minutes such as 90"))
    };
    if let Some((hours, rest)) = text.split_once(':') {
        let whole = |text: &str| text.trim().parse::<u16>().ok();
        let rest = rest.trim_end_matches(['h', ' ']);
        // Sheets write times to the second; work is told in minutes.
        let (minutes, seconds) = rest.split_once(':').unwrap_or((rest, "0"));
        return match (whole(hours), whole(minutes), whole(seconds)) {
            (Some(hours), Some(minutes), Some(seconds)) if minutes < 60 && seconds < 60 => {
                small(f64::from(hours) * 60.0 + f64::from(minutes))
            }
            _ => Err(unfit()),
        };
    }
    let letters = text.find(char::is_alphabetic).unwrap_or(text.len());
    let (figure, unit) = text.split_at(letters);
    let ends = unit
        .find(|c: char| !c.is_alphabetic())
        .unwrap_or(unit.len());
    let (unit, rest) = unit.split_at(ends);
    let value = number(figure.trim(), decimal).map_err(|told| {
        if told.remedy.contains("--decimal") {
            told
        } else {
            unfit()
        }
    })?;
    let value = f64::try_from(value).map_err(|_| unfit())?;
    let rest = rest.trim_matches(['.', ' ']);
    match unit {
        "" | "m" | "min" | "mins" | "minute" | "minutes" | "minuten" if rest.is_empty() => {
            small(value)
        }
        "h" | "hr" | "hrs" | "hour" | "hours" | "std" | "stunde" | "stunden" => {
            let rest = rest.trim_end_matches(|c: char| c.is_alphabetic() || c == '.');
            let rest = rest.trim();
            let more = if rest.is_empty() {
                Ok(0)
            } else {
                rest.parse::<u8>().map_err(|_| unfit())
            }?;
            small(value * 60.0 + f64::from(more))
        }
        _ => Err(unfit()),
    }
}

/// A count of pieces, from 0: `12`, `12 pcs`, `12,0`.
pub(crate) fn count(cell: &str, decimal: Option<DecimalSign>) -> Result<u32, Unfit> {
    let text = cell
        .trim()
        .trim_end_matches(|c: char| c.is_alphabetic() || c == '.')
        .trim();
    let value = number(text, decimal).map_err(|told| {
        if told.remedy.contains("--decimal") {
            told
        } else {
            Unfit::new("is not a count", "write a whole number such as 12")
        }
    })?;
    if !value.fract().is_zero() {
        return Err(Unfit::new("is not a whole number", "write whole pieces"));
    }
    let count = u32::try_from(value.trunc())
        .ok()
        .filter(|count| *count <= 1_000_000);
    count.ok_or_else(|| Unfit::new("is more than a drawer holds", "write at most 1000000"))
}

/// A number without sign, with either decimal sign and with or without a sign between thousands.
fn number(text: &str, decimal: Option<DecimalSign>) -> Result<Decimal, Unfit> {
    let no_number = || Unfit::new("is not a number", "write a number such as 12.50");
    // White space and apostrophes only ever stand between thousands.
    let bare: String = text
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '\'' | '’'))
        .collect();
    let fits = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
    if bare.is_empty() || !bare.chars().all(fits) || !bare.starts_with(|c: char| c.is_ascii_digit())
    {
        return Err(no_number());
    }
    let point = decimal_place(&bare, decimal).map_err(|two| {
        if two {
            Unfit::new(
                format!(
                    "can be {} and {}",
                    bare.replace(['.', ','], ""),
                    bare.replace(',', ".")
                ),
                "say which sign stands before decimals (on the command line --decimal comma or --decimal point)",
            )
        } else {
            no_number()
        }
    })?;
    let (whole, fraction) = match point {
        Some(at) => (bare.get(..at), bare.get(at + 1..)),
        None => (Some(bare.as_str()), None),
    };
    let whole = thousands(whole.unwrap_or_default()).ok_or_else(no_number)?;
    let plain = match fraction {
        Some(fraction) => format!("{whole}.{fraction}"),
        None => whole,
    };
    plain.parse().map_err(|_| no_number())
}

/// Where the decimal sign stands; the error tells whether the number can be read in two ways.
fn decimal_place(bare: &str, told: Option<DecimalSign>) -> Result<Option<usize>, bool> {
    let signs: Vec<(usize, char)> = bare
        .char_indices()
        .filter(|(_, c)| !c.is_ascii_digit())
        .collect();
    let once = |sign: char| {
        let mut places = signs.iter().filter(|(_, c)| *c == sign);
        let place = places.next().map(|(at, _)| *at);
        if places.next().is_some() {
            Err(false)
        } else {
            Ok(place)
        }
    };
    match told {
        Some(DecimalSign::Comma) => return once(','),
        Some(DecimalSign::Point) => return once('.'),
        None => {}
    }
    let Some((at, last)) = signs.last().copied() else {
        return Ok(None);
    };
    if signs.iter().any(|(_, c)| *c != last) {
        return once(last);
    }
    if signs.len() > 1 {
        return Ok(None);
    }
    // One sign with three digits behind it stands between thousands or before decimals, unless what is before it is no thousand.
    let (before, behind) = (at, bare.len() - at - 1);
    if behind == 3 && (1..=3).contains(&before) && !bare.starts_with('0') {
        return Err(true);
    }
    Ok(Some(at))
}

/// Digits with or without a sign between each three of them.
fn thousands(text: &str) -> Option<String> {
    let mut groups = text.split(['.', ',']);
    let first = groups.next()?;
    let rest: Vec<&str> = groups.collect();
    let grouped =
        rest.is_empty() || (first.len() <= 3 && rest.iter().all(|group| group.len() == 3));
    (grouped && !first.is_empty()).then(|| format!("{first}{}", rest.concat()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn paid(cell: &str) -> Result<String, String> {
        let told = Currency::new("XTS").unwrap();
        amount(cell, told, None)
            .map(|it| format!("{} {}", it.currency, it.amount))
            .map_err(|unfit| unfit.why)
    }

    #[test]
    fn an_amount_is_read_however_it_is_written() {
        for (cell, want) in [
            ("12.50", "XTS 12.50"),
            ("12,50", "XTS 12.50"),
            ("120", "XTS 120"),
            ("€ 12,50", "EUR 12.50"),
            ("12,50 €", "EUR 12.50"),
            ("EUR 1.234,50", "EUR 1234.50"),
            ("1,234.50 usd", "USD 1234.50"),
            ("1 234,50", "XTS 1234.50"),
            ("1'234.50", "XTS 1234.50"),
            ("1.234.567", "XTS 1234567"),
            ("$12", "XTS 12"),
            ("12,-", "XTS 12"),
            ("0,125", "XTS 0.125"),
            ("-0", "XTS 0"),
            ("12.3456", "XTS 12.3456"),
        ] {
            assert_eq!(paid(cell).as_deref(), Ok(want), "{cell}");
        }
    }

    #[test]
    fn what_is_no_amount_is_refused_with_the_reason() {
        for (cell, why) in [
            ("free", "is not an amount"),
            ("", "is not an amount"),
            ("12 or 13", "is not a number"),
            ("-5", "is below zero"),
            ("1,23.4,5", "is not a number"),
            ("12 potatoes", "is not an amount"),
            ("1.234", "can be 1234 and 1.234"),
            ("12,34,567", "is not a number"),
            ("99999999999999999999999999999999", "is not a number"),
        ] {
            assert_eq!(paid(cell).unwrap_err(), why, "{cell}");
        }
    }

    #[test]
    fn the_decimal_sign_settles_what_can_be_read_in_two_ways() {
        let told = Currency::new("XTS").unwrap();
        let read = |sign| {
            amount("1.234", told, Some(sign))
                .unwrap()
                .amount
                .to_string()
        };
        assert_eq!(read(DecimalSign::Comma), "1234");
        assert_eq!(read(DecimalSign::Point), "1.234");
    }

    #[test]
    fn minutes_are_read_however_they_are_written() {
        for (cell, want) in [
            ("90", 90.0),
            ("90 min", 90.0),
            ("90 Min.", 90.0),
            ("1:30", 90.0),
            ("1:30 h", 90.0),
            ("1:30:00", 90.0),
            ("1 h 30", 90.0),
            ("1 h 30 min", 90.0),
            ("1h30", 90.0),
            ("1,5 h", 90.0),
            ("1.5 Std.", 90.0),
            ("2 Stunden", 120.0),
            ("0", 0.0),
            ("12,5", 12.5),
        ] {
            assert_eq!(minutes(cell, None).ok(), Some(want), "{cell}");
        }
        for cell in ["long", "", "1:75", "-5", "90 days", "9999999", "1:2:x"] {
            assert!(minutes(cell, None).is_err(), "{cell}");
        }
    }

    #[test]
    fn counts_are_whole() {
        for (cell, want) in [
            ("12", 12),
            ("12 pcs", 12),
            ("12 Stk.", 12),
            ("12,0", 12),
            ("0", 0),
        ] {
            assert_eq!(count(cell, None).ok(), Some(want), "{cell}");
        }
        for cell in ["1.5", "many", "", "-1", "1000001", "1.234"] {
            assert!(count(cell, None).is_err(), "{cell}");
        }
    }

    proptest! {
        #[test]
        fn every_amount_comes_back_in_each_way_of_writing(whole in 0_u32..10_000_000, cents in 0_u32..100) {
            let told = Currency::new("XTS").unwrap();
            let want: Decimal = format!("{whole}.{cents:02}").parse().unwrap();
            let grouped = |sign: char| {
                let digits = whole.to_string();
                let mut text = String::new();
                for (n, digit) in digits.chars().enumerate() {
                    if n > 0 && (digits.len() - n) % 3 == 0 {
                        text.push(sign);
                    }
                    text.push(digit);
                }
                text
            };
            for cell in [
                format!("{whole}.{cents:02}"),
                format!("{whole},{cents:02} €"),
                format!("{}.{cents:02}", grouped(',')),
                format!("{},{cents:02}", grouped('.')),
                format!("XTS {},{cents:02}", grouped('\u{A0}')),
            ] {
                prop_assert_eq!(amount(&cell, told, None).map(|it| it.amount), Ok(want), "{}", cell);
            }
        }

        #[test]
        fn no_cell_makes_it_stumble(cell in any::<String>()) {
            let told = Currency::new("XTS").unwrap();
            let _ = (amount(&cell, told, None), minutes(&cell, None), count(&cell, None));
        }
    }
}
