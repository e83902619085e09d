//! The sounds of cameras that never were: clicks, escapement, room and disturbances.
//!
//! Every mechanical event is a burst of damped resonances, as an impact on a small metal structure
//! gives. Light passes half open at a moment within the blades' travel that the click does not
//! show: the truth holds both.

use std::f64::consts::TAU;

use super::{Gauss, Hum};
use crate::{Decibels, Hertz, Recording, RecordingError, Seconds};

/// Resonances of one event's sound.
const RESONANCES: usize = 5;
/// Shutters slower than this run an escapement between opening and closing.
const ESCAPEMENT_FROM_S: f64 = 1.0 / 40.0;
/// A burst is followed until it has died away.
const BURST_S: f64 = 0.06;

/// How a camera sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SoundKind {
    /// A leaf shutter: opening and closing.
    Leaf,
    /// Curtains without a mirror: each curtain's arrival.
    Curtains,
    /// Curtains behind a mirror, which goes up before and comes down after.
    Mirror,
}

/// What makes a sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SoundOf {
    /// The mirror arrives at the top.
    MirrorUp,
    /// The blades or the first curtain.
    Opening,
    /// The blades or the second curtain.
    Closing,
    /// The mirror comes down.
    MirrorDown,
    /// The shutter is cocked.
    Cocking,
    /// Something knocks on the bench.
    Knock,
}

/// A camera heard.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundCamera {
    /// What moves in it.
    pub kind: SoundKind,
    /// Blades' travel, or what the curtains' travels differ by: each click stands somewhere within
    /// it, evenly likely, from half before to half after the moment of half the light.
    pub travel: Seconds,
    /// The escapement's ticks against the opening click; `None` for a silent one.
    pub escapement: Option<Decibels>,
    /// Mirror at the top to opening.
    pub mirror_up: Seconds,
    /// Closing to mirror down.
    pub mirror_down: Seconds,
    /// Cocking before each release; `None` when it is not heard.
    pub cocking: Option<Seconds>,
    /// Standard deviation of each click's level.
    pub level_spread: Decibels,
    /// The closing click against the opening click.
    pub closing_level: Decibels,
}

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

impl Default for SoundCamera {
    fn default() -> Self {
        Self {
            kind: SoundKind::Leaf,
            travel: Seconds::ms(3.0),
            escapement: Some(Decibels::db(-18.0)),
            mirror_up: Seconds::ms(60.0),
            mirror_down: Seconds::ms(40.0),
            cocking: None,
            level_spread: Decibels::db(1.5),
            closing_level: Decibels::db(0.0),
        }
    }
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

/// The resonances of one event.
#[derive(Clone, Debug)]
struct Voice {
    /// Frequency, decay time, amplitude, phase.
    parts: Vec<[f64; 4]>,
    attack: f64,
}

impl Voice {
    fn new(gauss: &mut Gauss, from_hz: f64, to_hz: f64, decays_s: [f64; 2]) -> Self {
        let between =
            |gauss: &mut Gauss, low: f64, high: f64| low * (high / low).powf(gauss.uniform());
        let parts = (0..RESONANCES)
            .map(|_| {
                let hz = between(gauss, from_hz, to_hz);
                let decay = between(gauss, decays_s[0], decays_s[1]);
                [hz, decay, between(gauss, 0.3, 1.0), TAU * gauss.uniform()]
            })
            .collect();
        Self {
            parts,
            attack: between(gauss, 2e-5, 1e-4),
        }
    }

    /// The same event once more: no two impacts are quite alike.
    fn again(&self, gauss: &mut Gauss) -> Self {
        let parts = self.parts.iter().map(|[hz, decay, amplitude, phase]| {
            [
                hz * (1.0 + 0.004 * gauss.normal()),
                decay * (0.1 * gauss.normal()).exp(),
                amplitude * (0.2 * gauss.normal()).exp(),
                phase + 0.3 * gauss.normal(),
            ]
        });
        Self {
            parts: parts.collect(),
            attack: self.attack,
        }
    }

    fn at(&self, time: f64) -> f64 {
        let rise = 1.0 - (-time / self.attack).exp();
        let sum: f64 = self
            .parts
            .iter()
            .map(|[hz, decay, amplitude, phase]| {
                amplitude * (-time / decay).exp() * (TAU * hz * time + phase).sin()
            })
            .sum();
        rise * sum / self.parts.iter().map(|part| part[2]).sum::<f64>()
    }
}

/// Adds bursts to samples.
struct Mixer<'a> {
    samples: &'a mut [f64],
    rate: f64,
    gauss: &'a mut Gauss,
}

