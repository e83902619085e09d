//! What the shop and the mechanic should know before a part is made.

use serde::{Deserialize, Serialize};

/// Something noticed. In JSON one flat object: `{"kind":"undercut",...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// The cutter took away part of the flank.
    Undercut {
        /// How many teeth it has.
        teeth: u32,
        /// The fewest that stay whole.
        least_teeth: u32,
        /// Radius from which the flank is left.
        flank_from_mm: f64,
    },
    /// The tips are thin, or the flanks meet.
    PointedTeeth {
        /// How thick the tips are.
        tip_mm: f64,
    },
    /// Little is left between the gaps and an opening.
    ThinRim {
        /// Which opening.
        beside: String,
        /// How much.
        mm: f64,
        /// What there should be.
        least_mm: f64,
    },
    /// Little is left between two openings, or between one and the part's edge.
    ThinWall {
        /// Which opening.
        beside: String,
        /// How much.
        mm: f64,
        /// What there should be.
        least_mm: f64,
    },
    /// The roots are sharper than what a wire or a milling cutter leaves.
    SharpInside {
        /// The smallest radius drawn.
        radius_mm: f64,
        /// Up to this the mate's tips clear the corner.
        most_mm: f64,
    },
    /// No caliper stands on the flanks over any number of teeth.
    NoSpan,
    /// With so few teeth the form may be another.
    NotAlwaysInvolute,
}

impl Finding {
    /// In plain words.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::Undercut {
                teeth,
                least_teeth,
                flank_from_mm,
            } => format!(
                "undercut: {teeth} teeth, where a sharp cutter leaves {least_teeth} and more whole; the flanks begin at a radius of {flank_from_mm:.3} mm, and the teeth are weaker at the foot; a greater profile shift makes it less"
            ),
            Self::PointedTeeth { tip_mm } => format!(
                "the tips are only {tip_mm:.3} mm thick: they are easily bent and burn when hardened; a smaller profile shift leaves more"
            ),
            Self::ThinRim {
                beside,
                mm,
                least_mm,
            } => format!(
                "only {mm:.2} mm are left between the gaps and {beside}: less than {least_mm:.2} mm gives way under the teeth"
            ),
            Self::ThinWall {
                beside,
                mm,
                least_mm,
            } => format!(
                "only {mm:.2} mm are left beside {beside}: less than {least_mm:.2} mm bends or burns through when it is cut"
            ),
            Self::SharpInside { radius_mm, most_mm } => format!(
                "the roots are drawn with a radius of {radius_mm:.3} mm, sharper than a wire or a milling cutter leaves; up to {most_mm:.3} mm the mate's tips still clear it: agree with the shop on no more than that"
            ),
            Self::NoSpan => "no caliper stands on the flanks over any number of teeth: measure the part over two rollers laid in opposite gaps, or roll it with its mate".to_owned(),
            Self::NotAlwaysInvolute => "with so few teeth instrument gearing is not always involute: hold the old part against the drawn form, enlarged, before one is made".to_owned(),
        }
    }
}
