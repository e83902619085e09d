//! Trimming: what the adviser must hold over simulated mechanisms, against brute force, and of bad states.

#![expect(
    clippy::expect_used,
    reason = "a helper that gets no answer has found the fault the test looks for"
)]

#[path = "../benches/trim/family.rs"]
mod family;
#[path = "../benches/trim/runs.rs"]
mod runs;

use fettle_measure::Verdict;
use fettle_measure::trim::{
    Adjuster, Advice, Effect, Finding, Reading, State, Trial, advise, read,
};
use proptest::prelude::*;
use serde_json::{Value, json};

use family::USUAL;
use runs::{Ends, Figures, Run, Way, run};

/// Held out: neither the bench's seeds nor those that were in view while the adviser was made.
const FIRST_SEED: u64 = 7_000_000;

fn figures(way: Way, ends: Ends, count: u64) -> (Figures, Vec<Run>) {
    let runs: Vec<Run> = (FIRST_SEED..FIRST_SEED + count)
        .map(|seed| run(&USUAL, seed, way, ends))
        .collect();
    (Figures::of(&runs), runs)
}

#[test]
fn mechanisms_come_in_within_three_trials_and_the_intervals_hold() {
    let (figures, runs) = figures(Way::Advised, Ends::Truth, 300);
    assert_eq!((figures.median, figures.most), (2, 3));
    assert!((1.75..=2.0).contains(&figures.mean), "{}", figures.mean);
    let held: usize = runs.iter().map(|run| run.held).sum();
    let foreseen: usize = runs.iter().map(|run| run.foreseen).sum();
    let share = held as f64 / foreseen as f64;
    assert!((0.93..=0.97).contains(&share), "{share}");
    // Nothing is wrong with these mechanisms.
    let alarms = runs.iter().filter(|run| !run.findings.is_empty()).count();
    assert!((0..=3).contains(&alarms), "{alarms}");
}

#[test]
fn ended_by_the_readings_they_come_in_as_soon() {
    let (figures, _) = figures(Way::Advised, Ends::Read, 100);
    assert_eq!((figures.median, figures.most), (2, 3));
    assert!((1.6..=2.0).contains(&figures.mean), "{}", figures.mean);
}

#[test]
fn the_reference_ways_take_as_many_trials_as_they_did() {
    let (one, _) = figures(Way::OneAtATime, Ends::Truth, 300);
    assert_eq!((one.median, one.most), (3, 10));
    assert!((3.9..=4.8).contains(&one.mean), "{}", one.mean);
    let (known, _) = figures(Way::AllKnown, Ends::Truth, 300);
    assert_eq!(known.median, 1);
    assert!((1.0..=1.2).contains(&known.mean), "{}", known.mean);
}

/// One adjuster on one reading, limits ±1 mm about 0, readings to 0.1 mm.
fn single(backlash_turns: f64, per_turn: f64, rel_u: f64, trials: &[(f64, f64)]) -> State {
    State {
        adjusters: vec![adjuster(
            "screw",
            &[("gap", per_turn, rel_u)],
            backlash_turns,
            20.0,
        )],
        readings: vec![reading("gap", 0.0, 1.0, 0.1)],
        trials: trials
            .iter()
            .map(|(turns, read)| Trial {
                turns: vec![*turns],
                readings: vec![Some(*read)],
            })
            .collect(),
        ..State::default()
    }
}

fn adjuster(
    name: &str,
    effects: &[(&str, f64, f64)],
    backlash_turns: f64,
    travel: f64,
) -> Adjuster {
    let effect = |&(reading, per_turn, rel_u): &(&str, f64, f64)| {
        (reading.to_owned(), Effect { per_turn, rel_u })
    };
    Adjuster {
        name: name.to_owned(),
        effects: effects.iter().map(effect).collect(),
        backlash_turns,
        min_turns: Some(-travel),
        max_turns: Some(travel),
    }
}

