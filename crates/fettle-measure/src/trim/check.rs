//! Whether every value of a state has a meaning.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;

use super::error::StateError;
use super::place::push_key;
use super::state::{Adjuster, Reading, State};

const MOST_ADJUSTERS: usize = 4;
const MOST_READINGS: usize = 6;
const MOST_TRIALS: usize = 100;
const LONGEST_NAME: usize = 300;

/// Readings, targets, limits and effects, in any unit.
const MOST_UNITS: f64 = 1e9;
/// The least limit, in any unit.
const LEAST_LIMIT: f64 = 1e-9;
const MOST_TURNS: f64 = 1e4;
/// Readings, effects of a turn and repeatability, in limits: more is a mistake in the unit.
const MOST_LIMITS: f64 = 1e6;
const REL_U: RangeInclusive<f64> = 0.0..=10.0;
/// Positions are sums of turns as they were written down.
const TURNS_ROUNDING: f64 = 1e-6;

/// Adds to `wrong` whatever has no meaning in `state`.
pub(super) fn check(state: &State, wrong: &mut StateError) {
    check_count(
        "adjusters",
        state.adjusters.len(),
        1..=MOST_ADJUSTERS,
        wrong,
    );
    check_count("readings", state.readings.len(), 1..=MOST_READINGS, wrong);
    check_count("trials", state.trials.len(), 1..=MOST_TRIALS, wrong);

    let mut names = BTreeSet::new();
    for (n, adjuster) in state.adjusters.iter().enumerate() {
        let path = format!("adjusters[{n}]");
        check_name(&path, &adjuster.name, &mut names, wrong);
        check_adjuster(&path, adjuster, state, wrong);
    }
    let mut names = BTreeSet::new();
    for (n, reading) in state.readings.iter().enumerate() {
        let path = format!("readings[{n}]");
        check_name(&path, &reading.name, &mut names, wrong);
        check_reading(&path, reading, wrong);
    }
    check_trials(state, wrong);
}

fn check_count(path: &str, count: usize, allowed: RangeInclusive<usize>, wrong: &mut StateError) {
    if !allowed.contains(&count) {
        let (least, most) = allowed.into_inner();
        let remedy = match (path, count) {
            ("trials", 0) => "; write the setting as found as the first, with zero turns",
            ("trials", _) => "; begin again from the setting as it now is",
            _ => "",
        };
        wrong.add(
            path,
            format!("there are {count}, between {least} and {most} are possible{remedy}"),
        );
    }
}

fn check_name<'a>(
    path: &str,
    name: &'a str,
    names: &mut BTreeSet<&'a str>,
    wrong: &mut StateError,
) {
    let path = format!("{path}.name");
    if name.trim().is_empty() {
        wrong.add(path, "the name is empty; write one");
    } else if name.chars().count() > LONGEST_NAME {
        wrong.add(
            path,
            format!("the name has more than {LONGEST_NAME} letters; shorten it"),
        );
    } else if !names.insert(name) {
        wrong.add(
            path,
            format!("the name {name:?} stands twice; tell the two apart"),
        );
    }
}

fn check_adjuster(path: &str, adjuster: &Adjuster, state: &State, wrong: &mut StateError) {
    for (reading, effect) in &adjuster.effects {
        let mut path = format!("{path}.effects");
        push_key(&mut path, reading);
        if !state.readings.iter().any(|known| known.name == *reading) {
            let known: Vec<&str> = state.readings.iter().map(|r| r.name.as_str()).collect();
            wrong.add(
                path.clone(),
                format!(
                    "there is no reading {reading:?}; use one of: {}",
                    known.join(", ")
                ),
            );
        }
        let per_turn = format!("{path}.per_turn");
        check_range(
            per_turn,
            effect.per_turn,
            -MOST_UNITS..=MOST_UNITS,
            "units a turn",
            wrong,
        );
        if let Some(known) = state.readings.iter().find(|known| known.name == *reading) {
            check_size(format!("{path}.per_turn"), effect.per_turn, known, wrong);
        }
        check_range(
            format!("{path}.rel_u"),
            effect.rel_u,
            REL_U,
            "as a part of the effect, 0.3 for 30 %",
            wrong,
        );
    }
    if adjuster
        .effects
        .values()
        .all(|effect| effect.per_turn.abs() < f64::MIN_POSITIVE)
    {
        wrong.add(
            format!("{path}.effects"),
            "it moves no reading; write what one turn does, or leave the adjuster out",
        );
    }
    check_range(
        format!("{path}.backlash_turns"),
        adjuster.backlash_turns,
        0.0..=MOST_TURNS,
        "turns",
        wrong,
    );
    if let Some(min) = adjuster.min_turns {
        check_range(
            format!("{path}.min_turns"),
            min,
            -MOST_TURNS..=0.0,
            "turns from where it stood at the first trial",
            wrong,
        );
    }
    if let Some(max) = adjuster.max_turns {
        check_range(
            format!("{path}.max_turns"),
            max,
            0.0..=MOST_TURNS,
            "turns from where it stood at the first trial",
            wrong,
        );
    }
}

