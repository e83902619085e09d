//! The chart of an adjustment: what stands on it, and that nothing breaks it.

#![expect(
    clippy::unwrap_used,
    reason = "a helper that cannot read a drawing has found the fault the test looks for"
)]

use fettle_draw::{Sheet, trim_chart};
use fettle_measure::trim::{Adjuster, Advice, Effect, Reading, State, Trial, advise};
use proptest::prelude::*;

/// Two speeds in stops and a travel in ms, by two adjusters, after `trials`.
fn shutter(trials: &[([f64; 2], [Option<f64>; 3])]) -> State {
    let adjuster = |name: &str, effects: [(&str, f64); 3]| Adjuster {
        name: name.to_owned(),
        effects: effects
            .into_iter()
            .map(|(reading, per_turn)| {
                (
                    reading.to_owned(),
                    Effect {
                        per_turn,
                        rel_u: 0.4,
                    },
                )
            })
            .collect(),
        backlash_turns: 0.1,
        min_turns: Some(-3.0),
        max_turns: Some(3.0),
    };
    let reading = |name: &str, unit: &str, target: f64, limit: f64| Reading {
        name: name.to_owned(),
        unit: unit.to_owned(),
        target,
        limit,
        repeatability: 0.1 * limit,
    };
    State {
        adjusters: vec![
            adjuster(
                "depth",
                [("1/2 s", 0.8), ("1/500 s", 0.05), ("travel", 0.0)],
            ),
            adjuster(
                "tension",
                [("1/2 s", -0.1), ("1/500 s", -0.6), ("travel", -1.5)],
            ),
        ],
        readings: vec![
            reading("1/2 s", "stops", 0.0, 0.25),
            reading("1/500 s", "stops", 0.0, 0.33),
            reading("travel", "ms", 12.0, 0.8),
        ],
        trials: trials
            .iter()
            .map(|(turns, readings)| Trial {
                turns: turns.to_vec(),
                readings: readings.to_vec(),
            })
            .collect(),
        ..State::default()
    }
}

fn under_way() -> State {
    shutter(&[
        ([0.0, 0.0], [Some(1.1), Some(0.9), Some(14.1)]),
        ([-1.2, 1.3], [Some(0.31), None, Some(12.6)]),
    ])
}

/// The words on the drawing.
fn words(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).unwrap();
    let texts = document.descendants().filter(|n| n.has_tag_name("text"));
    texts.filter_map(|n| n.text().map(str::to_owned)).collect()
}

#[test]
fn every_reading_has_its_panel_with_unit_trials_and_the_next() {
    let state = under_way();
    let words = words(&trim_chart(&state, &advise(&state).unwrap(), Sheet::Light));
    for name in ["1/2 s, stops", "1/500 s, stops", "travel, ms"] {
        assert!(words.iter().any(|word| word == name), "{words:?}");
    }
    for (word, times) in [
        ("found", 3),
        ("1", 3),
        ("next", 3),
        ("to expect", 1),
        ("trial", 1),
    ] {
        assert!(
            words.iter().filter(|it| *it == word).count() >= times,
            "{word}: {words:?}"
        );
    }
}

#[test]
fn a_setting_that_is_inside_has_no_forecast() {
    let state = shutter(&[([0.0, 0.0], [Some(0.05), Some(0.1), Some(12.1)])]);
    let advice = advise(&state).unwrap();
    assert!(advice.inside);
    let svg = trim_chart(&state, &advice, Sheet::Light);
    assert!(svg.contains("all inside"));
    assert!(
        !words(&svg)
            .iter()
            .any(|word| word == "next" || word == "to expect")
    );
}

#[test]
fn names_with_signs_of_their_own_do_not_break_the_drawing() {
    let mut state = under_way();
    state.readings[0].unit = "<b>&\"'".repeat(30);
    let svg = trim_chart(&state, &advise(&state).unwrap(), Sheet::Inherit);
    assert!(words(&svg).iter().any(|word| word.ends_with('…')));
}

proptest! {
    #[test]
    fn no_figures_break_the_drawing(
        values in prop::collection::vec(prop::num::f64::ANY, 16),
        trials in 0..40_usize,
    ) {
        let mut state = under_way();
        let advice = Advice {
            predicted: values[0..3].iter().copied().map(Some).collect(),
            predicted_u: values[3..6].iter().copied().map(Some).collect(),
            ..advise(&state).unwrap()
        };
        for (i, reading) in state.readings.iter_mut().enumerate() {
            (reading.target, reading.limit, reading.repeatability) = (values[6 + i], values[9 + i], values[12 + i]);
        }
        state.trials = (0..trials)
            .map(|n| Trial { turns: vec![], readings: vec![Some(values[n % 16]), None, Some(values[(n + 5) % 16])] })
            .collect();
        let svg = trim_chart(&state, &advice, Sheet::Light);
        prop_assert!(roxmltree::Document::parse(&svg).is_ok());
        prop_assert!(!svg.contains("NaN") && !svg.contains("inf\""), "{}", svg);
    }
}
