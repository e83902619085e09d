//! The settings that bring a rangefinder right.

use super::least_worst::{LeastWorst, least_worst};
use super::{Options, Reading, Settings, Turns};
use crate::focus::Lens;

/// How much more than the least worst error, in depths, the settings may leave to lie nearer to the least squares.
const SLACK_DEPTHS: f64 = 0.005;

/// The readings that count for the settings.
pub(super) struct Kept {
    /// From film to subject.
    pub(super) distances_mm: Vec<f64>,
    /// As read.
    pub(super) read_mm: Vec<f64>,
    /// What the lens wants.
    pub(super) ideals_mm: Vec<f64>,
    /// Standard deviations as weighted.
    pub(super) sigmas_mm: Vec<f64>,
}

impl Kept {
    pub(super) fn new(
        readings: &[Reading],
        ideals: &[f64],
        sigmas: &[f64],
        left_out: impl Fn(usize) -> bool,
    ) -> Self {
        let mut kept = Self {
            distances_mm: Vec::new(),
            read_mm: Vec::new(),
            ideals_mm: Vec::new(),
            sigmas_mm: Vec::new(),
        };
        let all = readings.iter().zip(ideals).zip(sigmas).enumerate();
        for (_, ((reading, ideal), sigma)) in all.filter(|(i, _)| !left_out(*i)) {
            kept.distances_mm.push(reading.distance_m * 1000.0);
            kept.read_mm.push(reading.extension_mm);
            kept.ideals_mm.push(*ideal);
            kept.sigmas_mm.push(*sigma);
        }
        kept
    }
}

/// The settings by the reading, by angle, and in turns, each with the least worst error. `None` when the readings do not determine them.
pub(super) fn settings(
    kept: &Kept,
    lens: &Lens,
    options: &Options,
    depth_mm: f64,
) -> Option<Settings> {
    let slack = SLACK_DEPTHS * depth_mm;
    let rows: Vec<Vec<f64>> = kept.read_mm.iter().map(|e| vec![*e, 1.0]).collect();
    let by_reading = least_worst(&rows, &kept.ideals_mm, &kept.sigmas_mm, slack)?;
    let (factor, shifted) = pair(&by_reading)?;
    let by_angle = options
        .base_mm
        .and_then(|base| by_angle(kept, lens, base, slack));
    let by_turns = by_turns(kept, options, slack);
    let angles = by_angle.as_ref().and_then(pair);
    Some(Settings {
        infinity_change_mm: shifted / factor,
        rate_factor: factor,
        infinity_change_rad: angles.map(|(infinity, _)| infinity),
        rate_change_rad_per_mm: angles.map(|(_, rate)| rate),
        left_by_angle_in_depths: by_angle.map(|best| best.worst / depth_mm),
        left_by_turns_in_depths: by_turns.as_ref().map(|best| best.worst / depth_mm),
        turns: by_turns.map_or_else(Vec::new, |best| {
            let turned = options.adjusters.iter().zip(best.coefficients);
            turned
                .map(|(adjuster, turns)| Turns {
                    name: adjuster.name.clone(),
                    turns,
                })
                .collect()
        }),
    })
}

fn pair(best: &LeastWorst) -> Option<(f64, f64)> {
    match best.coefficients.as_slice() {
        [one, other] => Some((*one, *other)),
        _ => None,
    }
}

/// `Δθ0` and `Δg` for which the deflection at each extension read, `b/D` there, becomes the ideal `b/D(e)` of that extension; errors in
/// angle count as extension by the ideal's slope.
fn by_angle(kept: &Kept, lens: &Lens, base_mm: f64, slack: f64) -> Option<LeastWorst> {
    let mut rows = Vec::new();
    let mut values = Vec::new();
    for (read, distance) in kept.read_mm.iter().zip(&kept.distances_mm) {
        // D(e) = v²/e + h with v = f + e, so b/D = b e/(v² + h e), which goes on smoothly to where the lens stands too near.
        let image = lens.focal_mm() + read;
        let below = image * image + lens.nodal_mm() * read;
        let ideal = base_mm * read / below;
        let slope = base_mm * image * (lens.focal_mm() - read) / (below * below);
        if !(slope.is_finite() && slope > 0.0) {
            return None;
        }
        rows.push(vec![1.0 / slope, read / slope]);
        values.push((ideal - base_mm / distance) / slope);
    }
    least_worst(&rows, &values, &kept.sigmas_mm, slack)
}

/// Turns of the adjusters that are given.
fn by_turns(kept: &Kept, options: &Options, slack: f64) -> Option<LeastWorst> {
    if options.adjusters.is_empty() {
        return None;
    }
    let row = |ideal: &f64| -> Vec<f64> {
        let effect = options.adjusters.iter();
        effect
            .map(|a| a.infinity_mm_per_turn + a.rate_per_turn * ideal)
            .collect()
    };
    let rows: Vec<Vec<f64>> = kept.ideals_mm.iter().map(row).collect();
    let pairs = kept.ideals_mm.iter().zip(&kept.read_mm);
    let values: Vec<f64> = pairs.map(|(ideal, read)| ideal - read).collect();
    least_worst(&rows, &values, &kept.sigmas_mm, slack)
}
