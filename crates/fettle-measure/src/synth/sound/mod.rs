//! The sounds of cameras that never were, in a room with a microphone.
//!
//! Every mechanical event is a burst of damped resonances, as an impact on a small metal structure
//! gives. Light passes half open at a moment within the blades' travel that the click does not
//! show: the truth holds both.

mod camera;
mod noise;
mod voice;

pub use camera::{SoundCamera, SoundKind, SoundOf};

use super::{Gauss, Hum};
use crate::{Decibels, Hertz, Recording, RecordingError, Seconds};

/// One release.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoundFiring {
    /// When half the light passes on opening.
    pub at: Seconds,
    /// Until half the light passes on closing.
    pub lasting: Seconds,
}

/// The room and the recorder.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// Samples a second.
    pub sample_rate: Hertz,
    /// Bits of each sample; `None` leaves them unrounded.
    pub bits: Option<u8>,
    /// Peak of the opening click against full scale.
    pub gain: f64,
    /// White noise: rms against the opening click's peak.
    pub noise: Decibels,
    /// Noise that falls with frequency, likewise, above 20 Hz.
    pub rumble: Option<Decibels>,
    /// Mains hum, amplitudes against the opening click's peak.
    pub hum: Option<Hum>,
    /// Single echoes: delay and factor.
    pub echoes: Vec<(Seconds, f64)>,
    /// Diffuse reverberation: level right after a click, and the time to fall by 60 dB.
    pub reverberation: Option<(Decibels, Seconds)>,
    /// Knocks: when, and against the opening click.
    pub knocks: Vec<(Seconds, Decibels)>,
    /// Whether knocks are as metallic as the camera's own clicks.
    pub hard_knocks: bool,
    /// Speech: from, to, and rms against the opening click's peak.
    pub speech: Vec<(Seconds, Seconds, Decibels)>,
    /// Whether a gate silences all that is quiet.
    pub gate: bool,
}

/// A recording of sound to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundScene {
    /// The camera.
    pub camera: SoundCamera,
    /// Its releases.
    pub firings: Vec<SoundFiring>,
    /// Room and recorder.
    pub room: Room,
    /// How long is recorded.
    pub lasting: Seconds,
    /// Fixes everything left to chance.
    pub seed: u64,
}

/// A recording of sound and what was really there.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundTake {
    /// Samples, ±1 full scale.
    pub samples: Vec<f32>,
    /// Samples a second.
    pub sample_rate: Hertz,
    /// Bits of each sample.
    pub bits: Option<u8>,
    /// Every click in the order of time: its onset and what made it.
    pub clicks: Vec<(Seconds, SoundOf)>,
}

impl Default for Room {
    fn default() -> Self {
        Self {
            sample_rate: Hertz::hz(48_000.0),
            bits: Some(16),
            gain: 0.4,
            noise: Decibels::db(-55.0),
            rumble: Some(Decibels::db(-45.0)),
            hum: None,
            echoes: vec![(Seconds::ms(2.7), 0.2), (Seconds::ms(9.1), 0.06)],
            reverberation: Some((Decibels::db(-32.0), Seconds::s(0.35))),
            knocks: Vec::new(),
            hard_knocks: false,
            speech: Vec::new(),
            gate: false,
        }
    }
}

impl SoundScene {
    /// Makes the recording.
    #[must_use]
    pub fn record(&self) -> SoundTake {
        let rate = self.room.sample_rate.to_hz();
        let count = (self.lasting.to_s() * rate).max(0.0) as usize;
        let mut gauss = Gauss::new(self.seed);
        let mut samples = vec![0.0; count];
        let clicks = self
            .camera
            .sounds(&self.firings, &self.room, &mut samples, &mut gauss);
        for (from, to, level) in &self.room.speech {
            noise::speak(
                &mut samples,
                rate,
                [from.to_s(), to.to_s()],
                ratio(*level),
                &mut gauss,
            );
        }
        noise::background(&mut samples, &self.room, &mut gauss);
        if self.room.gate {
            noise::gate(&mut samples, rate, 12.0 * ratio(self.room.noise));
        }
        let gain = self.room.gain;
        let quantised = samples
            .into_iter()
            .map(|sample| super::quantise(gain * sample, self.room.bits));
        SoundTake {
            samples: quantised.collect(),
            sample_rate: self.room.sample_rate,
            bits: self.room.bits,
            clicks,
        }
    }
}

impl SoundTake {
    /// The recording as it would be read from a file.
    ///
    /// # Errors
    /// When the rate lies beyond what a recording may have.
    pub fn into_recording(self, name: &str) -> Result<Recording, RecordingError> {
        Recording::from_samples(name, self.sample_rate, &[self.samples], self.bits)
    }
}

fn ratio(level: Decibels) -> f64 {
    10_f64.powf(level.to_db() / 20.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scene() -> SoundScene {
        SoundScene {
            camera: SoundCamera::default(),
            firings: vec![SoundFiring {
                at: Seconds::s(0.5),
                lasting: Seconds::s(0.25),
            }],
            room: Room::default(),
            lasting: Seconds::s(1.2),
            seed: 3,
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_sound() {
        assert_eq!(scene().record(), scene().record());
    }

    #[test]
    fn nothing_sounds_before_its_onset() {
        let mut quiet = scene();
        quiet.room.noise = Decibels::db(-200.0);
        quiet.room.rumble = None;
        let take = quiet.record();
        let onset = take.clicks[0].0.to_s();
        let before = (onset * 48_000.0) as usize;
        assert!(take.samples[..before].iter().all(|sample| *sample == 0.0));
        let peak = take.samples[before..before + 200]
            .iter()
            .fold(0.0_f32, |most, sample| most.max(sample.abs()));
        assert!((0.02..0.5).contains(&peak), "{peak}");
    }

    #[test]
    fn a_mirror_sounds_before_opening_and_after_closing() {
        let mut slr = scene();
        slr.camera.kind = SoundKind::Mirror;
        let order: Vec<SoundOf> = slr.record().clicks.iter().map(|click| click.1).collect();
        let want = [
            SoundOf::MirrorUp,
            SoundOf::Opening,
            SoundOf::Closing,
            SoundOf::MirrorDown,
        ];
        assert_eq!(order, want);
    }
}
