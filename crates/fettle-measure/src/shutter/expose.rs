//! From the fitted model of a shot to its light, its times and what limits them.

use super::local::{Fit, Local, Signal};

/// Total time is counted between these crossings, ISO 516.
pub(crate) const TOTAL_AT: f64 = 0.01;
/// Flank form used to extrapolate to 1 %: samples up to this part of the opening.
const FOOT_TO: f64 = 0.25;
/// Standard uncertainty that the foot's form leaves, as a part of its length, and that of a place
/// between samples.
const FORM: f64 = 0.02;
const SAMPLING: f64 = 0.3;
/// Blades that open a second time let light through for longer than this.
const BOUNCE_LASTS_S: f64 = 0.2e-3;

/// The light of one shot over its event, fully open level not yet divided out.
#[derive(Clone, Debug)]
pub(crate) struct Light {
    /// First flank, or the whole event when there is no plateau.
    pub(crate) first: Vec<f64>,
    /// Second flank; empty without plateau.
    pub(crate) second: Vec<f64>,
}

impl Light {
    /// What holds the closing: the whole event when there is no plateau.
    pub(crate) fn last(&self) -> &[f64] {
        if self.second.is_empty() {
            &self.first
        } else {
            &self.second
        }
    }
}

pub(crate) fn light(local: &Local, signal: &Signal<'_>, fit: &Fit) -> Light {
    let [before, closing] = local.entry(fit);
    let regions = &local.regions;
    match local.level(fit) {
        Some((level, _)) => Light {
            first: local.restore(signal, fit, regions.first..regions.open, before, 0.0),
            second: local.restore(signal, fit, regions.second..regions.after, closing, level),
        },
        None => Light {
            first: local.restore(signal, fit, regions.first..regions.after, before, 0.0),
            second: Vec::new(),
        },
    }
}

/// Samples to average so that noise falls to a hundredth of `level`.
pub(crate) fn smoothing(level: f64, noise: f64, count: usize) -> usize {
    let wanted = (noise / (0.01 * level.abs().max(1e-12))).powi(2).ceil();
    (wanted as usize).clamp(1, (count / 20).max(1))
}

/// Centred running mean.
pub(crate) fn smoothed(x: &[f64], width: usize) -> Vec<f64> {
    if width <= 1 {
        return x.to_vec();
    }
    let mut sums = Vec::with_capacity(x.len() + 1);
    sums.push(0.0);
    for value in x {
        sums.push(sums[sums.len() - 1] + value);
    }
    let half = width / 2;
    (0..x.len())
        .map(|i| {
            let (from, to) = (i.saturating_sub(half), (i + half + 1).min(x.len()));
            (sums[to] - sums[from]) / (to - from) as f64
        })
        .collect()
}

/// Place of the first crossing, interpolated.
pub(crate) fn first_above(values: impl Iterator<Item = f64>, level: f64) -> Option<f64> {
    let mut before = f64::NEG_INFINITY;
    for (i, value) in values.enumerate() {
        if value >= level {
            let part = if before.is_finite() {
                (level - before) / (value - before)
            } else {
                1.0
            };
            return Some((i as f64 - 1.0 + part).max(0.0));
        }
        before = value;
    }
    None
}

/// Where a rise from the dark to `height` passes 1 % of `level`: a parabola through the flank's
/// foot, which noise alone would hide. It is the light's behind a sensor that follows it by `lag` samples,
/// less than none where `x` runs backward. Returns the place in samples and its standard uncertainty.
pub(crate) fn one_percent(
    x: &[f64],
    level: f64,
    height: f64,
    noise: f64,
    lag: f64,
) -> Option<(f64, f64)> {
    let width = smoothing(level, 0.7 * noise, x.len());
    let smooth = smoothed(x, width);
    let top = first_above(smooth.iter().copied(), FOOT_TO * height)?;
    let deepest = (3.0 * noise / (width as f64).sqrt() / level).max(0.3 * TOTAL_AT);
    let top = top.round() as usize;
    let bottom = (0..top)
        .rev()
        .find(|i| smooth[*i] < deepest * level)
        .map_or(0, |i| i + 1);
    if top < bottom + 4 {
        return crossing(&smooth, level, top).map(|place| (place - lag, 0.5_f64.hypot(0.5 * lag)));
    }
    let parabola = Parabola::through(&x[bottom..=top], noise)?.before_lag(lag);
    let (place, deviation) = parabola.reaches(TOTAL_AT * level)?;
    let form = FORM * (top - bottom) as f64;
    Some((bottom as f64 + place, deviation.hypot(form).hypot(SAMPLING)))
}

