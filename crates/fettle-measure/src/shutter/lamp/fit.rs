//! The lamp's waves, frequency and drift by least squares over all plateaus at once.

use nalgebra::{DMatrix, DVector};

use super::super::normal;
use super::{Lamp, Open, pieces};

/// A harmonic may have this amplitude, divided by its number.
const AMPLITUDE: f64 = 0.6;
/// The light's mean may differ by this part between shots ...
pub(super) const LEVELS: f64 = 3e-3;
/// ... and the level agreed at first may be wrong by this one.
const LEVEL: f64 = 0.3;
/// Standard deviation of the frequency's drift, in parts of itself a second.
const DRIFT: f64 = 1e-5;
/// Harmonics of a lamp on the mains; above its frequency a lamp is switched.
const MAINS_HARMONICS: usize = 6;
const MAINS_UP_TO_HZ: f64 = 150.0;
/// Most harmonics of a switched lamp, and how far they go against the samples' rate.
const MOST_HARMONICS: usize = 32;
const UP_TO_RATES: f64 = 1.6;
/// Samples times unknowns squared that are summed at most in one step.
const MOST_WORK: f64 = 1.5e8;
const STEPS: usize = 4;
/// Steps where the phase's path and the waves are found by turns.
const PATH_STEPS: usize = 16;
/// A step that moves frequency and drift by less than this part of their standard uncertainty is the last.
const SETTLED: f64 = 1e-3;
/// The same of the phase's path.
const PATH_SETTLED: f64 = 0.02;

/// Harmonics looked for.
fn harmonics(hz: f64, dt: f64) -> usize {
    if hz < MAINS_UP_TO_HZ {
        MAINS_HARMONICS
    } else {
        ((UP_TO_RATES / (hz * dt)) as usize).clamp(2, MOST_HARMONICS)
    }
}

/// The lamp whose frequency is near `hz`.
pub(super) fn first(opens: &[Open], hz: f64, dt: f64, noise: f64) -> Option<Lamp> {
    let weight: f64 = opens.iter().map(|it| it.light.len() as f64).sum();
    let time = |it: &Open| (it.from as f64 + 0.5 * it.light.len() as f64) * dt;
    let middle = opens
        .iter()
        .map(|it| time(it) * it.light.len() as f64)
        .sum::<f64>()
        / weight;
    let start = Lamp {
        path: pieces::first_path(opens, (hz, middle), dt, noise),
        ..Lamp::even(hz, middle, vec![[0.0; 2]; harmonics(hz, dt)])
    };
    // The waves first: without any the frequency has no meaning.
    let waves = step(opens, &start, dt, noise, false)?;
    refined(opens, &waves, dt, noise)
}

/// The lamp nearest to `start`.
pub(super) fn refined(opens: &[Open], start: &Lamp, dt: f64, noise: f64) -> Option<Lamp> {
    let mut lamp = start.clone();
    let steps = lamp.path.as_ref().map_or(STEPS, |_| PATH_STEPS);
    for _ in 0..steps {
        let mut here = lamp.clone();
        if lamp.path.is_some() {
            here.path = Some(pieces::path(opens, &lamp, dt, noise)?);
        }
        let next = step(opens, &here, dt, noise, here.path.is_none())?;
        let settled = next.is_near(&lamp);
        lamp = next;
        if settled {
            break;
        }
    }
    Some(lamp)
}

impl Lamp {
    /// Whether frequency and drift, or the phase's path, are the other's against their own standard uncertainties.
    fn is_near(&self, other: &Self) -> bool {
        if let (Some(path), Some(other)) = (&self.path, &other.path) {
            return path.is_near(other, PATH_SETTLED);
        }
        let drift = self.covariance.nrows() - 1;
        let moved = [self.hz - other.hz, self.drift - other.drift];
        moved.iter().zip([drift - 1, drift]).all(|(moved, at)| {
            let variance = self.covariance[(at, at)].max(0.0);
            moved.abs() <= SETTLED * variance.sqrt()
        })
    }
}

