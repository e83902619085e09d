//! What is noticed about a pair.

use serde::{Deserialize, Serialize};

/// Which of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Of {
    /// The pinion.
    Pinion,
    /// Its mate, gear or rack.
    Mate,
}

impl Of {
    const fn name(self) -> &'static str {
        match self {
            Self::Pinion => "the pinion",
            Self::Mate => "the mate",
        }
    }

    const fn other(self) -> &'static str {
        match self {
            Self::Pinion => Self::Mate.name(),
            Self::Mate => Self::Pinion.name(),
        }
    }
}

/// Something noticed. In JSON one flat object: `{"kind":"undercut",...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// The cutter took away part of the flank.
    Undercut {
        /// Whose.
        of: Of,
        /// How many teeth it has.
        teeth: u32,
        /// The fewest that stay whole.
        least_teeth: u32,
        /// Radius from which the flank is left.
        flank_from_mm: f64,
    },
    /// The flanks meet below the standard tip.
    Pointed {
        /// Whose.
        of: Of,
        /// Radius where they do.
        tip_radius_mm: f64,
    },
    /// The other's tips dig into the foot of the teeth.
    Interference {
        /// Whose foot.
        of: Of,
        /// How far past the beginning of the flank, along the line of action.
        past_mm: f64,
    },
    /// The other's tips stand on the bottom of the gaps.
    TipTouchesRoot {
        /// Whose gaps.
        of: Of,
        /// How much room is missing.
        by_mm: f64,
    },
    /// One tooth lets go before the next takes over.
    NoContinuousDrive {
        /// The contact ratio.
        contact_ratio: f64,
    },
    /// Teeth ride over one another.
    RideOver {
        /// How far the tips clear one another.
        past_mm: f64,
    },
    /// With so few teeth the form may be another.
    NotAlwaysInvolute,
}

impl Finding {
    /// In plain words.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::Undercut { of, teeth, least_teeth, flank_from_mm } => format!(
                "{} is undercut: {teeth} teeth, where a sharp cutter leaves {least_teeth} and more whole; its flanks begin at a radius of {flank_from_mm:.3} mm",
                of.name()
            ),
            Self::Pointed { of, tip_radius_mm } => format!(
                "the teeth of {} come to a point at a radius of {tip_radius_mm:.3} mm, below the standard tip",
                of.name()
            ),
            Self::Interference { of, past_mm } => format!(
                "the tips of {} dig into the feet of {}, {past_mm:.3} mm past the beginning of the flanks: the pair jams or wears unless the feet are relieved or the tips shorter",
                of.other(),
                of.name()
            ),
            Self::TipTouchesRoot { of, by_mm } => format!(
                "the tips of {} stand on the bottom of the gaps of {}: {by_mm:.3} mm of room are missing",
                of.other(),
                of.name()
            ),
            Self::NoContinuousDrive { contact_ratio } => format!(
                "the drive is not continuous: contact ratio {contact_ratio:.2}, one tooth lets go before the next takes over"
            ),
            Self::RideOver { past_mm } => format!(
                "the teeth ride over one another: the tips clear by {past_mm:.3} mm"
            ),
            Self::NotAlwaysInvolute => "with so few teeth instrument gearing is not always involute: hold a tooth against the drawn form before these figures are relied on".to_owned(),
        }
    }
}
