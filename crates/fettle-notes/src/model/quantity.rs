//! Chances and minutes.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A figure that lies outside its range.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{value} is not {wanted}")]
pub struct OutOfRange {
    value: f64,
    wanted: &'static str,
}

/// A probability from 0 to 1.
#[derive(Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(into = "f64", try_from = "f64")]
pub struct Chance(f64);

impl Chance {
    /// It never happens.
    pub const NEVER: Self = Self(0.0);
    /// It always happens.
    pub const ALWAYS: Self = Self(1.0);

    /// A chance from 0 to 1.
    ///
    /// # Errors
    /// When the figure is less than 0, greater than 1 or not a number.
    pub fn new(value: f64) -> Result<Self, OutOfRange> {
        if (0.0..=1.0).contains(&value) {
            Ok(Self(value + 0.0))
        } else {
            Err(OutOfRange {
                value,
                wanted: "a chance from 0 to 1",
            })
        }
    }

    /// The figure, 0 to 1.
    #[must_use]
    pub const fn to_f64(self) -> f64 {
        self.0
    }

    /// The chance that it does not happen.
    #[must_use]
    pub fn complement(self) -> Self {
        Self(1.0 - self.0)
    }
}

impl fmt::Debug for Chance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Chance({})", self.0)
    }
}

impl fmt::Display for Chance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl TryFrom<f64> for Chance {
    type Error = OutOfRange;

    fn try_from(value: f64) -> Result<Self, OutOfRange> {
        Self::new(value)
    }
}

impl From<Chance> for f64 {
    fn from(chance: Chance) -> Self {
        chance.0
    }
}

/// A time at the bench in minutes: more than 0, at most 10 000.
#[derive(Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(into = "f64", try_from = "f64")]
pub struct Minutes(f64);

impl Minutes {
    /// Longest time that is believed, in minutes: about a month of bench days.
    pub(crate) const MAX: f64 = 10_000.0;

    /// A time in minutes.
    ///
    /// # Errors
    /// When the figure is not more than 0, is more than 10 000 or not a number.
    pub fn new(value: f64) -> Result<Self, OutOfRange> {
        if value > 0.0 && value <= Self::MAX {
            Ok(Self(value))
        } else {
            Err(OutOfRange {
                value,
                wanted: "a time of more than 0 and at most 10000 minutes",
            })
        }
    }

    /// The time in minutes.
    #[must_use]
    pub const fn to_f64(self) -> f64 {
        self.0
    }
}

impl fmt::Debug for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} min", self.0)
    }
}

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl TryFrom<f64> for Minutes {
    type Error = OutOfRange;

    fn try_from(value: f64) -> Result<Self, OutOfRange> {
        Self::new(value)
    }
}

impl From<Minutes> for f64 {
    fn from(minutes: Minutes) -> Self {
        minutes.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chance_lies_from_nought_to_one() {
        for good in [0.0, -0.0, 0.5, 1.0] {
            assert!(Chance::new(good).is_ok(), "{good}");
        }
        for bad in [-0.001, 1.001, f64::NAN, f64::INFINITY] {
            assert!(Chance::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn minutes_are_more_than_nothing_and_finite() {
        for good in [0.1, 1.0, 10_000.0] {
            assert!(Minutes::new(good).is_ok(), "{good}");
        }
        for bad in [0.0, -1.0, 10_000.1, f64::NAN, f64::INFINITY] {
            assert!(Minutes::new(bad).is_err(), "{bad}");
        }
    }
}
