//! What must never be lost: two hands at once, a kill in mid-write, a full disk, a folder that cannot be written.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::{path::Path, sync::Arc, time::Duration};

use fettle_bench::{
    About, Bench, BenchError, Change, EntryId, Hand, HitIn, NoteWritten, Page, PhotoSize, Stage,
    VisitId,
};
use rusqlite::Connection;
use support::{
    arrival, at,
    child::{Running, rounds, say, told_dir},
    disk::{SmallDisk, fill},
    hand, settings, shop,
};

fn note(text: &str) -> Change {
    NoteWritten {
        about: About::Visit(VisitId::new(1)),
        text: text.to_owned(),
    }
    .into()
}

#[test]
fn two_hands_with_a_bench_each_lose_nothing() {
    let shop = shop();
    shop.arrive(1);
    std::thread::scope(|scope| {
        for name in ["Ines", "Tomas"] {
            let dir = shop.dir.path();
            scope.spawn(move || {
                let bench = Bench::open(dir).unwrap();
                for n in 0..500 {
                    bench
                        .apply(&Hand::new(name), at(n), vec![note(&format!("{name} {n}"))])
                        .unwrap();
                }
            });
        }
    });
    let view = shop.bench.visit(VisitId::new(1)).unwrap();
    for name in ["Ines", "Tomas"] {
        let mut theirs = view
            .notes
            .iter()
            .filter(|note| note.what.text.starts_with(name));
        for n in 0..500 {
            assert_eq!(
                theirs.next().map(|note| note.what.text.clone()),
                Some(format!("{name} {n}"))
            );
        }
    }
    assert_eq!(view.notes.len(), 1000);
    shop.bench.check().unwrap();
}

#[test]
fn one_bench_shared_by_threads_reads_while_it_writes() {
    let shop = shop();
    shop.arrive(1);
    let bench = Arc::new(shop.bench);
    std::thread::scope(|scope| {
        let writing = Arc::clone(&bench);
        scope.spawn(move || {
            for n in 0..100 {
                writing
                    .apply(&hand(), at(n), vec![note("one"), note("two")])
                    .unwrap();
            }
        });
        for _ in 0..6 {
            let reading = Arc::clone(&bench);
            scope.spawn(move || {
                for _ in 0..50 {
                    let view = reading.visit(VisitId::new(1)).unwrap();
                    assert_eq!(
                        view.notes.len() % 2,
                        0,
                        "half of what belongs together was seen"
                    );
                    assert_eq!(view.notes.len() + 1, view.journal.len());
                    reading.today(support::today()).unwrap();
                }
            });
        }
    });
}

/// Not a test of its own: the kill test starts this binary again with the folder to write in.
#[test]
fn a_child_that_says_what_it_has_written() {
    let Some(dir) = told_dir() else { return };
    let bench = Bench::open(&dir).unwrap();
    for n in 0..2_000 {
        let text = format!("change {n}");
        let applied = bench
            .apply(&hand(), at(n), vec![note(&text), note("beside")])
            .unwrap();
        say(&format!("written {} {n}", applied.entries[0]));
    }
}

/// Every change that was acknowledged stands, and none by half.
fn assert_all_stand(dir: &Path, written: &[String]) {
    let bench = Bench::open(dir).unwrap();
    bench.check().unwrap();
    for line in written {
        let (entry, n) = line.split_once(' ').unwrap();
        let (entry, change) = bench.entry(EntryId::new(entry.parse().unwrap())).unwrap();
        assert_eq!(change, note(&format!("change {n}")));
        assert_eq!(entry.visit, Some(VisitId::new(1)));
    }
    let view = bench.visit(VisitId::new(1)).unwrap();
    assert_eq!(view.notes.len() + 1, view.journal.len());
    assert_eq!(
        view.notes.len() % 2,
        0,
        "half of what belongs together was kept"
    );
    assert!(view.notes.len() >= written.len() * 2);
}

#[test]
fn a_kill_at_any_point_under_two_writers_leaves_every_acknowledged_change() {
    let shop = shop();
    shop.arrive(1);
    let dir = shop.dir.path();
    let mut written: Vec<String> = Vec::new();
    let rounds = rounds(20);
    for round in 0..rounds {
        let start = || Running::start("a_child_that_says_what_it_has_written", dir);
        let (mut one, mut other) = (start(), start());
        // Both write by now; then microseconds in, around and between writes, another number each round.
        let acknowledged = usize::try_from(1 + round % 5).unwrap();
        written.extend(one.says("written ", acknowledged));
        written.extend(other.says("written ", 1));
        let wait = Duration::from_micros(round * round * 97 % 4_000);
        let (first, second) = if round % 2 == 0 {
            (one, other)
        } else {
            (other, one)
        };
        written.extend(first.kill_after(wait, "written "));
        written.extend(second.kill_after(wait / 3, "written "));
        if round % 6 == 5 {
            assert_all_stand(dir, &written);
        }
    }
    assert!(
        written.len() as u64 >= rounds * 2,
        "{} were written",
        written.len()
    );
    assert_all_stand(dir, &written);
    assert_eq!(fettle_bench::verify(dir).unwrap().findings, []);
    shop.apply(5_000, vec![note("it goes on")]);
}