impl Mixer<'_> {
    /// One burst at `at` seconds, its onset anywhere between two samples.
    fn burst(&mut self, voice: &Voice, at: f64, level: f64, room: &Room, lasting: f64) {
        let voice = voice.again(self.gauss);
        self.dry(&voice, at, level, lasting);
        for (delay, factor) in &room.echoes {
            self.dry(&voice, at + delay.to_s(), level * factor, lasting);
        }
        if let Some((diffuse, sixty)) = room.reverberation {
            let first = ((at + 3e-3) * self.rate) as usize;
            let count = (0.7 * sixty.to_s() * self.rate) as usize;
            let fall = -3.0 * std::f64::consts::LN_10 / (sixty.to_s() * self.rate);
            for (n, sample) in self.samples.iter_mut().skip(first).take(count).enumerate() {
                *sample += level * ratio(diffuse) * (fall * n as f64).exp() * self.gauss.normal();
            }
        }
    }

    fn dry(&mut self, voice: &Voice, at: f64, level: f64, lasting: f64) {
        let first = (at * self.rate).ceil().max(0.0) as usize;
        let count = (lasting * self.rate) as usize;
        for (n, sample) in self.samples.iter_mut().enumerate().skip(first).take(count) {
            *sample += level * voice.at(n as f64 / self.rate - at);
        }
    }
}

fn ratio(level: Decibels) -> f64 {
    10_f64.powf(level.to_db() / 20.0)
}