/// Plain crossing of 1 %, walking out from the flank.
fn crossing(smooth: &[f64], level: f64, top: usize) -> Option<f64> {
    let goal = TOTAL_AT * level;
    let i = (0..=top).rev().find(|i| smooth[*i] < goal)?;
    let next = smooth.get(i + 1)?;
    Some(i as f64 + (goal - smooth[i]) / (next - smooth[i]).max(1e-300))
}

/// A second opening after the first closing.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounce {
    /// Where it begins, in samples.
    pub(crate) from: usize,
    /// Its greatest light.
    pub(crate) height: f64,
    /// How long it lasts, in samples.
    pub(crate) samples: f64,
}

/// Looks for a second opening after the main fall in `x`, samples `dt` seconds apart.
pub(crate) fn bounce(x: &[f64], level: f64, noise: f64, dt: f64) -> Option<Bounce> {
    // A flank that ends slowly lingers between dark and bright, where the noise of single samples would
    // pass for both.
    let shortest = ((BOUNCE_LASTS_S / dt) as usize).clamp(1, (x.len() / 10).max(1));
    let width = smoothing(level, noise, x.len()).max(shortest);
    let smooth = smoothed(x, width);
    let spread = noise / (width as f64).sqrt();
    let dark = (TOTAL_AT * level).max(3.0 * spread);
    let bright = (0.03 * level).max(6.0 * spread);
    // The second opening may be as bright as the first.
    let most = smooth.iter().copied().fold(0.0, f64::max);
    let top = smooth.iter().position(|value| *value > 0.5 * most)?;
    let fell = top + smooth[top..].iter().position(|value| *value < dark)?;
    let again = fell + smooth[fell..].iter().position(|value| *value > bright)?;
    let rose = (fell..again)
        .rev()
        .find(|i| smooth[*i] < dark)
        .unwrap_or(fell);
    let bright_last = smooth.iter().rposition(|value| *value > bright)?;
    let ends = smooth[bright_last..].iter().position(|value| *value < dark);
    let last = ends.map_or(smooth.len() - 1, |after| bright_last + after);
    let height = smooth[again..=last.max(again)]
        .iter()
        .copied()
        .fold(0.0, f64::max);
    Some(Bounce {
        from: rose,
        height,
        samples: last.saturating_sub(rose) as f64,
    })
}

/// `x` up to where a second opening begins, if there is one.
pub(crate) fn before_bounce(x: &[f64], level: f64, noise: f64, dt: f64) -> &[f64] {
    &x[..bounce(x, level, noise, dt).map_or(x.len(), |it| it.from)]
}

/// First and last place where the light is within 2 % of fully open, in samples.
pub(crate) fn fully_open(x: &[f64], level: f64, noise: f64) -> Option<(f64, f64)> {
    let width = smoothing(level, noise, x.len().min(4000));
    let smooth = smoothed(x, width);
    let from = first_above(smooth.iter().copied(), 0.98 * level)?;
    let to = first_above(smooth.iter().rev().copied(), 0.98 * level)?;
    Some((from, (x.len() - 1) as f64 - to))
}

/// Effective time with the lens stopped down so that a part `a` of the full area is used,
/// `(1/a) ∫ min(A, a) dt`: a leaf shutter opens from the centre, so a small stop is uncovered early
/// and covered late. It tends to the total time as `a` goes to 0.
pub(crate) fn stopped_down(light: &Light, level: f64, a: f64, noise: f64, dt: f64) -> f64 {
    let seen = |x: &[f64]| {
        // Noise above `a` would be cut off on one side only.
        let wanted = (6.0 * noise / (level * a)).powi(2).ceil() as usize;
        let width = wanted.clamp(1, (x.len() / 20).max(1));
        smoothed(x, width)
            .into_iter()
            .map(|value| (value / level).min(a))
            .sum::<f64>()
            * dt
    };
    (seen(&light.first) + seen(&light.second)) / a
}

pub(crate) struct Parabola {
    a: [f64; 3],
    covariance: nalgebra::Matrix3<f64>,
    span: f64,
}