fn reading(name: &str, target: f64, limit: f64, repeatability: f64) -> Reading {
    Reading {
        name: name.to_owned(),
        unit: "mm".to_owned(),
        target,
        limit,
        repeatability,
    }
}

fn advice(state: &State) -> Advice {
    advise(state).expect("the state is sound")
}

/// Mean of a quantity of the reading after `next`, and its square, by summing over effect, play and standing.
fn by_sums(state: &State, next: f64) -> (f64, f64) {
    let effect = state.adjusters[0].effects["gap"];
    let noted_play = state.adjusters[0].backlash_turns;
    let sd = state.readings[0].repeatability;
    let (mut weight, mut mean, mut square) = (0.0, 0.0, 0.0);
    let cells = |count: usize| (0..count).map(move |n| (n as f64 + 0.5) / count as f64);
    for size in cells(24) {
        let play = noted_play * (0.7 + 0.6 * size);
        for start in cells(24) {
            let mut within = play * start;
            let mut at = 0.0;
            let mut positions = Vec::new();
            let turns = state.trials.iter().map(|trial| trial.turns[0]);
            for turned in turns.chain([next]) {
                let free: f64 = within + turned;
                within = free.clamp(0.0, play);
                at += free - within;
                positions.push(at);
            }
            for place in cells(400) {
                let z = 12.0 * place - 6.0;
                let per_turn = effect.per_turn * (1.0 + z * effect.rel_u / 1.87);
                let zeros: Vec<f64> = state
                    .trials
                    .iter()
                    .zip(&positions)
                    .map(|(trial, at)| trial.readings[0].unwrap_or_default() - per_turn * at)
                    .collect();
                let zero = zeros.iter().sum::<f64>() / zeros.len() as f64;
                let squares: f64 = zeros.iter().map(|it| ((it - zero) / sd).powi(2)).sum();
                let chance = (-0.5 * (squares + z * z)).exp();
                let foreseen = zero + per_turn * at;
                weight += chance;
                mean += chance * foreseen;
                square += chance * (foreseen.powi(2) + sd * sd / zeros.len() as f64 + sd * sd);
            }
        }
    }
    (mean / weight, square / weight)
}

#[test]
fn without_play_the_forecast_is_the_exact_regression() {
    for trials in [&[(0.0, 6.0)][..], &[(0.0, 6.0), (-2.0, 3.2)]] {
        let state = single(0.0, 2.0, 0.6, trials);
        let advice = advice(&state);
        let (mean, square) = by_sums(&state, advice.turns[0]);
        let u = 1.96 * (square - mean * mean).sqrt();
        let (got, got_u) = (advice.predicted[0].unwrap(), advice.predicted_u[0].unwrap());
        assert!((got - mean).abs() < 1e-3 * u, "{got} {mean}");
        assert!((got_u / u - 1.0).abs() < 2e-3, "{got_u} {u}");
    }
}

#[test]
fn with_play_the_forecast_agrees_with_sums_over_all_that_can_be() {
    for trials in [
        &[(0.0, 6.0)][..],
        &[(0.0, 6.0), (-2.0, 3.2)],
        &[(0.0, 6.0), (-4.0, -1.6)],
        &[(0.0, 6.0), (-4.0, -1.6), (0.5, -1.5)],
        &[(0.0, 6.0), (-2.0, 3.4), (-1.0, 1.9)],
    ] {
        let state = single(0.8, 2.0, 0.6, trials);
        let advice = advice(&state);
        let (mean, square) = by_sums(&state, advice.turns[0]);
        let sd = (square - mean * mean).sqrt();
        let (got, got_u) = (advice.predicted[0].unwrap(), advice.predicted_u[0].unwrap());
        assert!(
            (got - mean).abs() < 0.1 * sd,
            "{trials:?}: {got} {mean} {sd}"
        );
        // The interval is the one that holds 95 %, which a mixture has near 1.96 standard deviations.
        assert!(
            (1.75..=2.15).contains(&(got_u / sd)),
            "{trials:?}: {got_u} {sd}"
        );
    }
}

