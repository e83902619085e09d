//! The flash contact against the shutter's opening.
//!
//! A contact wired to an input shows as a step, coupled or not and of either sign. It may chatter: the
//! first closing counts, as that is what fires the flash.

use super::channel::{Channel, Raw};
use super::size::{Clock, Times};
use super::{Flag, Flash, Options, expose};
use crate::{Recording, Seconds};

/// Coverage factor of expanded uncertainties.
const K: f64 = 2.0;
/// The contact is looked for from so long before the first light ...
const BEFORE_S: f64 = 0.06;
/// ... to so long after the last.
const AFTER_S: f64 = 0.03;
/// Half-width of the step looked for.
const HALF_WIDTH_S: f64 = 60e-6;
/// A closing reaches this part of the largest step ...
const OF_LARGEST: f64 = 0.4;
/// ... and stands out of the noise by so many standard deviations.
const OVER_NOISE: f64 = 8.0;
/// Fully open, ISO 516 leaves to convention; a flash is thought to need so much.
const FULL: f64 = 0.98;
/// Where the form of the flank's shoulder is read from.
const SHOULDER: f64 = 0.88;
/// What the shoulder's form leaves of the opening there.
const FORM: f64 = 0.003;
/// Standard uncertainty of when the light is seen: the lag of a small sensor is not known.
const LAG_S: f64 = 25e-6;
/// A lag moves the shoulder of blades, where the light hardly rises any more, by twice itself.
const BLADES_LAG_S: f64 = 2.0 * LAG_S;

/// When a shutter was fully open: moment and standard uncertainty, in seconds of the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Full {
    pub(super) from: (f64, f64),
    pub(super) to: (f64, f64),
}

/// A release, in seconds of the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Window {
    /// Number of the release.
    pub(super) n: u32,
    /// First and last light.
    pub(super) from: f64,
    pub(super) to: f64,
    /// `None` when it cannot be told.
    pub(super) fully_open: Option<bool>,
    pub(super) full: Option<Full>,
}

impl Window {
    /// A release of which only the start is known.
    pub(super) const fn unknown(start: f64) -> Self {
        Self {
            n: 0,
            from: start,
            to: start,
            fully_open: None,
            full: None,
        }
    }
}

/// When the opening of a leaf shutter reaches 98 % and when it falls below.
pub(super) fn leaf(channel: &Channel<'_>, raw: &Raw, times: &Times) -> Window {
    let regions = &raw.local.regions;
    let dt = channel.signal.dt;
    let window = Window {
        from: regions.first as f64 * dt,
        to: regions.after as f64 * dt,
        ..Window::unknown(0.0)
    };
    let Some(e0) = times.e0 else {
        return window;
    };
    if times.flags.contains(&Flag::NeverFullyOpen) {
        return Window {
            fully_open: Some(false),
            ..window
        };
    }
    let noise = channel.signal.noise;
    let main = expose::before_bounce(raw.light.last(), e0, noise, dt);
    let backward: Vec<f64> = main.iter().rev().copied().collect();
    let after = regions.last() + main.len();
    let seconds = |place: f64, deviation: f64| (place * dt, (deviation * dt).hypot(BLADES_LAG_S));
    let full = shoulder(&raw.light.first, e0, noise)
        .zip(shoulder(&backward, e0, noise))
        .map(|(opened, closes)| Full {
            from: seconds(regions.first as f64 + opened.0 + 0.5, opened.1),
            to: seconds(after as f64 - closes.0 - 0.5, closes.1),
        });
    Window {
        fully_open: Some(full.is_some()),
        full,
        ..window
    }
}

/// Where a rising flank passes 98 %, in samples with the standard uncertainty: a parabola through its
/// shoulder, as noise crosses 98 % long before the light.
fn shoulder(x: &[f64], e0: f64, noise: f64) -> Option<(f64, f64)> {
    let width = expose::smoothing(e0, noise, x.len().min(4000));
    let smooth = expose::smoothed(x, width);
    let low = expose::first_above(smooth.iter().copied(), SHOULDER * e0)?;
    let high = expose::first_above(smooth.iter().copied(), FULL * e0)?;
    let (bottom, past) = (low.round() as usize, (0.5 * (high - low)).max(2.0));
    let top = ((high + past).round() as usize).min(x.len().checked_sub(1)?);
    if top < bottom + 4 {
        return Some((high, 1.0));
    }
    let parabola = expose::Parabola::through(x.get(bottom..=top)?, noise)?;
    let Some((place, deviation)) = parabola.reaches(FULL * e0) else {
        return Some((high, past));
    };
    let steepness = (FULL - SHOULDER) / (high - low).max(0.5);
    // The shoulder is flatter than the way up to it.
    let form = 2.0 * FORM / steepness;
    Some((bottom as f64 + place, deviation.hypot(form)))
}

