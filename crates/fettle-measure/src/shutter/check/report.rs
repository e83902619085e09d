//! The result of a check of the chain.

use serde::{Deserialize, Serialize};

use super::super::poles::Poles;
use super::super::{Budget, Extent, Finding, NamedExtent};
use super::channel::Found;
use super::prove::bandwidth;
use crate::{Decibels, Hertz, Marked, Recording, Seconds, Stops, Verdict};

/// ISO 516: the light stays within this of its mean.
const STEADY: f64 = 0.05;

/// What recordings of a card moved by hand say about the chain that made them.
///
/// Its serde form is the JSON of `fettle shutter --check --json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChainCheck {
    /// The recordings taken together: rate and channels of the first, seconds of all.
    pub recording: Extent,
    /// Each recording in the order given.
    pub recordings: Vec<NamedExtent>,
    /// What was noticed.
    pub findings: Vec<Finding>,
    /// Each channel that saw the light.
    pub channels: Vec<ChannelCheck>,
}

/// The chain of one channel. Ratios are against the height of the held light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChannelCheck {
    /// The recording's name.
    pub recording: String,
    /// The channel, from 1.
    pub channel: u16,
    /// How often the light was held.
    pub held: u32,
    /// How long in all.
    pub lit_s: Seconds,
    /// The light's height against the end of the range; `None` where that is not known.
    pub light_of_full_scale: Option<f64>,
    /// White noise, rms, while covered.
    pub dark_noise: f64,
    /// White noise, rms, while lit.
    pub lit_noise: f64,
    /// The light's height against the greater of them.
    pub snr_db: Decibels,
    /// How the input passes steady light.
    pub coupling: Coupled,
    /// The lamp's flicker.
    pub flicker: Option<Flickers>,
    /// Mains hum.
    pub hum: Option<Hums>,
    /// The span of the dark level.
    pub drift: f64,
    /// The light from its least to its greatest, held once and from one time to the other.
    pub light_range: f64,
    /// Whether that is within 5 %, as ISO 516 asks.
    pub light: Verdict,
    /// Fastest rise between 10 and 90 %: the hand's and the chain's together.
    pub opening_s: Seconds,
    /// Fastest fall between 90 and 10 %.
    pub closing_s: Seconds,
    /// No single time constant of the chain is longer: an exponential fall from 90 to 10 % takes 2.2.
    pub lag_at_most_s: Seconds,
    /// What the faster of the two edges shows of the bandwidth; the chain may reach higher.
    pub bandwidth_at_least_hz: Hertz,
    /// Half the sample rate, where it surely ends.
    pub nyquist_hz: Hertz,
    /// Whether the recording reaches the end of its range.
    pub clipped: bool,
    /// Whether the noise shows that the gain was changed while recording.
    pub gain_control: bool,
    /// What can be proved of each mark, slowest first.
    pub marks: Vec<ProvedMark>,
}

/// How an input passes steady light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Coupled {
    /// Poles that block it, 0 to 2.
    pub poles: u8,
    /// The corner of each, slowest first.
    pub corners_hz: Vec<Hertz>,
    /// Relative expanded uncertainty (k = 2) of their sum, which is what a short exposure feels;
    /// `None` without poles.
    pub rel_u: Option<f64>,
    /// Without poles: a corner up to here could hide.
    pub hidden_hz: Option<Hertz>,
}

/// Flicker of the lamp.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flickers {
    /// Its frequency.
    pub hz: Hertz,
    /// Its amplitude against the mean light.
    pub depth: f64,
}

/// Mains hum.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hums {
    /// The mains frequency.
    pub hz: Hertz,
    /// The amplitude of all its harmonics together.
    pub ratio: f64,
}

/// What a chain can prove of one mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProvedMark {
    /// The mark.
    pub marked: Marked,
    /// The time it stands for.
    pub nominal_s: Seconds,
    /// The tolerance either way; `None` without one.
    pub limit_stops: Option<Stops>,
    /// A quarter of it: what the uncertainty may be.
    pub needed_stops: Option<Stops>,
    /// Expanded uncertainty (k = 2) of one shot through this chain; `None` for a mark not tried, above
    /// 4 s, or lost in the noise.
    pub uncertainty_stops: Option<Stops>,
    /// Whether it is within what is needed; `None` where that cannot be told.
    pub proves: Option<bool>,
    /// The greatest part of the uncertainty.
    pub largest: Option<String>,
    /// All its parts.
    pub budget: Option<Budget>,
    /// ISO 516: up to here the chain should respond within 3 dB, 100 over the time.
    pub needs_hz: Hertz,
    /// Whether it does: `undecided` where the hand was too slow to show it.
    pub upper: Verdict,
    /// What the coupling would take from the exposure if it were not undone, 0 or negative.
    pub uncorrected_stops: Stops,
    /// What is left of it after it was, as expanded uncertainty.
    pub corrected_stops: Option<Stops>,
}

/// A channel as it is told.
pub(super) fn of(
    recording: &Recording,
    channel: u16,
    found: &Found,
    marks: Vec<ProvedMark>,
) -> ChannelCheck {
    let range = found.light_range;
    ChannelCheck {
        recording: recording.name().to_owned(),
        channel,
        held: u32::try_from(found.held).unwrap_or(u32::MAX),
        lit_s: Seconds::s(found.lit_s),
        // Of integers the end of the range is 1; of volts it is not known.
        light_of_full_scale: recording.has_full_scale().then_some(found.level),
        dark_noise: found.dark_noise,
        lit_noise: found.lit_noise,
        snr_db: Decibels::from_amplitude_ratio(1.0 / found.noise().max(f64::MIN_POSITIVE)),
        coupling: coupled(found),
        flicker: found.flicker.map(|it| Flickers {
            hz: Hertz::hz(it.hz),
            depth: it.depth,
        }),
        hum: found.hum.as_ref().map(|it| Hums {
            hz: Hertz::hz(it.hz),
            ratio: it.amplitude,
        }),
        drift: found.drift,
        light_range: range,
        light: if range <= STEADY {
            Verdict::In
        } else {
            Verdict::Out
        },
        opening_s: Seconds::s(found.opening),
        closing_s: Seconds::s(found.closing),
        lag_at_most_s: Seconds::s(found.opening.min(found.closing) / 9.0_f64.ln()),
        bandwidth_at_least_hz: Hertz::hz(bandwidth(found)),
        nyquist_hz: recording.sample_rate() * 0.5,
        clipped: found.clipped,
        gain_control: found.gain_control,
        marks,
    }
}

fn coupled(found: &Found) -> Coupled {
    let coupling = found.coupling;
    let Poles { first, last } = coupling.poles;
    let mut corners: Vec<f64> = [first, last]
        .into_iter()
        .filter(|omega| *omega > 0.0)
        .map(|omega| omega / std::f64::consts::TAU)
        .collect();
    corners.sort_by(f64::total_cmp);
    let sum = coupling.poles.sum();
    let variance: f64 = coupling
        .beside
        .iter()
        .flatten()
        .map(|[below, above]| (0.5 * (above.sum() - below.sum())).powi(2))
        .sum();
    let hidden = coupling
        .beside
        .iter()
        .flatten()
        .map(|[_, above]| above.sum())
        .fold(0.0, f64::max);
    Coupled {
        poles: coupling.count(),
        corners_hz: corners.into_iter().map(Hertz::hz).collect(),
        rel_u: (sum > 0.0).then(|| 2.0 * variance.sqrt() / sum),
        hidden_hz: (sum <= 0.0).then(|| Hertz::hz(hidden / std::f64::consts::TAU)),
    }
}
