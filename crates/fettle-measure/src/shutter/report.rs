//! The result of an analysis: everything needed to show, judge and store it.

use serde::{Deserialize, Serialize};

use super::{Click, Finding, Flag, Options, Proposal, Trace};
use crate::{Hertz, Marked, Millimetres, Seconds, Stops, Verdict};

/// What a session of recordings says about a shutter.
///
/// Its serde form is the JSON of `fettle shutter --json`; a stored report reads back equal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// The recordings taken together: rate and channels of the first, seconds of all.
    pub recording: Extent,
    /// Each recording of the session in the order given.
    #[serde(default)]
    pub recordings: Vec<NamedExtent>,
    /// What was noticed.
    pub findings: Vec<Finding>,
    /// Every shot in the order of the recordings.
    pub shots: Vec<Shot>,
    /// Every mark that was shot, slowest first.
    pub speeds: Vec<Speed>,
    /// Effective times at smaller stops, for leaf shutters when asked for.
    pub apertures: Vec<Aperture>,
    /// Travel and evenness of the curtains, for focal-plane shutters.
    pub curtains: Vec<Curtain>,
    /// Flash synchronisation, when a contact was recorded.
    pub flash: Vec<Flash>,
    /// Clicks in the order of time, for recordings of sound.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub clicks: Vec<Click>,
}

impl Report {
    /// The shot that stands for a mark: of those that count and can be drawn, the one whose time lies nearest to the
    /// mark's mean; `None` without any.
    #[must_use]
    pub fn typical_shot(&self, mark: Marked) -> Option<&Shot> {
        let mean = self.speeds.iter().find(|it| it.marked == mark)?.mean_s;
        let off = |shot: &&Shot| {
            shot.effective_s
                .map_or(f64::INFINITY, |t| (t - mean).abs().to_s())
        };
        self.shots
            .iter()
            .filter(|it| it.marked == Some(mark) && it.effective_s.is_some())
            .filter(|it| !it.struck && it.trace.points.len() > 1)
            .min_by(|a, b| off(a).total_cmp(&off(b)))
    }
}

/// How much was recorded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Extent {
    /// Samples a second of each channel.
    pub sample_rate_hz: Hertz,
    /// How many channels.
    pub channels: u16,
    /// How long.
    pub seconds: Seconds,
}

/// How much was recorded in one file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NamedExtent {
    /// The recording's name as given.
    pub name: String,
    /// How much was recorded.
    #[serde(flatten)]
    pub extent: Extent,
}

/// One sensor's reading of one release.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shot {
    /// Number of the shot in the session, from 1.
    pub n: u32,
    /// Number of the release in the session, from 1; equal to `n` with one sensor.
    pub release: u32,
    /// The recording's name.
    pub recording: String,
    /// The channel, from 1.
    pub channel: u16,
    /// Where the sensor stands along the gate; focal-plane shutters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x_mm: Option<Millimetres>,
    /// When 1 % of the opening is first passed, on the file's own clock.
    pub start_s: Seconds,
    /// `∫E dt / E0`, a bounce included; `None` where it cannot be told.
    pub effective_s: Option<Seconds>,
    /// From first opening to last closing at 1 % of `E0`.
    pub total_s: Option<Seconds>,
    /// Effective over total time, 0 to 1.
    pub efficiency: Option<f64>,
    /// Expanded uncertainty of `effective_s`, k = 2.
    pub uncertainty_s: Option<Seconds>,
    /// Expanded uncertainty of `total_s`, k = 2.
    pub total_uncertainty_s: Option<Seconds>,
    /// The mark it is taken to be.
    pub marked: Option<Marked>,
    /// Whether the dial was not known and the mark is the nearest of the common dial.
    #[serde(default)]
    pub guessed: bool,
    /// Whether the mechanic said which mark it was fired at.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub told: bool,
    /// Whether the mechanic struck it: it is kept and counts in no mean.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub struck: bool,
    /// The other mark that fits equally, with the flag `mark-uncertain`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alternative: Option<Marked>,
    /// Measured against marked; positive is longer.
    pub error_stops: Option<Stops>,
    /// Length of the second opening, with the flag `bounce`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bounce_s: Option<Seconds>,
    /// What is to be kept in mind.
    pub flags: Vec<Flag>,
    /// Clicks that can be opening and closing, likeliest first, for recordings of sound.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub proposals: Vec<Proposal>,
    /// Where the uncertainty of `effective_s` comes from.
    pub budget: Budget,
    /// The opening against time, to be drawn.
    pub trace: Trace,
}

impl Shot {
    /// Whether it may have been at another mark.
    pub(crate) fn is_mark_unsure(&self) -> bool {
        self.flags.contains(&Flag::MarkUncertain)
    }

    /// Whether this shot by itself lies inside the limit of its mark, by ISO 14253-1, undecided where it
    /// may have been at another; `None` without time, mark or limit.
    #[must_use]
    pub fn verdict(&self, options: &Options) -> Option<Verdict> {
        let (time, uncertainty) = (self.effective_s?, self.uncertainty_s?);
        let limit = options.limits.at(self.marked?, options.series)?;
        if self.is_mark_unsure() {
            return Some(Verdict::Undecided);
        }
        let uncertainty = uncertainty.to_s() / time.to_s() / std::f64::consts::LN_2;
        Some(Verdict::of(
            self.error_stops?.to_stops(),
            uncertainty,
            limit.to_stops(),
        ))
    }
}

