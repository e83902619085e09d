//! `fettle meter`, `fettle register`, `fettle rangefinder` and `fettle trim`.

use std::fs;

use serde_json::Value;

use crate::run::{Ran, fettle_in};

/// The command with a file of this text after it, in a folder of its own.
fn run(command: &str, text: &str, arguments: &[&str]) -> Ran {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("run.csv"), text).unwrap();
    let mut all = vec![command, "run.csv"];
    all.extend(arguments);
    fettle_in(dir.path(), &all)
}

fn number(json: &Value, key: &str) -> f64 {
    json[key].as_f64().expect(key)
}

const METER: &str =
    "true_ev,indicated_ev\n4,4.3\n6,6.35\n8,8.3\n10,10.4\n12,12.35\n14,14.4\n16,16.35\n";

#[test]
fn a_meter_that_reads_high_is_shifted_down_and_gets_a_card() {
    let json = run("meter", METER, &["--click-stops", "0.05", "--json"]).json();
    assert!((number(&json, "shift_stops") + 0.35).abs() < 1e-9);
    assert!((number(&json, "worst_before_stops") - 0.4).abs() < 1e-9);
    assert!((number(&json, "worst_after_stops") - 0.05).abs() < 1e-9);
    assert!(json["card"].as_array().unwrap().len() > 5);
    let text = run("meter", METER, &[]);
    assert!(text.out.contains("correction card"), "{}", text.out);
    assert!(text.out.contains("set the scale by"), "{}", text.out);
}

const DEPTHS: &str = "x_mm,y_mm,reading_mm\n0,0,43.90\n-14,10,43.90\n14,10,43.90\n14,-10,43.90\n-14,-10,43.91\n0,0,43.89\n";

#[test]
fn shims_bring_a_short_register_right() {
    let asked = [
        "--target-mm",
        "43.95",
        "--limit-mm",
        "0.02",
        "--shims-mm",
        "0.05x3,0.1x2",
    ];
    let json = run("register", DEPTHS, &[&asked[..], &["--json"]].concat()).json();
    assert_eq!(json["shims"], serde_json::json!([0.05]));
    assert!((number(&json, "error_mm") + 0.05).abs() < 0.003);
    assert!(number(&json, "left_mm").abs() < 0.003);
    assert_eq!(json["verdict"], "out");
    let text = run("register", DEPTHS, &asked);
    assert!(text.out.contains("add shims"), "{}", text.out);
}

const TAPED: &str = "distance_m,extension_mm\ninf,0.04\n10,0.295\n5,0.55\n3,0.90\n2,1.36\n1,2.82\n";

#[test]
fn a_rangefinder_is_judged_in_depths() {
    let asked = [
        "--focal-mm",
        "50",
        "--f",
        "2",
        "--coc-mm",
        "0.03",
        "--base-mm",
        "38",
    ];
    let json = run("rangefinder", TAPED, &[&asked[..], &["--json"]].concat()).json();
    let residuals = json["residuals"].as_array().unwrap();
    assert_eq!(residuals.len(), 6);
    assert_eq!(residuals[0]["distance_m"], "inf");
    assert!((number(&residuals[0], "residual_depths") - 0.04 / 0.06).abs() < 1e-9);
    assert!(number(&json, "worst_in_depths") > number(&json, "left_in_depths"));
    let text = run("rangefinder", TAPED, &asked);
    assert!(text.out.contains("set infinity by"), "{}", text.out);
}

const STATE: &str = r#"{
  "format": "fettle-trim-1",
  "adjusters": [{ "name": "eccentric", "effects": { "rate": { "per_turn": 14, "rel_u": 0.4 } }, "min_turns": -0.25, "max_turns": 0.25 }],
  "readings": [{ "name": "rate", "unit": "depths", "target": 0, "limit": 1, "repeatability": 0.2 }],
  "trials": [{ "turns": [0], "readings": [2.8] }]
}"#;

#[test]
fn the_next_turn_follows_from_the_trials() {
    let json = run("trim", STATE, &["--json"]).json();
    let turn = json["turns"][0].as_f64().unwrap();
    assert!((-0.25..-0.12).contains(&turn), "{turn}");
    assert_eq!(json["inside"], false);
    let text = run("trim", STATE, &[]);
    assert!(text.out.contains("turn next"), "{}", text.out);
}

#[test]
fn bad_input_is_named_with_its_place_and_nothing_is_printed() {
    let register = ["--target-mm", "43.95", "--limit-mm", "0.02"];
    let finder = ["--focal-mm", "50", "--f", "2", "--coc-mm", "0.03"];
    for (command, text, arguments, says) in [
        ("meter", "true_ev,indicated\n5,5\n", &[][..], "indicated_ev"),
        (
            "meter",
            "true_ev,indicated_ev\n5,five\n6,6\n",
            &[],
            "line 2",
        ),
        ("meter", "true_ev,indicated_ev\n5,5\n", &[], "two"),
        (
            "register",
            "x_mm,y_mm,reading_mm\n0,0,43.9\n1,1,43.9\n2,2,43.9\n3,3,43.9\n",
            &register,
            "line",
        ),
        (
            "register",
            "x_mm,y_mm,reading_mm\n0,0,0.04390\n9,0,0.04390\n0,9,0.04390\n",
            &register,
            "reading_mm",
        ),
        (
            "rangefinder",
            "distance_m,extension_mm\n3,0.9\n3,0.9\n",
            &finder,
            "distance",
        ),
        (
            "rangefinder",
            "distance_m,extension_mm\n-3,0.9\n1,2\n",
            &finder,
            "line 2",
        ),
        (
            "rangefinder",
            "distance_m,extension_mm\n0.1,0.9\n1,2\n",
            &finder,
            "line 2",
        ),
        (
            "trim",
            "{ \"format\": \"fettle-trim-1\", \"adjuster\": [] }",
            &[],
            "adjuster",
        ),
    ] {
        let ran = run(command, text, arguments);
        assert_eq!(ran.status, 1, "{command} {text}: {}", ran.remarks);
        assert_eq!(ran.out, "", "{command}");
        assert!(
            ran.remarks.contains("run.csv") && ran.remarks.contains(says),
            "{command}: {}",
            ran.remarks
        );
    }
}

#[test]
fn a_value_outside_its_meaning_is_a_wrong_argument() {
    for (command, text, arguments) in [
        ("meter", METER, &["--limit-stops=-1"][..]),
        (
            "register",
            DEPTHS,
            &["--target-mm", "43.95", "--limit-mm=-0.02"],
        ),
        (
            "rangefinder",
            TAPED,
            &["--focal-mm", "0", "--f", "2", "--coc-mm", "0.03"],
        ),
    ] {
        let ran = run(command, text, arguments);
        assert_eq!(ran.status, 2, "{command}: {}", ran.remarks);
        assert_eq!(ran.out, "", "{command}");
    }
}
