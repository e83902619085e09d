//! The fitted error over the distances, for a chart.

use super::line::Line;
use super::{CurvePoint, Options, Settings};
use crate::focus::Lens;

const POINTS: usize = 49;

/// Points even on the scale of `1/D`, from infinity to `nearest_mm`.
pub(super) fn curve(
    nearest_mm: f64,
    line: &Line,
    settings: &Settings,
    lens: &Lens,
    options: &Options,
    depth_mm: f64,
) -> Vec<CurvePoint> {
    (0..POINTS)
        .filter_map(|i| {
            let share = i as f64 / (POINTS - 1) as f64;
            let distance_mm = if i == 0 {
                f64::INFINITY
            } else {
                (nearest_mm / share).max(lens.nearest_mm())
            };
            let ideal = lens.extension_mm(distance_mm)?;
            let read = line.infinity() + line.rate() * ideal;
            Some(CurvePoint {
                distance_m: distance_mm / 1000.0,
                error_depths: (read - ideal) / depth_mm,
                error_depths_u: line.u([1.0, ideal]).map(|u| u / depth_mm),
                left_depths: (settings.after(read) - ideal) / depth_mm,
                resolvable_in_depths: options
                    .base_mm
                    .map(|_| options.eye_mm(lens, distance_mm) / depth_mm),
            })
        })
        .collect()
}
