//! What was used, and how long it was watched.

use jiff::civil::Date;

use super::DAYS_PER_YEAR;
use super::error::HistoryError;

/// Earlier dates are slips.
pub(super) const EARLIEST_YEAR: i16 = 1900;
/// More pieces in one need are a slip.
pub(super) const MOST_PIECES: u32 = 10_000;

/// One need: so many pieces at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Need {
    /// The day.
    pub day: Date,
    /// Pieces, at least 1.
    pub quantity: u32,
}

/// The needs of one part in the time it was watched.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct History {
    needs: Vec<Need>,
    from: Date,
    today: Date,
}

impl History {
    /// Reads rows of date and quantity, sorted by date. The time watched runs from the first row to today, which is the last row's date
    /// unless given; a quantity of 0 only marks watched time. One row is one need: pieces for one camera belong in one row.
    ///
    /// # Errors
    /// [`HistoryError`] when there is no row, or one is out of order, in the future, or absurd.
    pub fn of_rows(
        rows: impl IntoIterator<Item = (Date, u32)>,
        today: Option<Date>,
    ) -> Result<Self, HistoryError> {
        let mut needs = Vec::new();
        let mut span: Option<(Date, Date)> = None;
        for (n, (date, quantity)) in rows.into_iter().enumerate() {
            let row = n + 1;
            if date.year() < EARLIEST_YEAR {
                return Err(HistoryError::LongAgo { row, date });
            }
            if let Some(today) = today.filter(|today| date > *today) {
                return Err(HistoryError::Future { row, date, today });
            }
            if quantity > MOST_PIECES {
                return Err(HistoryError::Quantity { row, quantity });
            }
            let (from, before) = span.unwrap_or((date, date));
            if date < before {
                return Err(HistoryError::OutOfOrder { row, date, before });
            }
            span = Some((from, date));
            if quantity > 0 {
                let day = date;
                needs.push(Need { day, quantity });
            }
        }
        let (from, last) = span.ok_or(HistoryError::Empty)?;
        let today = today.unwrap_or(last);
        Ok(Self { needs, from, today })
    }

    /// The needs, by date.
    #[must_use]
    pub fn needs(&self) -> &[Need] {
        &self.needs
    }

    /// The day on which watching began.
    #[must_use]
    pub const fn from(&self) -> Date {
        self.from
    }

    /// The day until which was watched, and from which a forecast looks ahead.
    #[must_use]
    pub const fn today(&self) -> Date {
        self.today
    }

    /// Years watched.
    #[must_use]
    pub fn years(&self) -> f64 {
        years_between(self.from, self.today)
    }

    /// Pieces used in all.
    #[must_use]
    pub fn pieces(&self) -> u64 {
        self.needs.iter().map(|need| u64::from(need.quantity)).sum()
    }
}

/// Years from one day to another; negative when the other is earlier.
pub(super) fn years_between(from: Date, to: Date) -> f64 {
    days_between(from, to) as f64 / DAYS_PER_YEAR
}

/// Days from one day to another.
pub(super) fn days_between(from: Date, to: Date) -> i64 {
    to.duration_since(from).as_hours() / 24
}

/// The day so many days later, while the calendar reaches that far.
pub(super) fn days_after(day: Date, days: i64) -> Option<Date> {
    let hours = days.checked_mul(24)?;
    day.checked_add(jiff::SignedDuration::from_hours(hours))
        .ok()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn rows_of_nothing_only_mark_watched_time() {
        let rows = [
            (date(2031, 1, 1), 0),
            (date(2031, 6, 1), 2),
            (date(2032, 1, 1), 0),
        ];
        let history = History::of_rows(rows, Some(date(2035, 1, 1))).unwrap();
        assert_eq!(
            history.needs(),
            [Need {
                day: date(2031, 6, 1),
                quantity: 2
            }]
        );
        assert!((history.years() - 4.0).abs() < 1e-9, "{}", history.years());
        let history = History::of_rows(rows, None).unwrap();
        assert_eq!(history.today(), date(2032, 1, 1));
    }

    #[test]
    fn each_slip_names_its_row() {
        let good = (date(2031, 1, 1), 1);
        let today = Some(date(2033, 1, 1));
        let cases = [
            ((date(2030, 12, 31), 1), "2030-12-31 is before 2031-01-01"),
            ((date(2033, 1, 2), 0), "2033-01-02 is after today"),
            ((date(2031, 1, 2), 10_001), "10001 pieces"),
            ((date(203, 1, 2), 1), "0203-01-02 is before the year"),
        ];
        for (bad, says) in cases {
            let error = History::of_rows([good, bad], today).unwrap_err();
            assert!(error.to_string().starts_with(says), "{error}");
            assert_eq!(error.row(), Some(2));
        }
        assert_eq!(History::of_rows([], today), Err(HistoryError::Empty));
    }

    #[test]
    fn two_needs_on_one_day_are_two_needs() {
        let day = (date(2031, 1, 1), 1);
        assert_eq!(History::of_rows([day, day], None).unwrap().needs().len(), 2);
    }

    #[test]
    fn days_and_years_go_both_ways() {
        let day = date(2031, 2, 28);
        for days in [0, 1, 365, 36_525, -400] {
            let then = days_after(day, days).unwrap();
            assert_eq!(days_between(day, then), days);
        }
        assert_eq!(days_after(date(9999, 12, 31), 1), None);
    }
}
