//! The laws of the journal, over random sequences of every kind of change.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::Path,
    sync::{
        Mutex,
        atomic::{AtomicU64, Ordering::Relaxed},
    },
};

use fettle_bench::{
    Bench, BenchError, Change, Decimal, EntryId, LearnedFilter, Page, PartFilter, PartId, Stage,
    StageMoved, Undo, VisitId,
};
use fettle_notes::{ModelId, template};
use proptest::{
    prelude::{ProptestConfig, Strategy, any},
    test_runner::{RngAlgorithm, TestRng, TestRunner},
};
use rusqlite::{Connection, OpenFlags};
use support::{
    arrival, at,
    dice::{Dice, Kept, every_kind, stock::stocked, throw},
    hand, settings, today,
};

/// How many numbers a change is thrown from.
const THROWS: usize = 26;

/// The rows of every table, by table, each column as an SQL literal. Caches are left out.
type Tables = BTreeMap<String, Vec<String>>;

fn tables(dir: &Path, keep: impl Fn(&str) -> bool) -> Tables {
    let connection =
        Connection::open_with_flags(dir.join("bench.db"), OpenFlags::SQLITE_OPEN_READ_ONLY)
            .unwrap();
    let names: Vec<String> = connection
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'find_%'")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .filter(|name: &String| keep(name))
        .collect();
    let dump = |name: String| {
        let columns: Vec<String> = connection
            .prepare("SELECT 'quote(' || name || ')' FROM pragma_table_info(?1)")
            .unwrap()
            .query_map([&name], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        let order = if name == "sqlite_sequence" {
            "name"
        } else {
            "id"
        };
        let rows = connection
            .prepare(&format!(
                "SELECT {} FROM {name} ORDER BY {order}",
                columns.join(" || ',' || ")
            ))
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        (name, rows)
    };
    names.into_iter().map(dump).collect()
}

fn everything(_: &str) -> bool {
    true
}

/// What undo must bring back: all but what only ever grows.
fn undoable(name: &str) -> bool {
    !["journal", "touched", "struck", "sqlite_sequence"].contains(&name)
}

/// A folder in memory where there is one, for these tests write thousands of changes.
fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::tempdir_in(memory)
    } else {
        tempfile::tempdir()
    }
    .unwrap()
}

