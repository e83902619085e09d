//! What is noticed while a gear is identified.

use serde::{Deserialize, Serialize};

/// A count with which the readings agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "of", content = "count", rename_all = "kebab-case")]
pub enum Count {
    /// Teeth of the gear.
    Teeth(u32),
    /// Pitches in the rack's length.
    RackPitches(u32),
    /// Teeth of the first span; the others go with it.
    SpanTeeth(u32),
}

impl Count {
    pub(super) fn describe(self) -> String {
        match self {
            Self::Teeth(n) => format!("{n} teeth on the gear"),
            Self::RackPitches(n) => format!("{n} pitches of the rack"),
            Self::SpanTeeth(n) => format!("{n} teeth in the first span"),
        }
    }
}

/// Something noticed. In JSON one flat object: `{"kind":"angle-not-told",...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// The readings bear any pressure angle, or both of the usual ones.
    AngleNotTold,
    /// The readings bear none of the usual pressure angles.
    UnusualAngle {
        /// The angle that fits best.
        angle_deg: f64,
    },
    /// Other counts agree with the readings as well.
    CountNotProven {
        /// Which.
        also: Vec<Count>,
    },
    /// The jaws stood on tips or in the undercut, not on the flanks.
    SpanOffFlanks {
        /// The span.
        teeth: u32,
    },
}

impl Finding {
    /// In plain words.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::AngleNotTold => "the readings do not tell the pressure angle: measure the rack over many teeth as well, or read finer; until then the figures for the usual angles stand side by side".to_owned(),
            Self::UnusualAngle { angle_deg } => format!(
                "the readings bear neither 14.5 nor 20 degrees but {angle_deg:.1}: the tips may be worn or cut low, and instrument gearing is not always involute"
            ),
            Self::CountNotProven { also } => {
                let counts: Vec<String> = also.iter().map(|c| c.describe()).collect();
                format!(
                    "the readings would agree with {} as well: count again",
                    counts.join(", ")
                )
            }
            Self::SpanOffFlanks { teeth } => format!(
                "over {teeth} teeth the jaws do not stand on the flanks: span more or fewer"
            ),
        }
    }
}
