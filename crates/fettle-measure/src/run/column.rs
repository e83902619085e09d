//! A column that a run of readings has or may have.

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
        let also = self
            .word
            .map(|(word, _)| format!(" or `{word}`"))
            .unwrap_or_default();
        let number = super::text::number(cell)
            .map_err(|why| format!("`{shown}` is no number{also}: {why}"))?;
        if (self.least..=self.most).contains(&number) {
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
