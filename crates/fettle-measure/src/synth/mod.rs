//! Signal generator: recordings of shutters that never were, with the truth beside them.
//!
//! The light follows the blades' geometry, then passes sensor lag, coupling and recorder. The truth
//! comes from the blades' own motion, never from the samples.

mod chain;
mod contact;
mod cover;
mod focal;
mod hand;
mod leaf;
mod mechanism;
mod noise;
mod recorder;
mod sensor;
mod sound;
mod teeth;

pub use chain::{Chain, Flicker, Hum, Swing};
pub use contact::{Contact, record_contacts};
pub use focal::{
    CurtainBounce, CurtainRun, FlashTruth, FocalPlane, FocalScene, FocalTake, FocalTruth, Release,
    Sensor,
};
pub use hand::{HandScene, Uncovering};
pub use leaf::{Bounce, LeafShutter, Leaves};
pub use mechanism::{Mechanism, MechanismMake};
pub use recorder::{Codec, GainControl};
pub use sensor::{Click, Overdrive, Tail};
pub use sound::{Room, SoundCamera, SoundFiring, SoundKind, SoundOf, SoundScene, SoundTake};
pub use teeth::{TeethScene, TeethShot, ToothDamage, ToothTruth, ToothedPart};

use std::f64::consts::TAU;

use chain::{Amplifier, Analogue};
use leaf::Exposure;
pub(crate) use noise::Gauss;

use crate::{Hertz, Recording, RecordingError, Seconds};

/// What lets light through for a while: a shutter's opening as one sensor sees it.
pub(crate) trait Opening {
    /// The light as a part of the fully open light, `time` seconds after it began.
    fn area(&self, time: f64) -> f64;
    /// Whether it stands still from `from` to `to`.
    fn is_steady(&self, from: f64, to: f64) -> bool;
    /// When the last light is gone.
    fn end(&self) -> f64;
}

/// One firing of the shutter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Firing {
    /// When the first light comes through.
    pub at: Seconds,
    /// The effective time, a bounce not counted.
    pub effective: Seconds,
    /// A second opening, if any.
    pub bounce: Option<Bounce>,
}

/// A recording to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// The shutter.
    pub shutter: LeafShutter,
    /// Its firings, in the order of time and not overlapping.
    pub firings: Vec<Firing>,
    /// The measuring chain.
    pub chain: Chain,
    /// How long is recorded.
    pub lasting: Seconds,
    /// Fixes noise and phases.
    pub seed: u64,
}

/// What was really there at one firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Truth {
    /// When 1 % of the opening is first passed, in true time.
    pub start: Seconds,
    /// `∫E/E0`, a bounce included.
    pub effective: Seconds,
    /// Between the outermost 1 % crossings.
    pub total: Seconds,
    /// The greatest open area, 1 when fully open.
    pub peak: f64,
    exposure: Exposure,
}

/// A recording made, and the truth of each firing.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    /// Samples, ±1 full scale.
    pub samples: Vec<f32>,
    /// Samples a second.
    pub sample_rate: Hertz,
    /// Bits of each sample; `None` when not rounded.
    pub bits: Option<u8>,
    /// The truth of each firing, in the order fired.
    pub truth: Vec<Truth>,
}

impl Firing {
    /// A plain firing without bounce.
    #[must_use]
    pub const fn new(at: Seconds, effective: Seconds) -> Self {
        Self {
            at,
            effective,
            bounce: None,
        }
    }
}

impl Truth {
    /// The effective time with the lens stopped down from `fully_open_f` to `f`, bounce not
    /// counted: `(1/a) ∫ min(A, a) dt` with `a = (fully_open_f / f)²`.
    #[must_use]
    pub fn effective_at(&self, fully_open_f: f64, f: f64) -> Seconds {
        Seconds::s(
            self.exposure
                .effective_at((fully_open_f / f).powi(2).min(1.0)),
        )
    }

    /// From when to when more than `part` of the full area is open, in true time; `None` when it
    /// never is.
    #[must_use]
    pub fn open_beyond(&self, part: f64) -> Option<(Seconds, Seconds)> {
        let first_light = self.start - Seconds::s(self.exposure.crossings().0);
        let (from, to) = self.exposure.open_beyond(part)?;
        Some((first_light + Seconds::s(from), first_light + Seconds::s(to)))
    }
}

impl Scene {
    /// Makes the recording.
    #[must_use]
    pub fn record(&self) -> Take {
        let exposures: Vec<(f64, Exposure)> = self
            .firings
            .iter()
            .map(|it| (it.at.to_s(), self.shutter.expose(it.effective, it.bounce)))
            .collect();
        Take {
            samples: samples(&self.chain, self.lasting, self.seed, &exposures),
            sample_rate: self.chain.sample_rate,
            bits: self.chain.bits,
            truth: exposures.iter().map(|(at, it)| truth(*at, *it)).collect(),
        }
    }
}

