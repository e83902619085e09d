//! The lamp: how its light swings about its mean, seen while the shutter stands open, and divided out.
//!
//! The lamp's light is `L(t) = 1 + Σ (a_k cos kθ + b_k sin kθ)` with one phase `θ` that runs on over the whole
//! recording, `θ' = 2πf` and `f` drifting evenly, or following the mains as they wander ([`path`]). A switched
//! lamp is the same with many harmonics; those beyond the recorder's range fold back, which the same form
//! covers, as samples of any periodic light depend on its phase alone. What counts is all shots together: a
//! plateau of a fraction of a swing shows nothing by itself, ten of them do.

mod fit;
mod noise;
mod path;
mod pieces;
mod ripple;
mod seek;
mod steady;
mod trail;

use std::f64::consts::{SQRT_2, TAU};

use nalgebra::{DMatrix, DVector};

use super::flicker::Flicker;
use super::local::{End, Local, Signal};
use super::poles::Poles;
use path::Path;

pub(crate) use noise::of_flanks as noise_of_flanks;
pub(crate) use ripple::{frequency as rippling, smoothed};
pub(crate) use steady::taken_off;

/// Longest part of one plateau that is looked at, in seconds: the phase does not get better known by more.
const LONGEST_S: f64 = 1.0;
/// A stretch of fewer samples shows nothing.
const LEAST_SAMPLES: usize = 12;
/// Where the light falls below this part of its mean, dividing by it would raise the noise too much.
const LEAST_LIGHT: f64 = 0.3;
/// Another frequency must leave less than this part of what the one taken first leaves.
const BETTER: f64 = 0.7;
/// What a dark lamp leaves in doubt of a flank, against straight blades.
const HIDDEN: f64 = 2.0;

/// The lamp of one recording.
#[derive(Clone, Debug)]
pub(crate) struct Lamp {
    /// Swings a second at `middle`, but for what a path adds.
    pub(crate) hz: f64,
    /// What the frequency changes by a second.
    pub(crate) drift: f64,
    /// Seconds of the recording at which the phase is 0.
    middle: f64,
    /// What the phase of a lamp on the mains goes beside the even one.
    path: Option<Path>,
    /// Parts of the mean light: cosine and sine of each harmonic.
    pub(crate) waves: Vec<[f64; 2]>,
    /// Of `waves` in their order, `hz` and `drift`.
    covariance: DMatrix<f64>,
    /// What all plateaus are raised by against the level that they were taken to have.
    level: f64,
    /// The mean light fully open that most shots have in common, as the signal shows it.
    open: f64,
    /// Root mean square of what the plateaus show beside it, noise taken off, against the mean light.
    pub(crate) left: f64,
}

/// The light of a stretch fully open against the mean light, less 1.
#[derive(Clone, Debug)]
struct Open {
    /// Its first sample.
    from: usize,
    light: Vec<f64>,
}

impl Lamp {
    /// A lamp of these waves whose phase runs on evenly from 0 at `middle`, in seconds; nothing of it in doubt.
    fn even(hz: f64, middle: f64, waves: Vec<[f64; 2]>) -> Self {
        let unknowns = 2 * waves.len() + 2;
        Self {
            hz,
            drift: 0.0,
            middle,
            path: None,
            waves,
            covariance: DMatrix::zeros(unknowns, unknowns),
            level: 1.0,
            open: 1.0,
            left: 0.0,
        }
    }

    /// Cosine and sine of the fundamental.
    fn phase(&self, time: f64) -> (f64, f64) {
        let since = time - self.middle;
        let turns = since * (self.hz + 0.5 * self.drift * since) + self.turns_beside(time);
        let (sin, cos) = (TAU * turns.fract()).sin_cos();
        (cos, sin)
    }

    /// Turns beside the even phase.
    fn turns_beside(&self, time: f64) -> f64 {
        self.path.as_ref().map_or(0.0, |it| it.turns(time))
    }

    /// Whether its phase at a time is known well enough to tell what is missing of it.
    fn knows_phase(&self, time: f64) -> bool {
        let vague = |it: &Path| it.variance(time) > pieces::VAGUE.powi(2);
        !self.path.as_ref().is_some_and(vague)
    }

    /// The light against its mean, at a time of the recording in seconds.
    pub(crate) fn light(&self, time: f64) -> f64 {
        self.shines(time).0
    }