#[test]
fn a_full_disk_is_told_and_nothing_is_half_written() {
    let dir = tempfile::tempdir().unwrap();
    // Without root there is no small disk; the database's own limit stands in for it in the crate's unit tests.
    let Some(disk) = SmallDisk::new(&dir.path().join("bench"), "size=3m") else {
        return;
    };
    let bench = Bench::create(&disk.0, settings(), &hand(), at(0)).unwrap();
    bench.apply(&hand(), at(1), arrival("A 1")).unwrap();
    let long = "a long note about the lens ".repeat(1_500);
    let mut kept = 0;
    let error = loop {
        match bench.apply(&hand(), at(2), vec![note(&long)]) {
            Ok(_) => kept += 1,
            Err(error) => break error,
        }
        assert!(kept < 200, "the disk never filled");
    };
    assert!(matches!(error, BenchError::DiskFull { .. }), "{error:?}");
    assert!(
        error.to_string().contains("make room and try again"),
        "{error}"
    );
    let picture = support::noise(900, 700);
    let error = bench
        .keep_photo(VisitId::new(1), Stage::Arrived, "", &picture)
        .unwrap_err();
    assert!(matches!(error, BenchError::DiskFull { .. }), "{error:?}");
    let left: Vec<_> = std::fs::read_dir(disk.0.join("photos"))
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.file_type().unwrap().is_file())
        .collect();
    assert!(left.is_empty(), "{left:?}");
    assert_eq!(bench.visit(VisitId::new(1)).unwrap().notes.len(), kept);
    disk.remount("size=30m");
    bench.apply(&hand(), at(3), vec![note(&long)]).unwrap();
    bench.check().unwrap();
    drop(bench);
}

#[test]
fn a_bench_on_a_disk_without_a_free_byte_tells_that_it_is_full() {
    let dir = tempfile::tempdir().unwrap();
    let Some(disk) = SmallDisk::new(&dir.path().join("bench"), "size=3m") else {
        return;
    };
    drop(Bench::create(&disk.0, settings(), &hand(), at(0)).unwrap());
    for spare in [0, 12 << 10] {
        let filler = fill(&disk, spare);
        let error = Bench::open(&disk.0)
            .and_then(|bench| bench.apply(&hand(), at(1), arrival("A 1")))
            .unwrap_err();
        assert!(matches!(error, BenchError::DiskFull { .. }), "{error:?}");
        std::fs::remove_file(filler).unwrap();
    }
    Bench::open(&disk.0).unwrap().check().unwrap();
}

#[test]
fn a_photograph_is_kept_though_its_smaller_sizes_find_no_room() {
    let dir = tempfile::tempdir().unwrap();
    let Some(disk) = SmallDisk::new(&dir.path().join("bench"), "size=12m") else {
        return;
    };
    let bench = Bench::create(&disk.0, settings(), &hand(), at(0)).unwrap();
    bench.apply(&hand(), at(1), arrival("A 1")).unwrap();
    let picture = support::noise(900, 700);
    let filler = fill(&disk, picture.len() as u64 + (16 << 10));
    let change = bench
        .keep_photo(VisitId::new(1), Stage::Arrived, "", &picture)
        .unwrap();
    let files = |folder: &str| -> usize {
        std::fs::read_dir(disk.0.join(folder))
            .unwrap()
            .filter(|entry| entry.as_ref().unwrap().path().is_file())
            .count()
    };
    assert_eq!((files("photos"), files("photos/display")), (1, 0));
    std::fs::remove_file(filler).unwrap();
    let photo = bench.apply(&hand(), at(2), vec![change]).unwrap().photo();
    let display = bench
        .photo_file(photo.unwrap(), PhotoSize::Display)
        .unwrap();
    assert!(display.path.is_file());
}

