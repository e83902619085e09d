//! Focus: where a lens images what, how deep the sharpness reaches, and how far to turn.
//!
//! Lengths are millimetres, distances run from the film plane to the subject unless said otherwise, and a far subject
//! is `f64::INFINITY`. What [`register`](crate::register) and [`rangefinder`](crate::rangefinder) share stands here.

mod depth;
pub(crate) mod distance;
mod infinity;
mod lens;
mod screw;

pub use depth::Depth;
pub use infinity::Infinity;
pub use lens::Lens;
pub use screw::FocusScrew;

/// A quantity given with the readings that cannot be.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{option}: {reason}")]
pub struct OptionError {
    /// The option as on the command line.
    pub option: &'static str,
    /// What is wrong and what would be right.
    pub reason: String,
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
