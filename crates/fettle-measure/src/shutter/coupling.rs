//! The corner of the input's high-pass, from all shots of a channel together.

use std::f64::consts::TAU;

use super::local::Local;

/// Corners tried first, in hertz; sound-card inputs lie between.
const LOWEST_HZ: f64 = 0.1;
const HIGHEST_HZ: f64 = 45.0;
const GRID: usize = 14;
/// Shots used; more add cost and little knowledge.
const MOST_SHOTS: usize = 10;
/// How much better than no coupling a corner must fit, in units of the residual variance.
const SIGNIFICANT: f64 = 12.0;
/// Steps of the golden section: the bracket shrinks to below a thousandth.
const GOLDEN_STEPS: usize = 16;

/// The corner, as `ω = 2π f_c`, 0 when the input passes steady light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Coupling {
    pub(crate) omega: f64,
    /// Standard uncertainty of `omega`.
    pub(crate) deviation: f64,
}

impl Coupling {
    pub(crate) fn corner_hz(self) -> f64 {
        self.omega / TAU
    }
}

/// The corner under which the models of the shots leave the least residuals.
pub(crate) fn find(shots: &[Local]) -> Coupling {
    let shots = &shots[..shots.len().min(MOST_SHOTS)];
    let cost = |omega: f64| -> (f64, f64) {
        shots
            .iter()
            .filter_map(|shot| shot.fit(omega))
            .fold((0.0, 0.0), |sum, fit| {
                (sum.0 + fit.chi2, sum.1 + fit.freedom)
            })
    };
    let ratio = (HIGHEST_HZ / LOWEST_HZ).ln() / (GRID - 1) as f64;
    let grid: Vec<(f64, f64)> = (0..GRID)
        .map(|i| (TAU * LOWEST_HZ).ln() + ratio * i as f64)
        .map(|log| (log, cost(log.exp()).0))
        .collect();
    let Some(best) = grid.iter().min_by(|a, b| a.1.total_cmp(&b.1)) else {
        return Coupling {
            omega: 0.0,
            deviation: 0.0,
        };
    };
    let log = golden(|log| cost(log.exp()).0, best.0 - ratio, best.0 + ratio);
    let (least, freedom) = cost(log.exp());
    let excess = (least / freedom.max(1.0)).max(1.0);
    let (flat, _) = cost(0.0);
    if flat - least < SIGNIFICANT * excess {
        return Coupling {
            omega: 0.0,
            deviation: unseen(|omega| cost(omega).0, flat + excess),
        };
    }
    let step = 0.01;
    let (below, above) = (cost((log - step).exp()).0, cost((log + step).exp()).0);
    let curvature = (below + above - 2.0 * least) / (step * step);
    let deviation = if curvature > 0.0 {
        (2.0 * excess / curvature).sqrt().min(1.0)
    } else {
        1.0
    };
    Coupling {
        omega: log.exp(),
        deviation: log.exp() * deviation,
    }
}

/// The corner up to which a coupling could hide: where the cost reaches `limit`.
fn unseen(cost: impl Fn(f64) -> f64, limit: f64) -> f64 {
    let mut omega = TAU * 1e-3;
    while omega < TAU * HIGHEST_HZ && cost(2.0 * omega) < limit {
        omega *= 2.0;
    }
    omega
}

fn golden(cost: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let part = 0.5 * (5.0_f64.sqrt() - 1.0);
    let mut left = high - part * (high - low);
    let mut right = low + part * (high - low);
    let (mut at_left, mut at_right) = (cost(left), cost(right));
    for _ in 0..GOLDEN_STEPS {
        if at_left < at_right {
            high = right;
            (right, at_right) = (left, at_left);
            left = high - part * (high - low);
            at_left = cost(left);
        } else {
            low = left;
            (left, at_left) = (right, at_right);
            right = low + part * (high - low);
            at_right = cost(right);
        }
    }
    0.5 * (low + high)
}
