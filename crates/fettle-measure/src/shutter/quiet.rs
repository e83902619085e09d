//! Whether a shot is a shutter's light: never less than none, followed by dark, come and gone quickly.
//!
//! Behind blades or curtains the light stands still again as soon as it is gone, and what the
//! coupling leaves of it is known. A voice, a note or a blow on the bench that looks like a shot
//! swings to both sides, and goes on swinging. A hand or a card before the lamp takes its time.

use super::channel::Raw;
use super::edges;
use super::local::Signal;

/// Looked at after a shot: so many times its length ...
const LENGTHS: f64 = 2.0;
/// ... and at least and at most so long, in seconds; more is not held of a long recording.
const LEAST_S: f64 = 3e-3;
const MOST_S: f64 = 40e-3;
/// Means that the stretch is cut into.
const PARTS: usize = 8;
/// Their rms against the greatest light from which on this is no dark, and the means within the shot
/// that lie so far below none ...
const UNQUIET: f64 = 0.15;
/// Length of these means.
const WITHIN_S: f64 = 0.2e-3;
/// ... if it is more than so many times what white noise gives.
const OVER_NOISE: f64 = 4.0;
/// From this part of the shots on, none of them is a shutter's.
const OF_ALL: f64 = 0.5;

/// From 10 to 90 % of the light, no shutter takes longer both opening and closing: a pneumatic one opens
/// within some 10 ms, and a curtain that takes 25 for a gate of 36 mm passes 80 % of a sensor of 24 mm
/// within 14. A coupling makes of a hand's flank a light that comes and goes a little faster than it.
const SLOWEST_S: f64 = 18e-3;
/// Flanks that show no ramp are slow from so many times this on.
const LONG: f64 = 8.0;

/// What comes and goes in a channel when it is no shutter's light.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum NoShutter {
    /// It goes on swinging where dark should follow.
    Swings,
    /// It comes and goes as slowly as a hand.
    Slow,
}

/// Marks the shots that are no shutter's light as spoiled, and says what they are when the channel shows
/// no shutter's light at all.
pub(super) fn spoil(signal: &Signal<'_>, shots: &mut [Raw]) -> Option<NoShutter> {
    let (mut swing, mut slow) = (0_usize, 0_usize);
    for shot in shots.iter_mut() {
        let swings =
            shot.clipped.is_none() && (is_two_sided(signal, shot) || is_unquiet(signal, shot));
        let is_slow = !swings && is_slow(signal, shot);
        swing += usize::from(swings);
        slow += usize::from(is_slow);
        shot.spoiled |= swings || is_slow;
    }
    if swing > 0 && swing as f64 >= OF_ALL * shots.len() as f64 {
        Some(NoShutter::Swings)
    } else {
        // A hand before the first shot takes nothing from the others.
        (slow > 0 && swing + slow == shots.len()).then_some(NoShutter::Slow)
    }
}

/// Whether the light comes and goes more slowly than behind any shutter. A late sensor makes the closing
/// slow alone.
fn is_slow(signal: &Signal<'_>, shot: &Raw) -> bool {
    let slowest = SLOWEST_S / signal.dt;
    let ramps = [
        edges::rise(&shot.light.first, shot.peak, signal.noise),
        edges::fall(shot.light.last(), shot.peak, signal.noise),
    ];
    let mut seen = ramps.iter().flatten();
    if seen.clone().next().is_some() {
        return seen.all(|it| it.ramp() > slowest);
    }
    // Light waved at more than once may come and go without one ramp.
    let regions = &shot.local.regions;
    let flanks = [regions.first..regions.open, regions.second..regions.after];
    regions.has_plateau() && flanks.iter().all(|it| it.len() as f64 > LONG * slowest)
}

/// Whether the shot swings below dark.
fn is_two_sided(signal: &Signal<'_>, shot: &Raw) -> bool {
    let size = ((WITHIN_S / signal.dt) as usize).max(1);
    let noise = signal.noise / (size as f64).sqrt();
    let below = (UNQUIET * shot.peak).max(OVER_NOISE * noise);
    let light = [&shot.light.first, &shot.light.second];
    light
        .into_iter()
        .flat_map(|flank| flank.chunks_exact(size))
        .any(|it| it.iter().sum::<f64>() < -below * size as f64)
}

fn is_unquiet(signal: &Signal<'_>, shot: &Raw) -> bool {
    let regions = &shot.local.regions;
    let lasting = (regions.after - regions.first) as f64 * signal.dt;
    let window = ((LENGTHS * lasting).clamp(LEAST_S, MOST_S) / signal.dt) as usize;
    let to = (regions.after + window).min(regions.end.saturating_sub(8));
    let size = to.saturating_sub(regions.after) / PARTS;
    if size == 0 {
        return false;
    }
    let [before, closing] = shot.local.entry(&shot.fit);
    let (start, entry, light) = match shot.local.level(&shot.fit) {
        Some((level, _)) => (regions.second, closing, level),
        None => (regions.first, before, 0.0),
    };
    let restored = shot
        .local
        .restore(signal, &shot.fit, start..to, entry, light);
    let dark = restored.get(regions.after - start..).unwrap_or_default();
    let means = dark
        .chunks_exact(size)
        .map(|it| it.iter().sum::<f64>() / size as f64);
    let squares: Vec<f64> = means.map(|it| it * it).collect();
    let rms = (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt();
    rms > UNQUIET * shot.peak && rms > OVER_NOISE * signal.noise / (size as f64).sqrt()
}