#[test]
fn a_folder_that_cannot_be_written_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let disk = SmallDisk::new(&dir.path().join("bench"), "size=8m");
    let folder = dir.path().join("bench");
    drop(Bench::create(&folder, settings(), &hand(), at(0)).unwrap());
    // Permissions bind everyone but root, who has the small disk instead.
    match &disk {
        Some(disk) => disk.remount("ro"),
        None => permit(&folder, 0o555),
    }
    let error = Bench::open(&folder).unwrap_err();
    assert!(matches!(error, BenchError::ReadOnly { .. }), "{error:?}");
    assert!(error.to_string().contains("read-only"), "{error}");
    let error = Bench::create(&folder.join("new"), settings(), &hand(), at(0)).unwrap_err();
    assert!(matches!(error, BenchError::ReadOnly { .. }), "{error:?}");
    if disk.is_none() {
        permit(&folder, 0o755);
    }
}

fn permit(folder: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(folder, std::fs::Permissions::from_mode(mode)).unwrap();
}

#[test]
fn a_bench_made_by_a_newer_version_is_refused_and_not_touched() {
    let shop = shop();
    let path = shop.dir.path().join("bench.db");
    drop(shop.bench);
    Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let before = std::fs::read(&path).unwrap();
    let error = Bench::open(shop.dir.path()).unwrap_err();
    assert!(
        matches!(
            error,
            BenchError::Newer {
                found: 99,
                known: fettle_bench::TABLES_VERSION,
                ..
            }
        ),
        "{error:?}"
    );
    assert!(
        error.to_string().contains("use the newer program"),
        "{error}"
    );
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn a_change_of_a_newer_version_is_named() {
    let shop = shop();
    let connection = Connection::open(shop.dir.path().join("bench.db")).unwrap();
    connection
        .execute(
            "INSERT INTO journal (at_utc, hand, group_id, kind, change_json, sentence) \
             VALUES ('2026-09-01T00:00:00Z', 'Ines', 2, 'lens-polished', '{\"kind\":\"lens-polished\"}', 'x')",
            [],
        )
        .unwrap();
    let error = shop.bench.entry(EntryId::new(2)).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("(`lens-polished` is a kind of change that is not known here)"),
        "{error}"
    );
    let into = tempfile::tempdir().unwrap();
    let error = shop.bench.replay(into.path()).unwrap_err();
    assert!(matches!(error, BenchError::NewerChange { .. }), "{error:?}");
    assert!(
        !into.path().join("bench.db").exists(),
        "half a bench was left"
    );
}

#[test]
fn what_is_no_bench_is_told_from_what_is_one() {
    let dir = tempfile::tempdir().unwrap();
    let error = Bench::open(dir.path()).unwrap_err();
    assert!(matches!(error, BenchError::NotABench { .. }), "{error:?}");
    std::fs::write(
        dir.path().join("bench.db"),
        "a shopping list, and a long one: ".repeat(100),
    )
    .unwrap();
    let error = Bench::open(dir.path()).unwrap_err();
    assert!(matches!(error, BenchError::Corrupt { .. }), "{error:?}");
    std::fs::remove_file(dir.path().join("bench.db")).unwrap();
    Connection::open(dir.path().join("bench.db"))
        .unwrap()
        .execute_batch("CREATE TABLE x (y)")
        .unwrap();
    let error = Bench::open(dir.path()).unwrap_err();
    assert!(matches!(error, BenchError::NotABench { .. }), "{error:?}");
    let shop = shop();
    let error = Bench::create(shop.dir.path(), settings(), &hand(), at(0)).unwrap_err();
    assert!(
        matches!(error, BenchError::AlreadyABench { .. }),
        "{error:?}"
    );
}

#[test]
fn a_damaged_database_is_told_and_does_not_panic() {
    let shop = shop();
    let path = shop.dir.path().join("bench.db");
    for n in 0..40 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    drop(shop.bench);
    let whole = std::fs::read(&path).unwrap();
    for place in (4_096..whole.len() - 512).step_by(whole.len() / 25) {
        let mut bytes = whole.clone();
        bytes[place..place + 512].fill(0xA5);
        std::fs::write(&path, &bytes).unwrap();
        let Ok(bench) = Bench::open(shop.dir.path()) else {
            continue;
        };
        let _ = bench.today(support::today());
        let _ = bench.visit(VisitId::new(3));
        let _ = bench.find("slow", 10);
        let _ = bench.apply(&hand(), at(99), vec![note("x")]);
    }
    std::fs::write(&path, &whole[..whole.len() / 2]).unwrap();
    let told = Bench::open(shop.dir.path()).and_then(|bench| bench.check());
    assert!(matches!(told, Err(BenchError::Corrupt { .. })), "{told:?}");
}

