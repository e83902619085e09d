//! A focal-plane shutter: two curtains, and sensors along the gate.

use super::contact::Contact;
use super::{Chain, Opening, record_contacts, samples};
use crate::{Hertz, Millimetres, Recording, RecordingError, Seconds, Stops};

/// Strips that a sensor is cut into for its truth.
const STRIPS: usize = 2_000;
/// Steps of the truth's integral over a bounce.
const BOUNCE_STEPS: usize = 4_000;

/// How one curtain's edge runs: `x = v t + a t²/2`, counted from the gate's near edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurtainRun {
    /// Speed at the gate's near edge, in millimetres a millisecond.
    pub mm_per_ms: f64,
    /// How it gathers speed, in millimetres a millisecond squared.
    pub mm_per_ms2: f64,
}

/// The second curtain springs back from its stop and uncovers the gate's end again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurtainBounce {
    /// How far it comes back.
    pub depth: Millimetres,
    /// How long that lasts.
    pub lasting: Seconds,
}

/// The gate behind the curtains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FocalPlane {
    /// Width along the curtains' travel.
    pub gate: Millimetres,
    /// How far behind the gate the second curtain stops.
    pub overrun: Millimetres,
}

/// A light sensor behind the gate, wholly within it, and what its channel does to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensor {
    /// The place of its middle, from the edge where the curtains start.
    pub x: Millimetres,
    /// Its width along the curtains' travel.
    pub width: Millimetres,
    /// Whether it is round; square otherwise.
    pub round: bool,
    /// Its channel.
    pub chain: Chain,
}

/// One release of the shutter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Release {
    /// When the first curtain passes the gate's near edge.
    pub at: Seconds,
    /// How much later the second one passes it.
    pub slit: Seconds,
    /// How the first curtain runs.
    pub first: CurtainRun,
    /// How the second curtain runs.
    pub second: CurtainRun,
    /// The second curtain's bounce.
    pub bounce: Option<CurtainBounce>,
    /// The flash contact, its time counted from `at`; `None` when it stays open.
    pub contact: Option<Contact>,
}

/// A recording to be made with several sensors, all at the first one's rate.
#[derive(Clone, Debug, PartialEq)]
pub struct FocalScene {
    /// The gate.
    pub shutter: FocalPlane,
    /// In the order of time and not overlapping.
    pub releases: Vec<Release>,
    /// One channel each, in this order.
    pub sensors: Vec<Sensor>,
    /// The channel of the flash contact, after those of the sensors.
    pub contact: Option<Chain>,
    /// How long is recorded.
    pub lasting: Seconds,
    /// Fixes noise and phases.
    pub seed: u64,
}

/// A recording made, and the truth of each release.
#[derive(Clone, Debug, PartialEq)]
pub struct FocalTake {
    /// Samples of each channel, ±1 full scale.
    pub channels: Vec<Vec<f32>>,
    /// Samples a second.
    pub sample_rate: Hertz,
    /// Bits of each sample; `None` when not rounded.
    pub bits: Option<u8>,
    /// The truth of each release, in the order of time.
    pub truth: Vec<FocalTruth>,
}

/// What was really there in one release.
#[derive(Clone, Debug, PartialEq)]
pub struct FocalTruth {
    /// When the first curtain reaches each sensor's middle.
    pub uncovered: Vec<Seconds>,
    /// `∫E/E0` at each sensor, a bounce included; zero where the slit has closed.
    pub effective: Vec<Seconds>,
    /// The first curtain's travel over the gate.
    pub first_travel: Seconds,
    /// The second curtain's travel over the gate.
    pub second_travel: Seconds,
    /// Exposure at the far edge against the near; `None` when the slit closes within the gate.
    pub evenness: Option<Stops>,
    /// Where the slit closes within the gate.
    pub capped_from: Option<Millimetres>,
    /// The flash, when the contact closes.
    pub flash: Option<FlashTruth>,
}

/// The contact against the curtains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlashTruth {
    /// From the contact to the first curtain's passing the far edge.
    pub delay: Seconds,
    /// From the contact to the second curtain's passing the near edge.
    pub open_after: Seconds,
    /// Whether the whole gate is open at one moment.
    pub fully_open: bool,
}

impl CurtainRun {
    /// Seconds from the near edge to `x`; `None` when the curtain stops before it.
    #[must_use]
    pub fn seconds_to(&self, x: Millimetres) -> Option<f64> {
        let (v, a, x) = (self.mm_per_ms, self.mm_per_ms2, x.to_mm());
        let inside = v * v + 2.0 * a * x;
        (inside > 0.0).then(|| 2e-3 * x / (v + inside.sqrt()))
    }

    /// Millimetres from the near edge after `time` seconds.
    fn place(&self, time: f64) -> f64 {
        let (v, a, t) = (self.mm_per_ms, self.mm_per_ms2, 1e3 * time);
        let turns = -v / a;
        if a > 0.0 && t < turns {
            f64::NEG_INFINITY
        } else {
            let t = if a < 0.0 { t.min(turns) } else { t };
            v * t + 0.5 * a * t * t
        }
    }

