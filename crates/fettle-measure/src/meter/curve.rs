//! The error of a meter over the light: a parabola, or two straight pieces that meet at a knee.
//!
//! Least squares, each reading weighted by its resolution `R` as of standard uncertainty `R/√12`. What rounding adds is taken apart:
//! the error of a rounded reading is a sawtooth of where the unrounded value lies between two marks, by its Fourier series
//! `Σ R/(πk) sin(2πk y/R)`, each harmonic damped by `exp(−2π²k²σ²/R²)` where noise `σ` stirs the reading (Widrow & Kollár, Quantization
//! Noise, 2008, ch. 4-5). Where in its step the scale's zero lies is not known, so each harmonic has a random phase, the same for all
//! readings: readings at like places err alike, and the scatter does not show it. What a harmonic does to a figure beyond what the scatter
//! shows of it is added to that figure's variance.
//!
//! A knee's place bends the sum of squares too much for its slope there to tell the interval: every place is weighed by its likelihood
//! with the scatter integrated out, `(Σr²)^(−(n−3)/2)`, and each figure's spread over the places is added to its own.

use std::f64::consts::PI;

use crate::spread::{Fit, coverage_factor};

/// Harmonics of the sawtooth; those left out hold 2 % of its variance.
const HARMONICS: u32 = 30;
/// Places at which a knee is weighed.
const PLACES: u32 = 80;
/// Half-width of a 95 % interval over a spread that is known.
const K: f64 = 2.0;
/// Fewer readings bear no slope, no curvature, no knee: `AICc` weighs none against what is left.
const SLOPE_FROM: usize = 4;
const CURVATURE_FROM: usize = 6;
const KNEE_FROM: usize = 8;

/// Readings as numbers, one entry each.
#[derive(Clone, Debug, Default)]
pub(super) struct Points {
    pub(super) true_ev: Vec<f64>,
    pub(super) error: Vec<f64>,
    /// Resolution in stops.
    pub(super) step: Vec<f64>,
}

impl Points {
    pub(super) fn len(&self) -> usize {
        self.true_ev.len()
    }

    pub(super) fn only(&self, kept: &[usize]) -> Self {
        let pick = |from: &[f64]| kept.iter().filter_map(|i| from.get(*i).copied()).collect();
        Self {
            true_ev: pick(&self.true_ev),
            error: pick(&self.error),
            step: pick(&self.step),
        }
    }

    pub(super) fn sigmas(&self) -> Vec<f64> {
        self.step.iter().map(|step| step / 12f64.sqrt()).collect()
    }

    pub(super) fn range(&self) -> (f64, f64) {
        let least = self.true_ev.iter().copied().fold(f64::INFINITY, f64::min);
        let most = self
            .true_ev
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        (least, most)
    }

    fn mean_ev(&self) -> f64 {
        self.true_ev.iter().sum::<f64>() / self.len() as f64
    }
}

/// The kinds of curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Family {
    Parabola,
    Knee,
}

/// A fitted curve with all that tells how sure it is.
#[derive(Clone, Debug)]
pub(super) struct Curve {
    pub(super) centre: f64,
    /// Of `1, x, x²` (as many as there are), or of `1, x, (v − knee)₊`, with `x = v − centre`.
    pub(super) coefficients: Vec<f64>,
    pub(super) knee: Option<f64>,
    fit: Fit,
    rows: Vec<Vec<f64>>,
    /// `Σ (residual / σ)²` of the curve.
    pub(super) chi_squared: f64,
    harmonics: Vec<Harmonic>,
    /// The same readings with the knee elsewhere.
    elsewhere: Vec<Elsewhere>,
    /// A curve of the other family and how likely it is against this one.
    rival: Option<(f64, Box<Curve>)>,
}

/// A harmonic of the rounding, damped by noise.
#[derive(Clone, Debug)]
struct Harmonic {
    /// What it does to the coefficients, at two phases a quarter apart.
    pulled: [Vec<f64>; 2],
    /// What the scatter `s²` shows of it.
    seen: f64,
}

/// A broken line with its knee at another place.
#[derive(Clone, Debug)]
struct Elsewhere {
    knee: f64,
    /// Likelihood, the sum of all being 1.
    weight: f64,
    fit: Fit,
}

/// A value with the half-width of its 95 % interval, `None` when no degree of freedom is left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Estimate {
    pub(super) value: f64,
    pub(super) u: Option<f64>,
}