impl Parabola {
    /// Least squares over equally spaced values, abscissa scaled to 0..1.
    pub(crate) fn through(values: &[f64], noise: f64) -> Option<Self> {
        let span = (values.len() - 1) as f64;
        let mut normal = nalgebra::Matrix3::zeros();
        let mut right = nalgebra::Vector3::zeros();
        for (i, value) in values.iter().enumerate() {
            let u = i as f64 / span;
            let row = nalgebra::Vector3::new(1.0, u, u * u);
            normal += row * row.transpose();
            right += row * *value;
        }
        let inverse = normal.try_inverse()?;
        let a = inverse * right;
        let sum: f64 = values
            .iter()
            .enumerate()
            .map(|(i, value)| {
                let u = i as f64 / span;
                (value - a[0] - u * (a[1] + u * a[2])).powi(2)
            })
            .sum();
        let left = sum / (values.len() as f64 - 3.0).max(1.0);
        let covariance = inverse * left.max(noise * noise);
        Some(Self {
            a: [a[0], a[1], a[2]],
            covariance,
            span,
        })
    }

    /// The light that a sensor with a lag of so many samples shows so, `x + lag dx/dt`.
    fn before_lag(self, lag: f64) -> Self {
        let k = lag / self.span;
        let slopes = nalgebra::Matrix3::new(1.0, k, 0.0, 0.0, 1.0, 2.0 * k, 0.0, 0.0, 1.0);
        let a = slopes * nalgebra::Vector3::from(self.a);
        Self {
            a: a.into(),
            covariance: slopes * self.covariance * slopes.transpose(),
            span: self.span,
        }
    }

    /// Where it rises through `goal`, nearest below the fitted stretch or in it.
    pub(crate) fn reaches(&self, goal: f64) -> Option<(f64, f64)> {
        let [c, b, a] = self.a;
        let c = c - goal;
        let inside = b * b - 4.0 * a * c;
        let u = if a.abs() < 1e-9 * b.abs() {
            -c / b
        } else if inside <= 0.0 {
            // The vertex stays above the goal: take the vertex.
            -b / (2.0 * a)
        } else {
            (-b + inside.sqrt()) / (2.0 * a)
        };
        let slope = (b + 2.0 * a * u).abs().max(0.02 * (a + b).abs());
        let row = nalgebra::Vector3::new(1.0, u, u * u);
        let variance = (row.transpose() * self.covariance * row)[(0, 0)];
        let deviation = variance.max(0.0).sqrt() / slope;
        (u.is_finite() && (-1.0..=1.0).contains(&u))
            .then_some((u * self.span, deviation * self.span))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::Gauss;

    const DT: f64 = 1.0 / 96_000.0;
    const NOISE: f64 = 0.005;

    /// Light that falls as the power 2.5 of the time left, over 2 ms, and `height` of it once more,
    /// 2 ms later and for 1 ms.
    fn closing(height: f64, seed: u64) -> Vec<f64> {
        let mut gauss = Gauss::new(seed);
        (0..600)
            .map(|n| {
                let time = f64::from(n) * DT;
                let falls = (1.0 - time / 2e-3).max(0.0).powf(2.5);
                let again = (1.0 - ((time - 4.5e-3) / 0.5e-3).powi(2)).max(0.0);
                falls + height * again + NOISE * gauss.normal()
            })
            .collect()
    }

    #[test]
    fn a_flank_that_ends_slowly_in_noise_is_no_bounce() {
        let found = (0..500).filter(|seed| bounce(&closing(0.0, *seed), 1.0, NOISE, DT).is_some());
        assert_eq!(found.count(), 0);
    }

    #[test]
    fn a_second_opening_is_found_with_its_height_and_length() {
        for (seed, height) in (0..).zip([0.05, 0.1, 0.3, 1.0]) {
            let found = bounce(&closing(height, seed), 1.0, NOISE, DT).unwrap();
            let off = found.height / height - 1.0;
            assert!(off.abs() < 0.1, "{found:?} for {height}");
            let lasts_ms = 1e3 * found.samples * DT;
            assert!((0.8..1.35).contains(&lasts_ms), "{found:?}");
            let from_ms = 1e3 * found.from as f64 * DT;
            assert!((3.8..4.2).contains(&from_ms), "{found:?}");
        }
    }
}
