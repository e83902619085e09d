//! Patterns over a shutter's dial that suggest a sign.

use serde::Serialize;

use super::dial::DialMark;
use super::words::words;

words! {
    /// What a reading of exposure times can show over the dial.
    Pattern {
        /// All speeds are long by about as much.
        AllSlow = "all-slow",
        /// All speeds are short by about as much.
        AllFast = "all-fast",
        /// The slow speeds are longer than the rest.
        SlowEnd = "slow-end",
        /// The top speeds are longer than the rest.
        TopSpeed = "top-speed",
        /// The first shot after a rest is slow.
        SlowFirst = "slow-first",
        /// Shots at one mark scatter.
        Scatter = "scatter",
        /// Two neighbouring marks give the same time.
        Alike = "alike",
        /// The frame is exposed unevenly.
        Uneven = "uneven",
        /// The slit closes within the frame.
        Capping = "capping",
        /// The shutter opens a second time.
        Bounce = "bounce",
    }
}

impl Pattern {
    /// Whether it has a figure in stops that grows with the fault.
    #[must_use]
    pub const fn has_figure(self) -> bool {
        !matches!(self, Self::Alike | Self::Capping | Self::Bounce)
    }
}

/// A pattern that suggests a sign.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[non_exhaustive]
pub struct SuggestedBy {
    /// Which.
    pub pattern: Pattern,
    /// It must surely be greater than this, in stops; `None` when any does.
    pub over_stops: Option<f64>,
    /// The slowest mark at which it counts; `None` for the dial's slowest.
    pub from: Option<DialMark>,
    /// The fastest mark at which it counts; `None` for the dial's fastest.
    pub to: Option<DialMark>,
}

impl SuggestedBy {
    /// Whether the pattern counts at a mark.
    #[must_use]
    pub fn counts_at(&self, mark: DialMark) -> bool {
        self.from.is_none_or(|from| mark <= from) && self.to.is_none_or(|to| mark >= to)
    }
}