/// One step of Gauss and Newton: the waves anew, and the frequency and its drift unless held.
fn step(opens: &[Open], lamp: &Lamp, dt: f64, noise: f64, turning: bool) -> Option<Lamp> {
    let own = lamp.covariance.nrows();
    // The last unknown is the level that all share.
    let count = own + 1;
    let total: usize = opens.iter().map(|it| it.light.len()).sum();
    let most = MOST_WORK / (count * count) as f64;
    let share = (most / total as f64).min(1.0);
    let mut sums = Sums::new(count);
    let mut row = vec![0.0; count];
    let middle = |it: &Open| (it.from as f64 + 0.5 * it.light.len() as f64) * dt;
    for open in opens.iter().filter(|it| lamp.knows_phase(middle(it))) {
        let whole = open.light.len();
        let used = ((whole as f64 * share) as usize).clamp(whole.min(400), whole);
        let mut shot = Sums::new(count);
        let (mut lines, mut value_sum) = (DVector::zeros(count), 0.0);
        for (n, value) in (open.from..).zip(&open.light).take(used) {
            lamp.slopes(n as f64 * dt, &mut row[..own]);
            row[own] = 1.0;
            // What the frequency stands at already is no news.
            shot.add(&row, *value);
            for (sum, it) in lines.iter_mut().zip(&row) {
                *sum += it;
            }
            value_sum += value;
        }
        // A level of the shot's own, known to be near the common one, eliminated.
        let own_level = used as f64 + (noise / LEVELS).powi(2);
        sums.normal += &shot.normal;
        sums.normal.ger(-1.0 / own_level, &lines, &lines, 1.0);
        sums.right += &shot.right;
        sums.right.axpy(-value_sum / own_level, &lines, 1.0);
        sums.squares += shot.squares - value_sum * value_sum / own_level;
        sums.rows += used;
    }
    let variance = noise * noise;
    for (k, pair) in (1..).zip(0..lamp.waves.len()) {
        let prior = variance * (f64::from(k) / AMPLITUDE).powi(2);
        sums.normal[(2 * pair, 2 * pair)] += prior;
        sums.normal[(2 * pair + 1, 2 * pair + 1)] += prior;
    }
    sums.normal[(own, own)] += variance / (LEVEL * LEVEL);
    // Held unknowns get a prior that leaves them where they are.
    let hz = own - 2;
    let stiff = if turning { 1e-9 } else { 1e12 };
    sums.normal[(hz, hz)] += stiff * variance;
    let drift = variance / (DRIFT * lamp.hz).powi(2);
    sums.normal[(hz + 1, hz + 1)] += if turning { drift } else { stiff * variance };
    sums.right[hz + 1] -= if turning { drift * lamp.drift } else { 0.0 };
    let (solution, mut covariance, left) = sums.solved()?;
    let freedom = (sums.rows as f64 - count as f64).max(1.0);
    let excess = (left / freedom / variance).max(1.0);
    let level = 1.0 + solution[own];
    if !(0.3..3.0).contains(&level) {
        return None;
    }
    covariance *= variance * excess / (level * level);
    let waves = solution.as_slice()[..hz]
        .chunks_exact(2)
        .map(|pair| [pair[0] / level, pair[1] / level])
        .collect();
    Some(Lamp {
        hz: lamp.hz + solution[hz],
        drift: lamp.drift + solution[hz + 1],
        middle: lamp.middle,
        path: lamp.path.clone(),
        waves,
        covariance: covariance.view((0, 0), (own, own)).into_owned(),
        level,
        open: lamp.open,
        left: (left / freedom - variance).max(0.0).sqrt(),
    })
}

/// Normal equations.
struct Sums {
    normal: DMatrix<f64>,
    right: DVector<f64>,
    squares: f64,
    rows: usize,
}

impl Sums {
    fn new(count: usize) -> Self {
        Self {
            normal: DMatrix::zeros(count, count),
            right: DVector::zeros(count),
            squares: 0.0,
            rows: 0,
        }
    }

    /// Only the lower triangle and the diagonal are summed.
    fn add(&mut self, row: &[f64], value: f64) {
        normal::add(&mut self.normal, &mut self.right, row, 1.0, value);
        self.squares += value * value;
    }

    /// The solution, the inverse and what is left of the squares.
    fn solved(&self) -> Option<(DVector<f64>, DMatrix<f64>, f64)> {
        let count = self.right.len();
        let size: Vec<f64> = (0..count)
            .map(|i| self.normal[(i, i)].sqrt().max(1e-150))
            .collect();
        let scaled = DMatrix::from_fn(count, count, |i, j| {
            let it = self.normal[(i.max(j), i.min(j))] / (size[i] * size[j]);
            if i == j { it + 1e-12 } else { it }
        });
        let right = DVector::from_fn(count, |i, _| self.right[i] / size[i]);
        let factor = scaled.cholesky()?;
        let solution = factor.solve(&right);
        let left = (self.squares - right.dot(&solution)).max(0.0);
        let inverse = factor.inverse();
        let unscaled = DMatrix::from_fn(count, count, |i, j| inverse[(i, j)] / (size[i] * size[j]));
        let solution = DVector::from_fn(count, |i, _| solution[i] / size[i]);
        solution
            .iter()
            .all(|it| it.is_finite())
            .then_some((solution, unscaled, left))
    }
}
