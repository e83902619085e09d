//! What is noticed about a rangefinder.

use serde::{Deserialize, Serialize};

use crate::focus::distance;

/// Something noticed. In JSON one flat object: `{"kind":"base-too-short",...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// Two readings give a line and nothing about its uncertainty.
    NoFreedom,
    /// One reading lies far from the line through the others; it is left out of the line and the settings.
    Outlier {
        /// Where it stands in the file, from 1.
        line: usize,
        /// Its distance.
        #[serde(with = "distance")]
        distance_m: f64,
        /// How far it lies from the line through the others.
        miss_mm: f64,
    },
    /// The readings bend: no setting of infinity and rate takes that out.
    Curved {
        /// The worst that is left, in depths.
        left_in_depths: f64,
    },
    /// The finder cannot tell one depth, whatever its settings.
    BaseTooShort {
        /// Base times magnification.
        effective_mm: f64,
        /// What this lens needs.
        needed_mm: f64,
    },
    /// What is left after the settings surely exceeds the limit.
    LeftOutside {
        /// The worst, in depths.
        left_in_depths: f64,
    },
}

impl Finding {
    /// In plain words.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::NoFreedom => "two readings leave nothing to judge their scatter by: read a third distance, or repeat them".to_owned(),
            Self::Outlier { line, distance_m, miss_mm } => {
                let at = if distance_m.is_finite() {
                    format!("{distance_m} m")
                } else {
                    "infinity".to_owned()
                };
                format!("the reading on line {line} ({at}) misses the line through the others by {miss_mm:+.3} mm and is left out: tape it and read it again")
            }
            Self::Curved { left_in_depths } => format!(
                "the readings bend, which neither infinity nor the rate takes out: {left_in_depths:.2} depths are left; look at the cam, its follower and the arm"
            ),
            Self::BaseTooShort { effective_mm, needed_mm } => format!(
                "base times magnification is {effective_mm:.1} mm and this lens needs {needed_mm:.1} mm: the eye cannot tell one depth at full opening"
            ),
            Self::LeftOutside { left_in_depths } => format!(
                "the best settings of infinity and rate still leave {left_in_depths:.2} depths"
            ),
        }
    }
}