impl Curve {
    /// The curve of a family with all the terms that so many readings bear; `None` when they bear none.
    pub(super) fn new(points: &Points, family: Family) -> Option<Self> {
        match family {
            Family::Parabola => {
                let bears = |from: usize| usize::from(points.len() >= from);
                let terms = 1 + bears(SLOPE_FROM) + bears(CURVATURE_FROM);
                (1..=terms)
                    .rev()
                    .find_map(|terms| Self::parabola(points, terms))
            }
            Family::Knee => Self::kneed(points),
        }
    }

    /// `1, x, x²`, the first `terms` of them.
    pub(super) fn parabola(points: &Points, terms: usize) -> Option<Self> {
        let centre = points.mean_ev();
        let rows: Vec<Vec<f64>> = points
            .true_ev
            .iter()
            .map(|v| powers(v - centre, terms))
            .collect();
        let fit = Fit::new(&rows, &points.error, &points.sigmas())?;
        let curve = Self {
            centre,
            coefficients: fit.coefficients().to_vec(),
            knee: None,
            chi_squared: fit.chi_squared(),
            fit,
            rows,
            harmonics: Vec::new(),
            elsewhere: Vec::new(),
            rival: None,
        };
        Some(curve.with_rounding(points))
    }

    /// The continuous broken line of least squares. Between two neighbouring lights the best knee is where the lines of either
    /// side meet, if they meet there, else at one of the two (Hudson, J. Am. Stat. Assoc. 61, 1966).
    fn kneed(points: &Points) -> Option<Self> {
        if points.len() < KNEE_FROM {
            return None;
        }
        let places = inner_lights(points);
        let crossings = places
            .windows(2)
            .filter_map(|pair| crossing(points, pair[0], pair[1]));
        let (knee, (rows, broken)) = places
            .iter()
            .copied()
            .chain(crossings)
            .filter_map(|knee| Some((knee, broken_at(points, knee)?)))
            .min_by(|(_, (_, a)), (_, (_, b))| a.chi_squared().total_cmp(&b.chi_squared()))?;
        let centre = points.mean_ev();
        let curve = Self {
            centre,
            coefficients: broken.coefficients().to_vec(),
            knee: Some(knee),
            chi_squared: broken.chi_squared(),
            fit: broken,
            rows,
            harmonics: Vec::new(),
            elsewhere: Vec::new(),
            rival: None,
        };
        let (from, to) = (*places.first()?, *places.last()?);
        Some(curve.with_rounding(points).with_elsewhere(points, from, to))
    }

    /// Finds what rounding does to the coefficients, and how far noise damps it.
    ///
    /// In units of σ² the residuals show `s² = ρ² + 1 − q + q_r`: noise, the part `1 − q` of the rounding that noise has made random, and
    /// `q_r`, what they see of the common part `q`. It is solved for the noise `ρ²`.
    fn with_rounding(mut self, points: &Points) -> Self {
        let freedom = self.freedom();
        if freedom == 0 {
            return self;
        }
        let mut harmonics: Vec<Harmonic> = (1..=HARMONICS)
            .map(|k| self.harmonic(points, f64::from(k)))
            .collect();
        let damping = |k: usize, noise: f64| (-(PI * (k + 1) as f64).powi(2) * noise / 3.0).exp();
        let whole: f64 = (1..=HARMONICS).map(|k| f64::from(k).powi(-2)).sum();
        let unseen = |noise: f64| -> f64 {
            harmonics
                .iter()
                .enumerate()
                .map(|(k, harmonic)| {
                    let share = ((k + 1) as f64).powi(-2) / whole;
                    damping(k, noise) * (share - harmonic.seen)
                })
                .sum()
        };
        let scatter = self.chi_squared / freedom as f64;
        let (mut low, mut high) = (0.0, scatter);
        for _ in 0..50 {
            let noise = f64::midpoint(low, high);
            if noise + 1.0 - unseen(noise) < scatter {
                low = noise;
            } else {
                high = noise;
            }
        }
        let noise = f64::midpoint(low, high);
        for (k, harmonic) in harmonics.iter_mut().enumerate() {
            let left = damping(k, noise);
            harmonic.seen *= left;
            for pulled in harmonic.pulled.iter_mut().flatten() {
                *pulled *= left.sqrt();
            }
        }
        self.harmonics = harmonics;
        self
    }

