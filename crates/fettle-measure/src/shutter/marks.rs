//! Which mark of the dial each shot was, decided for the whole session at once.
//!
//! Slower marks give longer times, so with the shots sorted by time the marks follow in the dial's
//! order, each taking a run of shots. A hidden Markov chain over such runs weighs how far each mark
//! is off, how much that changes from one mark to the next, the scatter within a mark and marks
//! passed over; its forward and backward sums give the probability of each mark for each shot.
//!
//! How evenly a dial's marks are off is not known either: an even one shows by its uneven steps (1/8
//! to 1/15, 1/60 to 1/125) which marks were shot even when its ends were not. So the sums are taken
//! for several such evennesses, each counting by how well it tells the shots.

use super::Sense;
use crate::{Marked, Series};

/// Dials are long more often than short, by about so many stops: springs tire and oil dries.
const USUAL_STOPS: f64 = 0.1;
/// Most lie within about so many stops of that ...
const OFF_STOPS: f64 = 0.25;
/// ... but this part of them within about so many, all marks alike. Where most of the dial was shot
/// its ends and uneven steps are to tell, not nearness: then more is thought possible.
const FAR_STOPS: f64 = 0.8;
const FAR_OFF: f64 = 0.1;
const FAR_OFF_WHOLE: f64 = 0.8;
/// So many marks are many, and most of a dial when they are half of it or more and span this part of it.
const MANY_MARKS: usize = 5;
const SPANNED: f64 = 0.6;
/// Shots farther apart than this were surely not one mark.
const APART_STOPS: f64 = 0.5;
/// No mark is off by more than this.
const FARTHEST_STOPS: f64 = 1.8;
/// The error changes from mark to mark by about one of these many stops.
const CHANGES_STOPS: [f64; 3] = [0.04, 0.08, 0.16];
/// Shots at one mark scatter by about so many stops.
const SCATTER_STOPS: f64 = 0.1;
/// What is known of that before it is seen: so much, as so many shots beyond the first would show it.
const USUAL_SCATTER_STOPS: f64 = 0.03;
const USUAL_SHOTS: f64 = 4.0;
/// Neighbours nearer than this are taken for one mark's to see it.
const NEAR_STOPS: f64 = 0.25;
/// Shots this near each other were surely one mark.
const SAME_STOPS: f64 = 0.03;
/// What passing over a mark within the dial costs, in natural units of log probability ...
const PASSED_OVER: f64 = 1.8;
/// ... and at its ends.
const NOT_REACHED: f64 = 0.7;
/// A mark is shot about as often as the others; twice as often or half costs so much.
const OFTENER: f64 = 2.0;
/// What leaving out a shot as no mark's costs, and how many may be left out one after the other.
const LEFT_OUT: f64 = 12.0;
const MOST_LEFT_OUT: usize = 2;
/// Below this probability the mark is called uncertain; where many marks were shot all would be wrong
/// together, and by sound a time may be another pair's, so more is asked.
const SURE: f64 = 0.9;
const SURER: f64 = 0.95;

/// The time of one shot.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Timed {
    /// Seconds; no number where there is none.
    pub(crate) seconds: f64,
    /// Standard uncertainty in stops, of what is the shot's own.
    pub(crate) deviation: f64,
    /// The same of what all times have in common: they are too long together.
    pub(crate) shared: f64,
}

/// Shots that are surely alike.
#[derive(Clone, Copy, Debug)]
struct Unit {
    /// Mean of `log2` of their times.
    log: f64,
    shots: f64,
    /// Standard uncertainties in stops, the largest of theirs: what clicks leave open they leave alike.
    deviation: f64,
    shared: f64,
}

/// The mark of one shot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Assigned {
    pub(crate) mark: Marked,
    /// The next likely mark, when this one is not sure.
    pub(crate) alternative: Option<Marked>,
}

