//! `fettle cause`, `fettle way`, `fettle notes network` and `fettle notes learn`.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::run::fettle_in;

fn notes() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fettle-demo/notes/corran-66.toml")
}

/// The command with the Corran's notes after it, in a folder of its own.
fn run(command: &[&str], arguments: &[&str]) -> crate::run::Ran {
    let dir = tempfile::tempdir().unwrap();
    let notes = notes();
    let mut all = command.to_vec();
    all.push(notes.to_str().unwrap());
    all.extend(arguments);
    fettle_in(dir.path(), &all)
}

fn chance(json: &Value, fault: &str) -> f64 {
    let faults = json["faults"].as_array().unwrap();
    let found = faults.iter().find(|it| it["id"] == fault).unwrap();
    found["probability"].as_f64().unwrap()
}

#[test]
fn a_sign_seen_raises_what_it_speaks_for() {
    let before = run(&["cause"], &["--json"]).json();
    let after = run(&["cause"], &["--seen", "slow-speeds-hang=yes", "--json"]).json();
    let (was, is) = (
        chance(&before, "hardened-grease"),
        chance(&after, "hardened-grease"),
    );
    assert!(is > 1.5 * was && is < 1.0, "{was} to {is}");
    assert!(after["evidence_probability"].as_f64().unwrap() < 1.0);
    assert!(!after["looks"].as_array().unwrap().is_empty());
    let minutes = after["expected_minutes"].as_f64().unwrap();
    assert!((10.0..2000.0).contains(&minutes), "{minutes}");
}

#[test]
fn parts_that_are_off_make_looks_behind_them_cheaper() {
    let sign = "cocking-ring-hard";
    let cost = |arguments: &[&str]| {
        let json = run(&["cause"], arguments).json();
        let looks = json["looks"].as_array().unwrap();
        let look = looks.iter().find(|it| it["id"] == sign)?;
        look["cost_minutes"].as_f64()
    };
    let shut = cost(&["--seen", "wind-knob-heavy=yes", "--json"]).unwrap();
    let free = cost(&["--seen", "wind-knob-heavy=yes", "--full-strip", "--json"]).unwrap();
    assert!(free <= shut && free > 0.0, "{free} against {shut}");
}

#[test]
fn a_sign_that_the_notes_do_not_have_is_refused_with_the_nearest() {
    let message = run(&["cause"], &["--seen", "slow-speeds-hangs=yes"]).failed();
    assert!(
        message.contains("did you mean `slow-speeds-hang`?"),
        "{message}"
    );
    let wrong = run(&["cause"], &["--seen", "slow-speeds-hang=perhaps"]);
    assert_eq!(wrong.status, 2, "{}", wrong.remarks);
}

#[test]
fn the_reasons_for_a_fault_are_given_as_weights() {
    let json = run(
        &["cause"],
        &[
            "--seen",
            "slow-speeds-hang=yes",
            "--why",
            "hardened-grease",
            "--json",
        ],
    )
    .json();
    let evidence = json["why"]["evidence"].as_array().unwrap();
    let sign = evidence
        .iter()
        .find(|it| it["id"] == "slow-speeds-hang")
        .unwrap();
    assert!(sign["weight"].as_f64().unwrap() > 0.5, "{sign}");
}

#[test]
fn the_way_in_and_back_name_the_same_parts() {
    let json = run(&["way"], &["--to", "gear-train", "--json"]).json();
    let parts = |key: &str| -> Vec<String> {
        let legs = json[key].as_array().unwrap();
        legs.iter()
            .map(|leg| leg["part"].as_str().unwrap().to_owned())
            .collect()
    };
    let (way_in, mut back) = (parts("in"), parts("back"));
    back.reverse();
    assert_eq!(way_in, back);
    assert_eq!(way_in.last().map(String::as_str), Some("gear-train"));
    let sum: f64 = json["in"]
        .as_array()
        .unwrap()
        .iter()
        .map(|leg| leg["minutes"].as_f64().unwrap())
        .sum();
    assert!((json["minutes"].as_f64().unwrap() - sum).abs() < 1e-9);
    assert!(!json["disturbed"].as_array().unwrap().is_empty());
}

#[test]
fn a_part_that_the_notes_do_not_have_is_refused_with_the_nearest() {
    let message = run(&["way"], &["--to", "gear-trian"]).failed();
    assert!(message.contains("did you mean `gear-train`?"), "{message}");
}

#[test]
fn the_network_carries_what_another_program_needs() {
    let json = run(&["notes", "network"], &["--json"]).json();
    for key in ["nodes", "looks", "cures", "removals"] {
        assert!(!json[key].as_array().unwrap().is_empty(), "{key}");
    }
    let bif = run(&["notes", "network"], &["--format", "bif"]).done();
    assert!(bif.starts_with("network "), "{}", &bif[..80.min(bif.len())]);
}

#[test]
fn learned_figures_go_into_a_copy_that_can_be_used() {
    let dir = tempfile::tempdir().unwrap();
    let bench = "bench";
    fettle_in(
        dir.path(),
        &["new", bench, "--name", "The bench at Saltmere"],
    )
    .done();
    let own = dir.path().join("bench/notes/corran-66.toml");
    fs::create_dir_all(own.parent().unwrap()).unwrap();
    fs::copy(notes(), &own).unwrap();
    let learn = ["notes", "learn", "--bench", bench];
    let told = fettle_in(dir.path(), &learn).done();
    assert!(
        told.contains("corran-66: 0 finished visits; 0 figures learned"),
        "{told}"
    );

    let into = [&learn[..], &["corran-66", "--into", "copies"]].concat();
    fettle_in(dir.path(), &into).done();
    let copy = dir.path().join("copies/corran-66.toml");
    assert_eq!(
        fs::read(&copy).unwrap(),
        fs::read(&own).unwrap(),
        "nothing learned, nothing changed"
    );
    let again = fettle_in(dir.path(), &into).failed();
    assert!(
        again.contains("exists already and was left as it is"),
        "{again}"
    );

    let unknown = [&learn[..], &["corran-67"]].concat();
    let message = fettle_in(dir.path(), &unknown).failed();
    assert!(
        message.contains("no service notes `corran-67`"),
        "{message}"
    );
}
