//! A day of the calendar.

use std::fmt;

use serde::{Serialize, Serializer};

/// A day of the Gregorian calendar, from the year 1 to 9999; shown and serialised as `2026-03-14`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

impl Date {
    /// The day, when there is such a day.
    #[must_use]
    pub fn new(year: u16, month: u8, day: u8) -> Option<Self> {
        let leap =
            year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let days = match month {
            4 | 6 | 9 | 11 => 30,
            2 if leap => 29,
            2 => 28,
            1..=12 => 31,
            _ => return None,
        };
        ((1..=9999).contains(&year) && (1..=days).contains(&day)).then_some(Self {
            year,
            month,
            day,
        })
    }

    /// The year.
    #[must_use]
    pub const fn year(self) -> u16 {
        self.year
    }

    /// The month, from 1.
    #[must_use]
    pub const fn month(self) -> u8 {
        self.month
    }

    /// The day of the month, from 1.
    #[must_use]
    pub const fn day(self) -> u8 {
        self.day
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl Serialize for Date {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_days_that_exist_are_dates() {
        for (y, m, d) in [
            (2026, 3, 14),
            (2024, 2, 29),
            (2000, 2, 29),
            (1, 1, 1),
            (9999, 12, 31),
        ] {
            assert!(Date::new(y, m, d).is_some(), "{y}-{m}-{d}");
        }
        for (y, m, d) in [
            (2026, 2, 29),
            (1900, 2, 29),
            (2026, 0, 1),
            (2026, 13, 1),
            (2026, 4, 31),
            (0, 1, 1),
        ] {
            assert!(Date::new(y, m, d).is_none(), "{y}-{m}-{d}");
        }
    }
}
