//! What was noticed about a recording, the session or a shot.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::LostAs;
use crate::{Decibels, Hertz, Marked, Millimetres, Seconds, Stops};

/// Something noticed, and where. In JSON one flat object: `{"kind":"hum","hz":50,"ratio":0.01,
/// "recording":"a.wav","channel":1}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// What was noticed.
    #[serde(flatten)]
    pub what: FindingKind,
    /// The recording it concerns; `None` for the whole session.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recording: Option<String>,
    /// The channel it concerns, counted from 1; `None` for all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel: Option<u16>,
}

/// What can be noticed. Recordings: the chain's properties and damage; session: patterns over the
/// dial (from [`SlowFirst`](Self::SlowFirst) on).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum FindingKind {
    /// The input does not pass steady light; undone before measuring.
    AcCoupled {
        /// Corner of the high-pass at -3 dB, of each pole; the geometric mean of two.
        corner_hz: Hertz,
        /// How many such poles, 1 or 2.
        poles: u8,
    },
    /// More light gives less voltage.
    Inverted,
    /// The dark level is not zero.
    Offset {
        /// The dark level as a part of full scale (volts for tables).
        level: f64,
    },
    /// The dark level wanders.
    Drift {
        /// The span of the dark level against the light's height.
        ratio: f64,
    },
    /// Mains hum; fitted on dark stretches and taken off.
    Hum {
        /// The mains frequency.
        hz: Hertz,
        /// The hum's amplitude against the light's height.
        ratio: f64,
    },
    /// The light itself flickers while the shutter is open.
    Flicker {
        /// Its frequency.
        hz: Hertz,
        /// Its amplitude against the mean light.
        depth: f64,
    },
    /// Noise enough to show in the uncertainty.
    Noise {
        /// The light's height against the rms noise.
        snr_db: Decibels,
    },
    /// The light reaches the end of the recorder's range, or a rail of what comes before it.
    Clipped,
    /// The sensor closes slower than it opens, as a saturated one does.
    Tail {
        /// Time constant of the closing tail.
        closing_s: Seconds,
    },
    /// The sensor is driven beyond its linear range, told from the form of the flanks; what it adds to a
    /// time is taken off as far as the flanks tell it.
    Overdriven,
    /// Automatic gain control is at work: times cannot be trusted.
    GainControl,
    /// Two channels carry the same signal.
    SameChannels,
    /// The recording went through a lossy codec, known by the form of its file or by noise that ends
    /// at a cliff well below half the sample rate; its times' uncertainty is wider for it.
    Lossy,
    /// Too few samples a second for the fastest mark.
    LowRate,
    /// Clicks that are no light, or of sound that belong to no release.
    Clicks,
    /// A channel without any signal, left out.
    DeadChannel,
    /// Samples that are no numbers; they spoil only the shots they touch.
    NotFinite {
        /// How many samples.
        samples: u64,
    },
    /// Samples are missing around a shot, which stays untold.
    LostSamples {
        /// From where on, on the recording's own clock.
        at_s: Seconds,
        /// How long the stretch is in which they are missing; 0 for a cut, which does not show it.
        lasts_s: Seconds,
        /// How it was found.
        lost_as: LostAs,
    },
    /// The header's lengths were zero or wrong and were worked out from the file's size.
    HeaderRepaired,
    /// The table's times are not evenly spaced; it was resampled.
    UnevenTime,
    /// The first shot at a mark, after a rest, is slower than those that follow.
    SlowFirst {
        /// The mark.
        marked: Marked,
        /// How many stops slower than the mean of the others.
        stops: Stops,
        /// Its expanded uncertainty; `None` in reports from before it was given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        uncertainty_stops: Option<Stops>,
    },
    /// Two neighbouring marks give the same time.
    Alike {
        /// The two marks, slower first.
        marks: [Marked; 2],
        /// How many stops they measure apart; `None` in reports from before it was given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stops: Option<Stops>,
        /// Its expanded uncertainty.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        uncertainty_stops: Option<Stops>,
    },
    /// No shot was made at this mark.
    Missing {
        /// The mark.
        marked: Marked,
    },
    /// All marks are longer than marked, by about as much.
    AllSlow {
        /// The marks, slowest first.
        marks: Vec<Marked>,
        /// By how many stops, their mean.
        stops: Stops,
        /// Its expanded uncertainty.
        uncertainty_stops: Stops,
    },
    /// All marks are shorter than marked, by about as much.
    AllFast {
        /// The marks, slowest first.
        marks: Vec<Marked>,
        /// By how many stops, their mean, negative.
        stops: Stops,
        /// Its expanded uncertainty.
        uncertainty_stops: Stops,
    },
    /// The slow speeds are longer against their marks than the rest of the dial.
    SlowEnd {
        /// The slow marks, slowest first.
        marks: Vec<Marked>,
        /// By how many stops more than the rest, their mean.
        stops: Stops,
        /// Its expanded uncertainty.
        uncertainty_stops: Stops,
    },
    /// The top speed, or the two fastest, are longer against their marks than the rest of the dial.
    TopSpeed {
        /// The fast marks, slowest first.
        marks: Vec<Marked>,
        /// By how many stops more than the rest, their mean.
        stops: Stops,
        /// Its expanded uncertainty.
        uncertainty_stops: Stops,
    },
    /// The shots at one mark scatter much against its tolerance.
    Scatter {
        /// The mark.
        marked: Marked,
        /// Twice their standard deviation: nineteen of twenty lie within it.
        stops: Stops,
        /// By how much it may be less, at 97.5 %.
        uncertainty_stops: Stops,
    },
    /// One end of the frame is exposed longer than the other.
    Uneven {
        /// The marks at which it is, slowest first.
        marks: Vec<Marked>,
        /// The far end against the near at the worst of them.
        stops: Stops,
        /// Its expanded uncertainty.
        uncertainty_stops: Stops,
    },
    /// The slit closes before the end of the gate.
    Capping {
        /// The marks at which it does, slowest first.
        marks: Vec<Marked>,
        /// From where on, at the earliest.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        capped_from_mm: Option<Millimetres>,
    },
    /// The shutter opens a second time.
    Bounce {
        /// The marks at which it does, slowest first.
        marks: Vec<Marked>,
        /// In how many shots.
        shots: u32,
    },
}