#[test]
fn of_two_screws_for_one_reading_the_one_whose_play_is_taken_up_is_turned() {
    let mut state = single(0.8, 1.0, 0.1, &[(0.0, 6.0), (-4.0, 2.4)]);
    state
        .adjusters
        .push(adjuster("other", &[("gap", 1.0, 0.1)], 0.8, 20.0));
    for trial in &mut state.trials {
        trial.turns.push(0.0);
    }
    let turns = advice(&state).turns;
    assert!((-3.0..=-1.4).contains(&turns[0]), "{turns:?}");
    assert!(turns[1].abs() < 1e-9, "{turns:?}");
}

#[test]
fn among_equal_turns_the_least_movement_is_taken() {
    let mut state = single(0.0, 1.0, 0.02, &[(0.0, 6.0)]);
    state
        .adjusters
        .push(adjuster("stronger", &[("gap", 3.0, 0.02)], 0.0, 20.0));
    state.trials[0].turns.push(0.0);
    let advice = advice(&state);
    // By far not to the middle of the limits: -6 would be.
    let moved = advice.turns[0] + 3.0 * advice.turns[1];
    assert!((-5.8..=-5.1).contains(&moved), "{:?}", advice.turns);
    assert!((0.985..=1.0).contains(&advice.chance), "{}", advice.chance);
}

#[test]
fn a_reading_inside_ends_the_trimming() {
    let advice = advice(&single(0.3, 2.0, 0.6, &[(0.0, 6.0), (-2.8, 0.4)]));
    assert!(advice.inside);
    assert_eq!(advice.turns, [0.0]);
    assert_eq!(advice.verdicts, [Verdict::In]);
    assert!((advice.now[0].unwrap() - 0.4).abs() < 0.02);
}

#[test]
fn a_reading_not_taken_is_asked_for_unless_the_others_tell_it() {
    let mut state = single(0.0, 2.0, 0.6, &[(0.0, 6.0), (-2.8, 0.4)]);
    state.trials[1].readings[0] = None;
    let untold = advice(&state);
    assert_eq!(untold.turns, [0.0]);
    assert!(!untold.inside);
    let unread = Finding::Unread {
        reading: "gap".to_owned(),
    };
    assert!(untold.findings.contains(&unread), "{:?}", untold.findings);

    state.adjusters[0].effects.get_mut("gap").unwrap().rel_u = 0.02;
    let told = advice(&state);
    assert!(told.inside && told.findings.is_empty(), "{told:?}");

    state.trials[0].readings[0] = None;
    let nothing = advice(&state);
    assert_eq!((nothing.predicted[0], nothing.now_u[0]), (None, None));
}

#[test]
fn a_reading_not_taken_is_turned_by_what_is_believed_of_it() {
    let state = two_screws([[1.0, -0.3], [0.2, -1.0]], &[[-1.0, -1.0]]);
    let mut blind = state.clone();
    blind.trials[1].readings[1] = None;
    let (seen, blind) = (advice(&state), advice(&blind));
    assert_eq!(blind.findings, []);
    for (seen, blind) in seen.turns.iter().zip(&blind.turns) {
        assert!((seen - blind).abs() < 0.5, "{seen} {blind}");
    }
    assert!(blind.predicted_u[1].unwrap() > 1.2 * seen.predicted_u[1].unwrap());
}