    /// The `k`-th harmonic of the sawtooth, undamped.
    fn harmonic(&self, points: &Points, k: f64) -> Harmonic {
        let mut seen = 0.0;
        let pulled = [0.0, PI / 2.0].map(|phase| {
            let wave: Vec<f64> = points
                .true_ev
                .iter()
                .zip(&points.step)
                .map(|(&v, step)| {
                    let place = 2.0 * PI * k * (v + self.value(v)) / step;
                    step / (PI * k * 2f64.sqrt()) * (place + phase).cos()
                })
                .collect();
            let pulled = self.fit.coefficients_of(&wave);
            let left = self
                .rows
                .iter()
                .zip(&wave)
                .zip(&points.step)
                .map(|((row, wave), step)| 12.0 * ((wave - dot(row, &pulled)) / step).powi(2));
            seen += left.sum::<f64>();
            pulled
        });
        Harmonic {
            pulled,
            seen: seen / self.freedom() as f64,
        }
    }

    /// Weighs a knee at every place between two lights.
    fn with_elsewhere(mut self, points: &Points, from: f64, to: f64) -> Self {
        let power = -0.5 * (points.len() as f64 - 3.0);
        let all: Vec<Elsewhere> = (0..PLACES)
            .map(|i| from + (to - from) * (f64::from(i) + 0.5) / f64::from(PLACES))
            .filter_map(|knee| {
                let (_, fit) = broken_at(points, knee)?;
                // Scatter finer than the resolution tells no place from another.
                let floor = points.len() as f64;
                let weight =
                    (fit.chi_squared().max(floor) / self.chi_squared.max(floor)).powf(power);
                Some(Elsewhere { knee, weight, fit })
            })
            .collect();
        let sum: f64 = all.iter().map(|e| e.weight).sum();
        self.elsewhere = all
            .into_iter()
            .filter(|e| e.weight > 1e-4 * sum)
            .map(|e| Elsewhere {
                weight: e.weight / sum,
                ..e
            })
            .collect();
        self
    }

    /// With the other family's curve, `chance` likely, in the interval of the error.
    pub(super) fn with_rival(self, chance: f64, rival: Self) -> Self {
        Self {
            rival: Some((chance, Box::new(rival))),
            ..self
        }
    }

    /// Degrees of freedom left; a knee's place takes one.
    pub(super) fn freedom(&self) -> usize {
        self.fit.freedom() - usize::from(self.knee.is_some())
    }

    /// Coefficients fitted, a knee's place among them.
    pub(super) fn terms(&self) -> usize {
        self.coefficients.len() + usize::from(self.knee.is_some())
    }

    /// The fits among which one may fit best when readings are taken out: this one, and with a knee those with the knee at another light.
    pub(super) fn fits(&self, points: &Points) -> Vec<(Vec<Vec<f64>>, Fit)> {
        let mut fits = vec![(self.rows.clone(), self.fit.clone())];
        if self.knee.is_some() {
            let lights = inner_lights(points);
            fits.extend(
                lights
                    .into_iter()
                    .filter_map(|knee| broken_at(points, knee)),
            );
        }
        fits
    }

    /// The error in stops at a light.
    pub(super) fn value(&self, true_ev: f64) -> f64 {
        let x = true_ev - self.centre;
        match self.knee {
            None => dot(&powers(x, self.coefficients.len()), &self.coefficients),
            Some(knee) => dot(&[1.0, x, (true_ev - knee).max(0.0)], &self.coefficients),
        }
    }

    /// The curve's straight or bent pieces over a range: from, to, and coefficients of `1, x, x²`.
    pub(super) fn pieces(&self, from: f64, to: f64) -> Vec<(f64, f64, [f64; 3])> {
        let c = |i: usize| self.coefficients.get(i).copied().unwrap_or(0.0);
        match self.knee {
            None => vec![(from, to, [c(0), c(1), c(2)])],
            Some(knee) => {
                let beyond = [c(0) - c(2) * (knee - self.centre), c(1) + c(2), 0.0];
                let knee = knee.clamp(from, to);
                vec![(from, knee, [c(0), c(1), 0.0]), (knee, to, beyond)]
            }
        }
    }

    /// The error at a light with its interval, in which the other family has its say.
    pub(super) fn at(&self, true_ev: f64) -> Estimate {
        let own = self.at_alone(true_ev);
        let Some((chance, rival)) = &self.rival else {
            return own;
        };
        let other = rival.at_alone(true_ev);
        let apart = K * (other.value - own.value);
        let both = |own: f64, other: f64| {
            ((1.0 - chance) * own * own + chance * (other * other + apart * apart)).sqrt()
        };
        Estimate {
            value: own.value,
            u: own.u.zip(other.u).map(|(own, other)| both(own, other)),
        }
    }

