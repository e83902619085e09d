//! Marks of a shutter's dial and the time each stands for.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::Seconds;

/// The slowest time that a mark may stand for.
const LONGEST_S: f64 = 3600.0;
/// The fastest time that a mark may stand for.
const SHORTEST_S: f64 = 1e-5;
/// A mark this near a power of two belongs to the geometric series (1/15 lies 0.093 stop off).
const GEOMETRIC_WITHIN_STOPS: f64 = 0.1;

/// A mark of the dial as engraved: `1/125`, `1/2`, `2`.
///
/// It is kept as the fraction engraved, not reduced, so that it prints as it was read.
///
/// ```
/// use fettle_measure::{Marked, Series};
/// let mark: Marked = "1/125".parse()?;
/// assert_eq!(mark.to_string(), "1/125");
/// assert_eq!(mark.nominal(Series::Marked).to_s(), 0.008);
/// assert_eq!(mark.nominal(Series::Geometric).to_s(), 1.0 / 128.0);
/// # Ok::<(), fettle_measure::MarkError>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Marked {
    numerator: u32,
    denominator: u32,
}

/// What a mark means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Series {
    /// A mark means what it says: 1/125 is 8 ms.
    #[default]
    Marked,
    /// A mark of the doubling series means the power of two behind it: 1/125 is 1/128 s. Marks of
    /// older dials that are not near a power of two (1/5, 1/10, 1/25 ...) mean what they say.
    Geometric,
}

/// A text that is no mark of a dial.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is not a mark of a dial: write a fraction such as 1/125 or seconds such as 2")]
pub struct MarkError {
    text: String,
}

impl Marked {
    /// The mark `1/denominator`; `None` for a time beyond 10 µs to an hour.
    #[must_use]
    pub fn fraction(numerator: u32, denominator: u32) -> Option<Self> {
        let seconds = f64::from(numerator) / f64::from(denominator);
        (SHORTEST_S..=LONGEST_S).contains(&seconds).then_some(Self {
            numerator,
            denominator,
        })
    }

    /// The time this mark stands for.
    #[must_use]
    pub fn nominal(self, series: Series) -> Seconds {
        let said = f64::from(self.numerator) / f64::from(self.denominator);
        let power = said.log2().round();
        match series {
            Series::Geometric if (said.log2() - power).abs() < GEOMETRIC_WITHIN_STOPS => {
                Seconds::s(power.exp2())
            }
            Series::Geometric | Series::Marked => Seconds::s(said),
        }
    }

    /// The marks of the common dial, 1 s to 1/4000, slowest first: what is tried when the dial is
    /// not known.
    #[must_use]
    pub fn common_dial() -> Vec<Self> {
        [1, 2, 4, 8, 15, 30, 60, 125, 250, 500, 1000, 2000, 4000]
            .into_iter()
            .map(|denominator| Self {
                numerator: 1,
                denominator,
            })
            .collect()
    }
}

impl fmt::Display for Marked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.denominator {
            1 => write!(f, "{}", self.numerator),
            denominator => write!(f, "{}/{denominator}", self.numerator),
        }
    }
}

impl fmt::Debug for Marked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self} s")
    }
}

/// Ordered by the time engraved, shortest first.
impl Ord for Marked {
    fn cmp(&self, other: &Self) -> Ordering {
        let left = u64::from(self.numerator) * u64::from(other.denominator);
        let right = u64::from(other.numerator) * u64::from(self.denominator);
        left.cmp(&right)
            .then(self.denominator.cmp(&other.denominator))
    }
}

impl PartialOrd for Marked {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl FromStr for Marked {
    type Err = MarkError;