    fn reaches(&self, x: f64) -> f64 {
        self.seconds_to(Millimetres::mm(x)).unwrap_or(f64::INFINITY)
    }
}

impl Sensor {
    /// The part of its area on the near side of `x`.
    fn uncovered_by(&self, x: f64) -> f64 {
        let from_middle = (x - self.x.to_mm()) / (0.5 * self.width.to_mm());
        let d = from_middle.clamp(-1.0, 1.0);
        if self.round {
            0.5 + (d * (1.0 - d * d).sqrt() + d.asin()) / std::f64::consts::PI
        } else {
            0.5 + 0.5 * d
        }
    }
}

/// One release as one sensor sees it.
struct Seen<'a> {
    sensor: &'a Sensor,
    release: &'a Release,
    /// When the second curtain hits its stop.
    stopped: f64,
    /// The stop's place.
    stop: f64,
    /// When the light changes.
    moving: Vec<(f64, f64)>,
    end: f64,
}

impl<'a> Seen<'a> {
    fn new(sensor: &'a Sensor, release: &'a Release, shutter: &FocalPlane) -> Self {
        let half = 0.5 * sensor.width.to_mm();
        let (near, far) = (sensor.x.to_mm() - half, sensor.x.to_mm() + half);
        let stop = (shutter.gate + shutter.overrun).to_mm();
        let slit = release.slit.to_s();
        let stopped = slit + release.second.reaches(stop);
        let mut moving = vec![
            (release.first.reaches(near), release.first.reaches(far)),
            (
                slit + release.second.reaches(near),
                slit + release.second.reaches(far),
            ),
        ];
        if let Some(bounce) = release.bounce {
            moving.push((stopped, stopped + bounce.lasting.to_s()));
        }
        let end = moving.iter().fold(0.0_f64, |end, it| end.max(it.1));
        Self {
            sensor,
            release,
            stopped,
            stop,
            moving,
            end,
        }
    }

    fn second_edge(&self, time: f64) -> f64 {
        let since = time - self.stopped;
        if since <= 0.0 {
            return self.release.second.place(time - self.release.slit.to_s());
        }
        self.release.bounce.map_or(self.stop, |bounce| {
            let part = (since / bounce.lasting.to_s()).min(1.0);
            self.stop - bounce.depth.to_mm() * (std::f64::consts::PI * part).sin().powi(2)
        })
    }

    /// `∫E/E0`: strip by strip from uncovering to covering, and the bounce's light.
    fn effective(&self) -> f64 {
        let width = self.sensor.width.to_mm();
        let near = self.sensor.x.to_mm() - 0.5 * width;
        let slit = self.release.slit.to_s();
        let edge = |i: usize| near + width * i as f64 / STRIPS as f64;
        let plain: f64 = (0..STRIPS)
            .map(|i| {
                let part =
                    self.sensor.uncovered_by(edge(i + 1)) - self.sensor.uncovered_by(edge(i));
                let x = 0.5 * (edge(i) + edge(i + 1));
                let open = slit + self.release.second.reaches(x) - self.release.first.reaches(x);
                part * open.max(0.0)
            })
            .sum();
        let again = self.release.bounce.map_or(0.0, |bounce| {
            let step = bounce.lasting.to_s() / BOUNCE_STEPS as f64;
            let area = |i: usize| self.area(self.stopped + (i as f64 + 0.5) * step);
            step * (0..BOUNCE_STEPS).map(area).sum::<f64>()
        });
        plain + again
    }
}

impl Opening for Seen<'_> {
    fn area(&self, time: f64) -> f64 {
        let first = self.sensor.uncovered_by(self.release.first.place(time));
        let second = self.sensor.uncovered_by(self.second_edge(time));
        (first - second).max(0.0)
    }

    fn is_steady(&self, from: f64, to: f64) -> bool {
        self.moving
            .iter()
            .all(|(start, end)| to <= *start || from >= *end)
    }

    fn end(&self) -> f64 {
        self.end
    }
}

impl Release {
    fn truth(&self, scene: &FocalScene) -> FocalTruth {
        let gate = scene.shutter.gate.to_mm();
        let slit = self.slit.to_s();
        let open_at = |x: f64| slit + self.second.reaches(x) - self.first.reaches(x);
        let capped_from = (0..=STRIPS)
            .map(|i| gate * i as f64 / STRIPS as f64)
            .find(|x| open_at(*x) <= 0.0);
        let near_edge = Seconds::s(open_at(0.0));
        let evenness = Seconds::s(open_at(gate)).error_against(near_edge);
        let full = self.first.reaches(gate);
        FocalTruth {
            uncovered: scene
                .sensors
                .iter()
                .map(|it| self.at + Seconds::s(self.first.reaches(it.x.to_mm())))
                .collect(),
            effective: scene
                .sensors
                .iter()
                .map(|it| Seconds::s(Seen::new(it, self, &scene.shutter).effective()))
                .collect(),
            first_travel: Seconds::s(full),
            second_travel: Seconds::s(self.second.reaches(gate)),
            evenness: evenness.filter(|_| capped_from.is_none()),
            capped_from: capped_from.map(Millimetres::mm),
            flash: self.contact.map(|contact| FlashTruth {
                delay: Seconds::s(full) - contact.at,
                open_after: self.slit - contact.at,
                fully_open: slit > full,
            }),
        }
    }
}

