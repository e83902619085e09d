//! The line through the readings, weighted by what eye and tape can do.

use super::{Options, Reading};
use crate::focus::Lens;
use crate::spread::{Fit, coverage_factor, student_quantile};

/// Distances whose extensions differ by less than this part of the largest are one distance.
const LEAST_APART: f64 = 0.01;
/// The chance that some reading of a sound run is left out as far from the line.
const FAR_CHANCE: f64 = 0.002;
/// A reading that misses by less is never left out, however well the others agree.
const LEAST_MISS_MM: f64 = 1e-4;
/// The chance that a straight run is called bent.
const BENT_CHANCE: f64 = 0.01;

/// `e_read = infinity + rate · e_ideal` by least squares with weights `1/σ²`.
///
/// The σ of eye and tape are known in their proportion only: the readings' own scatter scales them. Two readings leave nothing to
/// scale by; then σ stands as stated when the base is given, and otherwise there is no uncertainty.
#[derive(Clone, Debug)]
pub(super) struct Line {
    fit: Fit,
    scatter: Option<Scatter>,
    /// The fit with a square and its own scatter, where the readings bend.
    bend: Option<(Fit, Scatter)>,
    sigmas: Vec<f64>,
    /// The reading left out and how far it misses the line through the others.
    pub(super) far: Option<(usize, f64)>,
}

/// How much more the readings scatter than weighted, and the half-width of a 95 % interval in standard deviations as weighted.
#[derive(Clone, Copy, Debug)]
struct Scatter {
    scale: f64,
    half_width: f64,
}

impl Scatter {
    fn new(scale: f64, freedom: f64) -> Option<Self> {
        let half_width = coverage_factor(freedom)? * scale;
        Some(Self { scale, half_width })
    }

    fn of(fit: &Fit) -> Option<Self> {
        Self::new(fit.scatter()?, fit.freedom() as f64)
    }
}

impl Line {
    /// `None` when the distances are one distance.
    pub(super) fn fit(
        readings: &[Reading],
        ideals: &[f64],
        lens: &Lens,
        options: &Options,
    ) -> Option<Self> {
        let largest = ideals.iter().copied().fold(0.0, f64::max);
        let least = ideals.iter().copied().fold(f64::INFINITY, f64::min);
        if largest - least < LEAST_APART * largest || largest <= 0.0 {
            return None;
        }
        let sigmas: Vec<f64> = readings
            .iter()
            .map(|r| options.reading_sd_mm(lens, r.distance_m * 1000.0))
            .collect();
        let values: Vec<f64> = readings.iter().map(|r| r.extension_mm).collect();
        let whole = fit_line(ideals, &values, &sigmas, None)?;
        let far = far_reading(&whole, &sigmas)
            .and_then(|(i, miss)| Some((i, miss, fit_line(ideals, &values, &sigmas, Some(i))?)));
        let (fit, far) = match far {
            Some((i, miss, without)) => (without, Some((i, miss))),
            None => (whole, None),
        };
        let scatter = match Scatter::of(&fit) {
            None if options.base_mm.is_some() => Scatter::new(1.0, f64::INFINITY),
            own => own,
        };
        let mut line = Self {
            fit,
            scatter,
            sigmas,
            far,
            bend: None,
        };
        line.bend = line.bend_of(&values, ideals);
        Some(line)
    }

    pub(super) fn infinity(&self) -> f64 {
        self.fit.coefficient(0)
    }

    pub(super) fn rate(&self) -> f64 {
        self.fit.coefficient(1)
    }

    /// Half-width of the 95 % interval of `infinity · weights[0] + rate · weights[1]`.
    pub(super) fn u(&self, weights: [f64; 2]) -> Option<f64> {
        Some(self.scatter?.half_width * self.fit.uncertainty_at(&weights))
    }

    /// Half-width of the 95 % interval of one reading with the standard deviation `sigma`, as weighted; what bends does not scatter.
    pub(super) fn reading_u(&self, sigma: f64) -> Option<f64> {
        let scatter = self.bend.as_ref().map(|(_, scatter)| *scatter);
        Some(scatter.or(self.scatter)?.half_width * sigma)
    }

