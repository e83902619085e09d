//! The plane through readings of depth.

use super::Reading;
use crate::spread::{Fit, coverage_factor, student_quantile};

/// Where readings lie on a line for all that matters: their spread across is this part of the spread along.
const LEAST_BREADTH: f64 = 0.03;
/// Points that spread less than this are one place.
const LEAST_SPREAD_MM: f64 = 0.5;
/// A reading that misses the plane through the others by less is never called far, however well the others agree.
const LEAST_MISS_MM: f64 = 1e-4;
/// The chance that sound readings are called scattered wider than the repeatability known beforehand.
const SCATTER_CHANCE: f64 = 0.01;
/// The chance that some reading of a sound run is called far from the plane.
const FAR_CHANCE: f64 = 0.05;

/// `z = c + a x + b y` by least squares, with its uncertainty.
///
/// Degrees of freedom are the readings less three; repeats at a point count as readings. With a repeatability known beforehand that stands
/// for the scatter, unless the readings scatter more than it allows (chi-squared at 1 %).
#[derive(Clone, Debug, PartialEq)]
pub struct Plane {
    fit: Fit,
    /// Standard deviation of one reading and the degrees of freedom it is known with.
    sd: Option<(f64, f64)>,
    /// Half-width of a 95 % interval of one reading.
    half_width: Option<f64>,
    scattered: bool,
}

/// Points that give no plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoPlane {
    /// Fewer than three.
    TooFew,
    /// All at one place.
    OnePlace,
    /// On a line, exactly or nearly.
    OnALine,
}

impl Plane {
    pub(super) fn fit(
        readings: &[Reading],
        repeatability_mm: Option<f64>,
    ) -> Result<Self, NoPlane> {
        if readings.len() < 3 {
            return Err(NoPlane::TooFew);
        }
        check_breadth(readings)?;
        let rows: Vec<Vec<f64>> = readings
            .iter()
            .map(|r| Self::row(r.x_mm, r.y_mm).to_vec())
            .collect();
        let values: Vec<f64> = readings.iter().map(|r| r.reading_mm).collect();
        let fit = Fit::new(&rows, &values, &vec![1.0; rows.len()]).ok_or(NoPlane::OnALine)?;
        let freedom = fit.freedom() as f64;
        let own = fit.scatter().map(|s| (s, freedom));
        let scattered = match (own, repeatability_mm) {
            (Some((s, _)), Some(known)) => chi_squared_quantile(1.0 - SCATTER_CHANCE, freedom)
                .is_some_and(|most| (s / known).powi(2) * freedom > most),
            _ => false,
        };
        let sd = if scattered {
            own
        } else {
            repeatability_mm.map(|s| (s, f64::INFINITY)).or(own)
        };
        Ok(Self {
            fit,
            sd,
            half_width: sd.and_then(|(sd, freedom)| Some(coverage_factor(freedom)? * sd)),
            scattered,
        })
    }

    const fn row(x_mm: f64, y_mm: f64) -> [f64; 3] {
        [1.0, x_mm, y_mm]
    }

    /// The depth at a place.
    #[must_use]
    pub fn at(&self, x_mm: f64, y_mm: f64) -> f64 {
        self.fit.at(&Self::row(x_mm, y_mm))
    }

    /// Half-width of its 95 % interval; `None` when the readings leave no degree of freedom.
    #[must_use]
    pub fn at_u(&self, x_mm: f64, y_mm: f64) -> Option<f64> {
        self.expanded(self.fit.uncertainty_at(&Self::row(x_mm, y_mm)))
    }

    /// The slopes along x and y.
    #[must_use]
    pub fn slopes(&self) -> (f64, f64) {
        (self.fit.coefficient(1), self.fit.coefficient(2))
    }

    /// Half-width of the 95 % interval of `along_x` times the slope along x plus `along_y` times that along y.
    #[must_use]
    pub fn slopes_u(&self, along_x: f64, along_y: f64) -> Option<f64> {
        self.expanded(self.fit.uncertainty_at(&[0.0, along_x, along_y]))
    }

    /// Standard deviation of one reading.
    #[must_use]
    pub fn sd_mm(&self) -> Option<f64> {
        self.sd.map(|(s, _)| s)
    }

