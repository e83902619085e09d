//! `fettle new`.

use std::fs;

use crate::run::fettle_in;

#[test]
fn a_new_bench_is_made_and_the_way_on_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let out = fettle_in(
        dir.path(),
        &["new", "mine", "--currency", "chf", "--hourly-rate", "72.50"],
    )
    .done();
    assert_eq!(
        out,
        "made the bench in mine\nopen it with: fettle serve --bench mine\n"
    );
    assert!(dir.path().join("mine/bench.db").is_file());
}

#[test]
fn a_bench_is_never_made_over_another() {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(dir.path(), &["new", "mine"]).done();
    let before = fs::read(dir.path().join("mine/bench.db")).unwrap();
    let message = fettle_in(dir.path(), &["new", "mine"]).failed();
    assert!(message.contains("already a bench"), "{message}");
    assert_eq!(fs::read(dir.path().join("mine/bench.db")).unwrap(), before);
}

#[test]
fn a_folder_that_is_a_file_is_told() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("mine"), "a file").unwrap();
    let message = fettle_in(dir.path(), &["new", "mine"]).failed();
    assert!(message.contains("mine"), "{message}");
}

#[test]
fn terms_without_meaning_are_wrong_arguments() {
    let dir = tempfile::tempdir().unwrap();
    for arguments in [
        ["new", "mine", "--currency", "euros"],
        ["new", "mine", "--hourly-rate", "free"],
        ["new", "mine", "--name", " "],
        ["new", "mine", "--hand", ""],
    ] {
        fettle_in(dir.path(), &arguments).refused();
        assert!(!dir.path().join("mine").exists());
    }
}

#[test]
fn without_a_command_the_help_is_shown() {
    let dir = tempfile::tempdir().unwrap();
    let ran = fettle_in::<&str>(dir.path(), &[]);
    assert_eq!(ran.status, 2);
    assert!(ran.remarks.contains("fettle"), "{}", ran.remarks);
    let help = fettle_in(dir.path(), &["--help"]).done();
    for command in ["new", "notes", "shutter"] {
        assert!(help.contains(command), "{help}");
    }
}