/// Where the uncertainty of one effective time comes from: standard uncertainties (k = 1) in
/// seconds, independent of each other, by the GUM (JCGM 100:2008).
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize, Deserialize)]
pub struct Budget {
    /// White noise of the samples within the shot.
    pub noise_s: Seconds,
    /// The dark level under the shot, with its slope and mains hum, as fitted around it and as far as the
    /// fully open level is not in doubt with it.
    pub dark_s: Seconds,
    /// The coupling's corner.
    pub corner_s: Seconds,
    /// The fully open level `E0`.
    pub e0_s: Seconds,
    /// Flicker of the lamp, as far as it could not be divided out.
    #[serde(default)]
    pub flicker_s: Seconds,
    /// The slow tail of a saturated sensor.
    #[serde(default)]
    pub tail_s: Seconds,
    /// A sensor driven beyond its linear range.
    #[serde(default)]
    pub overdrive_s: Seconds,
    /// Clicks taken off the shot.
    #[serde(default)]
    pub clicks_s: Seconds,
    /// Clipping.
    #[serde(default)]
    pub clipping_s: Seconds,
    /// A lossy coding of the recording.
    #[serde(default)]
    pub coding_s: Seconds,
    /// Half the light passes within the travel that a click ends or begins; recordings of sound.
    #[serde(default)]
    pub travel_s: Seconds,
    /// The recorder's clock.
    pub clock_s: Seconds,
    /// Steps of the recording's samples, in level and in time.
    pub quantisation_s: Seconds,
}

impl Budget {
    /// Each part with its name, to be listed.
    #[must_use]
    pub const fn parts(&self) -> [(&'static str, Seconds); 13] {
        [
            ("noise", self.noise_s),
            ("dark level", self.dark_s),
            ("coupling", self.corner_s),
            ("fully open level", self.e0_s),
            ("flicker", self.flicker_s),
            ("tail", self.tail_s),
            ("overdrive", self.overdrive_s),
            ("clicks", self.clicks_s),
            ("clipping", self.clipping_s),
            ("coding", self.coding_s),
            ("blades' travel", self.travel_s),
            ("clock", self.clock_s),
            ("quantisation", self.quantisation_s),
        ]
    }

    /// The same budget with each part altered.
    #[must_use]
    pub(super) fn map(self, part: impl Fn(Seconds) -> Seconds) -> Self {
        Self {
            noise_s: part(self.noise_s),
            dark_s: part(self.dark_s),
            corner_s: part(self.corner_s),
            e0_s: part(self.e0_s),
            flicker_s: part(self.flicker_s),
            tail_s: part(self.tail_s),
            overdrive_s: part(self.overdrive_s),
            clicks_s: part(self.clicks_s),
            clipping_s: part(self.clipping_s),
            coding_s: part(self.coding_s),
            travel_s: part(self.travel_s),
            clock_s: part(self.clock_s),
            quantisation_s: part(self.quantisation_s),
        }
    }

    /// Part by part the sum with another.
    #[must_use]
    pub(super) fn plus(self, other: Self) -> Self {
        Self {
            noise_s: self.noise_s + other.noise_s,
            dark_s: self.dark_s + other.dark_s,
            corner_s: self.corner_s + other.corner_s,
            e0_s: self.e0_s + other.e0_s,
            flicker_s: self.flicker_s + other.flicker_s,
            tail_s: self.tail_s + other.tail_s,
            overdrive_s: self.overdrive_s + other.overdrive_s,
            clicks_s: self.clicks_s + other.clicks_s,
            clipping_s: self.clipping_s + other.clipping_s,
            coding_s: self.coding_s + other.coding_s,
            travel_s: self.travel_s + other.travel_s,
            clock_s: self.clock_s + other.clock_s,
            quantisation_s: self.quantisation_s + other.quantisation_s,
        }
    }

    /// What moves all times of a channel together: how the sensor ends, falls or is clipped, and its fully open level.
    pub(super) fn shared(self) -> Self {
        Self {
            e0_s: self.e0_s,
            tail_s: self.tail_s,
            overdrive_s: self.overdrive_s,
            clipping_s: self.clipping_s,
            ..Self::default()
        }
    }

    /// The root of the sum of squares.
    #[must_use]
    pub fn combined(&self) -> Seconds {
        Seconds::s(
            self.parts()
                .iter()
                .map(|(_, part)| part.to_s().powi(2))
                .sum::<f64>()
                .sqrt(),
        )
    }
}

/// Where the uncertainty of the mean of the shots at one mark comes from: standard uncertainties
/// (k = 1) in seconds. In JSON one flat object: `repeat_s` beside the parts of [`Budget`].
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize, Deserialize)]
pub struct MeanBudget {
    /// The shots' spread over the root of their number, Type A; 0 for a single shot, which shows none.
    pub repeat_s: Seconds,
    /// What the chain adds, Type B: the means of the shots' parts.
    #[serde(flatten)]
    pub chain: Budget,
}

