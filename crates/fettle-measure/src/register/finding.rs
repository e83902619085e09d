//! What is noticed about a register.

use serde::{Deserialize, Serialize};

/// Something noticed. In JSON one flat object: `{"kind":"outlier","line":4,...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// Three readings give a plane and nothing about its uncertainty.
    NoFreedom,
    /// The readings agree to the last digit: their resolution hides the scatter.
    NoScatter,
    /// The readings scatter more than the repeatability known beforehand; the uncertainty is from the scatter.
    Scatter {
        /// Standard deviation of one reading about the plane.
        sd_mm: f64,
        /// The repeatability given.
        repeatability_mm: f64,
    },
    /// The film lies askew by more than the scatter makes.
    Tilt {
        /// From the shallowest to the deepest corner of the frame.
        frame_tilt_mm: f64,
    },
    /// One reading lies far from the plane through the others; it is not left out.
    Outlier {
        /// Where it stands in the file, from 1.
        line: usize,
        /// From the frame's middle to the right, seen from the front.
        x_mm: f64,
        /// Upwards.
        y_mm: f64,
        /// How far it lies from the plane through the others.
        miss_mm: f64,
    },
    /// The register is too long, which no shim mends.
    TooLong {
        /// The packing that must come out.
        by_mm: f64,
    },
    /// The error is too large for shims: something else is wrong.
    FarOff {
        /// The error at the middle.
        error_mm: f64,
    },
    /// The shims at hand do not bring the middle inside the limit.
    NoShims {
        /// The packing wanted.
        wanted_mm: f64,
    },
}

impl Finding {
    /// In plain words.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::NoFreedom => "three readings leave nothing to judge their scatter by: read a fourth point, repeat them, or give the gauge's repeatability".to_owned(),
            Self::NoScatter => "the readings agree to the last digit, so their scatter is hidden: read finer, or give the gauge's repeatability".to_owned(),
            Self::Scatter { sd_mm, repeatability_mm } => format!(
                "the readings scatter by {sd_mm:.4} mm about the plane, more than the repeatability of {repeatability_mm} mm allows: the film plane may not be flat, or something moved"
            ),
            Self::Tilt { frame_tilt_mm } => format!(
                "the film lies askew: from corner to corner {frame_tilt_mm:.3} mm"
            ),
            Self::Outlier { line, x_mm, y_mm, miss_mm } => format!(
                "the reading on line {line} (x {x_mm} mm, y {y_mm} mm) misses the plane through the others by {miss_mm:+.3} mm: read it again"
            ),
            Self::TooLong { by_mm } => format!(
                "the register is too long: shims only add, packing of {by_mm:.3} mm must come out"
            ),
            Self::FarOff { error_mm } => format!(
                "the register is off by {error_mm:+.2} mm, too much for shims: check the target, the gauge's zero and what the depth was read from"
            ),
            Self::NoShims { wanted_mm } => format!(
                "the shims at hand do not make the {wanted_mm:.3} mm that are wanted: the middle stays outside the limit"
            ),
        }
    }
}
