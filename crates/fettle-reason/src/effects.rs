//! What a turn of an adjuster does, learned from the cameras on which it was turned.
//!
//! Each camera has an effect of its own, `e ~ N(m, t²)`: `m` belongs to the model, `t` is how far its cameras differ. The author's
//! figure with its relative uncertainty foretells one camera, so its variance is `var(m) + t²`; both halves are taken as equal.
//! `t` itself is uncertain (log-normal about that half) and is summed out on a grid; given `t` all is normal (Gelman et al.,
//! *Bayesian Data Analysis*, 3rd ed., §5.4).

use serde::Serialize;

/// Standard deviation of the logarithm of how far cameras differ.
const SPREAD_OF_T: f64 = 0.7;
/// Points of the grid to either side, and how far it reaches in standard deviations.
const GRID: i32 = 12;
const REACH: f64 = 2.5;
/// 95 % point of the normal distribution: a 90 % interval's half-width in standard deviations.
const NINETY: f64 = 1.645;

/// An effect as one camera showed it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffectSeen {
    /// Change of the reading per turn.
    pub per_turn: f64,
    /// Its standard uncertainty, from that camera's trials alone; more than 0.
    pub u: f64,
}

/// What was learned of one effect, in the reading's unit per turn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LearnedEffect {
    /// The author's figure.
    pub author: f64,
    /// The author's relative expanded uncertainty (k = 2).
    pub author_rel_u: f64,
    /// What to expect of the next camera.
    pub per_turn: f64,
    /// Relative expanded uncertainty (k = 2) of that.
    pub rel_u: f64,
    /// 90 % interval of the model's effect.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Cameras on which it was tried.
    pub cameras: usize,
}

/// Learns an effect from the author's figure, which must not be 0, and what cameras showed.
///
/// Figures that are not finite, or come without an uncertainty, are passed over; `None` when the author's is unusable.
#[must_use]
pub fn learn_effect(author: f64, author_rel_u: f64, seen: &[EffectSeen]) -> Option<LearnedEffect> {
    let foretold = (author * author_rel_u / 2.0).powi(2);
    if !(foretold.is_finite() && foretold > 0.0) {
        return None;
    }
    let seen: Vec<EffectSeen> = seen
        .iter()
        .filter(|it| it.per_turn.is_finite() && it.u.is_finite() && it.u > 0.0)
        .copied()
        .collect();
    let half = foretold / 2.0;
    let given: Vec<Given> = (-GRID..=GRID)
        .map(|step| {
            let z = f64::from(step) / f64::from(GRID) * REACH;
            given(author, half, half * (2.0 * SPREAD_OF_T * z).exp(), z, &seen)
        })
        .collect();
    let best = given
        .iter()
        .map(|it| it.log_weight)
        .fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = given
        .iter()
        .map(|it| (it.log_weight - best).exp())
        .collect();
    let all: f64 = weights.iter().sum();
    let over = |of: &dyn Fn(&Given) -> f64| {
        let sum: f64 = given.iter().zip(&weights).map(|(it, w)| w * of(it)).sum();
        sum / all
    };
    let middle = over(&|it| it.middle);
    let of_model = over(&|it| it.variance + (it.middle - middle).powi(2));
    let of_next = of_model + over(&|it| it.differ);
    let reach = NINETY * of_model.sqrt();
    Some(LearnedEffect {
        author,
        author_rel_u,
        per_turn: middle,
        rel_u: 2.0 * of_next.sqrt() / middle.abs(),
        low: middle - reach,
        high: middle + reach,
        cameras: seen.len(),
    })
}

/// What follows when the variance between cameras is given.
struct Given {
    log_weight: f64,
    /// Mean and variance of the model's effect.
    middle: f64,
    variance: f64,
    /// The variance between cameras.
    differ: f64,
}

fn given(author: f64, of_author: f64, differ: f64, z: f64, seen: &[EffectSeen]) -> Given {
    let (mut weight, mut sum, mut log_weight) = (1.0 / of_author, author / of_author, -0.5 * z * z);
    let (mut middle, mut variance) = (author, of_author);
    for it in seen {
        // One camera after the other: the chance of each given those before is normal.
        let foreseen = variance + differ + it.u * it.u;
        log_weight -= 0.5 * (foreseen.ln() + (it.per_turn - middle).powi(2) / foreseen);
        let own = 1.0 / (differ + it.u * it.u);
        weight += own;
        sum += own * it.per_turn;
        (middle, variance) = (sum / weight, 1.0 / weight);
    }
    Given {
        log_weight,
        middle,
        variance,
        differ,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(figures: &[f64], u: f64) -> Vec<EffectSeen> {
        let one = |&per_turn: &f64| EffectSeen { per_turn, u };
        figures.iter().map(one).collect()
    }

    #[test]
    fn without_cameras_the_author_s_figure_stands() {
        let learned = learn_effect(-1.1, 0.3, &[]).unwrap();
        assert!((learned.per_turn + 1.1).abs() < 1e-12, "{learned:?}");
        assert!((0.25..0.50).contains(&learned.rel_u), "{learned:?}");
        assert_eq!(learned.cameras, 0);
    }

    #[test]
    fn many_cameras_outweigh_the_author_and_tell_how_far_they_differ() {
        // Even spread with a standard deviation of 0.1 about 1.5.
        let figures: Vec<f64> = (0..200)
            .map(|n| 1.5 + 0.1 * 3.0f64.sqrt() * (f64::from(n) / 99.5 - 1.0))
            .collect();
        let learned = learn_effect(1.0, 0.6, &seen(&figures, 0.01)).unwrap();
        assert!((learned.per_turn - 1.5).abs() < 0.01, "{learned:?}");
        assert!((learned.rel_u - 0.2 / 1.5).abs() < 0.03, "{learned:?}");
        assert!(learned.low > 1.47 && learned.high < 1.53, "{learned:?}");
    }

    #[test]
    fn a_vague_camera_hardly_moves_the_figure() {
        let vague = learn_effect(1.0, 0.3, &seen(&[3.0], 10.0)).unwrap();
        assert!((vague.per_turn - 1.0).abs() < 0.01, "{vague:?}");
        let sure = learn_effect(1.0, 0.3, &seen(&[1.2], 0.001)).unwrap();
        assert!((1.05..1.2).contains(&sure.per_turn), "{sure:?}");
    }

    #[test]
    fn broken_figures_are_passed_over() {
        let broken = [
            EffectSeen {
                per_turn: f64::NAN,
                u: 0.1,
            },
            EffectSeen {
                per_turn: 1.0,
                u: 0.0,
            },
        ];
        assert_eq!(learn_effect(1.0, 0.3, &broken).unwrap().cameras, 0);
        assert_eq!(learn_effect(0.0, 0.3, &[]), None);
        assert_eq!(learn_effect(f64::NAN, 0.3, &[]), None);
    }
}