impl Finding {
    /// A finding about the session as a whole.
    #[must_use]
    pub const fn of_session(what: FindingKind) -> Self {
        Self {
            what,
            recording: None,
            channel: None,
        }
    }

    /// A finding about one recording, or one channel of it.
    #[must_use]
    pub fn of_recording(what: FindingKind, recording: &str, channel: Option<u16>) -> Self {
        Self {
            what,
            recording: Some(recording.to_owned()),
            channel,
        }
    }
}

/// What is to be kept in mind about one shot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flag {
    /// The signal reached the end of its range, or a rail before the recorder, during the shot.
    Clipped,
    /// The recording begins or ends within the shot.
    CutOff,
    /// The shutter never opened fully.
    NeverFullyOpen,
    /// The fully open level was taken from slower shots of the session.
    E0Borrowed,
    /// No shot shows the fully open level.
    E0Unknown,
    /// The shutter opened a second time, partly.
    Bounce,
    /// The slit is narrower than the sensor.
    NarrowSlit,
    /// The slit closed before the end of its travel.
    Capped,
    /// Another shot lies too near.
    Overlapping,
    /// Another mark fits about as well, or none does.
    MarkUncertain,
    /// Samples are missing within the shot or beside it.
    LostSamples,
    /// The time cannot be told.
    CannotTell,
}

impl fmt::Display for Flag {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Clipped => "clipped",
            Self::CutOff => "cut-off",
            Self::NeverFullyOpen => "never-fully-open",
            Self::E0Borrowed => "e0-borrowed",
            Self::E0Unknown => "e0-unknown",
            Self::Bounce => "bounce",
            Self::NarrowSlit => "narrow-slit",
            Self::Capped => "capped",
            Self::Overlapping => "overlapping",
            Self::MarkUncertain => "mark-uncertain",
            Self::LostSamples => "lost-samples",
            Self::CannotTell => "cannot-tell",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_is_one_flat_object() {
        let hum = FindingKind::Hum {
            hz: Hertz::hz(50.0),
            ratio: 0.25,
        };
        let json = serde_json::to_string(&Finding::of_recording(hum.clone(), "a.wav", Some(1)));
        let want = r#"{"kind":"hum","hz":50.0,"ratio":0.25,"recording":"a.wav","channel":1}"#;
        assert_eq!(json.unwrap(), want);
        let back: Finding = serde_json::from_str(want).unwrap();
        assert_eq!(back, Finding::of_recording(hum, "a.wav", Some(1)));
    }

    #[test]
    fn flags_print_as_in_json() {
        for flag in [
            Flag::E0Borrowed,
            Flag::CutOff,
            Flag::NeverFullyOpen,
            Flag::MarkUncertain,
        ] {
            assert_eq!(serde_json::to_string(&flag).unwrap(), format!("\"{flag}\""));
        }
    }
}
