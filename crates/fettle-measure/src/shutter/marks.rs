//! Which mark of the dial each shot was, decided for the whole session at once.
//!
//! Slower marks give longer times, so with the shots sorted by time the marks follow in the dial's
//! order, each taking a run of shots. A hidden Markov chain over such runs weighs how far each mark
//! is off, how much that changes from one mark to the next, the scatter within a mark and marks
//! passed over; its forward and backward sums give the probability of each mark for each shot.

use crate::{Marked, Series};

/// Most dials are on time to about so many stops ...
const OFF_STOPS: f64 = 0.3;
/// ... but this part of them to about so many, all marks alike. Where most of the dial was shot its
/// ends and uneven steps are to tell, not nearness: then more is thought possible.
const FAR_STOPS: f64 = 0.8;
const FAR_OFF: f64 = 0.1;
const FAR_OFF_WHOLE: f64 = 0.5;
/// So many marks are most of a dial, when they are half of it or more.
const MANY_MARKS: usize = 5;
/// Shots farther apart than this were surely not one mark.
const APART_STOPS: f64 = 0.5;
/// No mark is off by more than this.
const FARTHEST_STOPS: f64 = 1.8;
/// The error changes from mark to mark by about so many stops.
const CHANGE_STOPS: f64 = 0.17;
/// Shots at one mark scatter by about so many stops.
const SCATTER_STOPS: f64 = 0.1;
/// Shots this near each other were surely one mark.
const SAME_STOPS: f64 = 0.03;
/// What passing over a mark within the dial costs, in natural units of log probability ...
const PASSED_OVER: f64 = 1.8;
/// ... and at its ends.
const NOT_REACHED: f64 = 0.7;
/// A mark is shot about as often as the others; twice as often or half costs so much.
const OFTENER: f64 = 2.0;
/// What leaving out a shot as no mark's costs, and how many may be left out one after the other.
const LEFT_OUT: f64 = 9.0;
const MOST_LEFT_OUT: usize = 2;
/// Below this probability the mark is called uncertain.
const SURE: f64 = 0.88;

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
    /// What the scatter within the run and its length cost.
    own: f64,
}

