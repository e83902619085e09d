//! Which curve the readings support, and which readings no curve explains.
//!
//! A reading is an outlier when its deleted residual is beyond Student's t at a chance of 1 % for the run, divided by the number of
//! readings (Bonferroni; Cook & Weisberg, Residuals and Influence in Regression, 1982, 2.2). Two that hide each other are sought
//! among all pairs by the F-test of the mean shift, divided by the number of pairs. Families are weighed by `AICc` with each
//! outlier counted as a coefficient of its own, so that a knee is not explained away as outliers, nor outliers as a knee.

use super::curve::{Curve, Family, Points};
use crate::spread::{Fit, student_quantile};

/// Chance that a clean run loses a reading.
const CHANCE: f64 = 0.01;
/// One reading in so many may be an outlier; when more are, none can be told.
const ONE_IN: usize = 4;
/// Pairs are sought in runs up to this length.
const PAIRS_UP_TO: usize = 200;
/// A reading that alone decides the curve where it stands cannot be told from it.
const LEAST_LEFT: f64 = 1e-6;
/// A knee's place is worth more than one coefficient, for it is sought among all places; it must be better by this much in `AICc`.
const KNEE_MARGIN: f64 = 6.0;

/// A family's curve, the readings it stands on, and how well it is supported.
#[derive(Clone, Debug)]
pub(super) struct Choice {
    pub(super) curve: Curve,
    /// Indices of the readings kept, rising.
    pub(super) kept: Vec<usize>,
    /// Each model weighed.
    pub(super) models: Vec<Weighed>,
    /// Whether the knee was chosen.
    pub(super) kneed: bool,
}

/// One model's evidence.
#[derive(Clone, Debug)]
pub(super) struct Weighed {
    pub(super) curve: Curve,
    pub(super) aicc: f64,
}

/// Chooses between parabola and knee; `None` when nothing can be fitted.
pub(super) fn choose(points: &Points) -> Option<Choice> {
    let (parabola, kept) = cleaned(points, Family::Parabola)?;
    let smooth: Vec<Weighed> = models(points, &kept);
    let best = |models: &[Weighed]| models.iter().map(|m| m.aicc).fold(f64::INFINITY, f64::min);
    let knee = cleaned(points, Family::Knee).map(|(curve, kept)| {
        let aicc = aicc(&curve, points.len(), kept.len());
        (curve, kept, aicc)
    });
    let Some((bent, bent_kept, bent_aicc)) = knee else {
        return Some(Choice {
            curve: parabola,
            kept,
            models: smooth,
            kneed: false,
        });
    };
    // The chance of the family not chosen, which has its say in the intervals (Burnham & Anderson, Model Selection, 2002, 2.9).
    let ahead = best(&smooth) - bent_aicc;
    let chance = |ahead: f64| {
        if ahead.is_nan() {
            0.0
        } else {
            1.0 / (1.0 + (0.5 * ahead).exp())
        }
    };
    if ahead > KNEE_MARGIN {
        let mut models = models(points, &bent_kept);
        models.push(Weighed {
            curve: bent.clone(),
            aicc: bent_aicc,
        });
        return Some(Choice {
            curve: bent.with_rival(chance(ahead), parabola),
            kept: bent_kept,
            models,
            kneed: true,
        });
    }
    Some(Choice {
        curve: parabola.with_rival(chance(-ahead), bent),
        kept,
        models: smooth,
        kneed: false,
    })
}

/// Offset, with slope, with curvature, as far as the readings bear them.
fn models(points: &Points, kept: &[usize]) -> Vec<Weighed> {
    let part = points.only(kept);
    (1..=3)
        .filter_map(|terms| Curve::parabola(&part, terms))
        .map(|curve| Weighed {
            aicc: aicc(&curve, points.len(), kept.len()),
            curve,
        })
        .collect()
}

/// Akaike's criterion for small samples (Hurvich & Tsai, Biometrika 76, 1989), the scatter estimated too, outliers counted as
/// coefficients. Scatter finer than the resolution is none: it would tell models apart by how figures were rounded.
fn aicc(curve: &Curve, readings: usize, kept: usize) -> f64 {
    let n = readings as f64;
    let fitted = (curve.terms() + 1 + (readings - kept)) as f64;
    let left = n - fitted - 1.0;
    if left <= 0.0 {
        return f64::INFINITY;
    }
    let chi_squared = curve.chi_squared.max(kept as f64);
    n * (chi_squared / n).ln() + 2.0 * fitted + 2.0 * fitted * (fitted + 1.0) / left
}