/// A run of shots given to one mark.
struct Run {
    mark: usize,
    from: usize,
    to: usize,
    /// How far the mark is off, in stops.
    error: f64,
    /// Standard uncertainties of that.
    deviation: f64,
    shared: f64,
    /// What the scatter within the run and its length cost.
    own: f64,
}

/// Assigns each time to a mark of the dial.
pub(crate) fn assign(
    times: &[Timed],
    dial: &[Marked],
    series: Series,
    sense: Sense,
) -> Vec<Option<Assigned>> {
    let mut dial = dial.to_vec();
    dial.sort_by(|a, b| b.cmp(a));
    dial.dedup();
    let nominal: Vec<f64> = dial
        .iter()
        .map(|mark| mark.nominal(series).to_s().log2())
        .collect();
    // What lies far from every mark can be no mark's and must not break the order of the others.
    let can_be = |time: f64| {
        let near = |mark: &f64| (time.log2() - mark).abs() <= FARTHEST_STOPS;
        time > 0.0 && nominal.iter().any(near)
    };
    let possible: Vec<Timed> = times
        .iter()
        .copied()
        .filter(|time| can_be(time.seconds))
        .collect();
    let (units, unit_of) = units(&possible);
    let runs = runs(&units, &nominal, scatter(&possible));
    let is_whole = is_whole(&units, &nominal);
    let far = if is_whole { FAR_OFF_WHOLE } else { FAR_OFF };
    let sure = if distinct(&units) >= MANY_MARKS || sense == Sense::Sound {
        SURER
    } else {
        SURE
    };
    let chances = |far: f64| over_changes(&runs, &units, nominal.len(), far);
    // A stop off all over is thought possible so that a doubt is said; of two marks in doubt the nearer is
    // the likelier by far.
    let (doubted, usual) = (chances(far), chances(FAR_OFF));
    let mut assigned = unit_of
        .iter()
        .map(|unit| best(&doubted[*unit], &usual[*unit], &dial, sure));
    times
        .iter()
        .map(|time| {
            can_be(time.seconds)
                .then(|| assigned.next().flatten())
                .flatten()
        })
        .collect()
}

/// The nearest mark, for a dial that is not known.
pub(crate) fn nearest(time: f64, dial: &[Marked], series: Series) -> Option<Assigned> {
    let mut by_distance: Vec<(f64, Marked)> = dial
        .iter()
        .map(|mark| ((time / mark.nominal(series).to_s()).log2().abs(), *mark))
        .collect();
    by_distance.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (distance, mark) = *by_distance.first()?;
    let second = by_distance.get(1);
    let alternative = second
        .filter(|next| next.0 - distance < 0.2)
        .map(|next| next.1);
    (distance < FARTHEST_STOPS).then_some(Assigned { mark, alternative })
}

/// Groups times that are surely alike; returns the groups, longest first, and the group of each time.
fn units(times: &[Timed]) -> (Vec<Unit>, Vec<usize>) {
    let mut order: Vec<usize> = (0..times.len()).collect();
    order.sort_by(|a, b| times[*b].seconds.total_cmp(&times[*a].seconds));
    let mut units: Vec<Unit> = Vec::new();
    let mut unit_of = vec![0; times.len()];
    for index in order {
        let log = times[index].seconds.log2();
        let Timed {
            deviation, shared, ..
        } = times[index];
        match units.last_mut() {
            Some(unit) if unit.log - log < SAME_STOPS => {
                unit.log += (log - unit.log) / (unit.shots + 1.0);
                unit.shots += 1.0;
                unit.deviation = unit.deviation.max(deviation);
                unit.shared = unit.shared.max(shared);
            }
            _ => units.push(Unit {
                log,
                shots: 1.0,
                deviation,
                shared,
            }),
        }
        unit_of[index] = units.len() - 1;
    }
    (units, unit_of)
}

