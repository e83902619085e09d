//! How far figures may be off: Student's t, and weighted least squares with its covariance.
//!
//! Least squares as in JCGM 100:2008 (GUM) H.3 with several columns: `β = (XᵀWX)⁻¹ XᵀW y`, covariance `s² (XᵀWX)⁻¹`, where `W`
//! holds `1/σ²` and `s² = Σ w r² / ν`. With weights of known σ, `s²` is about 1 when the model is right.

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Coverage factor of a 95 % interval when the degrees of freedom are many (GUM, annex G).
const K: f64 = 2.0;
/// Degrees of freedom from which they are many: Student's t is 2.00 there.
const MANY: f64 = 60.0;
/// Degrees of freedom from which Student's t is the normal distribution, to five figures.
const NORMAL_FROM: f64 = 1e5;
/// A column that is this near to a combination of the others adds nothing.
const DEPENDENT: f64 = 1e-9;

/// Factor from a standard uncertainty to the half-width of a 95 % interval: Student's t for `freedom` degrees of freedom, 2 when
/// they are many (also infinite), `None` below one.
#[must_use]
pub fn coverage_factor(freedom: f64) -> Option<f64> {
    if freedom >= MANY {
        return Some(K);
    }
    student_quantile(0.975, freedom)
}

/// The value that Student's t with `freedom` degrees of freedom stays below with chance `p`; `None` below one degree, or for a
/// chance outside 0..1. Freedom without end is the normal distribution.
#[must_use]
pub fn student_quantile(p: f64, freedom: f64) -> Option<f64> {
    if !(freedom >= 1.0 && p > 0.0 && p < 1.0) {
        return None;
    }
    let t = if freedom > NORMAL_FROM {
        Normal::standard().inverse_cdf(p)
    } else {
        StudentsT::new(0.0, 1.0, freedom).ok()?.inverse_cdf(p)
    };
    Some(t).filter(|t| t.is_finite())
}

/// A weighted least-squares fit of coefficients.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    coefficients: Vec<f64>,
    residuals: Vec<f64>,
    leverages: Vec<f64>,
    unscaled: Vec<Vec<f64>>,
    /// `(XᵀWX)⁻¹ XᵀW`, one row a coefficient.
    pull: Vec<Vec<f64>>,
    chi_squared: f64,
}

impl Fit {
    /// Fits `values[i] ≈ Σ_j coefficients[j] · rows[i][j]`, each value with its standard uncertainty `sigmas[i]`.
    ///
    /// `None` when there are fewer rows than coefficients, when the columns depend on one another, when rows differ in
    /// length, or when anything is not finite or an uncertainty not above zero.
    #[must_use]
    pub fn new(rows: &[Vec<f64>], values: &[f64], sigmas: &[f64]) -> Option<Self> {
        let (count, wide) = (rows.len(), rows.first()?.len());
        let sound = count >= wide
            && wide > 0
            && values.len() == count
            && sigmas.len() == count
            && rows.iter().all(|r| r.len() == wide)
            && rows.iter().flatten().chain(values).all(|v| v.is_finite())
            && sigmas.iter().all(|s| s.is_finite() && *s > 0.0);
        if !sound {
            return None;
        }
        let mut design = DMatrix::from_fn(count, wide, |i, j| rows[i][j] / sigmas[i]);
        let wanted = DVector::from_fn(count, |i, _| values[i] / sigmas[i]);
        // Columns of one length, so that dependence does not hide behind units.
        let lengths: Vec<f64> = design.column_iter().map(|c| c.norm()).collect();
        for (mut column, length) in design.column_iter_mut().zip(&lengths) {
            if !(length.is_finite() && *length > 0.0) {
                return None;
            }
            column /= *length;
        }
        let qr = design.qr();
        let (q, r) = (qr.q(), qr.r());
        if r.diagonal()
            .iter()
            .any(|d| d.is_nan() || d.abs() <= DEPENDENT)
        {
            return None;
        }
        let inverse = r.try_inverse()?;
        let solved = &inverse * (q.transpose() * &wanted);
        let spread = &inverse * inverse.transpose();
        let pulled = &inverse * q.transpose();
        let pull = (0..wide)
            .map(|j| {
                (0..count)
                    .map(|i| pulled[(j, i)] / (lengths[j] * sigmas[i]))
                    .collect()
            })
            .collect();
        let coefficients: Vec<f64> = solved.iter().zip(&lengths).map(|(c, l)| c / l).collect();
        let unscaled = (0..wide)
            .map(|i| {
                (0..wide)
                    .map(|j| spread[(i, j)] / (lengths[i] * lengths[j]))
                    .collect()
            })
            .collect();
        let residuals: Vec<f64> = rows
            .iter()
            .zip(values)
            .map(|(row, value)| value - dot(row, &coefficients))
            .collect();
        let chi_squared = residuals
            .iter()
            .zip(sigmas)
            .map(|(r, s)| (r / s).powi(2))
            .sum();
        Some(Self {
            coefficients,
            residuals,
            leverages: q.row_iter().map(|row| row.norm_squared()).collect(),
            unscaled,
            pull,
            chi_squared,
        })
    }