/// A family's curve without its outliers, and the readings kept.
fn cleaned(points: &Points, family: Family) -> Option<(Curve, Vec<usize>)> {
    let all: Vec<usize> = (0..points.len()).collect();
    let whole = Curve::new(points, family)?;
    let most = points.len() / ONE_IN;
    let (mut curve, mut kept) = (whole.clone(), all.clone());
    while let Some(out) = outlying(points, &kept, &curve) {
        if points.len() - kept.len() + out.len() > most {
            // So many strays are no strays: the readings scatter, and all of them say how much.
            return Some((whole, all));
        }
        kept.retain(|i| !out.contains(i));
        curve = Curve::new(&points.only(&kept), family)?;
    }
    // One that was taken out beside another may fit again.
    let back: Vec<usize> = all
        .iter()
        .copied()
        .filter(|i| !kept.contains(i) && fits(points, &curve, *i))
        .collect();
    if !back.is_empty() {
        kept.extend(back);
        kept.sort_unstable();
        curve = Curve::new(&points.only(&kept), family)?;
    }
    Some((curve, kept))
}

/// The reading, or the two, that the curve through the others does not explain; `None` when it explains all.
fn outlying(points: &Points, kept: &[usize], curve: &Curve) -> Option<Vec<usize>> {
    let part = points.only(kept);
    let freedom = curve.freedom() as f64;
    let sigmas = part.sigmas();
    let count = part.len() as f64;
    let fits = curve.fits(&part);
    // Rounding alone has a variance of 1 here; residuals below it tell nothing.
    let against = |left_over: f64, freedom: f64| {
        (curve.chi_squared - left_over) / (left_over / freedom).max(1.0)
    };
    let (left_over, worst) = fits
        .iter()
        .flat_map(|(_, fit)| without_one(fit, &sigmas))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let critical = student_quantile(1.0 - CHANCE / (2.0 * count), freedom - 1.0)?;
    if against(left_over, freedom - 1.0) > critical.powi(2) {
        return Some(vec![*kept.get(worst)?]);
    }
    if freedom < 4.0 || part.len() > PAIRS_UP_TO {
        return None;
    }
    let (left_over, i, j) = fits
        .iter()
        .filter_map(|(rows, fit)| without_two(rows, fit, &sigmas))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let f = against(left_over, freedom - 2.0) / 2.0;
    // The F distribution with two degrees of freedom above has this tail in closed form.
    let chance = (1.0 + 2.0 * f / (freedom - 2.0)).powf(1.0 - freedom / 2.0);
    let pairs = count * (count - 1.0) / 2.0;
    (chance * pairs < CHANCE).then(|| Some(vec![*kept.get(i)?, *kept.get(j)?]))?
}

/// Residuals in units of their σ with what each leaves to the others, one less its leverage.
fn scaled<'a>(fit: &'a Fit, sigmas: &'a [f64]) -> impl Iterator<Item = (f64, f64)> + 'a {
    let residuals = fit.residuals().iter().zip(sigmas).map(|(r, s)| r / s);
    residuals.zip(fit.leverages().iter().map(|h| (1.0 - h).max(LEAST_LEFT)))
}

/// The sum of squares left when a reading is taken out, with its index, for each.
fn without_one(fit: &Fit, sigmas: &[f64]) -> Vec<(f64, usize)> {
    scaled(fit, sigmas)
        .enumerate()
        .map(|(i, (r, left))| (fit.chi_squared() - r * r / left, i))
        .collect()
}

/// The least sum of squares left when two readings are taken out, with their indices.
fn without_two(rows: &[Vec<f64>], fit: &Fit, sigmas: &[f64]) -> Option<(f64, usize, usize)> {
    let scaled: Vec<(f64, f64)> = scaled(fit, sigmas).collect();
    let mut best: Option<(f64, usize, usize)> = None;
    for (j, (rj, b)) in scaled.iter().enumerate() {
        let mut pull = vec![0.0; scaled.len()];
        pull[j] = sigmas[j];
        let pulled = fit.coefficients_of(&pull);
        for (i, ((ri, a), row)) in scaled.iter().zip(rows).enumerate().take(j) {
            let shared: f64 = row.iter().zip(&pulled).map(|(x, p)| x * p).sum::<f64>() / sigmas[i];
            let determinant = a * b - shared * shared;
            if determinant < LEAST_LEFT {
                continue;
            }
            let gain = (b * ri * ri + a * rj * rj + 2.0 * shared * ri * rj) / determinant;
            let left_over = fit.chi_squared() - gain;
            if best.is_none_or(|(least, _, _)| left_over < least) {
                best = Some((left_over, i, j));
            }
        }
    }
    best
}

/// Whether a reading that was left out lies where the others foretell it.
fn fits(points: &Points, curve: &Curve, index: usize) -> bool {
    let freedom = curve.freedom();
    let Some(critical) =
        student_quantile(1.0 - CHANCE / (2.0 * points.len() as f64), freedom as f64)
    else {
        return false;
    };
    let (true_ev, error) = (points.true_ev[index], points.error[index]);
    let scatter = (curve.chi_squared / freedom as f64).max(1.0);
    let sigma = points.step[index] / 12f64.sqrt();
    let foretold = curve.at(true_ev);
    let doubt = foretold.u.unwrap_or(0.0) / 2.0;
    (error - foretold.value).abs() < critical * (scatter * sigma * sigma + doubt * doubt).sqrt()
}