fn check_reading(path: &str, reading: &Reading, wrong: &mut StateError) {
    let unit = if reading.unit.trim().is_empty() {
        wrong.add(
            format!("{path}.unit"),
            "the unit is empty; write it as on the instrument, or 1",
        );
        "units"
    } else {
        reading.unit.as_str()
    };
    check_range(
        format!("{path}.target"),
        reading.target,
        -MOST_UNITS..=MOST_UNITS,
        unit,
        wrong,
    );
    check_range(
        format!("{path}.limit"),
        reading.limit,
        LEAST_LIMIT..=MOST_UNITS,
        &format!("{unit} either way of the target"),
        wrong,
    );
    check_range(
        format!("{path}.repeatability"),
        reading.repeatability,
        0.0..=MOST_UNITS,
        &format!("{unit}, as a standard deviation"),
        wrong,
    );
    check_size(
        format!("{path}.repeatability"),
        reading.repeatability,
        reading,
        wrong,
    );
}

fn check_trials(state: &State, wrong: &mut StateError) {
    let mut stands = vec![0.0; state.adjusters.len()];
    for (n, trial) in state.trials.iter().enumerate() {
        let path = format!("trials[{n}]");
        check_length(
            &format!("{path}.turns"),
            trial.turns.len(),
            state.adjusters.len(),
            "adjuster",
            wrong,
        );
        check_length(
            &format!("{path}.readings"),
            trial.readings.len(),
            state.readings.len(),
            "reading, null where it was not taken",
            wrong,
        );
        for (j, (&turns, adjuster)) in trial.turns.iter().zip(&state.adjusters).enumerate() {
            let path = format!("{path}.turns[{j}]");
            if n == 0 && turns.abs() > 0.0 {
                wrong.add(
                    path.clone(),
                    format!(
                        "{turns} turns at the first trial, which is the setting as found; write 0"
                    ),
                );
            }
            check_range(
                path.clone(),
                turns,
                -MOST_TURNS..=MOST_TURNS,
                "turns",
                wrong,
            );
            stands[j] += turns;
            check_travel(&path, stands[j], adjuster, wrong);
        }
        for (i, (value, reading)) in trial.readings.iter().zip(&state.readings).enumerate() {
            if let Some(value) = value {
                let path = format!("{path}.readings[{i}]");
                check_range(
                    path.clone(),
                    *value,
                    -MOST_UNITS..=MOST_UNITS,
                    &reading.unit,
                    wrong,
                );
                check_size(path, value - reading.target, reading, wrong);
            }
        }
    }
}

/// What is millions of times its limit was given in another unit.
fn check_size(path: String, size: f64, reading: &Reading, wrong: &mut StateError) {
    if size.is_finite() && reading.limit > 0.0 && size.abs() > MOST_LIMITS * reading.limit {
        wrong.add(
            path,
            format!(
                "{size} is more than {MOST_LIMITS} times the limit {}; are both in {}?",
                reading.limit, reading.unit
            ),
        );
    }
}

fn check_travel(path: &str, stands: f64, adjuster: &Adjuster, wrong: &mut StateError) {
    let name = &adjuster.name;
    let beyond = match (adjuster.min_turns, adjuster.max_turns) {
        (Some(min), _) if stands < min - TURNS_ROUNDING => format!("min_turns {min}"),
        (_, Some(max)) if stands > max + TURNS_ROUNDING => format!("max_turns {max}"),
        _ => return,
    };
    wrong.add(
        path,
        format!("brings {name:?} to {stands:.4} turns, beyond its {beyond}; correct one of them"),
    );
}

fn check_length(path: &str, count: usize, wanted: usize, what: &str, wrong: &mut StateError) {
    if count != wanted {
        wrong.add(
            path,
            format!("has {count} entries for {wanted}; write one for each {what}"),
        );
    }
}

fn check_range(
    path: String,
    value: f64,
    allowed: RangeInclusive<f64>,
    unit: &str,
    wrong: &mut StateError,
) {
    if !allowed.contains(&value) {
        let (least, most) = allowed.into_inner();
        wrong.add(
            path,
            format!("is {value}, must be between {least} and {most} {unit}"),
        );
    }
}