    /// The coefficients, one a column.
    #[must_use]
    pub fn coefficients(&self) -> &[f64] {
        &self.coefficients
    }

    /// One coefficient; not a number when there is none of that index.
    #[must_use]
    pub fn coefficient(&self, index: usize) -> f64 {
        self.coefficients.get(index).copied().unwrap_or(f64::NAN)
    }

    /// Value minus fit, one a row, in the values' unit.
    #[must_use]
    pub fn residuals(&self) -> &[f64] {
        &self.residuals
    }

    /// How far each row decides its own fit, 0 to 1 (diagonal of the hat matrix).
    #[must_use]
    pub fn leverages(&self) -> &[f64] {
        &self.leverages
    }

    /// `Σ (residual / σ)²`.
    #[must_use]
    pub const fn chi_squared(&self) -> f64 {
        self.chi_squared
    }

    /// Degrees of freedom left: rows less coefficients.
    #[must_use]
    pub fn freedom(&self) -> usize {
        self.residuals.len() - self.coefficients.len()
    }

    /// `s`, the scatter of the residuals in units of their stated σ; `None` when no degree of freedom is left.
    #[must_use]
    pub fn scatter(&self) -> Option<f64> {
        let freedom = self.freedom();
        (freedom > 0).then(|| (self.chi_squared / freedom as f64).sqrt())
    }

