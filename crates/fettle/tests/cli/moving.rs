//! `fettle import`, `fettle export`.

use std::fs;
use std::path::Path;

use crate::run::fettle_in;

const OWNERS: &str =
    "Vorname;Nachname;E-Mail;Ort\nMarit;Halvarsen;marit@example.org;Saltmere\nJörg;Weiß;;\n";
const CAMERAS: &str = "maker,model,serial\nAldous,Corran 66,K 10482\n";
const VISITS: &str = "owner,serial,arrived,home,work,minutes,price\n\
    Marit Halvarsen,K 10482,2024-03-05,2024-04-01,shutter cleaned,90,\"120,50\"\n";

/// An empty bench in `bench`, with tables to take in beside it.
fn with_bench() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(
        dir.path(),
        &["new", "bench", "--name", "The bench at Saltmere"],
    )
    .done();
    for (name, text) in [
        ("owners.csv", OWNERS),
        ("cameras.csv", CAMERAS),
        ("visits.csv", VISITS),
    ] {
        fs::write(dir.path().join(name), text).unwrap();
    }
    dir
}

fn import(dir: &Path, rest: &[&str]) -> crate::run::Ran {
    fettle_in(dir, &[&["import", "--bench", "bench"], rest].concat())
}

#[test]
fn tables_are_taken_in_and_an_export_makes_the_same_bench() {
    let dir = with_bench();
    let dir = dir.path();
    let out = import(dir, &["owners", "owners.csv"]).done();
    assert!(out.contains("separated by semicolons, UTF-8"), "{out}");
    assert!(out.contains("given-name   from “Vorname”"), "{out}");
    assert!(
        out.contains("taken in: 2 new owners; known already: 0"),
        "{out}"
    );
    import(dir, &["cameras", "cameras.csv"]).done();
    let report = import(dir, &["visits", "visits.csv", "--json"]).json();
    assert_eq!((&report["new"], &report["done"]), (&1.into(), &true.into()));
    let again = import(dir, &["visits", "visits.csv", "--json"]).json();
    assert_eq!(
        (&again["new"], &again["same"][0]["known_as"]),
        (&0.into(), &"visit 1".into())
    );

    let out = fettle_in(dir, &["export", "--bench", "bench", "out", "--json"]).json();
    assert_eq!(out["format"], "fettle-export-1");
    let made = fettle_in(
        dir,
        &["import", "--bench", "new", "--export", "out", "--json"],
    )
    .json();
    assert_eq!(made["entries"], out["entries"]);
    let again = fettle_in(dir, &["export", "--bench", "new", "again", "--json"]).json();
    assert_eq!(out["tables"], again["tables"]);
    assert_eq!(out["files"], again["files"]);
}

#[test]
fn a_dry_run_takes_nothing_in() {
    let dir = with_bench();
    let dir = dir.path();
    let out = import(dir, &["owners", "owners.csv", "--check"]).done();
    assert!(out.contains("would be taken in: 2 new owners"), "{out}");
    let out = import(dir, &["owners", "owners.csv"]).done();
    assert!(
        out.contains("taken in: 2 new owners; known already: 0"),
        "{out}"
    );
}

#[test]
fn every_row_that_cannot_be_taken_in_is_named_and_none_is() {
    let dir = with_bench();
    let dir = dir.path();
    let bad = "owner,serial,arrived,price\nAna,X 1,03/04/2024,free\n";
    fs::write(dir.join("bad.csv"), bad).unwrap();
    for more in [&[][..], &["--check"]] {
        let told = import(dir, &[&["visits", "bad.csv"], more].concat());
        assert_eq!(
            (told.status, told.out.as_str()),
            (1, ""),
            "{}",
            told.remarks
        );
        for wanted in [
            "bad.csv: row 2, column owner: “Ana” is no owner of this bench; ",
            "bad.csv: row 2, column serial: “X 1” is no camera of this bench; ",
            "bad.csv: row 2, column arrived: “03/04/2024” can be 2024-04-03 and 2024-03-04; ",
            "bad.csv: row 2, column price: “free” is not an amount; ",
            "fettle: nothing was taken in: put the 4 problems above right",
        ] {
            assert!(told.remarks.contains(wanted), "{wanted}\n{}", told.remarks);
        }
    }
    let told = import(dir, &["visits", "bad.csv", "--json", "--dates", "dmy"]);
    assert_eq!(told.status, 1);
    let report: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!(report["problems"].as_array().unwrap().len(), 3);
    assert_eq!(report["done"], false);
}

#[test]
fn columns_and_values_can_be_told() {
    let dir = with_bench();
    let dir = dir.path();
    fs::write(dir.join("parts.csv"), "Ding,Zahl\nfoam,3\n").unwrap();
    let parts = [
        "parts",
        "parts.csv",
        "--map",
        "part=Ding",
        "--map",
        "quantity=Zahl",
    ];
    let told = import(dir, &[&parts[..], &["--set", "drawer=A1"]].concat());
    assert!(
        told.remarks.contains("no column holds grade"),
        "{}",
        told.remarks
    );
    let out = import(
        dir,
        &[&parts[..], &["--set", "drawer=A1", "--set", "grade=made"]].concat(),
    )
    .done();
    assert!(out.contains("taken in: 1 new part;"), "{out}");
    let told = import(dir, &["parts", "parts.csv", "--map", "part=Dong"]).refused();
    assert!(
        told.contains("the table has no heading `Dong`; it has Ding, Zahl"),
        "{told}"
    );
    let told = import(dir, &["parts", "parts.csv", "--map", "shoe=Ding"]).refused();
    assert!(told.contains("parts have no field `shoe`"), "{told}");
}

#[test]
fn a_damaged_export_is_refused_by_file_and_line_and_nothing_stays() {
    let dir = with_bench();
    let dir = dir.path();
    fettle_in(dir, &["export", "--bench", "bench", "out"]).done();
    let journal = dir.join("out/journal.jsonl");
    let text = fs::read_to_string(&journal)
        .unwrap()
        .replacen("Saltmere", "Saltmoor", 1);
    fs::write(&journal, text).unwrap();
    let told = fettle_in(dir, &["import", "--bench", "new", "--export", "out"]).failed();
    assert!(
        told.contains("journal.jsonl, line 1: is not as it was written"),
        "{told}"
    );
    let mut left: Vec<_> = fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    left.sort();
    assert_eq!(
        left,
        ["bench", "cameras.csv", "out", "owners.csv", "visits.csv"]
    );
    let told = fettle_in(dir, &["export", "--bench", "bench", "out"]).failed();
    assert!(
        told.contains("out is there already and not empty"),
        "{told}"
    );
}

#[test]
fn what_to_do_must_be_said() {
    let dir = with_bench();
    let dir = dir.path();
    for wrong in [
        &[][..],
        &["owners"],
        &["shoes", "owners.csv"],
        &["owners", "owners.csv", "--dates", "ymd"],
    ] {
        import(dir, wrong).refused();
    }
    let told = fettle_in(dir, &["import", "--export", "out"]).refused();
    assert!(told.contains("--bench"), "{told}");
    let told = import(dir, &["owners", "none.csv"]).failed();
    assert!(
        told.contains("cannot read none.csv: there is no such file"),
        "{told}"
    );
}
