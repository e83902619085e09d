//! Which shots of a sensor show it fully uncovered.
//!
//! A slit narrower than the sensor may light a part of it evenly for a while, which looks like a
//! fully open level and is none. A level counts when it lasts longer than any small sensor could
//! stand half covered, or when shots of different length reach the same.

use crate::shutter::channel::Raw;

/// A level that lasts so long belongs to a slit wider than the sensor: 4 mm are passed at 1.6 mm/ms.
const LONG_S: f64 = 2.5e-3;
/// Levels this near each other are one.
const ONE_LEVEL: f64 = 0.03;
/// Times this far apart are of two slits.
const TWO_SLITS: f64 = 1.25;
/// Below this part of the highest level a stretch of even light is no fully open one.
const HIGHEST: f64 = 0.9;

/// How long a shot lasts at its own level, in seconds.
fn lasting(raw: &Raw) -> f64 {
    let level = raw.level.map_or(raw.peak, |level| level.0);
    raw.integral.value / level.max(f64::MIN_POSITIVE) + raw.open
}

/// Clears the levels that are not the fully open one.
pub(super) fn settle(mut shots: Vec<&mut Raw>) {
    let shown: Vec<(f64, f64, bool)> = shots
        .iter()
        .filter(|raw| !raw.spoiled)
        .filter_map(|raw| {
            let (level, _) = raw.level?;
            Some((level, lasting(raw), raw.local.regions.has_plateau()))
        })
        .collect();
    let highest = |of: &dyn Fn(&(f64, f64, bool)) -> bool| {
        let levels = shown.iter().filter(|it| of(it)).map(|it| it.0);
        levels.fold(0.0, f64::max)
    };
    let long = |it: &(f64, f64, bool)| it.2 && it.1 >= LONG_S;
    let agreed = |it: &(f64, f64, bool)| {
        shown.iter().any(|other| {
            let apart = (it.1 / other.1).max(other.1 / it.1) > TWO_SLITS;
            apart && (it.0 / other.0 - 1.0).abs() < ONE_LEVEL
        })
    };
    let most = highest(&long);
    let (least, only_plateaus) = if most > 0.0 {
        (HIGHEST * most, true)
    } else {
        let most = highest(&agreed);
        // Without a long shot the highest level must be the one that is agreed.
        let top = highest(&|_| true);
        let flat_long = highest(&|it| it.1 >= LONG_S);
        if most > 0.0 && most > (1.0 - ONE_LEVEL) * top {
            ((1.0 - ONE_LEVEL) * most, false)
        } else if flat_long > 0.0 {
            ((1.0 - ONE_LEVEL) * flat_long, false)
        } else {
            (f64::INFINITY, true)
        }
    };
    for raw in &mut shots {
        let shows = raw.local.regions.has_plateau() || !only_plateaus;
        raw.level = raw.level.filter(|level| shows && level.0 >= least);
    }
}
