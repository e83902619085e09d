//! `fettle notes`.

use std::fs;

use crate::run::fettle_in;

const NEW: [&str; 9] = [
    "notes",
    "new",
    "corran-66",
    "--maker",
    "Aldous",
    "--name",
    "Corran 66",
    "-o",
    "corran-66.toml",
];

#[test]
fn new_notes_check_clean() {
    let dir = tempfile::tempdir().unwrap();
    assert_eq!(fettle_in(dir.path(), &NEW).done(), "wrote corran-66.toml\n");
    let out = fettle_in(dir.path(), &["notes", "check", "corran-66.toml"]).done();
    assert!(out.starts_with("corran-66.toml: usable: "), "{out}");
    assert!(!out.contains("warning"), "{out}");
}

#[test]
fn new_notes_go_to_standard_output_unless_a_file_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let out = fettle_in(dir.path(), &NEW[..7]).done();
    assert!(out.contains("name = \"Corran 66\""), "{out}");
}

#[test]
fn new_notes_never_overwrite() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("corran-66.toml");
    fs::write(&file, "mine").unwrap();
    let message = fettle_in(dir.path(), &NEW).failed();
    assert!(
        message.contains("corran-66.toml exists already"),
        "{message}"
    );
    assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
}

#[test]
fn an_unknown_key_is_told_with_its_place_and_what_would_be_right() {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(dir.path(), &NEW).done();
    let file = dir.path().join("corran-66.toml");
    let text = fs::read_to_string(&file)
        .unwrap()
        .replacen("maker =", "makre =", 1);
    let line = 1 + text
        .lines()
        .position(|line| line.starts_with("makre"))
        .unwrap();
    fs::write(&file, text).unwrap();

    let message = fettle_in(dir.path(), &["notes", "check", "corran-66.toml"]);
    assert_eq!((message.status, message.out.as_str()), (1, ""));
    let place = format!("corran-66.toml:{line}:1: error:");
    assert!(message.remarks.contains(&place), "{}", message.remarks);
    assert!(
        message.remarks.contains("did you mean `maker`?"),
        "{}",
        message.remarks
    );

    let ran = fettle_in(dir.path(), &["notes", "check", "--json", "corran-66.toml"]);
    assert_eq!(ran.status, 1);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(json["files"][0]["usable"], false);
    let problems = json["files"][0]["problems"].as_array().unwrap();
    assert!(
        problems
            .iter()
            .any(|it| it["line"] == line && it["kind"] == "unknown-key"),
        "{problems:?}"
    );
}

#[test]
fn several_files_are_one_object_in_their_order() {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(dir.path(), &NEW).done();
    let more = [
        "notes",
        "new",
        "sprat",
        "--maker",
        "Aldous",
        "--name",
        "Sprat",
        "-o",
        "sprat.toml",
    ];
    fettle_in(dir.path(), &more).done();
    let arguments = ["notes", "check", "--json", "sprat.toml", "corran-66.toml"];
    let json = fettle_in(dir.path(), &arguments).json();
    let names: Vec<_> = json["files"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| &it["file"])
        .collect();
    assert_eq!(names, ["sprat.toml", "corran-66.toml"]);
    assert!(json["files"][0]["counts"]["parts"].as_u64().unwrap() > 0);
}

#[test]
fn a_missing_file_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let message = fettle_in(dir.path(), &["notes", "check", "gone.toml"]).failed();
    assert!(
        message.contains("cannot read gone.toml: there is no such file"),
        "{message}"
    );
}

#[test]
fn an_id_that_is_none_is_a_wrong_argument() {
    let dir = tempfile::tempdir().unwrap();
    let arguments = [
        "notes",
        "new",
        "Corran 66",
        "--maker",
        "Aldous",
        "--name",
        "Corran 66",
    ];
    let message = fettle_in(dir.path(), &arguments).refused();
    assert!(message.contains("lower-case words"), "{message}");
}
