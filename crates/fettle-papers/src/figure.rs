//! Figures in a column, rounded to their uncertainty and aligned on the decimal point.

use fettle_draw::{decimals_for, signed_off};
use serde::Serialize;

use crate::language::Language;

/// What stands in a cell where nothing was measured.
pub(crate) const NOTHING: &str = "–";

/// A figure as the templates set it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(crate) struct Figure {
    /// What is printed.
    text: String,
    /// What would have to follow for the column's points to stand under each other; set unseen.
    pad: String,
}

impl Figure {
    pub(crate) fn new(text: String) -> Self {
        Self {
            text,
            pad: String::new(),
        }
    }

    pub(crate) fn nothing() -> Self {
        Self::new(NOTHING.to_owned())
    }

    /// Gives the figure the decimal sign of a language; after it is aligned.
    pub(crate) fn localise(&mut self, language: Language) {
        self.text = language.figure(&self.text);
        self.pad = language.figure(&self.pad);
    }

    fn tail(&self) -> usize {
        self.text
            .split_once('.')
            .map_or(0, |(_, decimals)| decimals.len() + 1)
    }
}

/// Gives the figures of one column the tails that align their points.
pub(crate) fn align<'a>(column: impl Iterator<Item = &'a mut Figure>) {
    let mut column: Vec<&mut Figure> = column.collect();
    let longest = column.iter().map(|f| f.tail()).max().unwrap_or(0);
    for figure in &mut column {
        let missing = longest - figure.tail();
        figure.pad = match (missing, figure.tail()) {
            (0, _) => String::new(),
            (n, 0) => format!(".{}", "0".repeat(n - 1)),
            (n, _) => "0".repeat(n),
        };
    }
}

/// The decimals a value is written with: two significant digits of its uncertainty, or else enough to show its limit
/// and one more, or else three significant digits.
pub(crate) fn decimals_of(value: f64, uncertainty: Option<f64>, limit: Option<f64>) -> usize {
    let usable = |x: &f64| x.is_finite() && *x > 0.0;
    match (uncertainty.filter(usable), limit.filter(usable)) {
        (Some(u), _) => decimals_for(u, 2),
        (None, Some(limit)) => decimals_for(limit, 2),
        (None, None) => decimals_for(value, 3),
    }
}

/// A value with its decimals; a dash when it is not a number.
pub(crate) fn written(value: f64, decimals: usize) -> String {
    if value.is_finite() {
        signed_off(value, decimals)
    } else {
        NOTHING.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_stand_under_each_other() {
        let mut column: Vec<Figure> = ["1.004", "12", "250.1", "–"]
            .into_iter()
            .map(|t| Figure::new(t.to_owned()))
            .collect();
        align(column.iter_mut());
        let set: Vec<String> = column.iter().map(|f| f.text.clone() + &f.pad).collect();
        assert_eq!(set, ["1.004", "12.000", "250.100", "–.000"]);
    }

    #[test]
    fn figures_are_written_to_what_bears_them() {
        let cases = [
            (74.013_4, Some(0.004), Some(0.02), "74.0134"),
            (74.013_4, None, Some(0.02), "74.013"),
            (74.013_4, None, None, "74.0"),
            (f64::NAN, None, None, "–"),
            (-2.5e12, None, None, "−2.50e12"),
        ];
        for (value, u, limit, want) in cases {
            assert_eq!(written(value, decimals_of(value, u, limit)), want);
        }
    }
}