    /// Covariance of two coefficients for σ as stated; times `scatter²` for σ known only relatively.
    #[must_use]
    pub fn covariance(&self, i: usize, j: usize) -> f64 {
        self.unscaled
            .get(i)
            .and_then(|row| row.get(j))
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// The coefficients that other values at the same rows would give.
    #[must_use]
    pub fn coefficients_of(&self, values: &[f64]) -> Vec<f64> {
        self.pull.iter().map(|pull| dot(pull, values)).collect()
    }

    /// `Σ_j row[j] · coefficients[j]`.
    #[must_use]
    pub fn at(&self, row: &[f64]) -> f64 {
        dot(row, &self.coefficients)
    }

    /// Standard uncertainty of [`Fit::at`] for σ as stated; times `scatter` for σ known only relatively.
    #[must_use]
    pub fn uncertainty_at(&self, row: &[f64]) -> f64 {
        self.unscaled
            .iter()
            .zip(row)
            .map(|(unscaled, weight)| weight * dot(unscaled, row))
            .sum::<f64>()
            .max(0.0)
            .sqrt()
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn assert_close(got: f64, want: f64, tolerance: f64) {
        assert!(
            (got - want).abs() <= tolerance,
            "{got}, wanted {want} ± {tolerance}"
        );
    }

    #[test]
    fn factors_are_those_of_the_tables() {
        // GUM (JCGM 100:2008), table G.2, 95 %.
        for (freedom, want) in [
            (1.0, 12.71),
            (2.0, 4.30),
            (5.0, 2.57),
            (10.0, 2.23),
            (50.0, 2.01),
        ] {
            assert_close(coverage_factor(freedom).unwrap(), want, 0.005);
        }
        assert_eq!(coverage_factor(f64::INFINITY), Some(2.0));
        assert_eq!(coverage_factor(1e6), Some(2.0));
        assert_eq!(coverage_factor(0.5), None);
        assert_eq!(coverage_factor(f64::NAN), None);
        assert_close(student_quantile(0.975, f64::INFINITY).unwrap(), 1.96, 0.001);
        assert_eq!(student_quantile(1.0, 4.0), None);
    }

    #[test]
    fn a_straight_line_comes_out_as_the_gum_has_it() {
        // GUM H.3: calibration of a thermometer, fit about 20 °C: intercept −0.1712 (29), slope 0.00218 (67), r = −0.930.
        let t = [
            21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
        ];
        let b = [
            -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
        ];
        let rows: Vec<_> = t.iter().map(|t| vec![1.0, t - 20.0]).collect();
        let fit = Fit::new(&rows, &b, &[1.0; 11]).unwrap();
        let s = fit.scatter().unwrap();
        assert_close(fit.coefficient(0), -0.171_2, 5e-5);
        assert_close(fit.coefficient(1), 0.002_18, 5e-6);
        assert_close(s * fit.covariance(0, 0).sqrt(), 0.002_9, 5e-5);
        assert_close(s * fit.covariance(1, 1).sqrt(), 0.000_67, 5e-6);
        let r = fit.covariance(0, 1) / (fit.covariance(0, 0) * fit.covariance(1, 1)).sqrt();
        assert_close(r, -0.930, 5e-4);
        // The correction at 30 °C is −0.149 4 with 0.004 1.
        assert_close(fit.at(&[1.0, 10.0]), -0.149_4, 5e-5);
        assert_close(s * fit.uncertainty_at(&[1.0, 10.0]), 0.004_1, 1e-4);
    }

    #[test]
    fn what_cannot_be_fitted_is_not() {
        let line = [vec![1.0, 2.0], vec![1.0, 2.0], vec![1.0, 2.0]];
        assert_eq!(Fit::new(&line, &[1.0; 3], &[1.0; 3]), None, "one abscissa");
        let rows = [vec![1.0, 2.0], vec![1.0, 3.0]];
        assert_eq!(Fit::new(&rows[..1], &[1.0], &[1.0]), None, "too few");
        assert_eq!(Fit::new(&rows, &[1.0, f64::NAN], &[1.0; 2]), None);
        assert_eq!(Fit::new(&rows, &[1.0; 2], &[1.0, 0.0]), None);
        assert_eq!(Fit::new(&rows, &[1.0; 2], &[1.0]), None);
        assert_eq!(Fit::new(&[], &[], &[]), None);
        let exact = Fit::new(&rows, &[1.0, 2.0], &[1.0; 2]).unwrap();
        assert_eq!((exact.freedom(), exact.scatter()), (0, None));
    }

    proptest! {
        #[test]
        fn no_nearby_coefficients_fit_better(
            rows in prop::collection::vec((-5.0..5.0_f64, -9.0..9.0_f64, 0.1..3.0_f64), 5..20),
            step in prop::array::uniform3(-0.5..0.5_f64),
        ) {
            let design: Vec<_> = rows.iter().map(|(x, _, _)| vec![1.0, *x, x * x]).collect();
            let values: Vec<_> = rows.iter().map(|r| r.1).collect();
            let sigmas: Vec<_> = rows.iter().map(|r| r.2).collect();
            if let Some(fit) = Fit::new(&design, &values, &sigmas) {
                let moved: Vec<f64> = fit.coefficients().iter().zip(step).map(|(c, s)| c + s).collect();
                let chi: f64 = design.iter().zip(&values).zip(&sigmas)
                    .map(|((row, v), s)| ((v - dot(row, &moved)) / s).powi(2)).sum();
                prop_assert!(chi >= fit.chi_squared() * (1.0 - 1e-9));
                let total: f64 = fit.leverages().iter().sum();
                prop_assert!((total - 3.0).abs() < 1e-9);
                for (again, once) in fit.coefficients_of(&values).iter().zip(fit.coefficients()) {
                    prop_assert!((again - once).abs() < 1e-9 * (1.0 + once.abs()));
                }
            }
        }
    }
}