/// Two screws on two readings that are out, and how a real one answers.
fn two_screws(real: [[f64; 2]; 2], turns: &[[f64; 2]]) -> State {
    let mut state = State {
        adjusters: vec![
            adjuster(
                "depth",
                &[("slow", 1.0, 0.4), ("fast", 0.2, 0.4)],
                0.1,
                20.0,
            ),
            adjuster(
                "tension",
                &[("slow", -0.3, 0.4), ("fast", -1.0, 0.4)],
                0.1,
                20.0,
            ),
        ],
        readings: vec![
            reading("slow", 0.0, 0.3, 0.03),
            reading("fast", 0.0, 0.3, 0.03),
        ],
        ..State::default()
    };
    let mut at = [3.0, -2.0];
    for turns in [[0.0; 2]].iter().chain(turns) {
        for (at, row) in at.iter_mut().zip(real) {
            *at += row[0] * turns[0] + row[1] * turns[1];
        }
        state.trials.push(Trial {
            turns: turns.to_vec(),
            readings: at.map(Some).to_vec(),
        });
    }
    state
}

#[test]
fn a_screw_that_moves_nothing_is_named() {
    let state = two_screws([[1.0, 0.0], [0.2, 0.0]], &[[-2.0, -1.5], [0.0, -2.0]]);
    let findings = advice(&state).findings;
    let slack = Finding::NoEffect {
        adjuster: "tension".to_owned(),
    };
    assert_eq!(findings, [slack]);
}

#[test]
fn a_screw_that_acts_against_the_notes_is_named() {
    let state = two_screws([[-1.0, -0.3], [-0.2, -1.0]], &[[-2.0, 0.0]]);
    let findings = advice(&state).findings;
    let [
        Finding::Contrary {
            adjuster,
            reading,
            per_turn,
            ..
        },
    ] = findings.as_slice()
    else {
        panic!("{findings:?}");
    };
    assert_eq!((adjuster.as_str(), reading.as_str()), ("depth", "slow"));
    assert!((per_turn + 1.0).abs() < 0.15, "{per_turn}");
    assert!(findings[0].describe().contains("depth moves slow by"));
}

#[test]
fn screws_that_act_as_the_notes_say_are_not_accused() {
    let state = two_screws([[1.3, -0.4], [0.15, -0.7]], &[[-2.0, -1.5], [-0.5, -0.8]]);
    assert_eq!(advice(&state).findings, []);
}

#[test]
fn limits_that_cannot_be_met_together_are_told_and_the_turn_goes_between() {
    let mut state = single(0.0, 1.0, 0.05, &[(0.0, 3.0)]);
    state.adjusters[0] = adjuster(
        "screw",
        &[("gap", 1.0, 0.05), ("lift", 1.0, 0.05)],
        0.0,
        20.0,
    );
    state.readings.push(reading("lift", 0.0, 1.0, 0.1));
    state.trials[0].readings.push(Some(7.0));
    let advice = advice(&state);
    assert!((advice.turns[0] + 5.0).abs() < 0.3, "{:?}", advice.turns);
    assert!(
        matches!(advice.findings[..], [Finding::LimitsConflict { .. }]),
        "{:?}",
        advice.findings
    );
}

#[test]
fn a_travel_that_ends_too_soon_is_told_and_the_turn_goes_to_its_end() {
    let mut state = single(0.0, 1.0, 0.1, &[(0.0, 6.0)]);
    state.adjusters[0].min_turns = Some(-2.5);
    let advice = advice(&state);
    assert!((advice.turns[0] + 2.5).abs() < 0.03, "{:?}", advice.turns);
    let travel = Finding::Travel {
        adjuster: "screw".to_owned(),
        at_turns: -2.5,
    };
    assert_eq!(advice.findings, [travel]);
}

#[test]
fn readings_too_coarse_for_their_limit_are_told_with_how_many_to_average() {
    let mut state = single(0.0, 1.0, 0.3, &[(0.0, 6.0)]);
    state.readings[0].repeatability = 0.8;
    let coarse = Finding::Coarse {
        reading: "gap".to_owned(),
        take: 11,
    };
    assert_eq!(advice(&state).findings, [coarse]);
}

