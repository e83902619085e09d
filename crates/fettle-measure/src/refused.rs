//! Why an instrument says nothing: what was read, or what was given beside it.

use crate::run::RunError;

/// A quantity given with the readings that cannot be.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{option}: {reason}")]
pub struct OptionError {
    /// The option as on the command line.
    pub option: &'static str,
    /// What is wrong and what would be right.
    pub reason: String,
}

/// Why nothing is said about readings.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refused {
    /// The readings are refused.
    #[error(transparent)]
    Run(#[from] RunError),
    /// An option is refused.
    #[error(transparent)]
    Option(#[from] OptionError),
}

impl OptionError {
    /// Refuses `value` unless it lies in `range`.
    pub(crate) fn check(
        option: &'static str,
        value: f64,
        range: std::ops::RangeInclusive<f64>,
        unit: &str,
    ) -> Result<(), Self> {
        if range.contains(&value) {
            return Ok(());
        }
        let (from, to) = (range.start(), range.end());
        Err(Self {
            option,
            reason: format!("{value} cannot be: give {from} to {to}{unit}"),
        })
    }
}