/// Assigns each time (seconds, positive) to a mark of the dial.
pub(crate) fn assign(times: &[f64], dial: &[Marked], series: Series) -> Vec<Option<Assigned>> {
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
    let possible: Vec<f64> = times.iter().copied().filter(|time| can_be(*time)).collect();
    let (units, unit_of) = units(&possible);
    let runs = runs(&units, &nominal);
    let chances = chances(&runs, &units, nominal.len());
    let mut assigned = unit_of.iter().map(|unit| best(&chances[*unit], &dial));
    times
        .iter()
        .map(|time| can_be(*time).then(|| assigned.next().flatten()).flatten())
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

/// Groups times that are surely alike; returns each group's mean `log2` with its count, longest
/// first, and the group of each time.
fn units(times: &[f64]) -> (Vec<(f64, f64)>, Vec<usize>) {
    let mut order: Vec<usize> = (0..times.len()).collect();
    order.sort_by(|a, b| times[*b].total_cmp(&times[*a]));
    let mut units: Vec<(f64, f64)> = Vec::new();
    let mut unit_of = vec![0; times.len()];
    for index in order {
        let log = times[index].log2();
        match units.last_mut() {
            Some((mean, count)) if *mean - log < SAME_STOPS => {
                *mean += (log - *mean) / (*count + 1.0);
                *count += 1.0;
            }
            _ => units.push((log, 1.0)),
        }
        unit_of[index] = units.len() - 1;
    }
    (units, unit_of)
}

fn runs(units: &[(f64, f64)], nominal: &[f64]) -> Vec<Run> {
    let shots: f64 = units.iter().map(|unit| unit.1).sum();
    let usual = (shots / nominal.len().max(1) as f64).max(1.0);
    let mut runs = Vec::new();
    for from in 0..units.len() {
        let (mut sum, mut square, mut count) = (0.0, 0.0, 0.0);
        for (to, (log, shots)) in units.iter().enumerate().skip(from) {
            if units[from].0 - log > 1.0 {
                break;
            }
            let relative = log - units[from].0;
            sum += shots * relative;
            square += shots * relative * relative;
            count += shots;
            let mean = sum / count;
            let scatter = (square - count * mean * mean).max(0.0);
            for (mark, nominal) in nominal.iter().enumerate() {
                let error = units[from].0 + mean - nominal;
                if error.abs() <= FARTHEST_STOPS {
                    let oftener = OFTENER * (count / usual).log2().abs();
                    // Long tails: the first shot after a rest may be far from its fellows.
                    let own = 4.0 * (scatter / SCATTER_STOPS.powi(2) / 8.0).ln_1p() + oftener;
                    runs.push(Run {
                        mark,
                        from,
                        to: to + 1,
                        error,
                        own,
                    });
                }
            }
        }
    }
    runs
}

/// What part of dials is thought to be far off, all marks alike, where these were shot.
fn far_off(units: &[(f64, f64)], marks: usize) -> f64 {
    let mut distinct = 0;
    let mut last = f64::INFINITY;
    for (log, _) in units {
        if last - log > APART_STOPS {
            distinct += 1;
            last = *log;
        }
    }
    if distinct >= MANY_MARKS && 2 * distinct >= marks {
        FAR_OFF_WHOLE
    } else {
        FAR_OFF
    }
}

/// What it costs that the slowest mark shot is off by so much; those after it follow from it.
fn off(error: f64, far: f64) -> f64 {
    let normal =
        |part: f64, deviation: f64| part / deviation * (-0.5 * (error / deviation).powi(2)).exp();
    -(normal(1.0 - far, OFF_STOPS) + normal(far, FAR_STOPS)).ln()
}

/// What it costs that `next` follows `run`.
fn step(run: &Run, next: &Run) -> Option<f64> {
    if next.mark <= run.mark {
        return None;
    }
    let marks = (next.mark - run.mark) as f64;
    let change = (next.error - run.error) / CHANGE_STOPS;
    // Tails as long as Student's t with few degrees of freedom: one worn mark must not pull the
    // others along.
    Some(3.0 * (change * change / marks / 4.0).ln_1p() + PASSED_OVER * (marks - 1.0))
}

/// The probability of each mark for each unit; what is left to 1 is that it is no mark's.
fn chances(runs: &[Run], units: &[(f64, f64)], marks: usize) -> Vec<Vec<f64>> {
    let far = far_off(units, marks);
    // What leaving out the units from one to before another costs.
    let mut left_out = vec![0.0];
    for unit in units {
        left_out.push(left_out[left_out.len() - 1] + LEFT_OUT * unit.1);
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
    let follows =
        |run: &Run, next: &Run| Some(step(run, next)? + left_out[next.from] - left_out[run.to]);
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
    chances
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

fn best(chances: &[f64], dial: &[Marked]) -> Option<Assigned> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|a, b| chances[*b].total_cmp(&chances[*a]));
    let first = *order.first()?;
    let left_out = 1.0 - chances.iter().sum::<f64>();
    if chances[first] <= left_out {
        return None;
    }
    let alternative = order
        .get(1)
        .filter(|_| chances[first] < SURE)
        .map(|next| dial[*next]);
    Some(Assigned {
        mark: dial[first],
        alternative,
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

    fn time(mark: Marked, error: f64) -> f64 {
        mark.nominal(Series::Marked).to_s() * error.exp2()
    }

    #[test]
    fn a_whole_stop_of_common_error_does_not_shift_the_marks() {
        for error in [-1.0, -0.5, 0.0, 0.5, 1.0] {
            let times: Vec<f64> = dial().iter().map(|mark| time(*mark, error)).collect();
            for (got, want) in assign(&times, &dial(), Series::Marked).iter().zip(dial()) {
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
            for (got, (want, _)) in assign(&times, &dial(), Series::Marked).iter().zip(&shots) {
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
        let got = assign(&[time], &dial(), Series::Marked)[0].unwrap();
        assert!(got.alternative.is_some());
    }

    #[test]
    fn a_shot_that_is_no_marks_takes_no_mark_from_the_others() {
        let rest: Vec<f64> = dial().iter().map(|mark| time(*mark, 0.1)).collect();
        for wild in [40.0, 9.0, 1e-6, 0.0, f64::NAN] {
            let mut times = rest.clone();
            times.insert(3, wild);
            let mut got = assign(&times, &dial(), Series::Marked);
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
        let got = assign(&times, &dial, Series::Marked);
        assert!(got[..3].iter().all(Option::is_some));
    }

    #[test]
    fn most_of_a_dial_one_stop_off_with_an_end_left_open_is_said_to_be_uncertain() {
        let fired = [0, 1, 3, 4, 6, 7, 8];
        for common in [-1.0, -0.9] {
            let times: Vec<f64> = fired.iter().map(|n| time(dial()[*n], common)).collect();
            for (got, n) in assign(&times, &dial(), Series::Marked).iter().zip(fired) {
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
            for (got, want) in assign(&times, &dial(), Series::Marked).iter().zip(marks) {
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
            for (got, want) in assign(&times, &dial, Series::Marked).iter().zip(fired) {
                assert_eq!(got.unwrap().mark, want, "{error}");
            }
        }
    }

    proptest! {
        #[test]
        fn repeated_and_missing_marks_in_any_order_are_assigned(
            common in -0.7..0.7_f64,
            counts in prop::collection::vec(0_usize..4, 10),
            wobble in prop::collection::vec(-0.08..0.08_f64, 10),
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
            for (got, (want, _)) in assign(&times, &dial(), Series::Marked).iter().zip(&shots) {
                let got = got.unwrap();
                prop_assert!(got.mark == *want || got.alternative.is_some());
            }
        }
    }
}
