//! What a register's readings say.

use serde::{Deserialize, Serialize};

use super::{Finding, Options};
use crate::Verdict;

/// The register as read, and what brings it right. Errors are positive where the film lies too deep; `_u` is the half-width of a
/// 95 % interval, `None` when the readings leave no degree of freedom and no repeatability is known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// What was asked.
    pub options: Options,
    /// The plane's depth at the frame's middle.
    pub mean_mm: f64,
    /// Its uncertainty.
    pub mean_mm_u: Option<f64>,
    /// The same less what it should be.
    pub error_mm: f64,
    /// Its uncertainty.
    pub error_mm_u: Option<f64>,
    /// Slope along x; to the small angle the tilt about y.
    pub tilt_x_rad: f64,
    /// Its uncertainty.
    pub tilt_x_rad_u: Option<f64>,
    /// Slope along y.
    pub tilt_y_rad: f64,
    /// Its uncertainty.
    pub tilt_y_rad_u: Option<f64>,
    /// How much deeper the deepest corner of the frame lies than the shallowest.
    pub frame_tilt_mm: f64,
    /// Its uncertainty.
    pub frame_tilt_mm_u: Option<f64>,
    /// The error at the worst place of the frame, always a corner.
    pub worst_mm: f64,
    /// Its uncertainty.
    pub worst_mm_u: Option<f64>,
    /// Whether the whole frame lies inside the limit, as read: in when all four corners do, out when one surely does not.
    pub verdict: Verdict,
    /// Shims to add under the whole seat, thickest first.
    pub shims: Vec<f64>,
    /// The error at the middle with them.
    pub left_mm: f64,
    /// Its uncertainty.
    pub left_mm_u: Option<f64>,
    /// The verdict with them.
    pub left_verdict: Verdict,
    /// What each seat wants, when seats are given.
    pub seats: Vec<SeatShims>,
    /// What the error means at the film, when the opening and the circle of confusion, or the focal length, are given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_film: Option<AtFilm>,
    /// The frame's corners: upper left, upper right, lower right, lower left, seen from the front.
    pub corners: Vec<Corner>,
    /// The readings with their distance from the plane.
    pub readings: Vec<ReadPoint>,
    /// Standard deviation of one reading.
    pub reading_sd_mm: Option<f64>,
    /// Degrees of freedom that the readings leave.
    pub freedom: usize,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// One corner of the frame.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Corner {
    /// From the frame's middle to the right, seen from the front.
    pub x_mm: f64,
    /// Upwards.
    pub y_mm: f64,
    /// The plane's error there.
    pub error_mm: f64,
    /// Its uncertainty.
    pub error_mm_u: Option<f64>,
}

/// One reading beside the plane.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadPoint {
    /// Where it stands in the file, from 1.
    pub line: usize,
    /// From the frame's middle to the right, seen from the front.
    pub x_mm: f64,
    /// Upwards.
    pub y_mm: f64,
    /// As read.
    pub reading_mm: f64,
    /// Less the plane.
    pub residual_mm: f64,
}

/// One seat of the lens and its packing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeatShims {
    /// From the frame's middle to the right, seen from the front.
    pub x_mm: f64,
    /// Upwards.
    pub y_mm: f64,
    /// The packing it wants; negative where some must come out.
    pub shim_mm: f64,
    /// Its uncertainty.
    pub shim_mm_u: Option<f64>,
    /// The shims for it, thickest first, from one drawer for all seats.
    pub shims: Vec<f64>,
    /// The error there with them.
    pub left_mm: f64,
}

/// An error of the register at the film, the lens at its infinity setting.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AtFilm {
    /// The error at the middle in depths `N c`.
    pub error_depths: Option<f64>,
    /// Its uncertainty.
    pub error_depths_u: Option<f64>,
    /// The same at the worst corner.
    pub worst_depths: Option<f64>,
    /// The distance that is sharp at the frame's middle; `None` when the film lies too shallow, where nothing is, or without a focal length.
    #[serde(with = "crate::focus::distance::maybe")]
    pub sharp_at_m: Option<f64>,
}
