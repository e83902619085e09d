//! Mean, spread and the factors that turn them into intervals.

use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

/// Coverage factor when the degrees of freedom are many.
const K: f64 = 2.0;
/// Degrees of freedom from which on they are many.
const MANY: f64 = 60.0;

/// Mean and sample variance; the variance of a single value is 0.
pub(super) fn moments(values: &[f64]) -> (f64, f64) {
    let count = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (mean, squares / (count - 1.0).max(1.0))
}

/// Student's t that is passed one way by chance once in `1 / chance`.
pub(super) fn student(chance: f64, freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom.max(1.0)).map_or(K, |t| t.inverse_cdf(1.0 - chance))
}

/// Student's t for an interval of 95 %; 2 when the degrees of freedom are many (GUM, annex G).
pub(super) fn coverage(freedom: f64) -> f64 {
    if freedom > MANY {
        K
    } else {
        student(0.025, freedom).max(K)
    }
}

/// Below which part of a sample standard deviation the true one lies by chance once in `1 / chance`.
pub(super) fn least_spread(chance: f64, freedom: f64) -> f64 {
    ChiSquared::new(freedom.max(1.0)).map_or(0.0, |chi| {
        (freedom.max(1.0) / chi.inverse_cdf(1.0 - chance)).sqrt()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64) {
        assert!((got - want).abs() < 1e-3, "{got} {want}");
    }

    #[test]
    fn factors_are_those_of_the_tables() {
        close(student(0.025, 5.0), 2.571);
        close(student(0.005, 3.0), 5.841);
        close(coverage(4.0), 2.776);
        close(coverage(1000.0), 2.0);
        // Chi-squared with 4 degrees of freedom passes 11.143 once in 40 times.
        close(least_spread(0.025, 4.0), (4.0_f64 / 11.143).sqrt());
    }

    #[test]
    fn one_value_has_no_spread() {
        let (mean, variance) = moments(&[3.0]);
        close(mean, 3.0);
        close(variance, 0.0);
        close(moments(&[1.0, 2.0, 3.0]).1, 1.0);
    }
}
