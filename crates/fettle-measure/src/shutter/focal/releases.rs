//! Which shots of the sensors belong to one release, and what a sensor without a shot saw.

use super::sensor::Sensor;
use crate::shutter::channel::{Channel, Raw};

/// The sensors see one release within this time: the slowest curtain takes half of it.
const TOGETHER_S: f64 = 0.08;
/// Light less than so many standard uncertainties is none.
const SEEN: f64 = 5.0;
/// Added on both sides where light is looked for.
const BESIDE_S: f64 = 0.5e-3;

/// What one sensor saw of a release.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Seen {
    /// A shot, by its place among the channel's.
    Light(usize),
    /// A shot that the recording does not hold whole, by its first sample.
    CutOff(usize),
    /// No light, though the recording goes on.
    Dark,
}

/// One release; sensors in the order of their channels.
#[derive(Clone, Debug)]
pub(super) struct Release {
    /// The first sample of its light.
    pub(super) start: usize,
    pub(super) seen: Vec<Seen>,
}

/// A stretch of even light that is not the fully open level is part of the event.
pub(super) fn undo_false_plateaus(channel: &mut Channel<'_>) {
    for at in 0..channel.shots.len() {
        let raw = &channel.shots[at];
        let regions = &raw.local.regions;
        if raw.level.is_some() || !regions.has_plateau() {
            continue;
        }
        let event = regions.first..regions.after;
        let before = at.checked_sub(1).map(|it| &channel.shots[it]);
        let between = (
            before.map(|it| it.local.regions.after),
            channel.shots.get(at + 1).map(|it| it.local.regions.first),
        );
        if let Some(mut whole) = channel.look_at(event, None, between) {
            whole.level = None;
            channel.shots[at] = whole;
        }
    }
}

/// Groups the shots of one recording's sensors.
pub(super) fn group(sensors: &[Sensor<'_>]) -> Vec<Release> {
    let mut events: Vec<(usize, usize, Seen)> = Vec::new();
    for (number, sensor) in sensors.iter().enumerate() {
        let channel = &sensor.heard.channel;
        let shots = channel.shots.iter().enumerate();
        events.extend(shots.map(|(i, raw)| (raw.local.regions.first, number, Seen::Light(i))));
        let cut = channel.cut_off.iter();
        events.extend(cut.map(|start| (*start, number, Seen::CutOff(*start))));
    }
    events.sort_by_key(|event| (event.0, event.1));
    let mut releases: Vec<Release> = Vec::new();
    for (start, number, seen) in events {
        let dt = sensors[number].heard.channel.signal.dt;
        let together = (TOGETHER_S / dt) as usize;
        match releases.last_mut() {
            Some(release)
                if start <= release.start + together && release.seen[number] == Seen::Dark =>
            {
                release.seen[number] = seen;
            }
            _ => {
                let mut release = Release {
                    start,
                    seen: vec![Seen::Dark; sensors.len()],
                };
                release.seen[number] = seen;
                releases.push(release);
            }
        }
    }
    releases
}

/// Looks for light too weak to be found by its flanks, where the other sensors say it must be.
pub(super) fn look_for_weak(sensors: &mut [Sensor<'_>], releases: &mut [Release]) {
    for at in 0..releases.len() {
        for number in 0..sensors.len() {
            if releases[at].seen[number] != Seen::Dark {
                continue;
            }
            let Some(event) = expected(sensors, releases, at, number) else {
                continue;
            };
            let channel = &mut sensors[number].heard.channel;
            let neighbours = |regions: &dyn Fn(&Raw) -> usize| -> Vec<usize> {
                channel.shots.iter().map(regions).collect()
            };
            let ends = neighbours(&|raw| raw.local.regions.after);
            let starts = neighbours(&|raw| raw.local.regions.first);
            let before = ends.into_iter().filter(|end| *end <= event.0).max();
            let after = starts.into_iter().filter(|start| *start >= event.1).min();
            let Some(mut raw) = channel.look_at(event.0..event.1, None, (before, after)) else {
                continue;
            };
            let deviation = raw.integral.variance(&raw.fit, 0.0).whole().sqrt();
            if raw.integral.value > SEEN * deviation {
                raw.level = None;
                releases[at].seen[number] = Seen::Light(channel.shots.len());
                channel.shots.push(raw);
            }
        }
    }
}

/// Where the light of a sensor must be in a release, from when it sees its light in others against
/// the sensors that saw this one.
fn expected(
    sensors: &[Sensor<'_>],
    releases: &[Release],
    at: usize,
    number: usize,
) -> Option<(usize, usize)> {
    let passage = |release: &Release, number: usize| match release.seen[number] {
        Seen::Light(i) => sensors[number].passages.get(i).copied().flatten(),
        _ => None,
    };
    let mut guesses: Vec<(f64, f64)> = Vec::new();
    for other in 0..sensors.len() {
        let Some(here) = passage(&releases[at], other) else {
            continue;
        };
        let mut later: Vec<f64> = releases
            .iter()
            .filter_map(|it| Some(passage(it, number)?.first - passage(it, other)?.first))
            .collect();
        later.sort_by(f64::total_cmp);
        if let Some(middle) = later.get(later.len() / 2) {
            guesses.push((here.first + middle, here.open()));
        }
    }
    let count = guesses.len() as f64;
    let first = guesses.iter().map(|it| it.0).sum::<f64>() / count;
    let open = guesses.iter().map(|it| it.1).fold(0.0, f64::max);
    let beside =
        sensors[number].ramp.unwrap_or(0.0) + BESIDE_S / sensors[number].heard.channel.signal.dt;
    let event = (first - beside, first + open + beside);
    (event.0 > 0.0 && event.1.is_finite()).then_some((event.0 as usize, event.1 as usize))
}
