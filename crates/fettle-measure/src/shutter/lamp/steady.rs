//! A recording as it would be under a lamp that does not swing.

use std::ops::Range;

use super::Lamp;
use crate::recording::Samples;
use crate::shutter::channel::Raw;
use crate::shutter::local::Signal;
use crate::shutter::poles::Poles;
use crate::shutter::state::Entry;

/// Open for so many swings a shot shows its level; one open for less has that of the others, unless its own differs
/// by this part.
const SHOWS_LEVEL: f64 = 1.0;
const DIFFERS: f64 = 0.1;
/// Time constants after which the coupling has forgotten.
const FORGETS_AFTER: f64 = 12.0;

/// The samples less what `lamp` put into them, as far as the light of `shots` tells: these were measured
/// from `signal`, whatever was already taken off it.
///
/// The light `A L` passes the coupling as `A` and `A (L - 1)` one beside the other, so that what is
/// taken off is the latter, coupled.
pub(crate) fn taken_off(
    samples: &Samples,
    signal: &Signal<'_>,
    shots: &[Raw],
    poles: Poles,
    lamp: &Lamp,
) -> Samples {
    let swung = Signal { samples, ..*signal };
    let mut steady = samples.clone();
    for shot in shots.iter().filter(|it| !it.spoiled) {
        let start = shot.local.regions.first;
        let mut coupled = Coupled::new(poles, signal.dt);
        let mut less = swing(&swung, shot, lamp, &mut coupled);
        if poles.sum() > 0.0 {
            let forgets = FORGETS_AFTER / (poles.slowest().max(1e-3) * signal.dt);
            let left = samples.length().saturating_sub(start + less.len());
            let length = left.min(forgets as usize);
            less.extend((0..length).map(|_| coupled.next(0.0)));
        }
        for value in &mut less {
            *value *= -signal.sign;
        }
        steady.add(signal.channel, start, &less);
    }
    steady
}

/// What the lamp's swing added to the signal from a shot's beginning to its end.
fn swing(signal: &Signal<'_>, shot: &Raw, lamp: &Lamp, coupled: &mut Coupled) -> Vec<f64> {
    let regions = &shot.local.regions;
    let lamp_at = |n: usize| lamp.light(n as f64 * signal.dt);
    let [before, closing] = shot.local.entry(&shot.fit);
    let restored = |range: Range<usize>, entry: Entry, light: f64| {
        shot.local.restore(signal, &shot.fit, range, entry, light)
    };
    let [rise, fall] = regions.flanks();
    let light = divided(
        &restored(rise.clone(), before, 0.0),
        rise.clone(),
        signal.dt,
        lamp,
    );
    let mut added: Vec<f64> = rise
        .zip(light)
        .map(|(n, light)| coupled.next(light * (lamp_at(n) - 1.0)))
        .collect();
    let Some((own, _)) = shot.local.level(&shot.fit) else {
        return added;
    };
    // What a part of a swing alone shows as level is off by as much as the lamp is.
    let shows = shot.open * lamp.hz >= SHOWS_LEVEL;
    let level = if shows || (own / lamp.open - 1.0).abs() > DIFFERS {
        own
    } else {
        lamp.open
    };
    let open = regions.open..regions.second;
    added.extend(open.map(|n| coupled.next(level * (lamp_at(n) - 1.0))));
    // The closing begins at the lamp's light of that moment, its swing having passed the coupling too.
    let [between, out] = coupled.states;
    let entry = Entry {
        between: closing.between + between,
        coupled: closing.coupled + out,
    };
    let starts = level * lamp_at(fall.start.saturating_sub(1));
    let light = divided(
        &restored(fall.clone(), entry, starts),
        fall.clone(),
        signal.dt,
        lamp,
    );
    let swings = fall.zip(light);
    added.extend(swings.map(|(n, light)| coupled.next(light * (lamp_at(n) - 1.0))));
    added
}

/// The light of a range under a steady lamp.
fn divided(x: &[f64], range: Range<usize>, dt: f64, lamp: &Lamp) -> Vec<f64> {
    let lamps: Vec<f64> = range.map(|n| lamp.light(n as f64 * dt)).collect();
    if lamp.divides() {
        let pairs = x.iter().zip(&lamps);
        return pairs.map(|(value, lamp)| value / lamp).collect();
    }
    // Over a whole swing the lamp is bright enough somewhere: least squares of a level over each.
    let half = (0.5 / (lamp.hz * dt)).round() as usize;
    (0..x.len())
        .map(|n| {
            let near = n.saturating_sub(half)..(n + half + 1).min(x.len());
            let pairs = x[near.clone()].iter().zip(&lamps[near]);
            let (along, square) = pairs.fold((0.0, 1e-12), |(along, square), (value, lamp)| {
                (along + value * lamp, square + lamp * lamp)
            });
            along / square
        })
        .collect()
}

/// A high-pass of up to two poles, by the trapezoidal rule.
struct Coupled {
    poles: [f64; 2],
    last: [f64; 2],
    states: [f64; 2],
}

impl Coupled {
    fn new(poles: Poles, dt: f64) -> Self {
        Self {
            poles: [poles.first * dt, poles.last * dt],
            last: [0.0; 2],
            states: [0.0; 2],
        }
    }

    fn next(&mut self, value: f64) -> f64 {
        let mut value = value;
        for ((pole, last), state) in self.poles.iter().zip(&mut self.last).zip(&mut self.states) {
            *state = ((2.0 - pole) * *state + 2.0 * (value - *last)) / (2.0 + pole);
            *last = value;
            value = *state;
        }
        value
    }
}
