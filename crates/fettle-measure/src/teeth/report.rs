//! What a photograph tells of the teeth.

use serde::{Deserialize, Serialize};

use super::{Finding, Options};

/// The state of one tooth. Measured against its limit by ISO 14253-1: sound when figure and uncertainty stay inside, worn when they lie wholly
/// outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Every figure lies inside the limit.
    Sound,
    /// A figure lies outside the limit.
    Worn,
    /// There is no tooth in its place.
    Missing,
    /// A figure's interval straddles the limit, or what stands out may be a burr or dirt.
    Undecided,
}

impl Verdict {
    /// The word for it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Sound => "sound",
            Self::Worn => "worn",
            Self::Missing => "missing",
            Self::Undecided => "undecided",
        }
    }
}

/// One side of a tooth, seen with its tip upwards.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The left.
    Left,
    /// The right.
    Right,
}

/// Where a limit comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LimitFrom {
    /// It was given.
    Given,
    /// From the scatter of the sound teeth.
    Scatter,
}

impl LimitFrom {
    /// Where it is from, in words that follow the figure.
    #[must_use]
    pub const fn describe(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Scatter => "from the scatter of the sound teeth",
        }
    }
}

/// A place on a tooth's form, and how far the outline lies from it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TracePoint {
    /// On the form, from the photograph's left edge.
    pub x_px: f64,
    /// From its upper edge.
    pub y_px: f64,
    /// Normal to the form, positive outwards; `None` where the outline is hidden or gone.
    pub off_px: Option<f64>,
}

/// One tooth. Figures are `None` where the tooth is missing; `_u` is the half-width of a 95 % interval.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tooth {
    /// From 1: a rack's from left to right, a gear's clockwise from the uppermost.
    pub n: u32,
    /// The tooth's middle at mid height, from the photograph's left edge.
    pub x_px: f64,
    /// From its upper edge.
    pub y_px: f64,
    /// Greatest loss on the worse flank, normal to it.
    pub flank_mm: Option<f64>,
    /// Its uncertainty.
    pub flank_u_mm: Option<f64>,
    /// Which flank that is.
    pub worse_flank: Option<Side>,
    /// Height lost against the neighbours' tips.
    pub tip_loss_mm: Option<f64>,
    /// Its uncertainty.
    pub tip_loss_u_mm: Option<f64>,
    /// Place at mid height against the lattice, positive to the right seen with the tip upwards.
    pub pitch_error_mm: Option<f64>,
    /// Its uncertainty.
    pub pitch_error_u_mm: Option<f64>,
    /// How far the tip leans over from the foot, positive to the right seen with the tip upwards.
    pub bend_mm: Option<f64>,
    /// Its uncertainty.
    pub bend_u_mm: Option<f64>,
    /// How far something stands out of the form.
    pub burr_mm: Option<f64>,
    /// Its uncertainty.
    pub burr_u_mm: Option<f64>,
    /// Oil, shine or dirt lies on its edge: its figures are not to be trusted, and it is not judged worn.
    pub is_clouded: bool,
    /// The state.
    pub verdict: Verdict,
    /// The form along the tooth, from the left foot over the tip to the right foot, with the outline beside it.
    pub trace: Vec<TracePoint>,
}

/// The teeth of a part, from its photograph.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// What was asked.
    pub options: Options,
    /// The photograph's width.
    pub width_px: usize,
    /// Its height.
    pub height_px: usize,
    /// Pitch of the teeth, on the pitch circle of a gear.
    pub pitch_mm: f64,
    /// Its uncertainty.
    pub pitch_u_mm: f64,
    /// Pitch over π.
    pub module_mm: f64,
    /// Pixels for a millimetre in the middle of the part.
    pub px_per_mm: f64,
    /// Pitch in the photograph, in the middle of the part.
    pub pitch_px: f64,
    /// The middle of the part.
    pub centre_px: [f64; 2],
    /// Radius over the tips of a gear; `None` for a rack.
    pub tip_radius_px: Option<f64>,
    /// Height of the sound teeth from root to tip.
    pub depth_mm: f64,
    /// Standard deviation of the edge's spread.
    pub blur_px: f64,
    /// What a tooth may be off.
    pub limit_mm: f64,
    /// Where that comes from.
    pub limit_from: LimitFrom,
    /// The teeth in order, missing ones in their place.
    pub teeth: Vec<Tooth>,
    /// How many are sound, worn, missing, undecided.
    pub counts: Counts,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Teeth by their state.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// Sound ones.
    pub sound: u32,
    /// Worn ones.
    pub worn: u32,
    /// Missing ones.
    pub missing: u32,
    /// Those that are not decided.
    pub undecided: u32,
}

impl Counts {
    /// What there is, in words: `20 sound, 2 worn`.
    #[must_use]
    pub fn describe(&self) -> String {
        let all = [
            (self.sound, Verdict::Sound),
            (self.worn, Verdict::Worn),
            (self.missing, Verdict::Missing),
            (self.undecided, Verdict::Undecided),
        ];
        let said: Vec<String> = all
            .iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, verdict)| format!("{count} {}", verdict.as_str()))
            .collect();
        said.join(", ")
    }
}

impl Report {
    /// Whether sound teeth are all that the part has: as many as it should have, none cut off or broken from an end, none worn alike.
    #[must_use]
    pub fn tells_of_all(&self, teeth: Option<u32>) -> bool {
        let hides = |finding: &Finding| {
            matches!(
                finding,
                Finding::RowCut
                    | Finding::RoomAtEnds { .. }
                    | Finding::OneSided { .. }
                    | Finding::FormNotSure { .. }
            )
        };
        teeth.is_none_or(|teeth| teeth as usize == self.teeth.len())
            && !self.findings.iter().any(hides)
    }
}

impl Counts {
    pub(super) fn of(teeth: &[Tooth]) -> Self {
        let mut counts = Self::default();
        for tooth in teeth {
            match tooth.verdict {
                Verdict::Sound => counts.sound += 1,
                Verdict::Worn => counts.worn += 1,
                Verdict::Missing => counts.missing += 1,
                Verdict::Undecided => counts.undecided += 1,
            }
        }
        counts
    }
}