impl MeanBudget {
    /// Each part with its name, to be listed.
    pub fn parts(&self) -> impl Iterator<Item = (&'static str, Seconds)> {
        std::iter::once(("repeats", self.repeat_s)).chain(self.chain.parts())
    }

    /// The root of the sum of squares.
    #[must_use]
    pub fn combined(&self) -> Seconds {
        Seconds::s(self.repeat_s.to_s().hypot(self.chain.combined().to_s()))
    }
}

/// All shots at one mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Speed {
    /// The mark.
    pub marked: Marked,
    /// The time it stands for.
    pub nominal_s: Seconds,
    /// How many shots count in the mean.
    pub shots: u32,
    /// Mean effective time.
    pub mean_s: Seconds,
    /// Sample standard deviation; `None` for a single shot.
    pub spread_s: Option<Seconds>,
    /// The mean against the mark; positive is longer.
    pub error_stops: Stops,
    /// Expanded uncertainty of `error_stops`: 95 % with Student's t, k = 2 when the degrees of
    /// freedom are many.
    pub uncertainty_stops: Stops,
    /// The tolerance either way; `None` without one.
    pub limit_stops: Option<Stops>,
    /// Decision by ISO 14253-1; `None` without a limit, undecided where it is not sure that the shots
    /// were at this mark.
    pub verdict: Option<Verdict>,
    /// Where `uncertainty_stops` comes from.
    #[serde(default)]
    pub budget: MeanBudget,
    /// Whether the dial was not known and the mark is the nearest of the common dial.
    #[serde(default)]
    pub guessed: bool,
    /// Whether a shot that counts may have been at another mark.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unsure: bool,
}

/// The effective time at a smaller stop, from one trace of a leaf shutter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Aperture {
    /// The mark on the dial.
    pub marked: Marked,
    /// The f-number.
    pub f: f64,
    /// Effective time at this stop, mean over the mark's shots.
    pub effective_s: Seconds,
    /// Against the marked speed.
    pub error_stops: Stops,
    /// Against the effective time at full opening.
    pub over_full_open_stops: Stops,
}

/// The curtains of a focal-plane shutter in one release.
///
/// Uncertainties are expanded, k = 2; they hold for sensors that stand where they are said to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Curtain {
    /// Number of the release, from 1.
    pub n: u32,
    /// The first curtain's travel over the gate; `None` with one sensor.
    pub first_travel_s: Option<Seconds>,
    /// Its expanded uncertainty.
    #[serde(default)]
    pub first_travel_u_s: Option<Seconds>,
    /// The second curtain's travel over the gate; `None` with one sensor.
    pub second_travel_s: Option<Seconds>,
    /// Its expanded uncertainty.
    #[serde(default)]
    pub second_travel_u_s: Option<Seconds>,
    /// Exposure at the edge where the curtains arrive against the edge where they start, from the
    /// fitted curtains; `None` when capped or with one sensor.
    pub evenness_stops: Option<Stops>,
    /// Its expanded uncertainty.
    #[serde(default)]
    pub evenness_u_stops: Option<Stops>,
    /// The same between the outer sensors as measured.
    pub evenness_sensors_stops: Option<Stops>,
    /// Effective time at each sensor, in the order of `x_mm`.
    pub positions: Vec<Position>,
    /// Whether the slit closes within the gate.
    pub capped: bool,
    /// From where on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capped_from_mm: Option<Millimetres>,
}

/// The effective time at one place of the gate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Position {
    /// Where the sensor stands, as given.
    pub x_mm: Millimetres,
    /// `None` where it cannot be told.
    pub effective_s: Option<Seconds>,
}

/// Flash synchronisation in one release.
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize, Deserialize)]
pub struct Flash {
    /// Number of the release, from 1.
    pub n: u32,
    /// When the contact first closes, on the file's own clock; `None` when it does not.
    #[serde(default)]
    pub contact_s: Option<Seconds>,
    /// Contact to 98 % opening, of a focal-plane shutter to the first curtain's arrival at the gate's
    /// far edge; negative when the contact closes later. `None` without both.
    pub delay_s: Option<Seconds>,
    /// Contact to the end of the 98 % opening, of a focal-plane shutter to the second curtain's
    /// entering the gate. `None` without both.
    pub open_after_s: Option<Seconds>,
    /// Expanded uncertainty of both, k = 2.
    #[serde(default)]
    pub uncertainty_s: Option<Seconds>,
    /// Whether the opening reaches 98 %, of a focal-plane shutter whether the whole gate is open at
    /// one moment; both times are `None` when it does not. `None` when it cannot be told.
    #[serde(default)]
    pub fully_open: Option<bool>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn independent_parts_add_in_squares() {
        let budget = Budget {
            noise_s: Seconds::s(3.0),
            clock_s: Seconds::s(4.0),
            ..Budget::default()
        };
        assert!((budget.combined().to_s() - 5.0).abs() < 1e-12);
    }
}