#[test]
fn the_journal_is_never_altered_even_by_another_program() {
    let shop = shop();
    let connection = Connection::open(shop.dir.path().join("bench.db")).unwrap();
    for sql in ["DELETE FROM journal", "UPDATE journal SET hand = 'x'"] {
        let error = connection.execute(sql, []).unwrap_err().to_string();
        assert!(error.contains("the journal is never"), "{error}");
    }
}

#[test]
fn any_text_can_be_looked_for() {
    let shop = shop();
    let visit = shop.arrive(1);
    for text in [
        "",
        " ",
        "\"",
        "'",
        "\"\"",
        "*",
        "a*",
        "^a",
        "a NEAR b",
        "NEAR(a b, 2)",
        "a OR",
        "AND",
        "NOT",
        "(",
        ")",
        "words:slow",
        "{words matched} : slow",
        "-slow",
        "+",
        "slow + speeds",
        "\0",
        "a\0b",
        "%",
        "_",
        "'; DROP TABLE visit; --",
        "\u{202e}slow",
        "9223372036854775807",
        "-1",
        "#1",
        "🔧",
        "ﬁ",
        "a\"b\"c",
        "\\",
        &"x".repeat(100_000),
        &"y ".repeat(50_000),
    ] {
        shop.bench
            .find(text, 10)
            .unwrap_or_else(|error| panic!("{text:.40?}: {error}"));
    }
    assert_eq!(
        shop.bench.find("SLÒW spee", 10).unwrap()[0].place,
        HitIn::Visit(visit)
    );
    assert_eq!(shop.bench.find("slow", 0).unwrap(), []);
}

#[test]
fn a_rule_broken_names_the_change_and_the_field_and_leaves_nothing() {
    let shop = shop();
    let mut changes = arrival("A 1");
    changes.push(note("an empty one follows"));
    changes.push(note(" "));
    let error = shop.bench.apply(&hand(), at(1), changes).unwrap_err();
    match error {
        BenchError::Rule {
            index,
            kind,
            field,
            ref why,
        } => {
            assert_eq!((index, kind, field), (4, "note-written", "text"));
            assert_eq!(why, "is empty: write something");
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(shop.bench.journal(Page::first(9)).unwrap().total, 1);
    assert_eq!(shop.bench.owners(Page::first(9)).unwrap().total, 0);
    let refusal = shop.refusal(2, vec![note("x")]);
    assert_eq!(refusal, "there is no visit 1; it may have been undone");
}

#[test]
fn a_bench_that_could_not_be_made_leaves_no_folder() {
    let dir = tempfile::tempdir().unwrap();
    let mut nameless = settings();
    nameless.name = "two\nlines".to_owned();
    let folder = dir.path().join("here/bench");
    let error = Bench::create(&folder, nameless.clone(), &hand(), at(0)).unwrap_err();
    assert!(
        matches!(error, BenchError::Rule { field: "name", .. }),
        "{error:?}"
    );
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
    // A folder that was there before stays, with what is in it.
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("list.txt"), "shopping").unwrap();
    Bench::create(&folder, nameless, &hand(), at(0)).unwrap_err();
    let left: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left, ["list.txt"]);
    Hand::checked("Ines").unwrap();
    for bad in [" ", "Ines\nTomas", &"x".repeat(501)] {
        assert!(Hand::checked(bad).is_err(), "{bad:?}");
    }
}

#[test]
fn a_bench_that_is_filled_while_it_is_made_is_there_whole_or_not_at_all() {
    let dir = tempfile::tempdir().unwrap();
    let failed = Bench::make(dir.path(), settings(), &hand(), at(0), |bench| {
        bench.apply(&hand(), at(1), arrival("A 1"))?;
        bench.apply(&hand(), at(2), vec![note("")]).map(drop)
    });
    assert!(matches!(failed, Err(BenchError::Rule { .. })), "{failed:?}");
    assert!(matches!(
        Bench::open(dir.path()),
        Err(BenchError::NotABench { .. })
    ));
    let bench = Bench::make::<BenchError>(dir.path(), settings(), &hand(), at(0), |bench| {
        bench.apply(&hand(), at(1), arrival("A 1"))?;
        bench.keep_photo(VisitId::new(1), Stage::Arrived, "", &support::noise(20, 20))?;
        assert_eq!(bench.visit(VisitId::new(1))?.journal.len(), 1);
        Ok(())
    })
    .unwrap();
    assert_eq!(bench.visit(VisitId::new(1)).unwrap().journal.len(), 1);
    drop(bench);
    let names: Vec<String> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains("db"))
        .collect();
    assert_eq!(names, ["bench.db"], "something was left of the making");
}
