//! Shifts over the dial: all marks alike, the slow end alone, the top speed alone.

use std::f64::consts::LN_2;

use super::super::{FindingKind, Shot, Speed};
use super::repeat::Repeat;
use super::statistics::{coverage, moments};
use super::worth_a_word;
use crate::{Marked, Seconds, Stops};

/// Marks of a dial that must be alike before it can be said that others differ from them.
const LEAST_ALIKE: usize = 3;
/// Marks from which on it can be said that all are shifted.
const LEAST_ALL: usize = 4;
/// The gear train of the slow speeds is out of mesh above about this speed.
const SLOW_TO: Seconds = Seconds::s(0.9 / 60.0);
/// So many slow marks make a slow end.
const LEAST_SLOW: usize = 2;
/// The top speed and the one below it share the stronger spring or the narrowest slit.
const MOST_TOP: usize = 2;
/// The top is fast.
const TOP_FROM: Seconds = Seconds::s(1.1 / 100.0);

/// A mark of which an error is known.
#[derive(Clone, Copy)]
struct Known {
    marked: Marked,
    nominal: Seconds,
    /// Stops, positive is longer.
    error: f64,
    /// Its expanded uncertainty, chain and repeat.
    uncertainty: f64,
    /// The chain's part of it, which the marks have in common.
    chain: f64,
    worth: f64,
}

/// A shift with its expanded uncertainty, in stops.
struct Shift {
    stops: f64,
    uncertainty: f64,
}

/// All marks shifted alike, or the slow end or the top speed against the rest.
pub(super) fn shifts(shots: &[&Shot], speeds: &[Speed]) -> Vec<FindingKind> {
    let known = known(shots, speeds);
    if is_alike(&known) {
        return all(&known).into_iter().collect();
    }
    ends(&known)
}

/// The marks that are surely what they are taken for, slowest first. A guessed mark is the nearest,
/// so its error says nothing of a shift. How a mark repeats is taken from the whole session: few of
/// its own shots tell little.
fn known(shots: &[&Shot], speeds: &[Speed]) -> Vec<Known> {
    let repeat = Repeat::of(shots, speeds);
    speeds
        .iter()
        .filter(|speed| !speed.guessed)
        .filter_map(|speed| {
            let at = || {
                shots
                    .iter()
                    .filter(|shot| shot.marked == Some(speed.marked))
            };
            if at().any(|shot| shot.is_mark_unsure()) {
                return None;
            }
            let relative = at().filter_map(|shot| Some(shot.uncertainty_s? / shot.effective_s?));
            let chain = relative.fold(0.0, f64::max) / LN_2;
            let repeats =
                coverage(repeat.freedom) * (repeat.variance / f64::from(speed.shots)).sqrt();
            Some(Known {
                marked: speed.marked,
                nominal: speed.nominal_s,
                error: speed.error_stops.to_stops(),
                uncertainty: chain.hypot(repeats),
                chain,
                worth: worth_a_word(speed),
            })
        })
        .filter(|known| known.error.is_finite() && known.uncertainty.is_finite())
        .collect()
}

fn errors(known: &[Known]) -> Vec<f64> {
    known.iter().map(|mark| mark.error).collect()
}

fn mean(known: &[Known], of: fn(&Known) -> f64) -> f64 {
    known.iter().map(of).sum::<f64>() / known.len().max(1) as f64
}

/// Whether the marks surely lie together: each well enough known, none farther from the mean than
/// is worth a word.
fn is_alike(known: &[Known]) -> bool {
    let (mean, _) = moments(&errors(known));
    known.len() >= LEAST_ALIKE
        && known.iter().all(|mark| {
            mark.uncertainty < mark.worth
                && (mark.error - mean).abs() - mark.uncertainty <= mark.worth
        })
}