    /// The light against its mean, and what it changes by a radian of its phase.
    fn shines(&self, time: f64) -> (f64, f64) {
        let (cos, sin) = self.phase(time);
        let (mut x, mut y) = (cos, sin);
        let (mut light, mut turning, mut k) = (1.0, 0.0, 0.0);
        for [a, b] in &self.waves {
            k += 1.0;
            light += a * x + b * y;
            turning += k * (b * x - a * y);
            (x, y) = (x * cos - y * sin, x * sin + y * cos);
        }
        (light, turning)
    }

    /// The strongest harmonic.
    pub(crate) fn strongest(&self) -> Flicker {
        let amplitudes = self.waves.iter().map(|[a, b]| a.hypot(*b));
        let strongest = (1..)
            .zip(amplitudes)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or((1, 0.0));
        Flicker {
            hz: (self.hz + self.path.as_ref().map_or(0.0, Path::hz)) * f64::from(strongest.0),
            depth: strongest.1,
        }
    }

    /// Root mean square of the swing against the mean light.
    pub(crate) fn swing(&self) -> f64 {
        let square: f64 = self.waves.iter().map(|[a, b]| a * a + b * b).sum();
        (0.5 * square).sqrt()
    }

    /// The least light over a swing, against the mean.
    fn least(&self) -> f64 {
        let parts = 8 * self.waves.len().max(8);
        let at = |n: usize| self.light(self.middle + n as f64 / (parts as f64 * self.hz));
        (0..parts).map(at).fold(f64::MAX, f64::min)
    }

    /// By how much the division raises the noise of the sum of these samples.
    pub(crate) fn raises_noise(&self, samples: impl Iterator<Item = usize>, dt: f64) -> f64 {
        if !self.divides() {
            // Least squares over whole swings leave the sum as it was.
            return 1.0;
        }
        let (mut squares, mut count) = (0.0, 0.0);
        for n in samples {
            squares += self.light(n as f64 * dt).powi(-2);
            count += 1.0;
        }
        if count > 0.0 {
            f64::sqrt(squares / count)
        } else {
            1.0
        }
    }

    /// Whether samples are divided by the light, which stays bright enough for it.
    fn divides(&self) -> bool {
        self.least() > LEAST_LIGHT
    }

    /// Standard uncertainty of the light's mean over a time, against the mean light.
    pub(crate) fn deviation(&self, from: f64, to: f64) -> f64 {
        let steps = 16;
        let mut mean = DVector::zeros(self.covariance.nrows());
        let mut turning = 0.0;
        for n in 0..steps {
            let time = from + (to - from) * (f64::from(n) + 0.5) / f64::from(steps);
            let mut row = vec![0.0; mean.len()];
            turning += self.slopes(time, &mut row) / f64::from(steps);
            mean += DVector::from_vec(row) / f64::from(steps);
        }
        let variance = mean.dot(&(&self.covariance * &mean)).max(0.0);
        let astray = self.path.as_ref().map_or(0.0, |path| {
            let turns = path.variance(0.5 * (from + to)).sqrt();
            // Of any phase at all the light is off by the difference of two, at most.
            (TAU * turning.abs() * turns).min(SQRT_2 * self.swing())
        });
        variance.sqrt().hypot(astray)
    }

    /// Standard uncertainty of the effective time from one flank of so many seconds, in seconds: while the
    /// lamp is dark the blades move unseen, and over a swing their way is taken as straight. Of recordings
    /// under lamps dark for a part of each swing the errors were [`HIDDEN`] times what that alone comes to.
    pub(crate) fn hides(&self, flank: f64) -> f64 {
        if self.divides() || flank <= 0.0 {
            return 0.0;
        }
        let swing = (1.0 / self.hz).min(flank);
        HIDDEN * self.swing() * swing * swing / (12.0 * flank)
    }

    /// How the light depends on `waves`, `hz` and `drift`; what it changes by a radian of its phase.
    fn slopes(&self, time: f64, row: &mut [f64]) -> f64 {
        let (cos, sin) = self.phase(time);
        let (mut x, mut y) = (cos, sin);
        let mut turning = 0.0;
        let mut k = 0.0;
        for ([a, b], pair) in self.waves.iter().zip(row.chunks_exact_mut(2)) {
            k += 1.0;
            pair[0] = x;
            pair[1] = y;
            turning += k * (b * x - a * y);
            (x, y) = (x * cos - y * sin, x * sin + y * cos);
        }
        let since = time - self.middle;
        if let [.., hz, drift] = row {
            *hz = TAU * since * turning;
            *drift = 0.5 * TAU * since * since * turning;
        }
        turning
    }
}