#[test]
fn readings_that_do_not_follow_the_turns_are_told_and_trusted_less() {
    let trials = [
        (0.0, 6.0),
        (-1.0, 4.9),
        (-1.0, 1.9),
        (-0.5, 3.1),
        (0.5, 3.6),
    ];
    let advice = advice(&single(0.0, 1.0, 0.3, &trials));
    let ratio = advice.findings.iter().find_map(|finding| match finding {
        Finding::Misfit { ratio } => Some(*ratio),
        _ => None,
    });
    assert!(
        (4.0..=20.0).contains(&ratio.unwrap()),
        "{:?}",
        advice.findings
    );
    assert!(
        (0.8..=6.0).contains(&advice.predicted_u[0].unwrap()),
        "{:?}",
        advice.predicted_u
    );
}

fn sound() -> Value {
    json!({
        "format": "fettle-trim-1",
        "adjusters": [{
            "name": "depth",
            "effects": {"rate": {"per_turn": 0.8, "rel_u": 0.3}},
            "backlash_turns": 0.1,
            "min_turns": -3,
            "max_turns": 3
        }],
        "readings": [{"name": "rate", "unit": "stops", "target": 0, "limit": 0.25, "repeatability": 0.05}],
        "trials": [{"turns": [0], "readings": [0.9]}, {"turns": [-1], "readings": [null]}]
    })
}

#[test]
fn what_is_wrong_with_a_state_is_told_with_its_line_and_place() {
    let cases: &[(&str, Value, &str, &str)] = &[
        (
            "/readings/0/limit",
            json!(0),
            "readings[0].limit",
            "must be between",
        ),
        (
            "/readings/0/limit",
            json!(-0.25),
            "readings[0].limit",
            "either way of the target",
        ),
        (
            "/readings/0/limit",
            json!("wide"),
            "readings[0].limit",
            "expected a number",
        ),
        (
            "/readings/0/repeatability",
            json!(-1),
            "readings[0].repeatability",
            "must be between",
        ),
        (
            "/readings/0/repeatability",
            json!(1e6),
            "readings[0].repeatability",
            "are both in stops",
        ),
        (
            "/readings/0/name",
            json!(" "),
            "readings[0].name",
            "write one",
        ),
        (
            "/readings/0/name",
            json!("pace"),
            "adjusters[0].effects.rate",
            "use one of: pace",
        ),
        ("/readings", json!([]), "readings", "between 1 and 6"),
        (
            "/adjusters/0/min_turns",
            json!(1),
            "adjusters[0].min_turns",
            "must be between",
        ),
        (
            "/adjusters/0/max_turns",
            json!(-1),
            "adjusters[0].max_turns",
            "must be between",
        ),
        (
            "/adjusters/0/backlash_turns",
            json!(-0.1),
            "adjusters[0].backlash_turns",
            "turns",
        ),
        (
            "/adjusters/0/effects",
            json!({}),
            "adjusters[0].effects",
            "moves no reading",
        ),
        (
            "/adjusters/0/effects/rate/rel_u",
            json!(-0.3),
            "adjusters[0].effects.rate.rel_u",
            "0.3 for 30 %",
        ),
        (
            "/adjusters/0/effects/rate/per_turn",
            json!(1e7),
            "adjusters[0].effects.rate.per_turn",
            "times the limit",
        ),
        (
            "/adjusters/0/effects/rate",
            json!({"per_turn": 1}),
            "adjusters[0].effects.rate",
            "missing field `rel_u`",
        ),
        (
            "/adjusters/0/tilt",
            json!(1),
            "adjusters[0].tilt",
            "unknown field `tilt`",
        ),
        (
            "/format",
            json!("fettle-trim-2"),
            "format",
            "expected `fettle-trim-1`",
        ),
        ("/trials", json!([]), "trials", "the setting as found"),
        (
            "/trials/0/turns",
            json!([1]),
            "trials[0].turns[0]",
            "write 0",
        ),
        (
            "/trials/0/turns",
            json!([0, 0]),
            "trials[0].turns",
            "has 2 entries for 1",
        ),
        (
            "/trials/1/readings",
            json!([]),
            "trials[1].readings",
            "null where it was not taken",
        ),
        (
            "/trials/1/turns",
            json!([-3.5]),
            "trials[1].turns[0]",
            "beyond its min_turns -3",
        ),
        (
            "/trials/1/readings",
            json!([true]),
            "trials[1].readings[0]",
            "expected a number",
        ),
        (
            "/trials/0/readings",
            json!([1e8]),
            "trials[0].readings[0]",
            "are both in stops",
        ),
    ];
    for (at, value, path, says) in cases {
        let mut state = sound();
        let (parent, key) = at.rsplit_once('/').unwrap();
        match state.pointer_mut(parent).unwrap() {
            Value::Object(map) => drop(map.insert((*key).to_owned(), value.clone())),
            Value::Array(list) => list[key.parse::<usize>().unwrap()] = value.clone(),
            _ => unreachable!(),
        }
        let text = serde_json::to_string_pretty(&state).unwrap();
        let error = read(text.as_bytes()).expect_err(at);
        let problem = error.problems.iter().find(|it| it.path == *path);
        let problem = problem.unwrap_or_else(|| panic!("{path}: {error}"));
        assert!(problem.message.contains(says), "{error}");
        let line = text.lines().nth(problem.line.unwrap() - 1).unwrap();
        let last = path
            .rsplit(['.', '['])
            .next()
            .unwrap()
            .trim_end_matches(']');
        let on_its_line =
            line.contains(last) || last.parse::<usize>().is_ok() || says.contains("missing");
        assert!(on_its_line, "{error}: {line}");
    }
}