/// The flash of each release of one recording; empty without a contact's channel.
pub(super) fn of(
    recording: &Recording,
    options: &Options,
    windows: &[Window],
    clock: Clock,
) -> Vec<Flash> {
    let Some(contacts) = Contacts::of(recording, options, windows) else {
        return Vec::new();
    };
    windows
        .iter()
        .zip(&contacts.stretches)
        .map(|(window, stretch)| {
            let contact = contacts.first_closing(stretch);
            let open = window.full.filter(|_| window.fully_open == Some(true));
            let times = contact.zip(open).map(|(contact, open)| {
                let deviation = open.from.1.max(open.to.1).hypot(contact.1);
                let delay = clock.seconds(open.from.0 - contact.0, deviation);
                let after = clock.seconds(open.to.0 - contact.0, deviation);
                (delay.0, after.0, after.1.to_s().max(delay.1.to_s()))
            });
            Flash {
                n: window.n,
                contact_s: contact.map(|it| Seconds::s(it.0)),
                delay_s: times.map(|it| it.0),
                open_after_s: times.map(|it| it.1),
                uncertainty_s: times.map(|it| Seconds::s(K * it.2)),
                fully_open: window.fully_open,
            }
        })
        .collect()
}

/// The contact's channel about one release, from sample `start` on.
struct Stretch {
    start: usize,
    values: Vec<f64>,
}

impl Stretch {
    fn of(recording: &Recording, channel: usize, window: &Window) -> Self {
        let rate = recording.sample_rate().to_hz();
        let sample = |time: f64| (time * rate).max(0.0) as usize;
        let range = sample(window.from - BEFORE_S)..sample(window.to + AFTER_S);
        let start = range.start;
        let values = recording.values(channel, range).map(f64::from).collect();
        Self { start, values }
    }

    fn mean(&self, from: usize, count: usize) -> Option<f64> {
        let part = self.values.get(from..from + count)?;
        Some(part.iter().sum::<f64>() / count as f64)
    }

    /// Mean of `half` samples from `at` on, less the mean before.
    fn step(&self, at: usize, half: usize) -> Option<f64> {
        let step = self.mean(at, half)? - self.mean(at.checked_sub(half)?, half)?;
        step.is_finite().then_some(step)
    }

    fn steps(&self, half: usize) -> impl Iterator<Item = (usize, f64)> {
        (half..self.values.len()).filter_map(move |at| Some((at, self.step(at, half)?)))
    }
}

/// The channel of the contact.
struct Contacts {
    stretches: Vec<Stretch>,
    dt: f64,
    noise: f64,
    /// Samples on each side of a step.
    half: usize,
    /// Least step of a closing, signed.
    least: f64,
}

impl Contacts {
    fn of(recording: &Recording, options: &Options, windows: &[Window]) -> Option<Self> {
        let channel = usize::from(options.flash_channel?.checked_sub(1)?);
        if channel >= recording.channel_count() {
            return None;
        }
        let rate = recording.sample_rate().to_hz();
        let steps = recording.step(channel).unwrap_or(0.0) / 12.0_f64.sqrt();
        let half = ((HALF_WIDTH_S * rate).round() as usize).max(2);
        let noise = recording.samples().track(channel).noise.max(steps);
        let stretches: Vec<Stretch> = windows
            .iter()
            .map(|window| Stretch::of(recording, channel, window))
            .collect();
        let largest = stretches
            .iter()
            .flat_map(|it| it.steps(half))
            .fold(0.0_f64, |most, step| most.max(step.1.abs()));
        let of_noise = OVER_NOISE * noise * (2.0 / half as f64).sqrt();
        let size = if largest > of_noise {
            (OF_LARGEST * largest).max(of_noise)
        } else {
            f64::INFINITY
        };
        // Each release begins with the contact open, so that the first steps are closings.
        let first = |it: &Stretch| it.steps(half).find(|step| step.1.abs() > size);
        let ups: f64 = stretches
            .iter()
            .filter_map(first)
            .map(|step| step.1.signum())
            .sum();
        Some(Self {
            stretches,
            dt: 1.0 / rate,
            noise,
            half,
            least: if ups < 0.0 { -size } else { size },
        })
    }

    /// When the contact first closes in a release and the standard uncertainty, in seconds: where the
    /// step passes half its height.
    fn first_closing(&self, stretch: &Stretch) -> Option<(f64, f64)> {
        let sign = self.least.signum();
        let size = |at: usize| stretch.step(at, self.half).map_or(0.0, |step| sign * step);
        let (above, _) = stretch
            .steps(self.half)
            .find(|step| sign * step.1 > self.least.abs())?;
        let steepest =
            (above..=above + 2 * self.half).max_by(|a, b| size(*a).total_cmp(&size(*b)))?;
        let before = stretch.mean(steepest.checked_sub(self.half + 1)?, self.half)?;
        let after = stretch.mean(steepest + 1, self.half)?;
        let half_way = sign * 0.5 * (before + after);
        let value = |at: usize| stretch.values.get(at).map(|it| sign * it);
        let crossing = (steepest.saturating_sub(2)..steepest + 2).find_map(|at| {
            let (here, next) = (value(at)?, value(at + 1)?);
            (here < half_way && next >= half_way)
                .then(|| at as f64 + (half_way - here) / (next - here))
        });
        let place = stretch.start as f64 + crossing.unwrap_or(steepest as f64 - 0.5);
        let between = 1.0 / 12.0_f64.sqrt();
        let height = size(steepest).max(f64::MIN_POSITIVE);
        let deviation = between.hypot(self.noise / height);
        Some(((place + 0.5) * self.dt, deviation * self.dt))
    }
}
