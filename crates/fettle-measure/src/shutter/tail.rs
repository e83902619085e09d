//! The slow tail that a saturated sensor leaves on closing only.
//!
//! Blades that close leave an opening that shrinks as the square of the time left and is then shut;
//! blades that open leave a rest that shrinks as its power 1.5. What comes after can only be the
//! sensor's: through a lag `τ` the light ends as `e^-t/τ`. The lag is found for both ends, from the
//! means of all shots' flanks. A linear lag is alike on both and leaves `∫E/E0` unchanged; only a
//! closing that is surely slower than the opening is a tail.

use super::channel::Raw;

/// Lags tried, in seconds, evenly in their logarithm.
const SHORTEST_S: f64 = 0.012e-3;
const LONGEST_S: f64 = 8e-3;
const LAGS: usize = 34;
/// Ends of the blades' movement tried.
const ENDS: usize = 40;
/// They lie within this time of where the fit begins.
const LATEST_S: f64 = 3e-3;
/// The flanks' ends are fitted from this part of the light on ...
const FROM: f64 = 0.15;
/// ... for so long.
const LASTING_S: f64 = 8e-3;
/// Points fitted.
const MOST_POINTS: usize = 160;
/// What the forms of flanks leave unexplained, as a part of the light.
const FORM: f64 = 0.002;
/// A lag is possible while the misfit is less than this above the least, in variances.
const POSSIBLE: f64 = 16.0;
/// Closing is slower than opening from this on, in seconds and as a ratio.
const SLOWER_S: f64 = 0.05e-3;
const SLOWER: f64 = 1.25;
/// Light that only comes to half ends as if at once.
const SOONER: f64 = 2.0;
/// Charge may hold the output up, unseen, for this part of the time constant before it falls.
const HELD: f64 = 0.3;

/// A tail on closing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tail {
    /// Time constant in seconds.
    pub(crate) closing: f64,
    /// How much longer than the light the output lasts, at least and at most, in seconds.
    pub(crate) least: f64,
    pub(crate) most: f64,
    /// How much longer it may last where the light ends sooner than as the shutter closes from fully open, as behind a
    /// slit narrower than the sensor.
    pub(crate) abrupt: f64,
}

impl Tail {
    /// Of a time constant, with what it adds to a time and the standard uncertainty of that.
    pub(crate) fn adding(closing: f64, (late, deviation): (f64, f64)) -> Self {
        let half = 3.0_f64.sqrt() * deviation;
        Self {
            closing,
            least: late - half,
            most: late + half,
            abrupt: late + half,
        }
    }

    /// What to take off the time of a shot whose light came to the part `peak`, and its standard uncertainty:
    /// rectangular between the bounds. The less light, the sooner it is gone.
    pub(crate) fn correction(&self, peak: f64) -> (f64, f64) {
        let sooner = (SOONER * (1.0 - peak)).min(1.0);
        let most = self.most + sooner * (self.abrupt - self.most).max(0.0);
        (
            peak * 0.5 * (self.least + most),
            peak * (most - self.least) / 12_f64.sqrt(),
        )
    }
}

/// Looks for a tail in the closings of a channel's shots, samples `dt` seconds apart.
pub(crate) fn find(shots: &[Raw], noise: f64, dt: f64) -> Option<Tail> {
    let (mut closings, mut openings) = (Vec::new(), Vec::new());
    for shot in shots
        .iter()
        .filter(|it| !it.spoiled && it.clipped.is_none())
    {
        let Some((level, _)) = shot.level.filter(|it| it.0 > 0.0) else {
            continue;
        };
        if !shot.local.regions.has_plateau() {
            continue;
        }
        closings.push((
            shot.light
                .second
                .iter()
                .map(|it| it / level)
                .collect::<Vec<_>>(),
            level,
        ));
        openings.push((
            shot.light
                .first
                .iter()
                .map(|it| 1.0 - it / level)
                .collect::<Vec<_>>(),
            level,
        ));
    }
    let closing = Mean::of(&closings, noise, dt)?;
    let opening = Mean::of(&openings, noise, dt)?;
    let (slow, [least, _]) = closing.lag(2.0)?;
    let (fast, [_, most]) = opening.lag(1.5)?;
    if least < SLOWER_S.max(SLOWER * most) {
        return None;
    }
    let from = closing.exponential_from(slow);
    let most = (1.0 + HELD) * slow - fast.min(slow);
    Some(Tail {
        closing: slow,
        least: from * slow / 3.0,
        most,
        abrupt: most,
    })
}

/// The mean of several flanks' ends.
struct Mean {
    /// From where the flanks pass [`FROM`], `step` apart.
    values: Vec<f64>,
    step: f64,
    noise: f64,
}