#[test]
fn text_that_is_no_state_is_refused_where_it_goes_wrong() {
    let text = serde_json::to_string_pretty(&sound()).unwrap();
    assert!(read(format!("\u{feff}{text}").as_bytes()).is_ok());
    let cut = &text[..text.len() / 2];
    let twice = text.replacen("\"unit\"", "\"limit\": 1,\n\"unit\"", 1);
    let infinite = text.replacen("0.8", "1e999", 1);
    for (bytes, says) in [
        (cut.as_bytes(), "not JSON here"),
        (twice.as_bytes(), "duplicate field `limit`"),
        (infinite.as_bytes(), "out of range"),
        (b"".as_slice(), "not JSON here"),
        (b"[]".as_slice(), "line 1"),
        (b"{\n\"format\": \xff}".as_slice(), "line 2: not UTF-8"),
        (&[b' '; 1 << 21], "is it the right file"),
    ] {
        let error = read(bytes).expect_err(says);
        assert!(error.to_string().contains(says), "{error}");
    }
    let twice = text.replacen(
        "\"rate\": {",
        "\"rate\": {\"per_turn\": 1, \"rel_u\": 0.1}, \"rate\": {",
        1,
    );
    let error = read(twice.as_bytes()).expect_err("an effect stands twice");
    assert!(
        error
            .to_string()
            .contains("adjusters[0].effects.rate: this key stands twice"),
        "{error}"
    );
}

#[test]
fn a_state_built_by_hand_is_checked_like_one_that_was_read() {
    let mut state = single(0.0, 1.0, 0.3, &[(0.0, 6.0)]);
    state.readings[0].target = f64::NAN;
    state.trials[0].readings[0] = Some(f64::INFINITY);
    let error = advise(&state).expect_err("it has no meaning");
    let places: Vec<&str> = error.problems.iter().map(|p| p.path.as_str()).collect();
    assert_eq!(places, ["readings[0].target", "trials[0].readings[0]"]);
}

