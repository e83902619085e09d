//! The marks of a shutter's dial.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use serde::{Serialize, Serializer};

use super::id::TextError;
use super::words::words;

/// A speed as the dial says it: whole seconds (`2`) or a fraction of one (`1/250`).
///
/// Both figures are whole, from 1 to 100 000. Marks compare by their time: `1/500 < 1/250`.
#[derive(Debug, Clone, Copy)]
pub struct DialMark {
    numerator: u32,
    denominator: u32,
}

impl DialMark {
    /// Greatest figure on a dial that is believed.
    const MAX: u32 = 100_000;

    /// The mark `numerator/denominator` in seconds; `None` when a figure is 0 or greater than 100 000.
    #[must_use]
    pub fn new(numerator: u32, denominator: u32) -> Option<Self> {
        let figure = 1..=Self::MAX;
        (figure.contains(&numerator) && figure.contains(&denominator)).then_some(Self {
            numerator,
            denominator,
        })
    }

    /// The figure above the line, or the whole seconds.
    #[must_use]
    pub const fn numerator(self) -> u32 {
        self.numerator
    }

    /// The figure below the line; 1 for whole seconds.
    #[must_use]
    pub const fn denominator(self) -> u32 {
        self.denominator
    }

    /// The time that the mark says, taken literally, in seconds.
    #[must_use]
    pub fn to_seconds(self) -> f64 {
        f64::from(self.numerator) / f64::from(self.denominator)
    }
}

impl Ord for DialMark {
    fn cmp(&self, other: &Self) -> Ordering {
        let ours = u64::from(self.numerator) * u64::from(other.denominator);
        let theirs = u64::from(other.numerator) * u64::from(self.denominator);
        ours.cmp(&theirs)
    }
}

impl PartialOrd for DialMark {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for DialMark {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for DialMark {}

impl fmt::Display for DialMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.denominator == 1 {
            write!(f, "{}", self.numerator)
        } else {
            write!(f, "{}/{}", self.numerator, self.denominator)
        }
    }
}

impl FromStr for DialMark {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Self, TextError> {
        let wrong = || TextError::new(text, "a speed such as `1/250` or `2`");
        let figure = |part: &str| {
            let digits = !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
            if digits {
                part.parse::<u32>().ok()
            } else {
                None
            }
        };
        let (above, below) = text.split_once('/').unwrap_or((text, "1"));
        figure(above)
            .zip(figure(below))
            .and_then(|(n, d)| Self::new(n, d))
            .ok_or_else(wrong)
    }
}

impl Serialize for DialMark {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

words! {
    /// What the marks of a dial mean.
    DialSeries {
        /// The time that the mark says.
        Marked = "marked",
        /// The member of the series of halves that the mark stands for: 1/60 means 1/64.
        Geometric = "geometric",
    }
}

/// How far the speeds up to a mark may be off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[non_exhaustive]
pub struct DialTolerance {
    /// The fastest mark for which it holds; it begins after the tolerance before it.
    pub to: DialMark,
    /// Greatest error either way, in stops, more than 0.
    pub stops: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_whole_seconds_or_fractions() {
        for good in ["1", "2", "1/2", "1/500", "3/4"] {
            assert_eq!(
                good.parse::<DialMark>().map(|m| m.to_string()).as_deref(),
                Ok(good)
            );
        }
        for bad in [
            "",
            "/",
            "1/",
            "/2",
            "0",
            "1/0",
            "1/2/3",
            "0.5",
            "+1",
            " 1",
            "B",
            "1/100001",
            "99999999999",
        ] {
            assert!(bad.parse::<DialMark>().is_err(), "{bad}");
        }
    }

    #[test]
    fn marks_compare_by_their_time() {
        let mark = |s: &str| s.parse::<DialMark>().expect("a mark");
        assert!(mark("1/500") < mark("1/250"));
        assert!(mark("1") < mark("2"));
        assert_eq!(mark("2/4"), mark("1/2"));
    }
}
