//! The corner of the input's high-pass, from all shots of a channel together.

use std::f64::consts::TAU;

use super::local::Local;
use super::poles::Poles;

/// Corners tried first, in hertz; sound-card inputs lie between.
const LOWEST_HZ: f64 = 0.1;
const HIGHEST_HZ: f64 = 45.0;
const GRID: usize = 14;
/// Shots used; more add cost and little knowledge.
const MOST_SHOTS: usize = 10;
/// How much better than no coupling a corner must fit, in units of the residual variance.
const SIGNIFICANT: f64 = 12.0;
/// Parts of the sum that the slower of two poles is tried with first, and the sum itself against the
/// corner of the best single pole.
const SHARES: [f64; 3] = [0.05, 0.2, 0.499];
const SUMS: [f64; 4] = [0.5, 1.0, 2.0, 4.0];
/// Most steps towards the bottom of the two poles' cost.
const NEWTON_STEPS: usize = 12;
/// Steps of the differences that show its slope and bending.
const LOG_STEP: f64 = 0.002;
const SPREAD_STEP: f64 = 0.01;
/// After a flank the signal sinks by the poles' sum; it may differ by this part.
const ALIKE: f64 = 0.01;
/// Steps of the golden section: the bracket shrinks to below a thousandth.
const GOLDEN_STEPS: usize = 16;

/// The coupling found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Coupling {
    /// With both 0 the input passes steady light.
    pub(crate) poles: Poles,
    /// One standard uncertainty below and above, along each direction independent of the others.
    pub(crate) beside: [Option<[Poles; 2]>; 2],
}

impl Coupling {
    pub(crate) const NONE: Self = Self {
        poles: Poles::one(0.0),
        beside: [None, None],
    };

    /// Whether flanks look alike under these poles.
    pub(crate) fn is_like(self, poles: Poles) -> bool {
        (self.poles.sum() - poles.sum()).abs() <= ALIKE * poles.sum()
    }

    /// How many poles, 0 to 2.
    pub(crate) fn count(self) -> u8 {
        u8::from(self.poles.first > 0.0) + u8::from(self.poles.last > 0.0)
    }

    fn one(omega: f64, deviation: f64) -> Self {
        let beside = [
            Poles::one((omega - deviation).max(0.0)),
            Poles::one(omega + deviation),
        ];
        Self {
            poles: Poles::one(omega),
            beside: [(deviation > 0.0).then_some(beside), None],
        }
    }
}

/// The coupling under which the models of the shots leave the least residuals: none, one pole or
/// two, each more only when the residuals fall by more than chance.
pub(crate) fn find(shots: &[Local]) -> Coupling {
    let shots = &shots[..shots.len().min(MOST_SHOTS)];
    let cost = |poles: Poles| -> (f64, f64) {
        shots
            .iter()
            .filter_map(|shot| shot.fit(poles))
            .fold((0.0, 0.0), |sum, fit| {
                (sum.0 + fit.chi2, sum.1 + fit.freedom)
            })
    };
    let at = |log: f64| cost(Poles::one(log.exp()));
    let ratio = (HIGHEST_HZ / LOWEST_HZ).ln() / (GRID - 1) as f64;
    let grid = (0..GRID)
        .map(|i| (TAU * LOWEST_HZ).ln() + ratio * i as f64)
        .map(|log| (log, at(log).0));
    let Some(best) = grid.min_by(|a, b| a.1.total_cmp(&b.1)) else {
        return Coupling::NONE;
    };
    let log = golden(|log| at(log).0, best.0 - ratio, best.0 + ratio);
    let (least, freedom) = at(log);
    let excess = (least / freedom.max(1.0)).max(1.0);
    let (flat, _) = cost(Poles::one(0.0));
    if flat - least < SIGNIFICANT * excess {
        let hidden = unseen(|omega| cost(Poles::one(omega)).0, flat + excess);
        return Coupling::one(0.0, hidden);
    }
    // Each shot has one more unknown with a second pole, which takes up chance.
    let needed = SIGNIFICANT + 2.0 * shots.len() as f64;
    let start = SUMS
        .iter()
        .flat_map(|sum| SHARES.map(|part| (log + sum.ln(), 0.5 * (1.0 / part - 1.0).ln())))
        .map(|(log, half)| (log, half * half))
        .map(|(log, spread)| (log, spread, cost(Poles::two(log, spread)).0))
        .min_by(|a, b| a.2.total_cmp(&b.2))
        .filter(|start| least - start.2 > needed * excess);
    if let Some((log, spread, _)) = start {
        let two = two_poles(&|log, spread| cost(Poles::two(log, spread)), log, spread);
        if least - two.1 > needed * excess {
            return two.0;
        }
    }
    let step = 0.01;
    let (below, above) = (at(log - step).0, at(log + step).0);
    let curvature = (below + above - 2.0 * least) / (step * step);
    let deviation = if curvature > 0.0 {
        (2.0 * excess / curvature).sqrt().min(1.0)
    } else {
        1.0
    };
    Coupling::one(log.exp(), log.exp() * deviation)
}

