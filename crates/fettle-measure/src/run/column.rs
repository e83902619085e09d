//! A column that a run of readings has or may have.

use jiff::Span;
use jiff::civil::Date;

/// One column: its heading, what it is counted in, and the values that can be right.
///
/// ```
/// use fettle_measure::run::{Column, Table};
/// const DISTANCE: Column = Column::new("distance_m", "m", 0.0, 1e4).or_word("inf", f64::INFINITY);
/// let table = Table::read(b"distance_m\n2,5\ninf\n", &[DISTANCE]);
/// assert!(table.is_err(), "a decimal comma needs another separator");
/// let table = Table::read(b"distance_m;n\n2,5;1\ninf;2\n", &[DISTANCE])?;
/// assert_eq!(table.rows()[1].get(0), Some(f64::INFINITY));
/// # Ok::<(), fettle_measure::run::RunError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    pub(super) name: &'static str,
    pub(super) unit: &'static str,
    pub(super) least: f64,
    pub(super) most: f64,
    pub(super) presence: Presence,
    pub(super) word: Option<(&'static str, f64)>,
    kind: Kind,
}

/// What stands in a column's cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Number,
    Whole,
    Date,
}

/// The day from which dates are counted.
const FIRST_DAY: Date = Date::constant(1970, 1, 1);
/// No camera is older; later than this is a slip of the pen.
const DAYS: (f64, f64) = (-51_134.0, 84_005.0);

/// The date that a column of dates gave as a number.
#[must_use]
pub fn date_of(days: f64) -> Option<Date> {
    let days = (DAYS.0..=DAYS.1).contains(&days).then_some(days)?;
    FIRST_DAY.checked_add(Span::new().days(days as i64)).ok()
}

/// Whether a column must be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Presence {
    /// It must, with a value in every row.
    Needed,
    /// It may be left out, but where it stands every row has a value.
    WholeOrNone,
    /// It may be left out, and so may single values.
    Optional,
}

impl Column {
    /// A column that must be there, with values from `least` to `most`, both included, in `unit`.
    #[must_use]
    pub const fn new(name: &'static str, unit: &'static str, least: f64, most: f64) -> Self {
        Self {
            name,
            unit,
            least,
            most,
            presence: Presence::Needed,
            word: None,
            kind: Kind::Number,
        }
    }

    /// A column of whole numbers that must be there, from `least` to `most`, both included.
    #[must_use]
    pub const fn whole(name: &'static str, unit: &'static str, least: f64, most: f64) -> Self {
        Self {
            kind: Kind::Whole,
            ..Self::new(name, unit, least, most)
        }
    }

    /// A column of dates that must be there, written as year, month and day by ISO 8601, from 1830 to 2199. [`date_of`] gives the
    /// date of a row's number.
    #[must_use]
    pub const fn date(name: &'static str) -> Self {
        Self {
            kind: Kind::Date,
            ..Self::new(name, "", DAYS.0, DAYS.1)
        }
    }

    /// The same, but it may be left out; where it stands every row has a value.
    #[must_use]
    pub const fn or_none(self) -> Self {
        Self {
            presence: Presence::WholeOrNone,
            ..self
        }
    }

    /// The same, but it may be left out, and cells may be empty.
    #[must_use]
    pub const fn or_empty(self) -> Self {
        Self {
            presence: Presence::Optional,
            ..self
        }
    }

    /// The same, but `word` may stand for a value, which need not lie within the limits.
    #[must_use]
    pub const fn or_word(self, word: &'static str, value: f64) -> Self {
        Self {
            word: Some((word, value)),
            ..self
        }
    }

    /// The heading.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// A cell's value, or what is wrong with it.
    pub(super) fn value(&self, cell: &str) -> Result<f64, String> {
        if let Some((word, value)) = self.word
            && cell.eq_ignore_ascii_case(word)
        {
            return Ok(value);
        }
        let shown: String = cell.chars().take(30).collect();
        if self.kind == Kind::Date {
            return day(cell).ok_or_else(|| {
                format!("`{shown}` is no date: write 2026-03-14, from 1830 to 2199")
            });
        }
        let also = self
            .word
            .map(|(word, _)| format!(" or `{word}`"))
            .unwrap_or_default();
        let number = super::text::number(cell)
            .map_err(|why| format!("`{shown}` is no number{also}: {why}"))?;
        if self.kind == Kind::Whole && number.fract() != 0.0 {
            Err(format!("{shown} is no whole number{also}: count pieces"))
        } else if (self.least..=self.most).contains(&number) {
            Ok(number)
        } else {
            Err(format!(
                "{shown} {unit} cannot be right: write {unit} from {least} to {most}{also}, or check the unit",
                unit = self.unit,
                least = self.least,
                most = self.most,
            ))
        }
    }
}

/// Days since [`FIRST_DAY`].
fn day(cell: &str) -> Option<f64> {
    let date: Date = cell.parse().ok()?;
    let days = f64::from(date.since(FIRST_DAY).ok()?.get_days());
    (DAYS.0..=DAYS.1).contains(&days).then_some(days)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_comes_back_as_it_was_written() {
        let column = Column::date("date");
        for text in [
            "1830-01-01",
            "1969-12-31",
            "1970-01-01",
            "2024-02-29",
            "2199-12-31",
        ] {
            let days = column.value(text).unwrap();
            assert_eq!(date_of(days).unwrap().to_string(), text);
        }
        assert_eq!(column.value("1970-01-03"), Ok(2.0));
    }

    #[test]
    fn what_is_no_date_is_told() {
        let column = Column::date("date");
        for text in [
            "14.3.2026",
            "2026-13-01",
            "2025-02-29",
            "1829-12-31",
            "2200-01-01",
            "2.5",
        ] {
            let said = column.value(text).unwrap_err();
            assert!(said.contains("is no date"), "{text}: {said}");
        }
        assert_eq!(date_of(f64::NAN), None);
        assert_eq!(date_of(1e300), None);
    }

    #[test]
    fn half_a_piece_is_told() {
        let column = Column::whole("quantity", "pieces", 0.0, 100.0);
        assert_eq!(column.value("3"), Ok(3.0));
        assert!(column.value("2.5").unwrap_err().contains("no whole number"));
        assert!(column.value("-1").unwrap_err().contains("cannot be right"));
    }
}