/// Any state that has a meaning, sizes from the ordinary to the absurd.
fn any_state() -> impl Strategy<Value = State> {
    let size = || prop_oneof![4 => 0.01..20.0_f64, 1 => Just(0.0), 1 => 1e-6..1e5_f64];
    (1..=4_usize, 1..=6_usize, 1..=8_usize).prop_flat_map(move |(adjusters, readings, trials)| {
        let effects = prop::collection::vec(
            prop::collection::vec((-1.0..1.0_f64, size(), 0.0..2.0_f64), readings),
            adjusters,
        );
        let screws = prop::collection::vec((size(), 0.0..9.0_f64, 0.0..9.0_f64), adjusters);
        let asked = prop::collection::vec((-9.0..9.0_f64, 1e-2..1e2_f64, size()), readings);
        let moves = prop::collection::vec(
            (
                prop::collection::vec(0.0..1.0_f64, adjusters),
                prop::collection::vec(prop::option::weighted(0.9, -30.0..30.0_f64), readings),
            ),
            trials,
        );
        (effects, screws, asked, moves).prop_map(build)
    })
}

type Parts = (
    Vec<Vec<(f64, f64, f64)>>,
    Vec<(f64, f64, f64)>,
    Vec<(f64, f64, f64)>,
    Vec<(Vec<f64>, Vec<Option<f64>>)>,
);

fn build((effects, screws, asked, moves): Parts) -> State {
    let mut state = State::default();
    for (i, (target, limit, noise)) in asked.iter().enumerate() {
        let name = format!("reading {i}");
        let repeatability = noise * limit / 50.0;
        state.readings.push(Reading {
            name,
            unit: "mm".to_owned(),
            target: *target,
            limit: *limit,
            repeatability,
        });
    }
    for (j, (row, (play, back, on))) in effects.iter().zip(&screws).enumerate() {
        let effects = row
            .iter()
            .zip(&state.readings)
            .map(|((sign, size, rel_u), reading)| {
                let per_turn = (sign.signum() * size + 1e-6) * reading.limit;
                (
                    reading.name.clone(),
                    Effect {
                        per_turn,
                        rel_u: *rel_u,
                    },
                )
            });
        let effects = effects.collect();
        state.adjusters.push(Adjuster {
            name: format!("screw {j}"),
            effects,
            backlash_turns: play.min(10.0) / 10.0,
            min_turns: (*back < 8.0).then_some(-back),
            max_turns: (*on < 8.0).then_some(*on),
        });
    }
    let mut stands = vec![0.0; screws.len()];
    for (n, (shares, readings)) in moves.into_iter().enumerate() {
        let mut turns = vec![0.0; screws.len()];
        for (j, share) in shares.iter().enumerate().filter(|_| n > 0) {
            let (low, high) = (
                state.adjusters[j].min_turns.unwrap_or(-9.0),
                state.adjusters[j].max_turns.unwrap_or(9.0),
            );
            turns[j] = low + share * (high - low) - stands[j];
            stands[j] += turns[j];
        }
        let scaled = readings.iter().zip(&state.readings);
        let readings = scaled
            .map(|(value, asked)| value.map(|value| asked.target + value * asked.limit))
            .collect();
        state.trials.push(Trial { turns, readings });
    }
    state
}