impl FocalScene {
    /// Makes the recording.
    #[must_use]
    pub fn record(&self) -> FocalTake {
        let mut channels: Vec<Vec<f32>> = Vec::new();
        for (sensor, number) in self.sensors.iter().zip(1_u64..) {
            let seen: Vec<(f64, Seen<'_>)> = self
                .releases
                .iter()
                .map(|it| (it.at.to_s(), Seen::new(sensor, it, &self.shutter)))
                .collect();
            let seed = self.channel_seed(number);
            channels.push(samples(&sensor.chain, self.lasting, seed, &seen));
        }
        if let Some(chain) = &self.contact {
            let closings: Vec<Contact> = self
                .releases
                .iter()
                .filter_map(|it| it.contact.map(|contact| (it.at, contact)))
                .map(|(at, contact)| Contact {
                    at: at + contact.at,
                    ..contact
                })
                .collect();
            let seed = self.channel_seed(0);
            channels.push(record_contacts(chain, self.lasting, seed, &closings));
        }
        let first = self.sensors.first().map(|it| &it.chain);
        let first = first.or(self.contact.as_ref()).cloned().unwrap_or_default();
        FocalTake {
            channels,
            sample_rate: first.sample_rate,
            bits: first.bits,
            truth: self.releases.iter().map(|it| it.truth(self)).collect(),
        }
    }

    /// Channels of one scene have noise of their own.
    fn channel_seed(&self, number: u64) -> u64 {
        self.seed.wrapping_mul(0x9E37_79B9).wrapping_add(number)
    }
}

impl FocalTake {
    /// The recording as it would be read from a file.
    ///
    /// # Errors
    /// When the rate lies beyond what a recording may have.
    pub fn into_recording(self, name: &str) -> Result<Recording, RecordingError> {
        Recording::from_samples(name, self.sample_rate, &self.channels, self.bits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scene(round: bool, slit: f64) -> FocalScene {
        let chain = Chain {
            snr: None,
            bits: None,
            ..Chain::default()
        };
        let sensor = |x: f64| Sensor {
            x: Millimetres::mm(x),
            width: Millimetres::mm(3.0),
            round,
            chain: chain.clone(),
        };
        FocalScene {
            shutter: FocalPlane {
                gate: Millimetres::mm(36.0),
                overrun: Millimetres::mm(2.0),
            },
            releases: vec![Release {
                at: Seconds::s(0.1),
                slit: Seconds::ms(slit),
                first: CurtainRun {
                    mm_per_ms: 2.0,
                    mm_per_ms2: 0.15,
                },
                second: CurtainRun {
                    mm_per_ms: 2.2,
                    mm_per_ms2: 0.15,
                },
                bounce: Some(CurtainBounce {
                    depth: Millimetres::mm(6.0),
                    lasting: Seconds::ms(3.0),
                }),
                contact: None,
            }],
            sensors: vec![sensor(3.0), sensor(18.0), sensor(33.0)],
            contact: None,
            lasting: Seconds::s(0.2),
            seed: 3,
        }
    }

    #[test]
    fn the_samples_of_each_sensor_sum_to_its_truth_whatever_the_slit() {
        for (round, slit) in [(false, 1.0), (true, 1.0), (false, 20.0), (true, 20.0)] {
            let take = scene(round, slit).record();
            for (channel, want) in take.channels.iter().zip(&take.truth[0].effective) {
                let sum: f64 = channel.iter().map(|sample| f64::from(*sample)).sum();
                let got = sum / 48_000.0 / 0.5;
                assert!((got - want.to_s()).abs() < 3e-7, "{got} for {want:?}");
            }
        }
    }

    #[test]
    fn a_slit_that_closes_gives_no_light_beyond() {
        let mut scene = scene(false, 0.4);
        scene.releases[0].bounce = None;
        let take = scene.record();
        let truth = &take.truth[0];
        let from = truth.capped_from.unwrap().to_mm();
        assert!(from > 3.0 && from < 33.0, "{from}");
        assert!(truth.effective[2].to_s().abs() < 1e-15);
        assert!(take.channels[2].iter().all(|sample| *sample == 0.0));
    }

    #[test]
    fn a_curtain_takes_as_long_as_its_motion_says() {
        let run = CurtainRun {
            mm_per_ms: 2.0,
            mm_per_ms2: 0.15,
        };
        let time = run.seconds_to(Millimetres::mm(36.0)).unwrap();
        assert!((run.place(time) - 36.0).abs() < 1e-9);
    }
}