/// The best two poles near a start, and their cost.
fn two_poles(cost: &dyn Fn(f64, f64) -> (f64, f64), log: f64, spread: f64) -> (Coupling, f64) {
    let (mut log, mut spread) = (log, spread);
    for reach in [0.6, 0.2] {
        log = golden(|log| cost(log, spread).0, log - reach, log + reach);
        let low = (spread - 2.0 * reach).max(0.0);
        spread = golden(|spread| cost(log, spread).0, low, spread + 2.0 * reach);
    }
    let only = |log: f64, spread: f64| cost(log, spread).0;
    let mut least = only(log, spread);
    for _ in 0..NEWTON_STEPS {
        // The valley is narrow and lies aslant, so that stepping along the axes would not reach its
        // bottom.
        let (slope, bending) = shape(&only, log, spread.max(SPREAD_STEP));
        let Some(full) = bending.cholesky().map(|it| it.solve(&slope)) else {
            break;
        };
        let steps = [1.0, 0.3, 0.1].map(|part| {
            let from = spread.max(SPREAD_STEP);
            let (log, spread) = (log - part * full[0], (from - part * full[1]).max(0.0));
            (log, spread, only(log, spread))
        });
        let Some(best) = steps.into_iter().min_by(|a, b| a.2.total_cmp(&b.2)) else {
            break;
        };
        let gained = least - best.2;
        if gained <= 0.0 {
            break;
        }
        (log, spread, least) = best;
        if gained < 1e-3 {
            break;
        }
    }
    if spread <= 0.0 {
        log = golden(|log| only(log, 0.0), log - 0.02, log + 0.02);
        least = only(log, 0.0);
    }
    let freedom = cost(log, spread).1;
    let excess = (least / freedom.max(1.0)).max(1.0);
    let (_, bending) = shape(&only, log, spread.max(SPREAD_STEP));
    let axes = bending.symmetric_eigen();
    let beside = [0, 1].map(|i| {
        let axis = axes.eigenvectors.column(i);
        let curvature = axes.eigenvalues[i];
        let deviation = if curvature > 0.0 {
            (2.0 * excess / curvature).sqrt().min(1.0)
        } else {
            1.0
        };
        let moved = |way: f64| {
            let by = way * deviation;
            Poles::two(log + by * axis[0], spread + by * axis[1])
        };
        Some([moved(-1.0), moved(1.0)])
    });
    let coupling = Coupling {
        poles: Poles::two(log, spread),
        beside,
    };
    (coupling, least)
}

/// Slope and bending of the cost by differences.
fn shape(
    cost: &dyn Fn(f64, f64) -> f64,
    log: f64,
    spread: f64,
) -> (nalgebra::Vector2<f64>, nalgebra::Matrix2<f64>) {
    let (s, q) = (LOG_STEP, SPREAD_STEP);
    let at = |i: f64, j: f64| cost(log + i * s, spread + j * q);
    let centre = at(0.0, 0.0);
    let (left, right, low, high) = (at(-1.0, 0.0), at(1.0, 0.0), at(0.0, -1.0), at(0.0, 1.0));
    let mixed = (at(1.0, 1.0) + at(-1.0, -1.0) - at(1.0, -1.0) - at(-1.0, 1.0)) / (4.0 * s * q);
    let slope = nalgebra::Vector2::new((right - left) / (2.0 * s), (high - low) / (2.0 * q));
    let along = (left + right - 2.0 * centre) / (s * s);
    let apart = (low + high - 2.0 * centre) / (q * q);
    (slope, nalgebra::Matrix2::new(along, mixed, mixed, apart))
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