/// By how many stops shots at one mark scatter, as far as the times show it.
fn scatter(times: &[Timed]) -> f64 {
    let mut logs: Vec<f64> = times.iter().map(|it| it.seconds.log2()).collect();
    logs.sort_by(f64::total_cmp);
    let marks = logs.chunk_by(|a, b| b - a < NEAR_STOPS);
    let (squares, freedom) = marks.fold((0.0, 0.0), |(squares, freedom), shots| {
        let count = shots.len() as f64;
        let mean = shots.iter().sum::<f64>() / count;
        let off = shots.iter().map(|it| (it - mean).powi(2)).sum::<f64>();
        (squares + off, freedom + count - 1.0)
    });
    let usual = USUAL_SHOTS * USUAL_SCATTER_STOPS.powi(2);
    ((usual + squares) / (USUAL_SHOTS + freedom)).sqrt()
}

fn runs(units: &[Unit], nominal: &[f64], scatters: f64) -> Vec<Run> {
    let shots: f64 = units.iter().map(|unit| unit.shots).sum();
    let usual = (shots / nominal.len().max(1) as f64).max(1.0);
    let mut runs = Vec::new();
    for from in 0..units.len() {
        let (mut sum, mut square, mut count) = (0.0, 0.0, 0.0);
        let (mut deviation, mut shared) = (0.0_f64, 0.0_f64);
        let first = units[from].log;
        for (to, unit) in units.iter().enumerate().skip(from) {
            let relative = unit.log - first;
            if relative < -1.0 {
                break;
            }
            sum += unit.shots * relative;
            square += unit.shots * relative * relative;
            count += unit.shots;
            deviation = deviation.max(unit.deviation);
            shared = shared.max(unit.shared);
            let mean = sum / count;
            let scatter = (square - count * mean * mean).max(0.0);
            for (mark, nominal) in nominal.iter().enumerate() {
                let error = first + mean - nominal;
                if error.abs() <= FARTHEST_STOPS {
                    let oftener = OFTENER * (count / usual).log2().abs();
                    // Long tails: the first shot after a rest may be far from its fellows.
                    let own = 4.0 * (scatter / SCATTER_STOPS.powi(2) / 8.0).ln_1p() + oftener;
                    runs.push(Run {
                        mark,
                        from,
                        to: to + 1,
                        error,
                        deviation: deviation.hypot(scatters / count.sqrt()),
                        shared,
                        own,
                    });
                }
            }
        }
    }
    runs
}

/// How many marks were surely shot, at least.
fn distinct(units: &[Unit]) -> usize {
    let mut distinct = 0;
    let mut last = f64::INFINITY;
    for unit in units {
        if last - unit.log > APART_STOPS {
            distinct += 1;
            last = unit.log;
        }
    }
    distinct
}

/// Whether most of the dial was shot; both are `log2` of times, longest first.
fn is_whole(units: &[Unit], nominal: &[f64]) -> bool {
    let distinct = distinct(units);
    let span = |first: Option<&f64>, last: Option<&f64>| Some(first? - last?);
    let (first, last) = (units.first(), units.last());
    let shot = span(first.map(|it| &it.log), last.map(|it| &it.log));
    let spans = shot
        .zip(span(nominal.first(), nominal.last()))
        .is_some_and(|(shot, dial)| shot >= SPANNED * dial);
    distinct >= MANY_MARKS && 2 * distinct >= nominal.len() && spans
}

/// What it costs that the slowest mark shot is off by so much; those after it follow from it.
fn off(error: f64, far: f64) -> f64 {
    let normal = |part: f64, deviation: f64| {
        part / deviation * (-0.5 * ((error - USUAL_STOPS) / deviation).powi(2)).exp()
    };
    -(normal(1.0 - far, OFF_STOPS) + normal(far, FAR_STOPS)).ln()
}

