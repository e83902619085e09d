//! Which distances tell most when they are read next.

use nalgebra::{Matrix3, Vector3};

use super::settings::Kept;
use super::{NextDistance, Options};
use crate::focus::Lens;

/// Distances that are easily taped, in metres.
const LADDER_M: [f64; 22] = [
    0.25,
    0.3,
    0.35,
    0.4,
    0.5,
    0.6,
    0.7,
    0.8,
    0.9,
    1.0,
    1.2,
    1.5,
    2.0,
    2.5,
    3.0,
    4.0,
    5.0,
    7.0,
    10.0,
    15.0,
    30.0,
    f64::INFINITY,
];
/// How many are told.
const TOLD: usize = 3;
/// How far the finder may bend in mid-range before anything was read, standard deviation in depths.
const BEND_DEPTHS: f64 = 1.0;
/// The finest that readings are taken to scatter against their weights: agreement by chance is no knowledge.
const LEAST_SCALE: f64 = 0.3;

/// The distances to read next, one after another each the one that most lowers the uncertainty where it is worst.
///
/// What has to be known is the error at every distance in use, since the worst of them decides: so the criterion is the largest variance of the
/// fitted error over the range (G-optimal design; Kiefer & Wolfowitz 1960), not the coefficients' own. A bend belongs to the model, else
/// only the two ends would ever be asked for and a bent cam stay unseen; before it is read it is taken to be about a depth.
pub(super) fn next(
    kept: &Kept,
    lens: &Lens,
    options: &Options,
    scale: f64,
    depth_mm: f64,
) -> Vec<NextDistance> {
    let nearest_m = options.nearest_m.unwrap_or_else(|| {
        kept.distances_mm
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min)
            / 1000.0
    });
    let ladder = LADDER_M.iter().copied().filter(|m| *m > nearest_m);
    let candidates: Vec<(f64, f64)> = std::iter::once(nearest_m)
        .chain(ladder)
        .filter_map(|m| Some((m, lens.extension_mm(m * 1000.0)?)))
        .collect();
    let reach = candidates.iter().map(|c| c.1).fold(0.0, f64::max);
    if reach <= 0.0 {
        return Vec::new();
    }
    let row = |extension: f64| {
        let share = extension / reach;
        Vector3::new(1.0 - share, share, 4.0 * share * (1.0 - share))
    };
    let scale = scale.max(LEAST_SCALE);
    let told = |extension: f64, sigma: f64| {
        let row = row(extension) / (sigma * scale);
        row * row.transpose()
    };
    let mut known =
        Matrix3::from_diagonal(&Vector3::new(0.0, 0.0, (BEND_DEPTHS * depth_mm).powi(-2)));
    for (extension, sigma) in kept.ideals_mm.iter().zip(&kept.sigmas_mm) {
        known += told(*extension, *sigma);
    }
    let worst = |known: &Matrix3<f64>| {
        let covariance = known.try_inverse()?;
        let variances = candidates.iter().map(|(_, e)| {
            let row = row(*e);
            (row.transpose() * covariance * row).x
        });
        Some(2.0 * variances.fold(0.0, f64::max).sqrt() / depth_mm)
    };
    let mut next = Vec::new();
    for _ in 0..TOLD {
        let with = |extension: f64, distance_m: f64| {
            known + told(extension, options.reading_sd_mm(lens, distance_m * 1000.0))
        };
        let best = candidates
            .iter()
            .filter_map(|(m, e)| Some((*m, *e, worst(&with(*e, *m))?)))
            .min_by(|a, b| a.2.total_cmp(&b.2));
        let (Some((distance_m, extension, after)), Some(before)) = (best, worst(&known)) else {
            break;
        };
        next.push(NextDistance {
            distance_m,
            worst_before_depths: before,
            worst_after_depths: after,
        });
        known = with(extension, distance_m);
    }
    next
}