    fn at_alone(&self, true_ev: f64) -> Estimate {
        let x = true_ev - self.centre;
        let rows = |knee: Option<f64>| match knee {
            None => powers(x, self.coefficients.len()),
            Some(knee) => vec![1.0, x, (true_ev - knee).max(0.0)],
        };
        Estimate {
            value: self.value(true_ev),
            u: self.expanded(rows),
        }
    }

    /// A coefficient with its interval, `None` when the curve has none of that index.
    pub(super) fn coefficient(&self, index: usize) -> Option<Estimate> {
        let value = self.coefficients.get(index).copied()?;
        let unit: Vec<f64> = (0..self.coefficients.len())
            .map(|i| if i == index { 1.0 } else { 0.0 })
            .collect();
        Some(Estimate {
            value,
            u: self.expanded(|_| unit.clone()),
        })
    }

    /// The knee's place with its interval.
    pub(super) fn knee(&self) -> Option<Estimate> {
        let value = self.knee?;
        let spread: f64 = self
            .elsewhere
            .iter()
            .map(|e| e.weight * (e.knee - value).powi(2))
            .sum();
        Some(Estimate {
            value,
            u: (self.freedom() > 0).then_some(K * spread.sqrt()),
        })
    }

    /// The slope beyond the knee.
    pub(super) fn slope_beyond(&self) -> Option<Estimate> {
        self.knee?;
        let c = |i: usize| self.coefficients.get(i).copied();
        Some(Estimate {
            value: c(1)? + c(2)?,
            u: self.expanded(|_| vec![0.0, 1.0, 1.0]),
        })
    }

    /// Whether rounding that the scatter does not show makes most of the offset's uncertainty.
    pub(super) fn is_coarse(&self) -> bool {
        let unit: Vec<f64> = (0..self.coefficients.len())
            .map(|i| if i == 0 { 1.0 } else { 0.0 })
            .collect();
        let (own, common) = self.variances(&unit);
        common > own
    }

    /// Variance of a combination of the coefficients: what the scatter shows, and what rounding adds to it.
    fn variances(&self, row: &[f64]) -> (f64, f64) {
        let bare = self.fit.uncertainty_at(row).powi(2);
        let own = self.fit.scatter().unwrap_or(0.0).powi(2) * bare;
        let common = self
            .harmonics
            .iter()
            .map(|h| {
                let whole: f64 = h.pulled.iter().map(|p| dot(row, p).powi(2)).sum();
                (whole - h.seen * bare).max(0.0)
            })
            .sum();
        (own, common)
    }

    /// Half-width of the 95 % interval of a combination of the coefficients, whose weights may depend on the knee; with effective degrees
    /// of freedom by Welch and Satterthwaite (GUM G.4).
    fn expanded(&self, row: impl Fn(Option<f64>) -> Vec<f64>) -> Option<f64> {
        let freedom = self.freedom();
        if freedom == 0 {
            return None;
        }
        let here = row(self.knee);
        let (own, common) = self.variances(&here);
        let effective = if own > 0.0 {
            freedom as f64 * ((own + common) / own).powi(2)
        } else {
            f64::INFINITY
        };
        let factor = coverage_factor(effective)?;
        if self.elsewhere.is_empty() {
            return Some(factor * (own + common).sqrt());
        }
        let value = dot(&here, &self.coefficients);
        let over_places: f64 = self
            .elsewhere
            .iter()
            .map(|e| {
                let there = row(Some(e.knee));
                let own = e.fit.uncertainty_at(&there) * e.fit.scatter().unwrap_or(0.0);
                let apart = e.fit.at(&there) - value;
                e.weight * ((factor * own).powi(2) + (K * apart).powi(2))
            })
            .sum();
        Some((over_places + factor * factor * common).sqrt())
    }
}