impl SoundScene {
    /// Makes the recording.
    #[must_use]
    pub fn record(&self) -> SoundTake {
        let rate = self.room.sample_rate.to_hz();
        let count = (self.lasting.to_s() * rate).max(0.0) as usize;
        let mut gauss = Gauss::new(self.seed);
        let mut samples = vec![0.0; count];
        let clicks = self.sounds(&mut samples, &mut gauss);
        for (from, to, level) in &self.room.speech {
            speak(
                &mut samples,
                rate,
                [from.to_s(), to.to_s()],
                ratio(*level),
                &mut gauss,
            );
        }
        self.background(&mut samples, &mut gauss);
        if self.room.gate {
            gate(&mut samples, rate, 12.0 * ratio(self.room.noise));
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

    fn sounds(&self, samples: &mut [f64], gauss: &mut Gauss) -> Vec<(Seconds, SoundOf)> {
        let camera = &self.camera;
        let metal = |gauss: &mut Gauss| Voice::new(gauss, 1.0e3, 1.2e4, [1e-3, 8e-3]);
        let [opening, closing, up, down, cocking, tick] = [(); 6].map(|()| metal(gauss));
        let wood = Voice::new(gauss, 150.0, 900.0, [8e-3, 4e-2]);
        let hard = metal(gauss);
        let mut clicks = Vec::new();
        let rate = self.room.sample_rate.to_hz();
        let mut mixer = Mixer {
            samples,
            rate,
            gauss,
        };
        for firing in &self.firings {
            let travel = camera.travel.to_s();
            let mut shift = || travel * (mixer.gauss.uniform() - 0.5);
            let open = firing.at.to_s() + shift();
            let close = firing.at.to_s() + firing.lasting.to_s() + shift();
            let mut events = vec![
                (open, SoundOf::Opening, &opening, 0.0),
                (
                    close,
                    SoundOf::Closing,
                    &closing,
                    camera.closing_level.to_db(),
                ),
            ];
            if camera.kind == SoundKind::Mirror {
                let wobble = 1.0 + 0.02 * mixer.gauss.normal();
                events.push((
                    open - wobble * camera.mirror_up.to_s(),
                    SoundOf::MirrorUp,
                    &up,
                    3.0,
                ));
                let after = close + wobble * camera.mirror_down.to_s();
                events.push((after, SoundOf::MirrorDown, &down, 2.0));
            }
            if let Some(before) = camera.cocking {
                events.push((open - before.to_s(), SoundOf::Cocking, &cocking, -4.0));
            }
            for (at, of, voice, level) in events {
                let level = level + camera.level_spread.to_db() * mixer.gauss.normal();
                mixer.burst(voice, at, ratio(Decibels::db(level)), &self.room, BURST_S);
                clicks.push((Seconds::s(at), of));
            }
            if let Some(level) = camera.escapement
                && firing.lasting.to_s() > ESCAPEMENT_FROM_S
            {
                let beat = 1.0 / (30.0 + 60.0 * mixer.gauss.uniform());
                let mut at = open + 6e-3 + 0.5 * beat;
                while at < close - 2e-3 {
                    let tick_level = level.to_db() + 1.5 * mixer.gauss.normal();
                    let voice = tick.again(mixer.gauss);
                    mixer.dry(&voice, at, ratio(Decibels::db(tick_level)), 0.02);
                    at += beat * (1.0 + 0.06 * mixer.gauss.normal());
                }
            }
        }
        for (at, level) in &self.room.knocks {
            let level = ratio(*level);
            if self.room.hard_knocks {
                mixer.burst(&hard, at.to_s(), level, &self.room, BURST_S);
            } else {
                mixer.burst(&wood, at.to_s(), level, &self.room, 4.0 * BURST_S);
                mixer.burst(&hard, at.to_s(), 0.12 * level, &self.room, BURST_S);
            }
            clicks.push((*at, SoundOf::Knock));
        }
        clicks.sort_by(|a, b| a.0.to_s().total_cmp(&b.0.to_s()));
        clicks
    }

    fn background(&self, samples: &mut [f64], gauss: &mut Gauss) {
        let room = &self.room;
        let rate = room.sample_rate.to_hz();
        let white = ratio(room.noise);
        let rumble = room.rumble.map_or(0.0, ratio);
        // Poles an octave and a half apart make a spectrum that falls as 1/f.
        let corners = [20.0, 57.0, 160.0, 452.0, 1280.0, 3620.0];
        let mut states = [0.0; 6];
        let phases: Vec<f64> = (0..16).map(|_| TAU * gauss.uniform()).collect();
        for (n, sample) in samples.iter_mut().enumerate() {
            *sample += white * gauss.normal();
            if rumble > 0.0 {
                for (state, corner) in states.iter_mut().zip(corners) {
                    let keep = (-TAU * corner / rate).exp();
                    let drive = (1.0 - keep * keep).sqrt();
                    *state = keep * *state + drive * gauss.normal();
                }
                *sample += rumble * states.iter().sum::<f64>() / 6_f64.sqrt();
            }
            if let Some(hum) = &room.hum {
                let turns = hum.hz.to_hz() * n as f64 / rate;
                let harmonics = hum.amplitudes.iter().zip(&phases).zip(1_i32..);
                *sample += harmonics
                    .map(|((amplitude, phase), k)| {
                        amplitude * (TAU * f64::from(k) * turns + phase).sin()
                    })
                    .sum::<f64>();
            }
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

/// Something like speech: voiced syllables through three formants, and hisses between them.
fn speak(samples: &mut [f64], rate: f64, range: [f64; 2], level: f64, gauss: &mut Gauss) {
    let mut at = range[0];
    while at < range[1] {
        let lasting = 0.08 + 0.2 * gauss.uniform();
        let pitch = 90.0 + 130.0 * gauss.uniform();
        let formants = [
            [300.0 + 500.0 * gauss.uniform(), 80.0, 1.0],
            [900.0 + 1200.0 * gauss.uniform(), 110.0, 0.5],
            [2300.0 + 600.0 * gauss.uniform(), 160.0, 0.3],
            [3300.0 + 700.0 * gauss.uniform(), 240.0, 0.15],
        ];
        let hiss = gauss.uniform() < 0.4;
        let mut rings = [[0.0; 2]; 4];
        let mut cycle = 0.0;
        let mut before = 0.0;
        let first = (at * rate) as usize;
        let count = (lasting * rate) as usize;
        for (n, sample) in samples.iter_mut().skip(first).take(count).enumerate() {
            let part = n as f64 / count as f64;
            let swell = (std::f64::consts::PI * part).sin().powf(0.5);
            cycle += pitch * (1.0 + 0.1 * part) / rate;
            let pulse = if cycle >= 1.0 { 1.0 } else { 0.0 };
            cycle -= pulse;
            let breath = 0.02 * gauss.normal();
            let source = if hiss {
                0.1 * gauss.normal()
            } else {
                6.0 * pulse + breath
            };
            let mut sum = 0.0;
            for (ring, [hz, width, weight]) in rings.iter_mut().zip(formants) {
                let radius = (-std::f64::consts::PI * width / rate).exp();
                let next = source + 2.0 * radius * (TAU * hz / rate).cos() * ring[0]
                    - radius * radius * ring[1];
                *ring = [next, ring[0]];
                sum += weight * next * hz / rate;
            }
            let voiced = if hiss { 3.0 * (source - before) } else { sum };
            before = source;
            *sample += level * swell * voiced;
        }
        at += lasting + 0.15 * gauss.uniform().powi(2);
    }
}

/// Silences what lies below `threshold`, 30 ms after the last loud sample.
fn gate(samples: &mut [f64], rate: f64, threshold: f64) {
    let hold = (0.03 * rate) as usize;
    let mut left = 0;
    for sample in samples {
        left = if sample.abs() > threshold {
            hold
        } else {
            left.saturating_sub(1)
        };
        if left == 0 {
            *sample = 0.0;
        }
    }
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