/// Looks for the lamp's swing in the plateaus of all shots together. `before` is what was already taken
/// off the samples.
pub(crate) fn find(
    signal: &Signal<'_>,
    shots: &[Local],
    poles: Poles,
    before: Option<&Lamp>,
) -> Option<Lamp> {
    let Seen {
        opens,
        darks,
        level,
    } = seen(signal, shots, poles, before)?;
    let noise = signal.noise / level;
    let lamp = match before {
        Some(before) => again(&opens, before, signal.dt, noise)?,
        None => {
            let hz = seek::strongest(&opens, &darks, signal.dt, noise)?;
            let lamp = fit::first(&opens, hz, signal.dt, noise)?;
            let lamp = lamp.through(poles);
            seek::is_everywhere(&opens, &lamp, signal.dt, noise).then_some(lamp)?
        }
    };
    let open = level * lamp.level;
    Some(Lamp { open, ..lamp })
}

/// The lamp near the one found before, or at another frequency that explains more: shots fired at even intervals
/// leave it in doubt until the plateaus are seen well.
fn again(opens: &[Open], before: &Lamp, dt: f64, noise: f64) -> Option<Lamp> {
    let anew = || fit::first(opens, seek::near(opens, before.hz, dt, noise)?, dt, noise);
    let Some(near) = fit::refined(opens, before, dt, noise) else {
        return anew();
    };
    if near.left <= 0.0 {
        return Some(near);
    }
    let better = anew().filter(|it| it.left < BETTER * near.left);
    better.or(Some(near))
}

/// What is looked at.
struct Seen {
    opens: Vec<Open>,
    /// The dark before each plateau, as far as that is long, against the light; none once the lamp is known.
    darks: Vec<Vec<f64>>,
    /// The light that the plateaus have in common.
    level: f64,
}

/// The plateaus, what lies beside them and the light that they have in common.
fn seen(signal: &Signal<'_>, shots: &[Local], poles: Poles, before: Option<&Lamp>) -> Option<Seen> {
    let most = (LONGEST_S / signal.dt) as usize;
    let mut found: Vec<(Open, f64)> = Vec::new();
    let mut darks: Vec<Vec<f64>> = Vec::new();
    for shot in shots.iter().filter(|it| it.regions.has_plateau()) {
        // Flicker at twice the mains' frequency would pass for hum: that is fitted to the dark alone.
        let dark_only = match before {
            Some(_) => None,
            None => shot
                .fit(poles)
                .and_then(|fit| shot.level(&fit))
                .map(|(level, _)| shot.with_flicker(signal, level)),
        };
        let shot = dark_only.as_ref().unwrap_or(shot);
        let Some(fit) = shot.fit(poles) else { continue };
        let Some((level, _)) = shot.level(&fit) else {
            continue;
        };
        let regions = &shot.regions;
        let range = regions.open..regions.second.min(regions.open + most);
        let whole = signal.samples.held_from(range);
        if whole.len() < LEAST_SAMPLES || level <= 0.0 || !level.is_finite() {
            continue;
        }
        let light: Vec<f64> = shot.plateau_over(signal, &fit, whole.clone());
        if light.iter().all(|value| value.is_finite()) {
            let from = whole.start;
            if before.is_none() {
                let dark = shot.departures(signal, &fit, 0, End::Last(light.len()));
                darks.extend(dark.iter().all(|it| it.is_finite()).then_some(dark));
            }
            found.push((Open { from, light }, level));
        }
    }
    let weight: f64 = found.iter().map(|it| it.0.light.len() as f64).sum();
    let level = found
        .iter()
        .map(|it| it.1 * it.0.light.len() as f64)
        .sum::<f64>()
        / weight;
    for (open, _) in &mut found {
        for (n, value) in (open.from..).zip(&mut open.light) {
            let taken = before.map_or(0.0, |lamp| lamp.light(n as f64 * signal.dt) - 1.0);
            *value = *value / level - 1.0 + taken;
        }
    }
    for value in darks.iter_mut().flatten() {
        *value /= level;
    }
    (level > 0.0 && level.is_finite()).then(|| Seen {
        opens: found.into_iter().map(|it| it.0).collect(),
        darks,
        level,
    })
}