fn near(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-6 * scale.max(a.abs()).max(b.abs())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn any_state_is_advised_within_the_travel_by_numbers(state in any_state()) {
        let advice = advise(&state).unwrap();
        for (j, adjuster) in state.adjusters.iter().enumerate() {
            let stands: f64 = state.trials.iter().map(|trial| trial.turns[j]).sum::<f64>() + advice.turns[j];
            prop_assert!(stands.is_finite());
            prop_assert!(adjuster.min_turns.is_none_or(|min| stands >= min - 1e-9));
            prop_assert!(adjuster.max_turns.is_none_or(|max| stands <= max + 1e-9));
        }
        prop_assert!((0.0..=1.0).contains(&advice.chance));
        for i in 0..state.readings.len() {
            let taken = state.trials.iter().any(|trial| trial.readings[i].is_some());
            prop_assert_eq!(advice.predicted[i].is_some(), taken);
            prop_assert!(advice.predicted[i].is_none_or(f64::is_finite));
            prop_assert!(advice.predicted_u[i].is_none_or(|u| u.is_finite() && u > 0.0));
            prop_assert!(advice.effects[i].iter().chain(&advice.effects_u[i]).all(|it| it.is_finite()));
        }
        prop_assert!(!advice.inside || advice.turns.iter().all(|turns| *turns == 0.0));
        for finding in &advice.findings {
            prop_assert!(finding.describe().len() > 20);
        }
        let text = serde_json::to_string(&advice).unwrap();
        prop_assert_eq!(serde_json::from_str::<Advice>(&text).unwrap(), advice);
    }

    #[test]
    fn the_order_of_adjusters_and_readings_does_not_matter(state in any_state()) {
        let mut turned = state.clone();
        turned.adjusters.reverse();
        turned.readings.reverse();
        for trial in &mut turned.trials {
            trial.turns.reverse();
            trial.readings.reverse();
        }
        let (straight, mut turned) = (advise(&state).unwrap(), advise(&turned).unwrap());
        turned.turns.reverse();
        turned.predicted.reverse();
        turned.predicted_u.reverse();
        turned.effects.reverse();
        for row in &mut turned.effects {
            row.reverse();
        }
        prop_assert_eq!(straight.turns, turned.turns);
        prop_assert_eq!(straight.predicted, turned.predicted);
        prop_assert_eq!(straight.predicted_u, turned.predicted_u);
        prop_assert_eq!(straight.effects, turned.effects);
    }

    #[test]
    fn units_do_not_matter(state in any_state(), power in -4..4_i32) {
        // Powers of two, so that nothing is rounded.
        let scale = 2_f64.powi(power);
        let mut other = state.clone();
        for reading in &mut other.readings {
            reading.target *= scale;
            reading.limit *= scale;
            reading.repeatability *= scale;
        }
        for effect in other.adjusters.iter_mut().flat_map(|it| it.effects.values_mut()) {
            effect.per_turn *= scale;
        }
        for value in other.trials.iter_mut().flat_map(|it| it.readings.iter_mut()).flatten() {
            *value *= scale;
        }
        let (one, two) = (advise(&state).unwrap(), advise(&other).unwrap());
        for (one, two) in one.turns.iter().zip(&two.turns) {
            prop_assert!(near(*one, *two, 1.0), "{} {}", one, two);
        }
        for (one, two) in one.predicted.iter().flatten().zip(two.predicted.iter().flatten()) {
            prop_assert!(near(one * scale, *two, scale), "{} {}", one, two);
        }
    }

    #[test]
    fn a_state_reads_back_as_it_was_written(state in any_state()) {
        let text = serde_json::to_vec(&state).unwrap();
        prop_assert_eq!(read(&text).unwrap(), state);
    }

    #[test]
    fn text_that_was_spoilt_is_read_or_refused_with_a_line(
        at in 0..1000_usize,
        with in prop_oneof![
            prop::sample::select(vec!["{", "}", "[", "]", "\"", ",", ":", "\\", "null", "-", "1e400", "\u{0}", "é", "\n"]).prop_map(str::to_owned),
            "[ -~]{0,8}",
        ],
        cut in 0..40_usize,
    ) {
        let mut text: Vec<u8> = serde_json::to_string_pretty(&sound()).unwrap().into_bytes();
        let at = at % text.len();
        let end = (at + cut).min(text.len());
        text.splice(at..end, with.bytes());
        if let Err(error) = read(&text) {
            prop_assert!(!error.problems.is_empty());
            let lines = text.iter().filter(|byte| **byte == b'\n').count() + 1;
            for problem in &error.problems {
                prop_assert!(problem.line.is_some_and(|line| (1..=lines).contains(&line)), "{}", error);
            }
        }
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        prop_assert!(read(&bytes).is_err());
    }
}