/// Two cameras are there, one of them with a visit that was proved; then what is thrown of these kinds. Refused changes fall out.
/// `seen` is shown the bench after every change that was applied.
fn play(
    dir: &Path,
    kinds: &[Change],
    numbers: &[u32],
    mut seen: impl FnMut(&Bench, &'static str, EntryId),
) -> Bench {
    let bench = Bench::create(dir, settings(), &hand(), at(0)).unwrap();
    let kept = Kept::new(&bench);
    for serial in ["A 1", "B 2"] {
        bench.apply(&hand(), at(1), arrival(serial)).unwrap();
    }
    let mut last = *bench
        .apply(&hand(), at(2), stocked())
        .unwrap()
        .entries
        .last()
        .unwrap();
    for (step, numbers) in numbers.chunks(THROWS).enumerate() {
        let like = &kinds[numbers[0] as usize % kinds.len()];
        let change = throw(like, &mut Dice::new(&numbers[1..]), &kept, last);
        let kind = change.kind();
        match bench.apply(&hand(), at(10 + i64::try_from(step).unwrap()), vec![change]) {
            Ok(applied) => {
                last = applied.entries[0];
                seen(&bench, kind, last);
            }
            Err(
                BenchError::Rule { .. } | BenchError::Unknown { .. } | BenchError::InTheWay { .. },
            ) => {}
            Err(error) => panic!("{kind}: {error}"),
        }
    }
    bench
}

/// No more came back than was taken, and every piece lies in a drawer.
fn assert_pieces_add_up(dir: &Path) {
    let connection =
        Connection::open_with_flags(dir.join("bench.db"), OpenFlags::SQLITE_OPEN_READ_ONLY)
            .unwrap();
    for wrong in [
        "movement t WHERE movement = 'taken' \
         AND (SELECT sum(change_pieces) FROM movement WHERE taken_id = t.id) > -t.change_pieces",
        "stock WHERE used < 0",
        "stock s JOIN lot l ON l.id = s.id WHERE s.quantity > 0 AND l.drawer_id IS NULL",
        "lot l JOIN stock s ON s.id = l.id \
         WHERE s.quantity <> (SELECT sum(change_pieces) FROM movement WHERE lot_id = l.id)",
        "donor_part p WHERE (SELECT sum(change_pieces) FROM movement WHERE donor_part_id = p.id) > quantity",
    ] {
        let found: u32 = connection
            .query_row(&format!("SELECT count(*) FROM {wrong}"), [], |row| {
                row.get(0)
            })
            .unwrap();
        assert_eq!(found, 0, "{wrong}");
    }
}

/// Bills and credit notes are numbered without a gap, and each tells of its lines and of nothing else.
fn assert_bills_add_up(dir: &Path, bench: &Bench) {
    let connection =
        Connection::open_with_flags(dir.join("bench.db"), OpenFlags::SQLITE_OPEN_READ_ONLY)
            .unwrap();
    let (count, last): (i64, i64) = connection
        .query_row("SELECT count(*), ifnull(max(id), 0) FROM bill", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    assert_eq!(count, last);
    let mut seen = 0;
    for visit in (1..30).map(VisitId::new) {
        let view = match bench.visit(visit) {
            Err(BenchError::Unknown { .. }) => continue,
            view => view.unwrap(),
        };
        for bill in &view.bills {
            seen += 1;
            let net: Decimal = bill.what.lines.iter().map(|line| line.amount).sum();
            assert_eq!(bill.totals.net, net);
            let tax: Decimal = bill.totals.taxes.iter().map(|line| line.tax).sum();
            assert_eq!(bill.totals.gross, net + tax);
            let mut credited = Decimal::ZERO;
            for credit in &bill.credits {
                seen += 1;
                let net: Decimal = credit.what.lines.iter().map(|line| line.amount).sum();
                assert_eq!(credit.totals.net, net);
                assert!(credit.totals.net > Decimal::ZERO);
                assert_eq!(credit.totals.gross, net + credit.totals.tax);
                credited += credit.totals.gross;
            }
            assert!(Decimal::ZERO <= credited && credited <= bill.totals.gross);
            assert!(Decimal::ZERO <= bill.open && bill.open <= bill.totals.gross - credited);
        }
    }
    assert_eq!(i64::from(seen), count);
}

/// The same numbers every time, so that what is covered does not hang on luck.
fn runner(cases: u32) -> TestRunner {
    let config = ProptestConfig {
        cases,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

fn throws(steps: usize) -> impl Strategy<Value = Vec<u32>> {
    proptest::collection::vec(any::<u32>(), THROWS * steps / 2..THROWS * steps)
}

/// One change of every kind but of those that stand for good.
fn undoable_kinds() -> Vec<Change> {
    let for_good = |kind: &Change| matches!(kind, Change::BillIssued(_) | Change::CreditIssued(_));
    let kinds = every_kind().into_iter();
    kinds.filter(|kind| !for_good(kind)).collect()
}

#[test]
fn the_generator_knows_every_kind_of_change() {
    let kinds: BTreeSet<&str> = every_kind().iter().map(Change::kind).collect();
    assert_eq!(kinds, Change::KINDS.iter().copied().collect());
}

#[test]
fn a_journal_replayed_into_an_empty_bench_yields_the_same_tables() {
    let applied = Mutex::new(BTreeSet::new());
    let mut runner = runner(32);
    runner
        .run(&throws(160), |numbers| {
            let (from, into) = (folder(), folder());
            let bench = play(from.path(), &every_kind(), &numbers, |_, kind, _| {
                applied.lock().unwrap().insert(kind);
            });
            let copy = bench.replay(into.path()).unwrap();
            assert_eq!(
                tables(from.path(), everything),
                tables(into.path(), everything)
            );
            for part in (1..30).map(PartId::new) {
                let view = match bench.part(part) {
                    Err(BenchError::Unknown { .. }) => continue,
                    view => view.unwrap(),
                };
                assert_eq!(view, copy.part(part).unwrap());
                let there: u32 = view.lots.iter().map(|lot| lot.quantity).sum();
                assert_eq!(view.line.quantity, there);
                let moved: i64 = view.moved.iter().map(|moved| moved.pieces).sum();
                assert_eq!(i64::from(view.line.quantity), moved);
                assert!(view.lots.iter().all(|lot| lot.drawer.is_some()));
            }
            assert_pieces_add_up(from.path());
            assert_bills_add_up(from.path(), &bench);
            for line in bench
                .visits(&fettle_bench::VisitFilter::default(), Page::first(100))
                .unwrap()
                .lines
            {
                assert_eq!(
                    bench.visit(line.visit).unwrap(),
                    copy.visit(line.visit).unwrap()
                );
            }
            copy.check().unwrap();
            assert_eq!(fettle_bench::verify(from.path()).unwrap().findings, []);
            Ok(())
        })
        .unwrap();
    let applied = applied.into_inner().unwrap();
    let never: Vec<&&str> = Change::KINDS
        .iter()
        .filter(|kind| !applied.contains(*kind))
        .collect();
    assert!(never.is_empty(), "never applied: {never:?}");
}

#[test]
fn what_is_kept_between_readings_equals_what_is_read_anew_after_any_change() {
    let day = |text: &str| Some(text.parse().unwrap());
    let filters = [
        LearnedFilter::default(),
        LearnedFilter {
            notes_id: Some("corran-66".to_owned()),
            ..LearnedFilter::default()
        },
        LearnedFilter {
            from: day("2026-09-05"),
            to: day("2026-09-20"),
            ..LearnedFilter::default()
        },
    ];
    let (steps, learned_from) = (AtomicU64::new(0), AtomicU64::new(0));
    let mut runner = runner(4);
    runner
        .run(&throws(80), |numbers| {
            let dir = folder();
            let notes = dir.path().join("notes");
            fs::create_dir_all(&notes).unwrap();
            let id = ModelId::new("corran-66").unwrap();
            let revised = fettle_notes::Date::new(2026, 3, 14).unwrap();
            let text = template(&id, "Aldous", "Corran 66", revised);
            fs::write(notes.join("corran-66.toml"), text).unwrap();
            play(dir.path(), &every_kind(), &numbers, |bench, kind, entry| {
                // Only finished visits are learned from, and what is thrown finishes few.
                for visit in (1..4).map(VisitId::new) {
                    let (to, note) = (Stage::Proved, String::new());
                    let moved = StageMoved { visit, to, note };
                    let _moved_or_there_already = bench.apply(&hand(), at(9), vec![moved.into()]);
                }
                let anew = Bench::open(dir.path()).unwrap();
                for filter in &filters {
                    // Sums that exact decimals cannot hold are refused, kept or not.
                    let [kept, read] = [bench, &anew].map(|it| it.learned(filter));
                    learned_from.fetch_add(read.as_ref().map_or(0, |it| it.visits), Relaxed);
                    let told = |it| format!("{it:?}");
                    assert_eq!(told(kept), told(read), "after {kind}, entry {entry}");
                }
                if steps.fetch_add(1, Relaxed) % 10 == 0 {
                    // Learning takes long without optimisation.
                    let [kept, read] = [bench, &anew].map(|it| it.lessons("corran-66").unwrap());
                    assert_eq!(kept, read, "after {kind}, entry {entry}");
                }
                let [kept, read] = [bench, &anew].map(|it| {
                    let parts = PartFilter::default();
                    let parts = it.parts(&parts, Page::first(100), at(9_999)).unwrap();
                    it.lasting(&parts.lines, today(), 2.0).unwrap()
                });
                assert_eq!(kept, read, "after {kind}, entry {entry}");
            });
            Ok(())
        })
        .unwrap();
    let [steps, learned_from] = [steps, learned_from].map(AtomicU64::into_inner);
    assert!(steps > 80 && learned_from > 100, "{steps} {learned_from}");
}

#[test]
fn undone_from_the_last_entry_back_every_entry_but_a_bill_leaves_the_tables_as_they_were() {
    let undoable_kinds = undoable_kinds();
    let mut runner = runner(8);
    runner
        .run(&throws(100), |numbers| {
            let dir = folder();
            let mut before: Vec<(EntryId, Tables)> = Vec::new();
            let mut now = None;
            let bench = play(dir.path(), &undoable_kinds, &numbers, |_, _, entry| {
                let after = tables(dir.path(), undoable);
                if let Some(was) = now.replace(after) {
                    before.push((entry, was));
                }
            });
            for (entry, was) in before.into_iter().rev() {
                bench
                    .apply(&hand(), at(9_999), vec![Undo { entry }.into()])
                    .unwrap();
                assert_eq!(
                    tables(dir.path(), undoable),
                    was,
                    "after undoing entry {entry}"
                );
            }
            bench.check().unwrap();
            Ok(())
        })
        .unwrap();
}

#[test]
fn what_is_found_after_an_undo_is_what_was_found_before() {
    let dir = folder();
    let bench = Bench::create(dir.path(), settings(), &hand(), at(0)).unwrap();
    let visit = bench
        .apply(&hand(), at(1), arrival("A 1"))
        .unwrap()
        .visit()
        .unwrap();
    let words = || -> Vec<String> {
        let connection = Connection::open(dir.path().join("bench.db")).unwrap();
        let mut statement = connection
            .prepare(
                "SELECT words FROM (SELECT 1 AS n, rowid AS id, words FROM find_text WHERE matched <> 'journal' \
                 UNION ALL SELECT 2, rowid, words FROM find_stock) ORDER BY n, id",
            )
            .unwrap();
        statement
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect()
    };
    bench.apply(&hand(), at(1), stocked()).unwrap();
    let before = words();
    let kept = Kept::new(&bench);
    for like in undoable_kinds() {
        let change = throw(
            &like,
            &mut Dice::new(&[0, 1, 1, 1, 0, 1, 1, 1, 1]),
            &kept,
            EntryId::new(1),
        );
        if let Ok(applied) = bench.apply(&hand(), at(2), vec![change]) {
            bench
                .apply(
                    &hand(),
                    at(3),
                    vec![
                        Undo {
                            entry: applied.entries[0],
                        }
                        .into(),
                    ],
                )
                .unwrap();
            assert_eq!(words(), before, "after {}", like.kind());
        }
    }
    assert_eq!(bench.visit(visit).unwrap().line.visit, VisitId::new(1));
}

/// Writes the record of this version down for `failure_versions.rs`, as it was when the version was the newest one.
#[test]
#[ignore = "writes tests/data/version-N.sql; run it once for a new version, and never again"]
fn the_record_of_this_version_is_written_down() {
    use std::fmt::Write;
    let dir = folder();
    // A linear congruence (Knuth's MMIX), of which the high bits are taken.
    let numbers: Vec<u32> = std::iter::successors(Some(1_u64), |state| {
        Some(
            state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407),
        )
    })
    .map(|state| u32::try_from(state >> 33).unwrap())
    .take(THROWS * 250)
    .collect();
    drop(play(dir.path(), &every_kind(), &numbers, |_, _, _| {}));
    let connection = Connection::open(dir.path().join("bench.db")).unwrap();
    let version: i64 = connection
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap();
    let mut sql = String::new();
    for (name, rows) in tables(dir.path(), everything) {
        if name == "sqlite_sequence" {
            sql.push_str("DELETE FROM sqlite_sequence;\n");
        }
        let columns: Vec<String> = connection
            .prepare("SELECT name FROM pragma_table_info(?1)")
            .unwrap()
            .query_map([&name], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        for row in rows {
            writeln!(
                sql,
                "INSERT INTO {name} ({}) VALUES ({row});",
                columns.join(", ")
            )
            .unwrap();
        }
    }
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/version-{version}.sql"));
    fs::write(path, sql).unwrap();
}