fn all(known: &[Known]) -> Option<FindingKind> {
    if known.len() < LEAST_ALL {
        return None;
    }
    let count = known.len() as f64;
    let (mean, variance) = moments(&errors(known));
    // What the marks' uncertainties have in common does not average out.
    let shift = Shift {
        stops: mean,
        uncertainty: (coverage(count - 1.0) * (variance / count).sqrt())
            .hypot(self::mean(known, |mark| mark.chain)),
    };
    let worth = known.iter().map(|mark| mark.worth).fold(0.0, f64::max);
    let one_way = |mark: &Known| (mark.error * mean.signum()) > mark.uncertainty;
    if shift.stops.abs() - shift.uncertainty <= worth || !known.iter().all(one_way) {
        return None;
    }
    let (marks, stops, uncertainty_stops) = told(known, &shift);
    Some(if mean > 0.0 {
        FindingKind::AllSlow {
            marks,
            stops,
            uncertainty_stops,
        }
    } else {
        FindingKind::AllFast {
            marks,
            stops,
            uncertainty_stops,
        }
    })
}

/// The parting of the dial that leaves the longest stretch alike between a slow end and a top that
/// both stand out, or one of them.
fn ends(known: &[Known]) -> Vec<FindingKind> {
    let slow_marks = known.iter().filter(|mark| mark.nominal >= SLOW_TO).count();
    let mut partings: Vec<(usize, usize)> = (0..=slow_marks)
        .filter(|slow| *slow == 0 || *slow >= LEAST_SLOW)
        .flat_map(|slow| (0..=MOST_TOP).map(move |top| (slow, top)))
        .filter(|(slow, top)| slow + top > 0 && slow + top + LEAST_ALIKE <= known.len())
        .collect();
    partings.sort_by_key(|(slow, top)| (slow + top, *slow));
    partings
        .into_iter()
        .find_map(|(slow, top)| parted(known, slow, top))
        .unwrap_or_default()
}

fn parted(known: &[Known], slow: usize, top: usize) -> Option<Vec<FindingKind>> {
    let (slow, after) = known.split_at_checked(slow)?;
    let (rest, top) = after.split_at_checked(after.len().checked_sub(top)?)?;
    if !is_alike(rest) || top.iter().any(|mark| mark.nominal > TOP_FROM) {
        return None;
    }
    let mut found = Vec::new();
    if !slow.is_empty() {
        let (marks, stops, uncertainty_stops) = told(slow, &over(slow, rest)?);
        found.push(FindingKind::SlowEnd {
            marks,
            stops,
            uncertainty_stops,
        });
    }
    if !top.is_empty() {
        let (marks, stops, uncertainty_stops) = told(top, &over(top, rest)?);
        found.push(FindingKind::TopSpeed {
            marks,
            stops,
            uncertainty_stops,
        });
    }
    Some(found)
}

/// By how much `group` is longer than `rest`, when every mark of it surely is by more than is worth
/// a word and than the rest differ among themselves.
fn over(group: &[Known], rest: &[Known]) -> Option<Shift> {
    let (mean, variance) = moments(&errors(rest));
    let (of_group, _) = moments(&errors(group));
    let spread = coverage(rest.len() as f64 - 1.0) * variance.sqrt();
    let counts = 1.0 / group.len() as f64 + 1.0 / rest.len() as f64;
    let shift = Shift {
        stops: of_group - mean,
        uncertainty: (spread * counts.sqrt()).hypot(self::mean(group, |mark| mark.uncertainty)),
    };
    let worth = group.iter().map(|mark| mark.worth).fold(0.0, f64::max);
    let stands_out = |mark: &Known| mark.error - mean - mark.uncertainty > mark.worth;
    (shift.stops - shift.uncertainty > worth && group.iter().all(stands_out)).then_some(shift)
}

fn told(known: &[Known], shift: &Shift) -> (Vec<Marked>, Stops, Stops) {
    (
        known.iter().map(|mark| mark.marked).collect(),
        Stops::of(shift.stops),
        Stops::of(shift.uncertainty),
    )
}