impl Lamp {
    /// The light's swing where this is the coupled signal's: a wave passes poles with a gain of
    /// `Π jω/(jω + p)`.
    fn through(mut self, poles: Poles) -> Self {
        let hz = self.hz;
        for (k, [a, b]) in (1..).zip(&mut self.waves) {
            let omega = TAU * hz * f64::from(k);
            // a cos + b sin is the real part of (a - jb) e^jθ; dividing by the gain multiplies by
            // 1 - jp/ω for each pole.
            let (mut re, mut im) = (*a, -*b);
            for pole in [poles.first, poles.last] {
                let lag = pole / omega;
                (re, im) = (re + im * lag, im - re * lag);
            }
            (*a, *b) = (re, -im);
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::Gauss;

    const DT: f64 = 1.0 / 48_000.0;
    const NOISE: f64 = 0.004;

    /// Twelve short plateaus, unevenly spaced over some 20 s.
    fn opens(light: impl Fn(f64) -> f64) -> Vec<Open> {
        let mut gauss = Gauss::new(21);
        (0..12_u32)
            .map(|n| {
                let from =
                    (48_000.0 * (0.7 + 1.63 * f64::from(n) + 0.3 * gauss.uniform())) as usize;
                let length = 600 + 60 * n as usize;
                let light = (from..from + length)
                    .map(|k| light(k as f64 * DT) - 1.0 + NOISE * gauss.normal())
                    .collect();
                Open { from, light }
            })
            .collect()
    }

    fn found(opens: &[Open]) -> Option<Lamp> {
        let hz = seek::strongest(opens, &[], DT, NOISE)?;
        let lamp = fit::first(opens, hz, DT, NOISE)?;
        seek::is_everywhere(opens, &lamp, DT, NOISE).then_some(lamp)
    }

    #[test]
    fn plateaus_of_a_swing_or_two_together_show_the_lamp() {
        let mains = |time: f64| {
            let turned = TAU * 100.03 * time;
            1.0 + 0.05 * (turned + 0.4).sin() + 0.01 * (2.0 * turned).cos()
        };
        let lamp = found(&opens(mains)).unwrap();
        let Flicker { hz, depth } = lamp.strongest();
        assert!((depth - 0.05).abs() < 0.001, "{depth}");
        assert!((hz - 100.03).abs() < 0.002, "{hz}");
        // Between the plateaus too, and as well as it says.
        for n in 0..40 {
            let time = 1.0 + 0.45 * f64::from(n);
            let off = (lamp.light(time) - mains(time)).abs();
            assert!(off < 0.002, "{off} at {time} s");
            let stated = lamp.deviation(time, time);
            assert!((1e-5..1e-3).contains(&stated), "{stated} at {time} s");
        }
    }

    #[test]
    fn a_steady_light_has_no_lamp() {
        assert!(found(&opens(|_| 1.0)).is_none());
    }

    #[test]
    fn ringing_in_one_plateau_is_no_lamp() {
        let mut opens = opens(|_| 1.0);
        for (n, value) in (0..).zip(&mut opens[7].light) {
            let since = f64::from(n) * DT;
            *value += 0.3 * (-since / 4e-3).exp() * (TAU * 800.0 * since).sin();
        }
        assert!(found(&opens).is_none());
    }

    #[test]
    fn noise_that_is_divided_by_the_light_rises_as_told() {
        let lamp = |depth: f64| Lamp::even(4_700.0, 0.0, vec![[depth, 0.0]]);
        let mut gauss = Gauss::new(22);
        for depth in [0.0, 0.3, 0.6] {
            let lamp = lamp(depth);
            let runs = 2_000_i32;
            let mut squares = 0.0;
            for _ in 0..runs {
                let divided = |n: i32| gauss.normal() / lamp.light(f64::from(n) * DT);
                squares += (0..60).map(divided).sum::<f64>().powi(2);
            }
            let rms = (squares / f64::from(runs) / 60.0).sqrt();
            let told = lamp.raises_noise(0..60, DT);
            assert!((told / rms - 1.0).abs() < 0.06, "{depth}: {told} for {rms}");
        }
        // Darker than that it is not divided by.
        assert!((lamp(0.9).raises_noise(0..60, DT) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_wave_behind_the_coupling_is_put_right() {
        let light = Lamp::even(100.0, 0.0, vec![[0.05, 0.0]]);
        let (pole, omega) = (TAU * 20.0, TAU * 100.0);
        // jω/(jω + p) of a cosine.
        let gain = 1.0 / (1.0 + (pole / omega).powi(2));
        let behind = Lamp {
            waves: vec![[0.05 * gain, -0.05 * gain * pole / omega]],
            ..light
        };
        let [a, b] = behind.through(Poles::one(pole)).waves[0];
        assert!((a - 0.05).abs() < 1e-12, "{a}");
        assert!(b.abs() < 1e-12, "{b}");
    }
}
