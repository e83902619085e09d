//! How far a speed may be off.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::{MarkError, Marked, Series, Stops};

/// The bench's rule: a quarter stop for this mark and everything slower, a third above it.
const RULE_CHANGES_AT_S: f64 = 1.0 / 125.0;
/// Lets 1/128 s count as 1/125 when the series is geometric.
const RULE_MARGIN: f64 = 0.9;

/// The tolerance in stops for each marked speed. The choice is the mechanic's: no standard sets it.
///
/// ```
/// use fettle_measure::{Series, Stops, shutter::Limits};
/// let limits: Limits = "0.3,1/500=0.5".parse()?;
/// let at = |mark: &str| limits.at(mark.parse().unwrap(), Series::Marked);
/// assert_eq!(at("1/500"), Some(Stops::of(0.5)));
/// assert_eq!(at("1/60"), Some(Stops::of(0.3)));
/// # Ok::<(), fettle_measure::shutter::LimitsError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    rule: Rule,
    marks: Vec<(Marked, Stops)>,
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Rule {
    None,
    Bench,
    Uniform(Stops),
}

/// A text that gives no limits.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LimitsError {
    /// A limit that is not a positive number of stops up to 10.
    #[error("`{0}` is not a limit in stops: write a number above 0 and up to 10, such as 0.25")]
    Stops(String),
    /// A mark that cannot be read.
    #[error(transparent)]
    Mark(#[from] MarkError),
}

impl Limits {
    /// No limits: nothing is decided.
    #[must_use]
    pub const fn none() -> Self {
        Self {
            rule: Rule::None,
            marks: Vec::new(),
        }
    }

    /// The bench's rule: ±1/4 stop to 1/125, ±1/3 stop above. A custom, not a standard.
    #[must_use]
    pub const fn bench_rule() -> Self {
        Self {
            rule: Rule::Bench,
            marks: Vec::new(),
        }
    }

    /// The same limit, in stops either way, for every mark.
    #[must_use]
    pub const fn uniform(limit: Stops) -> Self {
        Self {
            rule: Rule::Uniform(limit),
            marks: Vec::new(),
        }
    }

    /// With a limit of its own for one mark.
    #[must_use]
    pub fn with_mark(mut self, mark: Marked, limit: Stops) -> Self {
        self.marks.retain(|(known, _)| *known != mark);
        self.marks.push((mark, limit));
        self
    }

    /// The limit for a mark, `None` where there is none.
    #[must_use]
    pub fn at(&self, mark: Marked, series: Series) -> Option<Stops> {
        if let Some((_, own)) = self.marks.iter().find(|(known, _)| *known == mark) {
            return Some(*own);
        }
        match self.rule {
            Rule::None => None,
            Rule::Uniform(limit) => Some(limit),
            Rule::Bench if mark.nominal(series).to_s() >= RULE_MARGIN * RULE_CHANGES_AT_S => {
                Some(Stops::of(0.25))
            }
            Rule::Bench => Some(Stops::of(1.0 / 3.0)),
        }
    }
}

impl Default for Limits {
    fn default() -> Self {
        Self::bench_rule()
    }
}

impl FromStr for Limits {
    type Err = LimitsError;

    /// Reads a comma list: `none` or `bench` or a number for all marks, and `1/500=0.4` for one.
    /// Marks not named follow the bench's rule unless the list says otherwise.
    fn from_str(text: &str) -> Result<Self, LimitsError> {
        let mut limits = Self::bench_rule();
        for item in text
            .split(',')
            .map(str::trim)
            .filter(|item| !item.is_empty())
        {
            match item.split_once('=') {
                Some((mark, limit)) => limits = limits.with_mark(mark.parse()?, stops(limit)?),
                None if item == "none" => limits.rule = Rule::None,
                None if item == "bench" => limits.rule = Rule::Bench,
                None => limits.rule = Rule::Uniform(stops(item)?),
            }
        }
        Ok(limits)
    }
}

fn stops(text: &str) -> Result<Stops, LimitsError> {
    match text.trim().parse::<f64>() {
        Ok(limit) if limit > 0.0 && limit <= 10.0 => Ok(Stops::of(limit)),
        _ => Err(LimitsError::Stops(text.trim().chars().take(40).collect())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(limits: &Limits, mark: &str, series: Series) -> Option<f64> {
        limits
            .at(mark.parse().unwrap(), series)
            .map(Stops::to_stops)
    }

    #[test]
    fn the_bench_rule_changes_after_1_125_in_either_series() {
        for series in [Series::Marked, Series::Geometric] {
            let rule = Limits::bench_rule();
            assert_eq!(at(&rule, "1/125", series), Some(0.25));
            assert_eq!(at(&rule, "1", series), Some(0.25));
            assert_eq!(at(&rule, "1/250", series), Some(1.0 / 3.0));
        }
    }

    #[test]
    fn a_mark_can_have_its_own_limit() {
        let limits: Limits = "none, 1/500=0.5".parse().unwrap();
        assert_eq!(at(&limits, "1/500", Series::Marked), Some(0.5));
        assert_eq!(at(&limits, "1/60", Series::Marked), None);
    }

    #[test]
    fn a_limit_that_is_no_width_is_refused() {
        for text in ["0", "-1", "nan", "inf", "x", "1/500=0", "1/0=0.2", "11"] {
            assert!(text.parse::<Limits>().is_err(), "{text}");
        }
    }
}