/// What it costs that `next` follows `run` where the error changes by about `change` stops.
fn step(run: &Run, next: &Run, change: f64) -> Option<f64> {
    if next.mark <= run.mark {
        return None;
    }
    let marks = (next.mark - run.mark) as f64;
    // Neither time is known better than its uncertainty, of which what they share moves both.
    let own = run.deviation.powi(2) + next.deviation.powi(2);
    let variance = change * change * marks + own + (next.shared - run.shared).powi(2);
    let square = (next.error - run.error).powi(2) / variance;
    // Student's t with four degrees of freedom: one worn mark must not pull the others along.
    let density = 2.5 * (square / 4.0).ln_1p() + 0.5 * variance.ln();
    Some(density + PASSED_OVER * (marks - 1.0))
}

/// The probability of each mark for each unit, however evenly the marks are off; what is left to 1
/// is that it is no mark's. `far` is the part of dials that may be far off.
fn over_changes(runs: &[Run], units: &[Unit], marks: usize, far: f64) -> Vec<Vec<f64>> {
    let each = CHANGES_STOPS.map(|change| chances(runs, units, marks, far, change));
    let all = each
        .iter()
        .fold(f64::NEG_INFINITY, |all, it| log_add(all, it.1));
    let mut sum = vec![vec![0.0; marks]; units.len()];
    for (chances, evidence) in each {
        let part = if all.is_finite() {
            (evidence - all).exp()
        } else {
            0.0
        };
        for (sum, chance) in sum.iter_mut().flatten().zip(chances.iter().flatten()) {
            *sum += part * chance;
        }
    }
    sum
}

/// The same for one evenness, and the logarithm of how well it tells the shots.
fn chances(
    runs: &[Run],
    units: &[Unit],
    marks: usize,
    far: f64,
    change: f64,
) -> (Vec<Vec<f64>>, f64) {
    // What leaving out the units from one to before another costs.
    let mut left_out = vec![0.0];
    for unit in units {
        left_out.push(left_out[left_out.len() - 1] + LEFT_OUT * unit.shots);
    }
    let mut by_start: Vec<Vec<usize>> = vec![Vec::new(); units.len() + 1];
    for (index, run) in runs.iter().enumerate() {
        by_start[run.from].push(index);
    }
    let followers = |run: &Run| {
        let to = run.to;
        let last = units.len().min(to + MOST_LEFT_OUT);
        by_start[to..=last].iter().flatten().copied()
    };
    let follows = |run: &Run, next: &Run| {
        Some(step(run, next, change)? + left_out[next.from] - left_out[run.to])
    };
    // `runs` is in the order of `from`, so a forward pass may push to what starts later.
    let mut forward = vec![f64::NEG_INFINITY; runs.len()];
    let mut backward = vec![f64::NEG_INFINITY; runs.len()];
    for (index, run) in runs.iter().enumerate() {
        if run.from <= MOST_LEFT_OUT {
            let begins = -NOT_REACHED * run.mark as f64 - off(run.error, far) - left_out[run.from];
            forward[index] = log_add(forward[index], begins);
        }
        forward[index] -= run.own;
        for next in followers(run) {
            if let Some(cost) = follows(run, &runs[next]) {
                forward[next] = log_add(forward[next], forward[index] - cost);
            }
        }
    }
    let mut all = f64::NEG_INFINITY;
    for (index, run) in runs.iter().enumerate().rev() {
        if run.to + MOST_LEFT_OUT >= units.len() {
            let rest = left_out[units.len()] - left_out[run.to];
            let missing = NOT_REACHED * (marks - 1 - run.mark) as f64;
            backward[index] = -missing - rest;
            all = log_add(all, forward[index] + backward[index]);
        }
        for next in followers(run) {
            if let Some(cost) = follows(run, &runs[next]) {
                let through = backward[next] - runs[next].own - cost;
                backward[index] = log_add(backward[index], through);
            }
        }
    }
    let mut chances = vec![vec![f64::NEG_INFINITY; marks]; units.len()];
    for (index, run) in runs.iter().enumerate() {
        let through = forward[index] + backward[index];
        for unit in &mut chances[run.from..run.to] {
            unit[run.mark] = log_add(unit[run.mark], through);
        }
    }
    for value in chances.iter_mut().flatten() {
        *value = if all.is_finite() {
            (*value - all).exp()
        } else {
            0.0
        };
    }
    (chances, all)
}