impl Mean {
    /// Laid on each other where each last passes half.
    fn of(flanks: &[(Vec<f64>, f64)], noise: f64, dt: f64) -> Option<Self> {
        let last_above = |x: &[f64], goal: f64| {
            let i = x.iter().rposition(|value| *value > goal)?;
            let next = x.get(i + 1)?;
            Some(i as f64 + (x[i] - goal) / (x[i] - next).max(1e-12))
        };
        let placed: Vec<(&[f64], f64, f64)> = flanks
            .iter()
            .filter_map(|(x, level)| Some((x.as_slice(), last_above(x, 0.5)?, *level)))
            .collect();
        let length = placed
            .iter()
            .map(|(x, half, _)| x.len() as f64 - half - 2.0)
            .fold(f64::MAX, f64::min);
        let length = length.min(2.0 * LASTING_S / dt) as usize;
        if placed.is_empty() || length < 6 {
            return None;
        }
        let at = |x: &[f64], place: f64| {
            let i = place as usize;
            let part = place - i as f64;
            match (x.get(i), x.get(i + 1)) {
                (Some(a), Some(b)) => a + part * (b - a),
                _ => 0.0,
            }
        };
        let count = placed.len() as f64;
        let mean: Vec<f64> = (0..length)
            .map(|i| {
                placed
                    .iter()
                    .map(|(x, half, _)| at(x, half + i as f64))
                    .sum::<f64>()
                    / count
            })
            .collect();
        let level = placed.iter().map(|it| it.2).sum::<f64>() / count;
        let from = mean.iter().position(|value| *value < FROM)?;
        let tail = &mean[from..];
        let size = (tail.len().min((LASTING_S / dt) as usize) / MOST_POINTS).max(1);
        let values: Vec<f64> = tail
            .chunks_exact(size)
            .take(MOST_POINTS)
            .map(|it| it.iter().sum::<f64>() / size as f64)
            .collect();
        (values.len() >= 6).then_some(Self {
            values,
            step: size as f64 * dt,
            noise: noise / level / (count * size as f64).sqrt(),
        })
    }

    /// The likeliest lag behind movement that ends as the power `power` of the time left, and the
    /// least and greatest possible one.
    fn lag(&self, power: f64) -> Option<(f64, [f64; 2])> {
        let ratio = (LONGEST_S / SHORTEST_S).ln() / (LAGS - 1) as f64;
        let fits: Vec<(f64, f64)> = (0..LAGS)
            .map(|i| SHORTEST_S * (ratio * i as f64).exp())
            .map(|lag| (lag, self.misfit(lag, power)))
            .collect();
        let best = fits.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let points = self.values.len() as f64;
        let excess = (best.1 / points).max(1.0);
        let possible = |it: &&(f64, f64)| it.1 < best.1 + POSSIBLE * excess;
        let first = fits.iter().find(possible)?;
        let last = fits.iter().rfind(possible)?;
        Some((best.0, [first.0, last.0]))
    }

    /// Least squares over where the movement ends.
    fn misfit(&self, lag: f64, power: f64) -> f64 {
        let whole = self.values.len() as f64 * self.step;
        let ends = (0..ENDS).map(|i| whole.min(LATEST_S) * (i as f64 / ENDS as f64).powi(2));
        ends.map(|end| self.misfit_at(lag, power, end))
            .fold(f64::MAX, f64::min)
    }

    /// The light ends as `a u^p (1 - u/T) + b (u/T)^(p+1)`, `u` of `T` the time left; light is not
    /// negative, so neither are `a` and `b`. What was before decays.
    fn misfit_at(&self, lag: f64, power: f64, end: f64) -> f64 {
        let decay = (-self.step / lag).exp();
        let share = -(-self.step / lag).exp_m1() * lag / self.step;
        let mut lagged = [0.0; 2];
        let mut before: Option<[f64; 2]> = None;
        let mut rest = self.values.first().copied().unwrap_or(0.0);
        let (mut aa, mut bb, mut ab) = (1e-30, 1e-30, 0.0);
        let (mut at, mut bt, mut total) = (0.0, 0.0, 0.0);
        for (i, value) in self.values.iter().enumerate() {
            let left = (1.0 - i as f64 * self.step / end.max(1e-9)).max(0.0);
            let light = [left.powf(power) * (1.0 - left), left.powf(power + 1.0)];
            if let Some(before) = before {
                for ((lagged, before), now) in lagged.iter_mut().zip(before).zip(light) {
                    *lagged = *lagged * decay + before * (share - decay) + now * (1.0 - share);
                }
                rest *= decay;
            }
            before = Some(light);
            let [a, b] = lagged;
            let value = value - rest;
            aa += a * a;
            bb += b * b;
            ab += a * b;
            at += a * value;
            bt += b * value;
            total += value * value;
        }
        let inner = aa * bb - ab * ab;
        let (a, b) = ((at * bb - bt * ab) / inner, (bt * aa - at * ab) / inner);
        let gained = if inner > 1e-12 * aa * bb && a >= 0.0 && b >= 0.0 {
            a * at + b * bt
        } else {
            (at.max(0.0).powi(2) / aa).max(bt.max(0.0).powi(2) / bb)
        };
        (total - gained).max(0.0) / (self.noise.powi(2) + FORM * FORM)
    }

    /// The part of the light from which the fall is purely exponential.
    fn exponential_from(&self, lag: f64) -> f64 {
        let steeper =
            |pair: &[f64]| pair[0] - pair[1] > 1.15 * self.step / lag * pair[0] + 3.0 * self.noise;
        let last = self
            .values
            .windows(2)
            .rposition(steeper)
            .map_or(0, |it| it + 1);
        self.values
            .get(last)
            .copied()
            .unwrap_or(0.0)
            .clamp(0.0, 1.0)
    }
}
