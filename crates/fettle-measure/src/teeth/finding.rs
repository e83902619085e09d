//! What is noticed about a photograph of teeth.

use serde::{Deserialize, Serialize};

use super::Side;

/// Something noticed. In JSON one flat object: `{"kind":"blurred",...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// The edges are soft, which widens the uncertainty.
    Blurred {
        /// Standard deviation of the edge's spread.
        blur_px: f64,
    },
    /// A tooth has few pixels.
    FewPixels {
        /// Pixels from tooth to tooth.
        pitch_px: f64,
    },
    /// The lamp is brighter than the sensor takes, so the part looks thinner; tooth against tooth that cancels.
    TooBright {
        /// Part of the bright ground that is at its end.
        share: f64,
    },
    /// The light is uneven over the photograph; it is allowed for.
    UnevenLight {
        /// The brightest place over the darkest.
        ratio: f64,
    },
    /// The part is not quite dark: something shines on it from the front, or oil lets light through.
    Shine {
        /// Part of the part's area that is lighter than it should be.
        share: f64,
    },
    /// The camera looked at the part askew; it is allowed for.
    Perspective {
        /// By how much the scale differs from one end of the part to the other.
        scale_change: f64,
    },
    /// The lens bends straight lines; it is allowed for.
    Distortion {
        /// By how much a point in the corner is displaced, as a part of its distance from the middle.
        at_corner: f64,
    },
    /// The row runs out of the photograph: only whole teeth are measured.
    RowCut,
    /// Specks beside the part were left out.
    Specks {
        /// How many.
        count: usize,
    },
    /// The edge of a tooth is not clear.
    Clouded {
        /// Which tooth.
        n: u32,
    },
    /// Something stands out of a tooth.
    StandsOut {
        /// Which tooth.
        n: u32,
        /// By how much.
        by_mm: f64,
    },
    /// A tooth leans over.
    Bent {
        /// Which tooth.
        n: u32,
        /// The tip's place against the foot's.
        bend_mm: f64,
    },
    /// All teeth have lost more on one side than on the other.
    OneSided {
        /// The worn side, seen with the tips upwards.
        side: Side,
        /// How much more, at the worst height.
        by_mm: f64,
    },
    /// So many teeth are worn that the form of the sound ones is not sure.
    FormNotSure {
        /// Teeth that agree with one another.
        agree: u32,
        /// Teeth in sight.
        of: u32,
    },
    /// There is room for more teeth at the ends of the row, which may have been broken off.
    RoomAtEnds {
        /// For how many.
        teeth: u32,
    },
    /// The pitch circle is reckoned from the tips, as teeth of standard height have it.
    StandardTips,
    /// No limit was given: it was taken from the scatter of the sound teeth.
    LimitFromScatter {
        /// That scatter, standard deviation.
        scatter_mm: f64,
        /// The limit.
        limit_mm: f64,
    },
}

impl Finding {
    /// In plain words.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::Blurred { blur_px } => format!(
                "the edges are soft (spread {blur_px:.1} px): small wear is smoothed over; focus on the part's rim, use a small stop and a self-timer"
            ),
            Self::FewPixels { pitch_px } => format!(
                "a tooth has only {pitch_px:.0} pixels from its neighbour: come nearer, or take the part in several photographs"
            ),
            Self::TooBright { share } => format!(
                "{:.0} % of the ground is as bright as the sensor can tell: the part looks a little thin everywhere; expose less",
                share * 100.0
            ),
            Self::UnevenLight { ratio } => format!(
                "the ground is {ratio:.1} times brighter in one place than in another; it is allowed for, but a larger, more even ground is better"
            ),
            Self::Shine { share } => format!(
                "{:.0} % of the part is not dark: shade it from the front, and wipe oil off the teeth",
                share * 100.0
            ),
            Self::Perspective { scale_change } => format!(
                "the camera looked askew: the scale changes by {:.1} % over the part; it is allowed for, but hold the camera square to it",
                scale_change * 100.0
            ),
            Self::Distortion { at_corner } => format!(
                "the lens bends straight lines by {:.1} % towards the corners; it is allowed for, but keep the part in the middle, from farther away",
                at_corner * 100.0
            ),
            Self::RowCut => "the row runs out of the photograph: only the teeth that are whole in it are measured".to_owned(),
            Self::Specks { count } => format!(
                "{count} specks beside the part were left out: dust on the ground"
            ),
            Self::Clouded { n } => format!(
                "oil, shine or dirt lies on the edge of tooth {n}, so its figures are not to be trusted: clean it, shade it from the front and take the photograph again"
            ),
            Self::StandsOut { n, by_mm } => format!(
                "something stands {by_mm:.3} mm out of tooth {n}, a burr or dirt: brush it clean and take the photograph again"
            ),
            Self::Bent { n, bend_mm } => format!(
                "tooth {n} leans over by {bend_mm:+.3} mm at its tip"
            ),
            Self::OneSided { side, by_mm } => format!(
                "all teeth have up to {by_mm:.3} mm less on their {} flank than on the other: the part is worn on that side, or lay askew",
                match side {
                    Side::Left => "left",
                    Side::Right => "right",
                }
            ),
            Self::FormNotSure { agree, of } => format!(
                "only {agree} of {of} teeth agree with one another, so the sound form is not sure: compare with a photograph of a part that is known to be good"
            ),
            Self::RoomAtEnds { teeth } => format!(
                "there is room for {teeth} more at the ends of the row, which may have broken off: count the gaps on the part"
            ),
            Self::StandardTips => "the pitch circle is reckoned from the tips as teeth of standard height have it: with a shifted profile or turned-down tips the scale is off".to_owned(),
            Self::LimitFromScatter { scatter_mm, limit_mm } => format!(
                "no limit was given: {limit_mm:.3} mm is taken, from the scatter of the sound teeth ({scatter_mm:.4} mm) and what a pixel can tell"
            ),
        }
    }
}
