//! What is believed of a part's needs before any is seen.

use serde::{Deserialize, Serialize};

use super::error::{ForecastError, within};

/// More needs or years than this are no prior.
const MOST: f64 = 1e6;

/// The Gamma distribution of the needs in a year that is believed before any need is seen: as if so many needs of like parts had been
/// seen in so many years.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Prior {
    /// Needs.
    pub shape: f64,
    /// Years in which they were seen.
    pub years: f64,
    /// How many pieces they took at a time, worth 8 needs beside the part's own. Empty: as the part's own needs.
    #[serde(default)]
    pub sizes: Vec<SizeShare>,
    /// Like parts that this was learned from; 0 when it was said.
    #[serde(default)]
    pub parts: usize,
}

/// How often a need takes so many pieces.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SizeShare {
    /// Pieces in one need.
    pub pieces: u32,
    /// Share of the needs, 0 to 1.
    pub share: f64,
}

impl Prior {
    /// So many needs in so many years of like parts.
    #[must_use]
    pub const fn new(shape: f64, years: f64) -> Self {
        Self {
            shape,
            years,
            sizes: Vec::new(),
            parts: 0,
        }
    }

    /// # Errors
    /// [`ForecastError`] unless both are above zero and sane, and the shares are shares.
    pub fn check(&self) -> Result<(), ForecastError> {
        let sane = |value: f64| value > 1e-6 && value <= MOST;
        const MUST: &str = "above 0 and at most 1000000";
        within("the prior's needs", MUST, self.shape, sane(self.shape))?;
        within("the prior's years", MUST, self.years, sane(self.years))?;
        for it in &self.sizes {
            let is_share = it.share >= 0.0 && it.share <= 1.0;
            within("a size's share", "from 0 to 1", it.share, is_share)?;
            let pieces = f64::from(it.pieces);
            within("the pieces of a need", "at least 1", pieces, it.pieces > 0)?;
        }
        let sum: f64 = self.sizes.iter().map(|it| it.share).sum();
        let is_whole = self.sizes.is_empty() || (sum - 1.0).abs() < 1e-6;
        within("the sum of the sizes' shares", "1", sum, is_whole)
    }
}

impl Default for Prior {
    /// Half a need in one year: says little, and that parts are seldom needed.
    fn default() -> Self {
        Self::new(0.5, 1.0)
    }
}