fn powers(x: f64, terms: usize) -> Vec<f64> {
    [1.0, x, x * x].into_iter().take(terms).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The best broken line with its knee at a place.
fn broken_at(points: &Points, knee: f64) -> Option<(Vec<Vec<f64>>, Fit)> {
    let centre = points.mean_ev();
    let rows: Vec<Vec<f64>> = points
        .true_ev
        .iter()
        .map(|v| vec![1.0, v - centre, (v - knee).max(0.0)])
        .collect();
    let fit = Fit::new(&rows, &points.error, &points.sigmas())?;
    Some((rows, fit))
}

/// The lights read, rising, without the least and the greatest: two at least lie on either side of each place between these, or
/// a slope there would be a guess.
fn inner_lights(points: &Points) -> Vec<f64> {
    let mut lights = points.true_ev.clone();
    lights.sort_by(f64::total_cmp);
    lights.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let end = lights.len().saturating_sub(1);
    lights.get(1..end).unwrap_or_default().to_vec()
}

/// Where the lines through the readings up to `low` and from `high` on meet, if between the two.
fn crossing(points: &Points, low: f64, high: f64) -> Option<f64> {
    let line = |side: &dyn Fn(f64) -> bool| {
        let kept: Vec<usize> = (0..points.len())
            .filter(|i| side(points.true_ev[*i]))
            .collect();
        let part = points.only(&kept);
        let rows: Vec<Vec<f64>> = part.true_ev.iter().map(|v| vec![1.0, v - low]).collect();
        Fit::new(&rows, &part.error, &part.sigmas())
    };
    let middle = f64::midpoint(low, high);
    let (below, above) = (line(&|v| v < middle)?, line(&|v| v > middle)?);
    let apart = below.coefficient(0) - above.coefficient(0);
    let place = low + apart / (above.coefficient(1) - below.coefficient(1));
    (low..=high).contains(&place).then_some(place)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(step: f64, readings: &[(f64, f64)]) -> Points {
        Points {
            true_ev: readings.iter().map(|r| r.0).collect(),
            error: readings.iter().map(|r| r.1).collect(),
            step: vec![step; readings.len()],
        }
    }

    #[test]
    fn the_best_knee_is_the_best_of_all_knees() {
        // Readings of three invented cells with uneven scatter.
        for (seed, bend, knee) in [(1_u32, -0.4, 11.3), (5, -0.2, 9.0), (9, 0.1, 8.2)] {
            let readings: Vec<(f64, f64)> = (0..12)
                .map(|i| {
                    let v = 4.0 + f64::from(i);
                    let scatter = f64::from((i * 7 + seed * 3) % 11) / 50.0;
                    (v, 0.2 + 0.02 * v + bend * (v - knee).max(0.0) + scatter)
                })
                .collect();
            let points = points(0.1, &readings);
            let curve = Curve::new(&points, Family::Knee).unwrap();
            let brute = (0..=9_000)
                .map(|i| 5.0 + f64::from(i) / 1_000.0)
                .filter_map(|knee| broken_at(&points, knee))
                .map(|(_, fit)| fit.chi_squared())
                .fold(f64::INFINITY, f64::min);
            let slack = 1e-4 * brute;
            assert!(
                curve.chi_squared <= brute + 1e-9,
                "{} {brute}",
                curve.chi_squared
            );
            assert!(
                curve.chi_squared >= brute - slack,
                "{} {brute}",
                curve.chi_squared
            );
        }
    }

    #[test]
    fn rounding_alone_leaves_half_a_step_of_doubt() {
        // All read alike: the true error lies anywhere within half a step.
        let readings: Vec<(f64, f64)> = (0..10).map(|i| (4.0 + f64::from(i), 0.0)).collect();
        let curve = Curve::parabola(&points(0.5, &readings), 1).unwrap();
        let u = curve.coefficient(0).unwrap().u.unwrap();
        assert!((0.25..0.30).contains(&u), "{u}");
        assert!(curve.is_coarse());
    }

    #[test]
    fn noise_stirs_rounding_away() {
        let readings: Vec<(f64, f64)> = (0..12)
            .map(|i| (4.0 + f64::from(i), f64::from((i * 5) % 12) / 12.0))
            .collect();
        let fine = Curve::parabola(&points(0.001, &readings), 1).unwrap();
        let stirred = Curve::parabola(&points(0.25, &readings), 1).unwrap();
        let u = |curve: &Curve| curve.coefficient(0).unwrap().u.unwrap();
        assert!(
            (u(&fine) / u(&stirred) - 1.0).abs() < 0.01,
            "{} {}",
            u(&fine),
            u(&stirred)
        );
        assert!(!stirred.is_coarse());
    }

    #[test]
    fn pieces_add_up_to_the_curve() {
        let readings: Vec<(f64, f64)> = (0..12)
            .map(|i| (4.0 + f64::from(i), -0.3 * (f64::from(i) - 7.5).max(0.0)))
            .collect();
        for family in [Family::Parabola, Family::Knee] {
            let curve = Curve::new(&points(0.1, &readings), family).unwrap();
            for (from, to, c) in curve.pieces(4.0, 15.0) {
                for i in 0..=10 {
                    let v = from + (to - from) * f64::from(i) / 10.0;
                    let x = v - curve.centre;
                    let by_piece = c[0] + c[1] * x + c[2] * x * x;
                    assert!((by_piece - curve.value(v)).abs() < 1e-9);
                }
            }
        }
    }
}
