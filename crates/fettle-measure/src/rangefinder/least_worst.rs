//! Coefficients that make the worst residual least.

use crate::spread::Fit;

/// Golden sections until the bracket is a part in 1e10 of its first width.
const SECTIONS: usize = 48;
const GOLDEN: f64 = 0.618_033_988_749_894_9;
const HALVINGS: usize = 40;

/// Coefficients for `values ≈ rows · coefficients`, and the worst residual with them.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LeastWorst {
    pub(super) coefficients: Vec<f64>,
    pub(super) worst: f64,
}

/// The coefficients, one or two, with the least worst residual, or any within `slack` of it that lie nearest to the weighted least squares: so that
/// where many serve alike the readings' scatter decides least. `None` when the columns do not determine them.
///
/// The worst residual is convex in the coefficients, so nested golden sections find its least (Kiefer 1953), here in the values that the fit
/// takes at two rows far apart: those of least squares are off by at most twice their worst residual.
pub(super) fn least_worst(
    rows: &[Vec<f64>],
    values: &[f64],
    sigmas: &[f64],
    slack: f64,
) -> Option<LeastWorst> {
    let near = Fit::new(rows, values, sigmas)?.coefficients().to_vec();
    let worst = |coefficients: &[f64]| {
        let fitted = |row: &Vec<f64>| {
            row.iter()
                .zip(coefficients)
                .map(|(r, c)| r * c)
                .sum::<f64>()
        };
        rows.iter()
            .zip(values)
            .map(|(row, value)| (value - fitted(row)).abs())
            .fold(0.0, f64::max)
    };
    let reach = 2.0 * worst(&near);
    let best = match near.as_slice() {
        [one] => {
            let largest = rows.iter().flatten().map(|r| r.abs()).fold(0.0, f64::max);
            let along = reach / largest;
            vec![least_of(one - along, one + along, |c| worst(&[c])).0]
        }
        [one, other] => {
            let [first, second] = far_apart(rows)?;
            let determinant = first[0] * second[1] - first[1] * second[0];
            // From the fit's changes at the two rows back to the coefficients.
            let moved = |s: f64, t: f64| {
                [
                    one + (s * second[1] - t * first[1]) / determinant,
                    other + (t * first[0] - s * second[0]) / determinant,
                ]
            };
            let inner = |t: f64| least_of(-reach, reach, |s| worst(&moved(s, t)));
            let (t, _) = least_of(-reach, reach, |t| inner(t).1);
            moved(inner(t).0, t).to_vec()
        }
        _ => return None,
    };
    let most = worst(&best) + slack;
    let between = |share: f64| -> Vec<f64> {
        let pairs = best.iter().zip(&near);
        pairs
            .map(|(best, near)| best + share * (near - best))
            .collect()
    };
    let (mut sure, mut beyond) = (0.0, 1.0);
    if worst(&near) <= most {
        sure = 1.0;
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(sure, beyond);
        if worst(&between(middle)) <= most {
            sure = middle;
        } else {
            beyond = middle;
        }
    }
    let coefficients = between(sure);
    Some(LeastWorst {
        worst: worst(&coefficients),
        coefficients,
    })
}

/// Where a convex function is least between two places, and how little it is there.
fn least_of(from: f64, to: f64, at: impl Fn(f64) -> f64) -> (f64, f64) {
    let (mut low, mut high) = (from, to);
    let mut left = high - GOLDEN * (high - low);
    let mut right = low + GOLDEN * (high - low);
    let (mut at_left, mut at_right) = (at(left), at(right));
    for _ in 0..SECTIONS {
        if at_left <= at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - GOLDEN * (high - low);
            at_left = at(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + GOLDEN * (high - low);
            at_right = at(right);
        }
    }
    if at_left <= at_right {
        (left, at_left)
    } else {
        (right, at_right)
    }
}

/// Two rows that determine the coefficients well: the longest, and the one with the largest area to it.
fn far_apart(rows: &[Vec<f64>]) -> Option<[[f64; 2]; 2]> {
    let pairs = || {
        rows.iter().filter_map(|row| match row.as_slice() {
            [a, b] => Some([*a, *b]),
            _ => None,
        })
    };
    let length = |row: &[f64; 2]| row[0].hypot(row[1]);
    let first = pairs().max_by(|a, b| length(a).total_cmp(&length(b)))?;
    let area = |row: &[f64; 2]| (first[0] * row[1] - first[1] * row[0]).abs();
    let second = pairs().max_by(|a, b| area(a).total_cmp(&area(b)))?;
    (area(&second) > 0.0).then_some([first, second])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The least worst residual of a line: the largest level that three rows, the middle one against the outer two, force on it.
    fn by_triples(x: &[f64], y: &[f64]) -> f64 {
        let mut most = 0.0_f64;
        for i in 0..x.len() {
            for j in 0..x.len() {
                for k in 0..x.len() {
                    if x[i] < x[j] && x[j] < x[k] {
                        let share = (x[j] - x[i]) / (x[k] - x[i]);
                        let off = y[j] - y[i] - share * (y[k] - y[i]);
                        most = most.max(off.abs() / 2.0);
                    }
                }
            }
        }
        most
    }

    #[test]
    fn repeats_at_one_place_leave_the_slope_to_the_least_squares() {
        let x = [0.0, 0.0, 1.0, 2.0];
        let y = [1.0, -1.0, 0.1, 0.0];
        let rows: Vec<Vec<f64>> = x.iter().map(|x| vec![1.0, *x]).collect();
        let best = least_worst(&rows, &y, &[1.0; 4], 1e-9).unwrap();
        assert!((best.worst - 1.0).abs() < 1e-8, "{best:?}");
        let one: Vec<Vec<f64>> = x.iter().map(|_| vec![1.0]).collect();
        let best = least_worst(&one, &[0.0, 1.0, 5.0, 2.0], &[1.0; 4], 0.0).unwrap();
        assert!((best.worst - 2.5).abs() < 1e-8 && (best.coefficients[0] - 2.5).abs() < 1e-8);
        assert_eq!(least_worst(&rows[..2], &y[..2], &[1.0; 2], 0.0), None);
    }

    proptest! {
        #[test]
        fn no_line_leaves_less(points in prop::collection::vec((0.0..3.0_f64, -0.2..0.2_f64), 3..9), slack in 0.0..0.01_f64) {
            let x: Vec<f64> = points.iter().map(|p| p.0).collect();
            let y: Vec<f64> = points.iter().map(|p| 0.3 + 1.04 * p.0 + p.1).collect();
            let (low, high) = x.iter().fold((9.0_f64, 0.0_f64), |(l, h), x| (l.min(*x), h.max(*x)));
            prop_assume!(high - low > 0.01);
            let rows: Vec<Vec<f64>> = x.iter().map(|x| vec![*x, 1.0]).collect();
            let best = least_worst(&rows, &y, &vec![1.0; x.len()], slack).unwrap();
            let least = by_triples(&x, &y);
            prop_assert!(best.worst >= least - 1e-9 && best.worst <= least + slack + 1e-8, "{} {least}", best.worst);
        }
    }
}