/// The logarithm of a sum, from the logarithms.
pub(super) fn log_add(a: f64, b: f64) -> f64 {
    let (low, high) = if a < b { (a, b) } else { (b, a) };
    if low == f64::NEG_INFINITY {
        high
    } else {
        high + (low - high).exp().ln_1p()
    }
}

/// The mark that `doubted` leaves no doubt of; else the likeliest as `usual` has it, and the next.
fn best(doubted: &[f64], usual: &[f64], dial: &[Marked], sure: f64) -> Option<Assigned> {
    let likeliest = |chances: &[f64], but: Option<usize>| {
        (0..chances.len())
            .filter(|mark| Some(*mark) != but)
            .max_by(|a, b| chances[*a].total_cmp(&chances[*b]))
    };
    let first = likeliest(doubted, None)?;
    let left_out = 1.0 - doubted.iter().sum::<f64>();
    if doubted[first] <= left_out {
        return None;
    }
    if doubted[first] >= sure {
        return Some(Assigned {
            mark: dial[first],
            alternative: None,
        });
    }
    let mark = likeliest(usual, None)?;
    Some(Assigned {
        mark: dial[mark],
        alternative: likeliest(doubted, Some(mark)).map(|next| dial[next]),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn dial() -> Vec<Marked> {
        [
            "1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500",
        ]
        .iter()
        .map(|text| text.parse().unwrap())
        .collect()
    }

    /// As the times would be given marks were they known exactly.
    fn assigned(times: &[f64], dial: &[Marked]) -> Vec<Option<Assigned>> {
        let timed = |seconds: &f64| Timed {
            seconds: *seconds,
            deviation: 0.0,
            shared: 0.0,
        };
        let times: Vec<Timed> = times.iter().map(timed).collect();
        assign(&times, dial, Series::Marked, Sense::Light)
    }

    fn time(mark: Marked, error: f64) -> f64 {
        mark.nominal(Series::Marked).to_s() * error.exp2()
    }

    #[test]
    fn a_whole_stop_of_common_error_does_not_shift_the_marks() {
        for error in [-1.0, -0.5, 0.0, 0.5, 1.0] {
            let times: Vec<f64> = dial().iter().map(|mark| time(*mark, error)).collect();
            for (got, want) in assigned(&times, &dial()).iter().zip(dial()) {
                assert_eq!(got.unwrap().mark, want, "{error}");
            }
        }
    }

    #[test]
    fn unequal_repeats_and_a_slow_first_shot_do_not_shift_the_marks() {
        let repeats = [3, 1, 1, 1, 2, 2, 2, 2, 2, 3];
        for common in [-0.3, 0.0, 0.3] {
            let mut shots = Vec::new();
            for ((n, mark), count) in dial().into_iter().enumerate().zip(repeats) {
                for shot in 0..count {
                    let rest = if n == 0 && shot == 0 {
                        0.35
                    } else {
                        0.01 * f64::from(shot)
                    };
                    shots.push((mark, time(mark, common + rest)));
                }
            }
            let times: Vec<f64> = shots.iter().map(|shot| shot.1).collect();
            for (got, (want, _)) in assigned(&times, &dial()).iter().zip(&shots) {
                assert_eq!(
                    got.unwrap(),
                    Assigned {
                        mark: *want,
                        alternative: None
                    },
                    "{common}"
                );
            }
        }
    }

    #[test]
    fn a_mark_between_two_is_said_to_be_uncertain() {
        let time = (0.5_f64 * 0.25).sqrt();
        let got = assigned(&[time], &dial())[0].unwrap();
        assert!(got.alternative.is_some());
    }

    #[test]
    fn of_marks_in_doubt_the_nearer_is_given() {
        // Neither end was fired, so that a whole stop off is possible; the steps are too uneven to tell.
        let fired = [1, 2, 3, 4, 5, 6, 7, 8];
        let errors = [-0.05, -0.25, -0.1, 0.1, -0.2, 0.1, -0.15, 0.05];
        let shots = fired.iter().zip(errors);
        let times: Vec<f64> = shots.map(|(n, error)| time(dial()[*n], error)).collect();
        let got = assigned(&times, &dial());
        assert!(got.iter().any(|it| it.unwrap().alternative.is_some()));
        for (got, n) in got.iter().zip(fired) {
            assert_eq!(got.unwrap().mark, dial()[n]);
        }
    }

    #[test]
    fn a_shot_that_is_no_marks_takes_no_mark_from_the_others() {
        let rest: Vec<f64> = dial().iter().map(|mark| time(*mark, 0.1)).collect();
        for wild in [40.0, 9.0, 1e-6, 0.0, f64::NAN] {
            let mut times = rest.clone();
            times.insert(3, wild);
            let mut got = assigned(&times, &dial());
            assert_eq!(got.remove(3), None, "{wild}");
            for (got, want) in got.iter().zip(dial()) {
                assert_eq!(got.unwrap().mark, want, "{wild}");
                assert_eq!(got.unwrap().alternative, None, "{wild}");
            }
        }
    }

    #[test]
    fn two_shots_between_which_no_mark_lies_do_not_cost_the_others_theirs() {
        let dial: Vec<Marked> = dial().into_iter().take(3).collect();
        let times = [1.0, 0.5, 0.25, 0.25 * 1.4_f64.exp2(), 0.25 / 1.4_f64.exp2()];
        let got = assigned(&times, &dial);
        assert!(got[..3].iter().all(Option::is_some));
    }

    #[test]
    fn most_of_a_dial_one_stop_off_with_an_end_left_open_is_said_to_be_uncertain() {
        let fired = [0, 1, 3, 4, 6, 7, 8];
        for common in [-1.0, -0.9] {
            let times: Vec<f64> = fired.iter().map(|n| time(dial()[*n], common)).collect();
            for (got, n) in assigned(&times, &dial()).iter().zip(fired) {
                let got = got.unwrap();
                assert!(
                    got.alternative.is_some() || got.mark == dial()[n],
                    "{got:?}"
                );
            }
        }
    }

    #[test]
    fn a_few_shots_near_marks_of_the_dial_are_sure() {
        for error in [-0.2, 0.0, 0.2] {
            let marks = [dial()[2], dial()[5], dial()[7]];
            let times = marks.map(|mark| time(mark, error));
            for (got, want) in assigned(&times, &dial()).iter().zip(marks) {
                let want = Assigned {
                    mark: want,
                    alternative: None,
                };
                assert_eq!(got.unwrap(), want, "{error}");
            }
        }
    }

    #[test]
    fn uneven_steps_of_an_older_dial_show_that_it_is_a_stop_off() {
        let dial: Vec<Marked> = ["1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/300"]
            .iter()
            .map(|text| text.parse().unwrap())
            .collect();
        let fired = [dial[1], dial[2], dial[3], dial[4], dial[6]];
        for error in [-1.0, 1.0] {
            let times = fired.map(|mark| time(mark, error));
            for (got, want) in assigned(&times, &dial).iter().zip(fired) {
                assert_eq!(got.unwrap().mark, want, "{error}");
            }
        }
    }

    #[test]
    fn uneven_steps_that_the_times_are_too_uncertain_to_show_leave_a_doubt() {
        // The steps are those of 1/2, 1/8, 1/15 by chance; the marks were 1/4, 1/15, 1/30.
        let times = [0.394, 0.099, 0.0526];
        let timed = |seconds: f64| Timed {
            seconds,
            deviation: 1.5e-3 / seconds / std::f64::consts::LN_2,
            shared: 0.0,
        };
        let got = assign(&times.map(timed), &dial(), Series::Marked, Sense::Light);
        assert!(got.iter().all(|it| it.unwrap().alternative.is_some()));
    }

    #[test]
    fn times_that_are_too_long_together_do_not_part_the_shots_of_a_mark() {
        let times = [0.0574, 0.0546, 0.006_48, 0.0017, 0.001_63];
        let timed = |seconds: f64| Timed {
            seconds,
            deviation: 0.0,
            shared: 0.7e-3 / seconds / std::f64::consts::LN_2,
        };
        let got = assign(&times.map(timed), &dial(), Series::Marked, Sense::Light);
        let fastest = [got[3], got[4]].map(|it| it.unwrap().mark);
        assert_eq!(fastest, ["1/500"; 2].map(|it| it.parse().unwrap()));
    }

    /// Sessions drawn at random that were told wrongly without a word, and those with a doubt, of
    /// 1000, where all marks are off by `common` of a draw from -1 to 1.
    fn drawn_sessions(common: impl Fn(f64) -> f64) -> (usize, usize) {
        let mut gauss = crate::synth::Gauss::new(41);
        let (mut wrong, mut unsure) = (0, 0);
        for _ in 0..1000 {
            let off = common(2.0 * gauss.uniform() - 1.0);
            let mut shots: Vec<(Marked, f64)> = Vec::new();
            for mark in dial() {
                if gauss.uniform() < 0.12 {
                    continue;
                }
                for _ in 0..=(3.0 * gauss.uniform()) as usize {
                    let own = 0.12 * (gauss.uniform() - 0.5);
                    shots.push((mark, time(mark, off + own)));
                }
            }
            let times: Vec<f64> = shots.iter().map(|shot| shot.1).collect();
            let got = assigned(&times, &dial());
            let is_sure = |it: &Option<Assigned>| it.is_some_and(|it| it.alternative.is_none());
            let is_wrong = |(got, shot): (&Option<Assigned>, &(Marked, f64))| {
                is_sure(got) && got.is_some_and(|it| it.mark != shot.0)
            };
            wrong += usize::from(got.iter().zip(&shots).any(is_wrong));
            unsure += usize::from(!got.iter().all(is_sure));
        }
        (wrong, unsure)
    }

    #[test]
    fn even_dials_are_told_by_their_uneven_steps_even_with_an_end_left_out() {
        let (wrong, unsure) = drawn_sessions(|draw| 0.1 + 0.4 * draw);
        assert_eq!(wrong, 0);
        // An end is left out in 225 of 1000.
        assert!((20..90).contains(&unsure), "{unsure}");
    }

    #[test]
    fn dials_off_by_up_to_a_stop_are_told_or_doubted() {
        let (wrong, unsure) = drawn_sessions(|draw| draw);
        assert!(wrong <= 3, "{wrong}");
        assert!((20..110).contains(&unsure), "{unsure}");
    }

    proptest! {
        #[test]
        fn repeated_and_missing_marks_in_any_order_are_assigned(
            common in -0.7..0.7_f64,
            counts in prop::collection::vec(0_usize..4, 10),
            // Less than would hide the dial's uneven steps.
            wobble in prop::collection::vec(-0.03..0.03_f64, 10),
            seed in 0_usize..1000,
        ) {
            let mut shots: Vec<(Marked, f64)> = Vec::new();
            for ((mark, count), own) in dial().into_iter().zip(&counts).zip(&wobble) {
                for repeat in 0..*count {
                    let error = common * 0.5 + own + 0.01 * repeat as f64;
                    shots.push((mark, time(mark, error)));
                }
            }
            prop_assume!(!shots.is_empty());
            let turn = seed % shots.len();
            shots.rotate_left(turn);
            let times: Vec<f64> = shots.iter().map(|shot| shot.1).collect();
            for (got, (want, _)) in assigned(&times, &dial()).iter().zip(&shots) {
                let got = got.unwrap();
                prop_assert!(got.mark == *want || got.alternative.is_some());
            }
        }
    }
}
