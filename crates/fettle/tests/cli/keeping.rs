//! `fettle backup`, `fettle restore`, `fettle verify`.

use std::fs;
use std::path::Path;

use crate::run::fettle_in;

/// A bench with one owner in `bench`.
fn with_bench() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(
        dir.path(),
        &["new", "bench", "--name", "The bench at Saltmere"],
    )
    .done();
    fs::write(dir.path().join("owners.csv"), "name\nMarit Halvarsen\n").unwrap();
    fettle_in(
        dir.path(),
        &["import", "--bench", "bench", "owners", "owners.csv"],
    )
    .done();
    dir
}

fn backup(dir: &Path) -> crate::run::Ran {
    fettle_in(dir, &["backup", "--bench", "bench", "backup", "--json"])
}

#[test]
fn a_bench_is_backed_up_looked_through_and_brought_back() {
    let dir = with_bench();
    let dir = dir.path();
    let out = fettle_in(dir, &["backup", "--bench", "bench", "backup"]).done();
    assert!(
        out.contains("backed up into backup: state 000001-"),
        "{out}"
    );
    assert!(
        out.contains("the backup holds 1 state of the record"),
        "{out}"
    );
    let made = backup(dir).json();
    assert_eq!((&made["entries"], &made["copied"]), (&2.into(), &0.into()));
    assert!(made["folder"].is_string() && made["state"].is_string());
    for place in ["bench", "backup"] {
        let out = fettle_in(dir, &["verify", place]).done();
        assert!(out.ends_with("all of it is whole\n"), "{out}");
    }
    let verified = fettle_in(dir, &["verify", "--bench", "bench", "--json"]).json();
    assert_eq!(
        (&verified["whole"], &verified["is_backup"]),
        (&true.into(), &false.into())
    );
    let out = fettle_in(dir, &["restore", "backup", "new"]).done();
    assert!(out.contains("2 entries of the journal"), "{out}");
    let restored = fettle_in(
        dir,
        &["restore", "backup", "first", "--as-of", "1", "--json"],
    )
    .json();
    assert!(restored["state"].as_str().unwrap().starts_with("000001-"));
    assert!(dir.join("bench/backup-state.json").is_file());
    assert!(!dir.join("new/backup-state.json").exists());
}

#[test]
fn damage_is_told_in_words_with_exit_status_1() {
    let dir = with_bench();
    let dir = dir.path();
    backup(dir).done();
    let db = dir.join("bench/bench.db");
    let mut bytes = fs::read(&db).unwrap();
    let end = bytes.len();
    bytes[4_096..end].fill(0xA5);
    fs::write(&db, &bytes).unwrap();
    let ran = fettle_in(dir, &["verify", "--bench", "bench"]);
    assert_eq!(ran.status, 1, "{}", ran.out);
    for wanted in [
        "  lost: ",
        "  what to do: ",
        "fettle restore",
        "backup NEW-FOLDER",
    ] {
        assert!(ran.out.contains(wanted), "{wanted}: {}", ran.out);
    }
    assert!(
        ran.remarks.starts_with("fettle: bench is not whole: "),
        "{}",
        ran.remarks
    );
    let ran = fettle_in(dir, &["verify", "--bench", "bench", "--json"]);
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((ran.status, &report["whole"]), (1, &false.into()));
    assert!(report["findings"][0]["kind"].is_string(), "{report}");
    let told = backup(dir).failed();
    assert!(told.contains("damaged"), "{told}");
    let out = fettle_in(
        dir,
        &[
            "restore",
            "backup",
            "new",
            "--since",
            "bench",
            "--with-losses",
        ],
    )
    .done();
    assert!(
        out.contains("0 of the entries came from the damaged bench"),
        "{out}"
    );
    fettle_in(dir, &["verify", "new"]).done();
}

#[test]
fn what_cannot_be_done_is_said() {
    let dir = with_bench();
    let dir = dir.path();
    let told = fettle_in(dir, &["backup", "--bench", "bench", "bench/backup"]).failed();
    assert!(told.contains("lies within the bench"), "{told}");
    let told = fettle_in(dir, &["backup", "--bench", "bench", "no/such/disk"]).failed();
    assert!(told.contains("plug in the disk"), "{told}");
    let told = fettle_in(dir, &["restore", "nothing", "new"]).failed();
    assert!(told.contains("neither a backup nor a bench"), "{told}");
    let told = fettle_in(dir, &["verify", "nothing"]).failed();
    assert!(told.contains("is not a bench"), "{told}");
    fettle_in(dir, &["restore", "a", "b", "--as-of", "yesterday"]).refused();
    fettle_in(dir, &["verify", "--bench", "a", "b"]).refused();
}