    /// Degrees of freedom that the readings leave.
    #[must_use]
    pub fn freedom(&self) -> usize {
        self.fit.freedom()
    }

    /// Reading minus plane, one a reading.
    #[must_use]
    pub fn residuals_mm(&self) -> &[f64] {
        self.fit.residuals()
    }

    /// Whether the readings scatter more than the repeatability known beforehand allows.
    pub(super) const fn is_scattered(&self) -> bool {
        self.scattered
    }

    /// Whether the tilt is more than the scatter makes: both slopes together against zero, F-test at 5 %.
    pub(super) fn is_tilted(&self) -> bool {
        let (a, b) = self.slopes();
        let (aa, ab, bb) = (
            self.fit.covariance(1, 1),
            self.fit.covariance(1, 2),
            self.fit.covariance(2, 2),
        );
        let determinant = aa * bb - ab * ab;
        let Some((sd, freedom)) = self.sd else {
            return false;
        };
        let squared = (a * a * bb - 2.0 * a * b * ab + b * b * aa) / determinant;
        // F with 2 and v degrees: P(F > x) = (1 + 2 x / v)^(-v/2), exactly; e^-x when v is endless.
        let ratio = squared / 2.0 / (sd * sd).max(f64::MIN_POSITIVE);
        let chance = if freedom.is_finite() {
            (1.0 + 2.0 * ratio / freedom).powf(-freedom / 2.0)
        } else {
            (-ratio).exp()
        };
        // Slopes that rounding alone makes are none.
        chance < 0.05 && a.hypot(b) > 1e-12
    }

    /// The reading that lies farther from the plane through the others than chance explains, with its miss: the largest externally
    /// studentised residual (Cook & Weisberg, Residuals and Influence in Regression, 1982, 2.2.2), Bonferroni at 5 %.
    pub(super) fn far_reading(&self) -> Option<(usize, f64)> {
        let freedom = self.fit.freedom() as f64;
        if freedom < 2.0 {
            return None;
        }
        let residuals = self.fit.residuals();
        let all: f64 = residuals.iter().map(|r| r * r).sum();
        let judged = residuals.iter().zip(self.fit.leverages()).enumerate();
        let (worst, miss, t) = judged
            .filter_map(|(i, (r, leverage))| {
                let left = 1.0 - leverage;
                (left > 1e-9).then(|| {
                    let others = ((all - r * r / left).max(0.0) / (freedom - 1.0)).sqrt();
                    (
                        i,
                        r / left,
                        r.abs() / left.sqrt() / others.max(f64::MIN_POSITIVE),
                    )
                })
            })
            .max_by(|a, b| a.2.total_cmp(&b.2))?;
        let chance = FAR_CHANCE / residuals.len() as f64;
        let most = student_quantile(1.0 - chance / 2.0, freedom - 1.0)?;
        (t > most && miss.abs() > LEAST_MISS_MM).then_some((worst, miss))
    }

    fn expanded(&self, unscaled: f64) -> Option<f64> {
        Some(self.half_width? * unscaled)
    }
}

/// Refuses points that are one place or a line, by the spread along and across their main direction.
fn check_breadth(readings: &[Reading]) -> Result<(), NoPlane> {
    let count = readings.len() as f64;
    let (sum_x, sum_y) = readings
        .iter()
        .fold((0.0, 0.0), |(x, y), r| (x + r.x_mm, y + r.y_mm));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for reading in readings {
        let (x, y) = (reading.x_mm - sum_x / count, reading.y_mm - sum_y / count);
        (xx, xy, yy) = (xx + x * x, xy + x * y, yy + y * y);
    }
    let (half, apart) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
    let (along, across) = ((half + apart).sqrt(), (half - apart).max(0.0).sqrt());
    if along / count.sqrt() < LEAST_SPREAD_MM {
        Err(NoPlane::OnePlace)
    } else if across < LEAST_BREADTH * along {
        Err(NoPlane::OnALine)
    } else {
        Ok(())
    }
}

fn chi_squared_quantile(p: f64, freedom: f64) -> Option<f64> {
    use statrs::distribution::{ChiSquared, ContinuousCDF};
    Some(ChiSquared::new(freedom).ok()?.inverse_cdf(p)).filter(|q| q.is_finite())
}
