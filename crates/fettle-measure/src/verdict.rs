//! Does a measured value lie inside its limit?

use serde::{Deserialize, Serialize};

/// The decision on a measured value against a limit, by ISO 14253-1.
///
/// With measured value `y`, expanded uncertainty `U` and limit `±L`: inside when the whole interval
/// `y ± U` lies within the limit, outside when it lies wholly beyond, undecided when it straddles.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The whole interval lies inside the limit.
    In,
    /// The whole interval lies outside the limit.
    Out,
    /// The interval straddles the limit: measure better or take more shots.
    Undecided,
}

impl Verdict {
    /// Decides on `value` with expanded uncertainty `uncertainty` against `±limit`, all in one unit.
    /// Anything not finite, or a negative uncertainty, is undecided.
    #[must_use]
    pub fn of(value: f64, uncertainty: f64, limit: f64) -> Self {
        let (value, limit) = (value.abs(), limit.abs());
        if !value.is_finite() || !uncertainty.is_finite() || uncertainty < 0.0 {
            Self::Undecided
        } else if value + uncertainty <= limit {
            Self::In
        } else if value - uncertainty > limit {
            Self::Out
        } else {
            Self::Undecided
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_across_the_limit_decides_nothing() {
        assert_eq!(Verdict::of(0.10, 0.05, 0.25), Verdict::In);
        assert_eq!(Verdict::of(-0.10, 0.05, 0.25), Verdict::In);
        assert_eq!(Verdict::of(0.24, 0.05, 0.25), Verdict::Undecided);
        assert_eq!(Verdict::of(-0.26, 0.05, 0.25), Verdict::Undecided);
        assert_eq!(Verdict::of(0.40, 0.05, 0.25), Verdict::Out);
        assert_eq!(Verdict::of(-0.40, 0.05, 0.25), Verdict::Out);
        assert_eq!(Verdict::of(f64::NAN, 0.05, 0.25), Verdict::Undecided);
    }
}
