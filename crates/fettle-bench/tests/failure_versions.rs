//! A bench of an older version opens in this one, with all that it held.
//!
//! `data/version-N.sql` holds the rows of a record of random changes as the program of that version wrote them; CONTRIBUTING.md says how.
//! Of versions 1 and 2 none is kept: a rule for quotes and what undo writes down have changed since, so their journals told anew give a few
//! rows otherwise. That their tables are brought up to date is tested in the crate's `store`.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::{fs, path::Path};

use fettle_bench::{
    Bench, Finding, FindingKind, HowToRestore, Page, TABLES_VERSION, VisitFilter, back_up, restore,
    verify,
};
use jiff::Timestamp;
use rusqlite::Connection;

/// The migrations, numbered from 1.
const MIGRATIONS: [&str; 5] = [
    include_str!("../src/migrations/01_record.sql"),
    include_str!("../src/migrations/02_trial_strip.sql"),
    include_str!("../src/migrations/03_stock.sql"),
    include_str!("../src/migrations/04_owner_side.sql"),
    include_str!("../src/migrations/05_scale.sql"),
];

/// The first version of which a record was kept.
const FIRST: usize = 3;

/// Makes the bench of a version as its program left it; gives how many entries its journal has.
fn bench_of_version(version: usize, dir: &Path) -> u32 {
    let data =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/version-{version}.sql"));
    let rows = fs::read_to_string(&data).unwrap_or_else(|error| {
        panic!(
            "{}: {error}; CONTRIBUTING.md says how it is written",
            data.display()
        )
    });
    let connection = Connection::open(dir.join("bench.db")).unwrap();
    connection
        .execute_batch("PRAGMA journal_mode = WAL; PRAGMA foreign_keys = OFF")
        .unwrap();
    for migration in &MIGRATIONS[..version] {
        connection.execute_batch(migration).unwrap();
    }
    // Some tables are kept by triggers from others; here each is as it was.
    let triggers: Vec<(String, String)> = connection
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for (name, _) in &triggers {
        connection
            .execute_batch(&format!("DROP TRIGGER {name}"))
            .unwrap();
    }
    connection
        .execute_batch(&format!("BEGIN; {rows} COMMIT"))
        .unwrap();
    for (_, sql) in &triggers {
        connection.execute_batch(sql).unwrap();
    }
    connection
        .pragma_update(None, "application_id", 0x4674_746C)
        .unwrap();
    connection
        .pragma_update(None, "user_version", i64::try_from(version).unwrap())
        .unwrap();
    connection
        .query_row("SELECT count(*) FROM journal", [], |row| row.get(0))
        .unwrap()
}

/// What is wrong but for the files, which the data does not hold.
fn wrong(dir: &Path) -> Vec<Finding> {
    let mut findings = verify(dir).unwrap().findings;
    findings.retain(|finding| finding.kind != FindingKind::FileMissing);
    findings
}

#[test]
fn a_bench_of_an_older_version_opens_with_all_that_it_held_and_its_journal_gives_the_same_tables() {
    assert_eq!(i64::try_from(MIGRATIONS.len()).unwrap(), TABLES_VERSION);
    for version in FIRST..=MIGRATIONS.len() {
        let dir = tempfile::tempdir().unwrap();
        let entries = bench_of_version(version, dir.path());
        assert!(entries > 60, "version {version}: {entries} entries");
        // As it lies there, before it is opened; and after.
        assert_eq!(wrong(dir.path()), [], "version {version}");
        let bench = Bench::open(dir.path()).unwrap();
        assert_eq!(wrong(dir.path()), [], "version {version}, opened");
        assert_eq!(bench.journal(Page::first(1)).unwrap().total, entries);
        let visits = bench
            .visits(&VisitFilter::default(), Page::first(100))
            .unwrap();
        assert!(visits.total > 0);
        for line in visits.lines {
            bench.visit(line.visit).unwrap();
        }
    }
}

#[test]
fn a_bench_of_an_older_version_is_backed_up_as_it_is_and_restored_into_this_one() {
    let at: Timestamp = "2026-11-27T08:00:00Z".parse().unwrap();
    for version in FIRST..=MIGRATIONS.len() {
        let dir = tempfile::tempdir().unwrap();
        let (bench, backup, new) = (
            dir.path().join("bench"),
            dir.path().join("backup"),
            dir.path().join("new"),
        );
        fs::create_dir(&bench).unwrap();
        let entries = bench_of_version(version, &bench);
        let made = back_up(&bench, &backup, at, false, &mut |_| {}).unwrap();
        assert_eq!(made.entries, u64::from(entries));
        assert_eq!(wrong(&backup), [], "version {version}");
        let how = HowToRestore {
            with_losses: true,
            ..HowToRestore::default()
        };
        let restored = restore(&backup, &new, how, &mut |_| {}).unwrap();
        assert_eq!(
            (restored.entries, restored.lost_entries.len()),
            (u64::from(entries), 0)
        );
        assert_eq!(wrong(&new), [], "version {version}");
        let kept = Connection::open(bench.join("bench.db")).unwrap();
        let left: i64 = kept
            .pragma_query_value(None, "user_version", |row| row.get(0))
            .unwrap();
        assert_eq!(
            usize::try_from(left).unwrap(),
            version,
            "the bench was touched"
        );
    }
}