/// What a recorder makes of openings, each with the time it begins, in the order of time.
fn samples<O: Opening>(
    chain: &Chain,
    lasting: Seconds,
    seed: u64,
    openings: &[(f64, O)],
) -> Vec<f32> {
    let mut gauss = Gauss::new(seed);
    let phases: Vec<f64> = (0..16).map(|_| TAU * gauss.uniform()).collect();
    let noise = chain
        .snr
        .map_or(0.0, |snr| 10_f64.powf(-snr.to_db() / 20.0));
    let step = (1.0 - chain.clock_ppm * 1e-6) / chain.sample_rate.to_hz();
    let count = (lasting.to_s() * chain.sample_rate.to_hz()).max(0.0) as usize;
    let mut analogue = Analogue::new(chain);
    let mut amplifier = Amplifier::of(chain);
    let mut current = 0;
    let mut voltages: Vec<f64> = (0..count)
        .map(|n| {
            let (from, to) = ((n as f64 - 1.0) * step, n as f64 * step);
            while openings
                .get(current)
                .is_some_and(|(at, it)| at + it.end() < from)
            {
                current += 1;
            }
            let near = &openings[current.min(openings.len())..];
            let near = &near[..near.iter().take_while(|(at, _)| *at < to).count()];
            let light = analogue.advance(from, step, near);
            let hiss = noise * gauss.normal();
            let voltage = match &mut amplifier {
                Some(it) => it.passes(light + hiss, step) + hum(chain, to, &phases),
                None => light + hum(chain, to, &phases) + hiss,
            };
            let clicks: f64 = chain.clicks.iter().map(|it| it.over(to, step)).sum();
            voltage + clicks + wander(chain, to / lasting.to_s(), &phases)
        })
        .collect();
    if let Some(control) = &chain.gain_control {
        control.apply(&mut voltages, step);
    }
    if let Some(codec) = &chain.codec {
        voltages = codec.apply(&voltages, chain.sample_rate.to_hz());
    }
    let sign = if chain.inverted { -1.0 } else { 1.0 };
    voltages
        .into_iter()
        .map(|voltage| quantise(chain.gain * sign * voltage + chain.offset, chain.bits))
        .collect()
}

fn hum(chain: &Chain, time: f64, phases: &[f64]) -> f64 {
    let Some(hum) = &chain.hum else {
        return 0.0;
    };
    let turns = chain::turns(hum.hz, hum.wanders, time);
    let harmonics = hum.amplitudes.iter().zip(phases).zip(1_i32..);
    harmonics
        .map(|((amplitude, phase), k)| amplitude * (TAU * f64::from(k) * turns + phase).sin())
        .sum()
}

/// Half a straight slope, half a slow wave, over the recording's parts from 0 to 1.
fn wander(chain: &Chain, part: f64, phases: &[f64]) -> f64 {
    if chain.drift == 0.0 {
        return 0.0;
    }
    chain.drift * 0.5 * (part + (TAU * 1.5 * part + phases[15]).sin())
}

impl Take {
    /// The recording as it would be read from a file.
    ///
    /// # Errors
    /// When the rate lies beyond what a recording may have.
    pub fn into_recording(self, name: &str) -> Result<Recording, RecordingError> {
        Recording::from_samples(name, self.sample_rate, &[self.samples], self.bits)
    }
}

fn truth(at: f64, exposure: Exposure) -> Truth {
    let (first, last) = exposure.crossings();
    Truth {
        start: Seconds::s(at + first),
        effective: Seconds::s(exposure.effective()),
        total: Seconds::s(last - first),
        peak: exposure.peak(),
        exposure,
    }
}

fn quantise(value: f64, bits: Option<u8>) -> f32 {
    match bits {
        Some(bits) => {
            let steps = f64::from(u32::from(bits.clamp(2, 32)) - 1).exp2();
            ((value * steps).round().clamp(-steps, steps - 1.0) / steps) as f32
        }
        None => value as f32,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Decibels;

    fn scene(chain: Chain) -> Scene {
        Scene {
            shutter: LeafShutter::default(),
            firings: vec![Firing::new(Seconds::s(0.2), Seconds::ms(4.0))],
            chain,
            lasting: Seconds::s(0.5),
            seed: 7,
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_samples() {
        let chain = Chain {
            snr: Some(Decibels::db(30.0)),
            ..Chain::default()
        };
        assert_eq!(
            scene(chain.clone()).record().samples,
            scene(chain).record().samples
        );
    }

    #[test]
    fn without_distortion_the_samples_sum_to_the_truth() {
        let chain = Chain {
            snr: None,
            bits: None,
            ..Chain::default()
        };
        let take = scene(chain).record();
        let sum: f64 = take.samples.iter().map(|sample| f64::from(*sample)).sum();
        let effective = sum / 48_000.0 / 0.5;
        assert!(
            (effective - take.truth[0].effective.to_s()).abs() < 2e-8,
            "{effective}"
        );
    }

    #[test]
    fn lag_leaves_the_integral_alone() {
        let chain = Chain {
            snr: None,
            bits: None,
            lag: Seconds::ms(0.2),
            ..Chain::default()
        };
        let sum: f64 = scene(chain)
            .record()
            .samples
            .iter()
            .map(|s| f64::from(*s))
            .sum();
        assert!((sum / 24_000.0 - 0.004).abs() < 2e-8, "{sum}");
    }

    #[test]
    fn a_coupled_recording_sums_to_nothing() {
        let chain = Chain {
            snr: None,
            bits: None,
            coupling: Some(Hertz::hz(20.0)),
            ..Chain::default()
        };
        let sum: f64 = scene(chain)
            .record()
            .samples
            .iter()
            .map(|s| f64::from(*s))
            .sum();
        assert!((sum / 24_000.0).abs() < 1e-7, "{sum}");
    }
}