    /// The standard deviations as weighted, one a reading.
    pub(super) fn sigmas(&self) -> &[f64] {
        &self.sigmas
    }

    /// By how much the readings scatter more than weighted, 1 when that is not known.
    pub(super) fn scale(&self) -> f64 {
        self.scatter.map_or(1.0, |scatter| scatter.scale)
    }

    pub(super) fn freedom(&self) -> usize {
        self.fit.freedom()
    }

    pub(super) fn is_left_out(&self, reading: usize) -> bool {
        self.far.is_some_and(|(far, _)| far == reading)
    }

    /// The readings kept with a bend, where they bend more than their scatter makes: the square's coefficient by Student's t.
    fn bend_of(&self, values: &[f64], ideals: &[f64]) -> Option<(Fit, Scatter)> {
        let of = |values: &[f64]| -> Vec<f64> {
            (0..values.len())
                .filter(|i| !self.is_left_out(*i))
                .filter_map(|i| values.get(i).copied())
                .collect()
        };
        let x = of(ideals);
        let rows: Vec<Vec<f64>> = x.iter().map(|x| bent_row(*x).to_vec()).collect();
        let fit = Fit::new(&rows, &of(values), &of(&self.sigmas))?;
        let most = student_quantile(1.0 - BENT_CHANCE / 2.0, fit.freedom() as f64)?;
        let reach = x.iter().copied().fold(0.0, f64::max);
        let bend = fit.coefficient(2).abs();
        let is_bent = bend > most * fit.scatter()? * fit.covariance(2, 2).sqrt()
            && bend * reach * reach > LEAST_MISS_MM;
        let scatter = Scatter::of(&fit)?;
        is_bent.then_some((fit, scatter))
    }

    /// Whether the readings bend more than their scatter makes.
    pub(super) const fn is_bent(&self) -> bool {
        self.bend.is_some()
    }

    /// Half-width of the 95 % interval of what is read where `ideal` is wanted, by the bend where there is one.
    pub(super) fn read_u(&self, ideal: f64) -> Option<f64> {
        match &self.bend {
            Some((fit, scatter)) => Some(scatter.half_width * fit.uncertainty_at(&bent_row(ideal))),
            None => self.u([1.0, ideal]),
        }
    }
}

const fn bent_row(ideal: f64) -> [f64; 3] {
    [1.0, ideal, ideal * ideal]
}

fn fit_line(ideals: &[f64], values: &[f64], sigmas: &[f64], without: Option<usize>) -> Option<Fit> {
    let kept = |i: &usize| without != Some(*i);
    let of = |values: &[f64]| -> Vec<f64> {
        (0..values.len())
            .filter(kept)
            .filter_map(|i| values.get(i).copied())
            .collect()
    };
    let rows: Vec<Vec<f64>> = of(ideals).iter().map(|x| vec![1.0, *x]).collect();
    Fit::new(&rows, &of(values), &of(sigmas))
}

/// The reading that lies farther from the line through the others than chance explains, with its miss: the largest externally studentised
/// residual (Cook & Weisberg, Residuals and Influence in Regression, 1982, 2.2.2), Bonferroni at 0.2 %.
fn far_reading(fit: &Fit, sigmas: &[f64]) -> Option<(usize, f64)> {
    let freedom = fit.freedom() as f64;
    if freedom < 3.0 {
        return None;
    }
    let judged = fit
        .residuals()
        .iter()
        .zip(fit.leverages())
        .zip(sigmas)
        .enumerate();
    let (worst, miss, t) = judged
        .filter_map(|(i, ((residual, leverage), sigma))| {
            let left = 1.0 - leverage;
            let squared = (residual / sigma).powi(2) / left;
            let others = (fit.chi_squared() - squared).max(0.0) / (freedom - 1.0);
            (left > 1e-9).then(|| (i, residual / left, (squared / others.max(1e-20)).sqrt()))
        })
        .max_by(|a, b| a.2.total_cmp(&b.2))?;
    let chance = FAR_CHANCE / sigmas.len() as f64;
    let most = student_quantile(1.0 - chance / 2.0, freedom - 1.0)?;
    (t > most && miss.abs() > LEAST_MISS_MM).then_some((worst, miss))
}
