//! What the shots at each mark come to.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::marks::{self, Assigned, Timed};
use super::{Budget, Flag, MeanBudget, Options, Shot, Speed};
use crate::{Marked, Seconds, Stops, Verdict};

/// Coverage factor when the degrees of freedom are many.
const K: f64 = 2.0;

/// Gives each shot its mark; what the mechanic said stands. A struck shot gets one to be shown by, and
/// pulls no other along.
pub(super) fn mark(shots: &mut [Shot], options: &Options) {
    give(shots, options, |shot| !shot.struck);
    if shots.iter().any(|shot| shot.struck) {
        give(shots, options, |shot| shot.struck);
    }
    for shot in shots {
        let nominal = shot.marked.map(|mark| mark.nominal(options.series));
        shot.error_stops = shot
            .effective_s
            .zip(nominal)
            .and_then(|(time, nominal)| time.error_against(nominal));
    }
}

fn give(shots: &mut [Shot], options: &Options, wanted: impl Fn(&Shot) -> bool) {
    let times: Vec<(usize, Timed)> = shots
        .iter()
        .enumerate()
        .filter(|(_, shot)| !shot.told && wanted(shot))
        .filter_map(|(index, shot)| {
            let seconds = shot.effective_s?.to_s();
            let stops = |part: Seconds| part.to_s() / seconds / std::f64::consts::LN_2;
            let all = stops(shot.budget.combined());
            let shared = stops(shot.budget.shared().combined());
            let deviation = (all * all - shared * shared).max(0.0).sqrt();
            Some((
                index,
                Timed {
                    seconds,
                    deviation,
                    shared,
                },
            ))
        })
        .collect();
    let (places, times): (Vec<usize>, Vec<Timed>) = times.into_iter().unzip();
    let guessed = options.speeds.is_empty();
    let assigned: Vec<Option<Assigned>> = if guessed {
        let dial = Marked::common_dial();
        times
            .iter()
            .map(|time| marks::nearest(time.seconds, &dial, options.series))
            .collect()
    } else {
        marks::assign(&times, &options.speeds, options.series, options.sense)
    };
    for (place, assigned) in places.into_iter().zip(assigned) {
        let Some(shot) = shots.get_mut(place) else {
            continue;
        };
        let Some(assigned) = assigned else {
            // A time that can be no mark's.
            shot.flags.push(Flag::MarkUncertain);
            continue;
        };
        shot.marked = Some(assigned.mark);
        shot.guessed = guessed;
        shot.alternative = assigned.alternative;
        if assigned.alternative.is_some() {
            shot.flags.push(Flag::MarkUncertain);
        }
    }
}

/// Every mark that was shot, slowest first.
pub(super) fn of(shots: &[Shot], options: &Options) -> Vec<Speed> {
    let counted = shots.iter().filter(|shot| !shot.struck);
    let mut marks: Vec<Marked> = counted.filter_map(|shot| shot.marked).collect();
    marks.sort_by(|a, b| b.cmp(a));
    marks.dedup();
    marks
        .into_iter()
        .filter_map(|mark| speed(mark, shots, options))
        .collect()
}

fn speed(mark: Marked, shots: &[Shot], options: &Options) -> Option<Speed> {
    let counted: Vec<(f64, &Shot)> = shots
        .iter()
        .filter(|shot| shot.marked == Some(mark) && !shot.struck)
        .filter_map(|shot| shot.effective_s.map(|time| (time.to_s(), shot)))
        .collect();
    let count = counted.len() as f64;
    let mean = counted.iter().map(|(time, _)| time).sum::<f64>() / count;
    let spread = (counted.len() > 1).then(|| {
        (counted
            .iter()
            .map(|(time, _)| (time - mean).powi(2))
            .sum::<f64>()
            / (count - 1.0))
            .sqrt()
    });
    let nominal = mark.nominal(options.series);
    let error = Seconds::s(mean).error_against(nominal)?;
    // The chain's parts are common to the shots of a mark; its noise is already in the spread.
    let chain = counted
        .iter()
        .fold(Budget::default(), |sum, (_, shot)| sum.plus(shot.budget))
        .map(|sum| sum / count);
    let budget = MeanBudget {
        repeat_s: Seconds::s(spread.map_or(0.0, |spread| spread / count.sqrt())),
        chain,
    };
    let combined = budget.combined().to_s();
    let freedom = (count - 1.0) * (combined / budget.repeat_s.to_s().max(1e-300)).powi(4);
    let expanded = coverage_factor(freedom) * combined;
    let uncertainty = expanded / mean / std::f64::consts::LN_2;
    let limit = options.limits.at(mark, options.series);
    let unsure = counted.iter().any(|(_, shot)| shot.is_mark_unsure());
    let decided = |limit: Stops| {
        if unsure {
            Verdict::Undecided
        } else {
            Verdict::of(error.to_stops(), uncertainty, limit.to_stops())
        }
    };
    Some(Speed {
        marked: mark,
        nominal_s: nominal,
        shots: u32::try_from(counted.len()).unwrap_or(u32::MAX),
        mean_s: Seconds::s(mean),
        spread_s: spread.map(Seconds::s),
        error_stops: error,
        uncertainty_stops: Stops::of(uncertainty),
        limit_stops: limit,
        verdict: limit.map(decided),
        budget,
        guessed: counted.iter().any(|(_, shot)| shot.guessed),
        unsure,
    })
}

/// Student's t for 95 % two-sided; 2 when the degrees of freedom are many (GUM, annex G).
fn coverage_factor(freedom: f64) -> f64 {
    if !freedom.is_finite() || freedom > 60.0 {
        return K;
    }
    StudentsT::new(0.0, 1.0, freedom.max(1.0)).map_or(K, |t| t.inverse_cdf(0.975).max(K))
}
