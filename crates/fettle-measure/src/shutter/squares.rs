//! Least squares by Levenberg and Marquardt's method (D. W. Marquardt, J. SIAM 11, 1963), derivatives taken by trying.

use nalgebra::{DMatrix, DVector};

/// Tries of a round, and the gain that is worth no further round.
const TRIES: usize = 6;
const ENOUGH: f64 = 0.02;

/// Where the sum of squares is least.
pub(super) struct Least<const N: usize> {
    pub(super) params: [f64; N],
    /// The sum of squares.
    pub(super) misfit: f64,
    /// Of residuals that have a variance of 1; without what was not fitted.
    pub(super) covariance: DMatrix<f64>,
}

/// A figure of the parameters with its variance; those in `steps` are tried by the step beside them.
pub(super) fn figure<const N: usize>(
    (params, covariance): (&[f64; N], &DMatrix<f64>),
    steps: impl Iterator<Item = (usize, f64)>,
    of: impl Fn(&[f64; N]) -> f64,
) -> (f64, f64) {
    let here = of(params);
    let mut gradient = DVector::zeros(N);
    for (i, by) in steps {
        let mut moved = *params;
        moved[i] += by;
        gradient[i] = (of(&moved) - here) / by;
    }
    let variance = gradient.dot(&(covariance * &gradient));
    (here, variance.max(0.0))
}

/// Fits the parameters in `used`, each tried by the step beside it, beginning at `begin`, in so many rounds at most.
/// `within` keeps parameters that moved from others to what has a meaning. `None` where the sum of squares is no number.
pub(super) fn least<const N: usize>(
    begin: [f64; N],
    (used, rounds): (&[(usize, f64)], usize),
    residuals: impl Fn(&[f64; N]) -> Vec<f64>,
    within: impl Fn([f64; N], &[f64; N]) -> [f64; N],
) -> Option<Least<N>> {
    let mut params = begin;
    let mut here = residuals(&params);
    let mut damping = 1e-3;
    let mut normal = DMatrix::zeros(used.len(), used.len());
    for _ in 0..rounds {
        let column = |(i, by): &(usize, f64)| {
            let mut moved = params;
            moved[*i] += by;
            let there = residuals(&moved);
            there.iter().zip(&here).map(|(a, b)| a - b).collect()
        };
        let columns: Vec<Vec<f64>> = used.iter().map(column).collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        normal = DMatrix::from_fn(used.len(), used.len(), |i, j| dot(&columns[i], &columns[j]));
        let right = DVector::from_fn(used.len(), |i, _| -dot(&columns[i], &here));
        let mut better = None;
        for _ in 0..TRIES {
            let mut damped = normal.clone();
            for i in 0..used.len() {
                damped[(i, i)] += damping * normal[(i, i)] + 1e-9;
            }
            let there = damped.cholesky().map(|it| it.solve(&right)).map(|steps| {
                let mut moved = params;
                for ((i, by), step) in used.iter().zip(&steps) {
                    moved[*i] += step * by;
                }
                let moved = within(moved, &params);
                (moved, residuals(&moved))
            });
            if let Some(there) = there.filter(|there| square(&there.1) < square(&here)) {
                damping = (damping * 0.3).max(1e-7);
                better = Some(there);
                break;
            }
            damping *= 8.0;
        }
        let Some((moved, there)) = better else { break };
        let gained = square(&here) - square(&there);
        (params, here) = (moved, there);
        if gained < ENOUGH {
            break;
        }
    }
    let misfit = square(&here);
    for i in 0..used.len() {
        normal[(i, i)] += 1e-9;
    }
    let inverse = normal.cholesky()?.inverse();
    let mut covariance = DMatrix::zeros(N, N);
    for (a, (i, of_i)) in used.iter().enumerate() {
        for (b, (j, of_j)) in used.iter().enumerate() {
            covariance[(*i, *j)] = inverse[(a, b)] * of_i * of_j;
        }
    }
    misfit.is_finite().then_some(Least {
        params,
        misfit,
        covariance,
    })
}

pub(super) fn square(x: &[f64]) -> f64 {
    x.iter().map(|it| it * it).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decay_is_found_with_its_uncertainty_and_what_is_not_used_stays() {
        let [height, time] = [2.0, 7.0];
        let seen: Vec<f64> = (0..40)
            .map(|n| height * (-f64::from(n) / time).exp() + 0.01 * f64::from(n % 3 - 1))
            .collect();
        let residuals = |params: &[f64; 3]| {
            let made = (0..40).map(|n| params[0] * (-f64::from(n) / params[1]).exp());
            let pairs = seen.iter().zip(made);
            pairs.map(|(seen, made)| (seen - made) / 0.01).collect()
        };
        let used = [(0, 1e-3), (1, 1e-3)];
        let keep = |moved: [f64; 3], _: &[f64; 3]| moved;
        let found = least([1.0, 3.0, 5.0], (&used, 30), residuals, keep).unwrap();
        assert!(
            (found.params[0] - height).abs() < 0.02,
            "{:?}",
            found.params
        );
        assert!((found.params[1] - time).abs() < 0.1, "{:?}", found.params);
        assert!((found.params[2] - 5.0).abs() < f64::EPSILON);
        assert!(found.covariance[(2, 2)].abs() < f64::EPSILON);
        let fitted = (&found.params, &found.covariance);
        let (area, variance) = figure(fitted, used.into_iter(), |it| it[0] * it[1]);
        let deviation = variance.sqrt();
        assert!(
            (area - height * time).abs() < 4.0 * deviation,
            "{area} {deviation}"
        );
        assert!((0.01..0.1).contains(&deviation), "{deviation}");
    }

    #[test]
    fn what_is_no_number_has_no_least() {
        let nowhere = |_: &[f64; 1]| vec![f64::NAN];
        assert!(least([1.0], (&[(0, 0.1)], 5), nowhere, |moved, _| moved).is_none());
    }
}