    /// Reads `1/125`, `2`, `2s`, `0.5` or `1.5`; spaces around are ignored.
    fn from_str(text: &str) -> Result<Self, MarkError> {
        let error = || MarkError {
            text: text.chars().take(40).collect(),
        };
        let bare = text.trim();
        let bare = bare.strip_suffix(['s', '"']).unwrap_or(bare).trim_end();
        let digits = |part: &str| {
            let part = part.trim();
            (!part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit()))
                .then(|| part.parse::<u32>().ok())
                .flatten()
        };
        let mark = if let Some((over, under)) = bare.split_once('/') {
            digits(over)
                .zip(digits(under))
                .and_then(|(n, d)| Self::fraction(n, d))
        } else if let Some((whole, decimals)) = bare.split_once('.') {
            decimal(whole, decimals).and_then(|(n, d)| Self::fraction(n, d))
        } else {
            digits(bare).and_then(|seconds| Self::fraction(seconds, 1))
        };
        mark.ok_or_else(error)
    }
}

impl TryFrom<String> for Marked {
    type Error = MarkError;
    fn try_from(text: String) -> Result<Self, MarkError> {
        text.parse()
    }
}

impl From<Marked> for String {
    fn from(mark: Marked) -> Self {
        mark.to_string()
    }
}

/// A decimal number as a reduced fraction, at most six decimals.
fn decimal(whole: &str, decimals: &str) -> Option<(u32, u32)> {
    let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if !plain(whole) || !plain(decimals) || decimals.is_empty() || decimals.len() > 6 {
        return None;
    }
    let denominator = 10_u32.pow(u32::try_from(decimals.len()).ok()?);
    let numerator: u32 = format!("{whole}{decimals}").parse().ok()?;
    let mut divisor = (numerator, denominator);
    while divisor.1 != 0 {
        divisor = (divisor.1, divisor.0 % divisor.1);
    }
    (divisor.0 > 0).then(|| (numerator / divisor.0, denominator / divisor.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn marks_read_and_print_as_engraved() {
        for text in ["1/125", "1/2", "2", "60", "3/2"] {
            assert_eq!(text.parse::<Marked>().unwrap().to_string(), text);
        }
        assert_eq!(" 1 / 60 ".parse::<Marked>().unwrap().to_string(), "1/60");
        assert_eq!("0.5".parse::<Marked>().unwrap().to_string(), "1/2");
        assert_eq!("2s".parse::<Marked>().unwrap().to_string(), "2");
    }

    #[test]
    fn what_is_no_mark_is_refused() {
        for text in [
            "",
            "B",
            "1/0",
            "0",
            "-1",
            "1/",
            "/5",
            "1/1000000",
            "1/2/3",
            "+1",
            "4000",
        ] {
            assert!(text.parse::<Marked>().is_err(), "{text}");
        }
    }

    #[test]
    fn the_geometric_series_stands_behind_modern_marks_only() {
        let behind = |text: &str| {
            1.0 / text
                .parse::<Marked>()
                .unwrap()
                .nominal(Series::Geometric)
                .to_s()
        };
        let pairs = [
            (15, 16),
            (30, 32),
            (60, 64),
            (125, 128),
            (250, 256),
            (500, 512),
            (1000, 1024),
        ];
        for (marked, power) in pairs {
            assert!((behind(&format!("1/{marked}")) - f64::from(power)).abs() < 1e-9);
        }
        for marked in [5, 10, 25, 50, 100, 300] {
            assert!((behind(&format!("1/{marked}")) - f64::from(marked)).abs() < 1e-9);
        }
    }

    #[test]
    fn marks_are_ordered_by_time() {
        let mut dial = Marked::common_dial();
        dial.sort();
        assert_eq!(dial[0].to_string(), "1/4000");
        assert_eq!(dial[dial.len() - 1].to_string(), "1");
    }

    proptest! {
        #[test]
        fn any_text_is_a_mark_or_an_error(text in ".{0,20}") {
            if let Ok(mark) = text.parse::<Marked>() {
                prop_assert_eq!(mark.to_string().parse::<Marked>().unwrap(), mark);
            }
        }
    }
}
