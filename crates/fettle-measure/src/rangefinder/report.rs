//! What a rangefinder's readings say.

use serde::{Deserialize, Serialize};

use super::{Finding, Options};
use crate::Verdict;
use crate::focus::distance;

/// The finder as read, and the settings that bring it right. Errors are positive where the images meet with the lens too far out, so
/// that it is sharp nearer than the subject; `_u` is the half-width of a 95 % interval, `None` when it is not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// What was asked.
    pub options: Options,
    /// One depth, `N c`.
    pub depth_mm: f64,
    /// Where the images of infinity meet: 0 when right.
    pub infinity_mm: f64,
    /// Its uncertainty.
    pub infinity_mm_u: Option<f64>,
    /// How many millimetres the reading moves for each that the lens should: 1 when right.
    pub rate: f64,
    /// Its uncertainty.
    pub rate_u: Option<f64>,
    /// Each reading as found and after the settings, in the order of the run.
    pub residuals: Vec<Residual>,
    /// The greatest error of the readings as found, without its sign.
    pub worst_in_depths: f64,
    /// Its uncertainty, that of one reading.
    pub worst_in_depths_u: Option<f64>,
    /// Whether the finder lies inside the limit as found: in when every reading does, out when one surely does not.
    pub verdict: Verdict,
    /// What sets it right.
    pub settings: Settings,
    /// The greatest error of the readings after the settings.
    pub left_in_depths: f64,
    /// Its uncertainty: how well the readings tell where the settings lead, at the worst of their distances.
    pub left_in_depths_u: Option<f64>,
    /// The verdict after the settings.
    pub left_verdict: Verdict,
    /// How the images stand above one another, when it was looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vertical: Option<Vertical>,
    /// What the base can tell, when it is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub base: Option<Base>,
    /// The distances to read next, the most informative first.
    pub next: Vec<NextDistance>,
    /// The fitted error over the distances, from infinity to the nearest.
    pub curve: Vec<CurvePoint>,
    /// Degrees of freedom that the readings leave.
    pub freedom: usize,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// One reading beside what it should be.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// Where it stands in the file, from 1.
    pub line: usize,
    /// From film to subject.
    #[serde(with = "distance")]
    pub distance_m: f64,
    /// As read.
    pub extension_mm: f64,
    /// What the lens wants there.
    pub ideal_mm: f64,
    /// Read minus ideal, as found.
    pub residual_mm: f64,
    /// The same in depths.
    pub residual_depths: f64,
    /// Its uncertainty.
    pub residual_depths_u: Option<f64>,
    /// After the settings, in depths.
    pub left_depths: f64,
    /// The least that base, magnification and eye can tell there, in depths; `None` without a base.
    pub resolvable_in_depths: Option<f64>,
    /// The same as a distance; `None` without a base, and at infinity.
    pub resolvable_m: Option<f64>,
    /// Whether it was left out of the line and the settings.
    pub left_out: bool,
}

/// What sets the finder right. Of all settings those that make the worst reading's error least, and among such within 0.005 depths
/// the nearest to the weighted least squares.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// What is added to the reading at infinity; then the reading is multiplied: `after = (read + infinity_change_mm) · rate_factor`.
    pub infinity_change_mm: f64,
    /// By what the reading's rate is multiplied.
    pub rate_factor: f64,
    /// What is added to the finder's deflection at the lens's infinity; `None` without a base.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub infinity_change_rad: Option<f64>,
    /// What is added to the deflection for each millimetre of extension; `None` without a base.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_change_rad_per_mm: Option<f64>,
    /// The greatest error of the readings after these two, which bend the line a little otherwise than the two above.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_by_angle_in_depths: Option<f64>,
    /// The same in turns of the adjusters; empty without their effects.
    pub turns: Vec<Turns>,
    /// The greatest error of the readings after these turns.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_by_turns_in_depths: Option<f64>,
}

/// One adjuster's turns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Turns {
    /// As the service notes call it.
    pub name: String,
    /// How far, in the sense of its effects.
    pub turns: f64,
}

/// How the two images stand above one another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Vertical {
    /// The mean, as seen in the finder.
    pub mean_arcmin: f64,
    /// Its uncertainty; `None` for a single reading.
    pub mean_arcmin_u: Option<f64>,
    /// What is allowed.
    pub limit_arcmin: f64,
    /// Its own verdict.
    pub verdict: Verdict,
}

/// What the finder's base can tell.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Base {
    /// Base times magnification.
    pub effective_mm: f64,
    /// What this lens needs so that the eye tells one depth: `α f²/(N c)`.
    pub needed_mm: f64,
    /// The least that can be told at the worst of the readings' distances, in depths.
    pub worst_resolvable_in_depths: f64,
}

/// A distance to read next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NextDistance {
    /// From film to subject.
    #[serde(with = "distance")]
    pub distance_m: f64,
    /// How well the error is known where it is known worst, before this reading: half-width of a 95 % interval in depths.
    pub worst_before_depths: f64,
    /// The same with it and those before it in the list.
    pub worst_after_depths: f64,
}

/// The fitted error at one distance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// From film to subject.
    #[serde(with = "distance")]
    pub distance_m: f64,
    /// As found, in depths.
    pub error_depths: f64,
    /// Its uncertainty.
    pub error_depths_u: Option<f64>,
    /// After the settings, in depths.
    pub left_depths: f64,
    /// The least that can be told there, in depths; `None` without a base.
    pub resolvable_in_depths: Option<f64>,
}
