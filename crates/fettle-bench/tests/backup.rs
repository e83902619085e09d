//! Backups: made while others write, whole whatever happens, never over a good one.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::{fs, path::Path, time::Duration};

use fettle_bench::{
    About, AsOf, BackedUp, Bench, BenchError, Change, FindingKind, Hand, HowToRestore, NoteWritten,
    Page, Stage, VisitId, back_up, restore, verify,
};
use rusqlite::Connection;
use support::{
    Shop, arrival, at,
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

fn photograph(shop: &Shop, second: i64, width: u32) {
    let kept = shop.bench.keep_photo(
        VisitId::new(1),
        Stage::Arrived,
        "",
        &support::noise(width, 16),
    );
    shop.apply(second, vec![kept.unwrap()]);
}

fn backed_up(bench: &Path, to: &Path, second: i64) -> BackedUp {
    back_up(bench, to, at(second), false, &mut |_| {}).unwrap()
}

fn whole(dir: &Path) {
    assert_eq!(verify(dir).unwrap().findings, [], "{}", dir.display());
}

fn bring_back(from: &Path, to: &Path, how: HowToRestore<'_>) -> fettle_bench::Restored {
    restore(from, to, how, &mut |_| {}).unwrap()
}

/// A bench with some visits, photographs and service notes, and an empty folder for everything else.
fn furnished() -> (Shop, tempfile::TempDir) {
    let shop = shop();
    for n in 0..3 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    for width in 20..26 {
        photograph(&shop, i64::from(width), width);
    }
    let notes = shop.dir.path().join("notes");
    fs::create_dir_all(notes.join("drawings/old")).unwrap();
    fs::write(notes.join("corran.toml"), "name = \"Corran\"").unwrap();
    fs::write(notes.join("drawings/old/tray.svg"), "<svg/>").unwrap();
    fs::write(notes.join(".hidden"), "x").unwrap();
    (shop, tempfile::tempdir().unwrap())
}

#[test]
fn a_backup_brings_the_same_bench_back_and_copies_only_what_is_new() {
    let (shop, dir) = furnished();
    let (backup, new) = (dir.path().join("backup"), dir.path().join("new"));
    let first = backed_up(shop.dir.path(), &backup, 100);
    assert_eq!(
        (first.state.as_str(), first.copied, first.files),
        ("000001-2026-09-21", 6, 8)
    );
    assert_eq!((first.states, first.lost.len()), (1, 0));
    let again = backed_up(shop.dir.path(), &backup, 200);
    assert_eq!((again.copied, again.files, again.states), (0, 8, 2));
    photograph(&shop, 300, 40);
    assert_eq!(backed_up(shop.dir.path(), &backup, 400).copied, 1);
    whole(&backup);
    let restored = bring_back(&backup, &new, HowToRestore::default());
    assert_eq!((restored.files, restored.lost_files.len()), (9, 0));
    whole(&new);
    let bench = Bench::open(&new).unwrap();
    assert_eq!(
        bench.journal(Page::first(99)).unwrap(),
        shop.bench.journal(Page::first(99)).unwrap()
    );
    assert_eq!(
        bench.visit(VisitId::new(1)).unwrap(),
        shop.bench.visit(VisitId::new(1)).unwrap()
    );
    assert!(new.join("notes/drawings/old/tray.svg").is_file());
    assert!(!new.join("notes/.hidden").exists());
    let state = backup.join("states").join(&first.state);
    for refused in [Bench::open(&state).map(drop), verify(&state).map(drop)] {
        let refused = refused.unwrap_err().to_string();
        assert!(refused.contains("is a state within a backup"), "{refused}");
    }
    // It goes on, and into the same backup.
    bench.apply(&hand(), at(500), arrival("B 1")).unwrap();
    assert_eq!(backed_up(&new, &backup, 600).state, "000004-2026-09-21");
    whole(&backup);
}

#[test]
fn an_earlier_state_is_brought_back_by_day_or_number() {
    let (shop, dir) = furnished();
    let backup = dir.path().join("backup");
    let entries = |name: &str, as_of| {
        let how = HowToRestore {
            as_of,
            ..HowToRestore::default()
        };
        bring_back(&backup, &dir.path().join(name), how).entries
    };
    let day = 86_400;
    for n in 0..3 {
        backed_up(shop.dir.path(), &backup, n * day);
        shop.apply(n * day + 1, vec![note("one more")]);
    }
    assert_eq!(entries("a", AsOf::Newest), entries("b", AsOf::Number(3)));
    let second = entries("c", AsOf::Number(2));
    assert_eq!(
        entries("d", AsOf::Day("2026-09-22".parse().unwrap())),
        second
    );
    assert_eq!(entries("e", AsOf::Number(1)), second - 1);
    let how = HowToRestore {
        as_of: AsOf::Day("2020-01-01".parse().unwrap()),
        ..HowToRestore::default()
    };
    let refused = restore(&backup, &dir.path().join("f"), how, &mut |_| {}).unwrap_err();
    assert!(
        refused
            .to_string()
            .contains("it has 000001-2026-09-21, 000002-2026-09-22"),
        "{refused}"
    );
}

#[test]
fn places_that_are_no_place_for_a_backup_are_refused_and_left_alone() {
    let (shop, dir) = furnished();
    let bench = shop.dir.path();
    let other = support::shop();
    other.apply(1, arrival("X 1"));
    let other_backup = dir.path().join("other");
    backed_up(other.dir.path(), &other_backup, 1);
    let full = dir.path().join("full");
    fs::create_dir(&full).unwrap();
    fs::write(full.join("list.txt"), "shopping").unwrap();
    let file = dir.path().join("file");
    fs::write(&file, "x").unwrap();
    for (to, why) in [
        (bench.join("backup"), "lies within the bench"),
        (bench.to_owned(), "lies within the bench"),
        (bench.parent().unwrap().to_owned(), "holds the bench"),
        (full.clone(), "holds other files (list.txt)"),
        (dir.path().join("no/such"), "plug in the disk"),
        (other.dir.path().to_owned(), "holds other files"),
        (file, "a file stands where a folder is wanted"),
    ] {
        let refused = back_up(bench, &to, at(1), false, &mut |_| {}).unwrap_err();
        assert!(
            refused.to_string().contains(why),
            "{}: {refused}",
            to.display()
        );
    }
    assert_eq!(fs::read_dir(&full).unwrap().count(), 1);
    // The two benches of these tests begin alike; with another first entry it is another bench.
    let third = tempfile::tempdir().unwrap();
    drop(Bench::create(third.path(), settings(), &Hand::new("Tomas"), at(0)).unwrap());
    let refused = back_up(third.path(), &other_backup, at(1), false, &mut |_| {}).unwrap_err();
    assert!(
        refused
            .to_string()
            .contains("the backup of another bench (“The bench at Saltmere”)"),
        "{refused}"
    );
    let to = dir.path().join("backup");
    let nothing = dir.path().join("nothing");
    let refused = back_up(&nothing, &to, at(1), false, &mut |_| {}).unwrap_err();
    assert!(matches!(refused, BenchError::NotABench { .. }), "{refused}");
    for (from, into, why) in [
        (&full, &to, "neither a backup nor a bench"),
        (&other_backup, &full, "not empty"),
        (
            &other_backup,
            &other_backup.join("new"),
            "lies within what is restored",
        ),
    ] {
        let refused = restore(from, into, HowToRestore::default(), &mut |_| {}).unwrap_err();
        assert!(refused.to_string().contains(why), "{refused}");
    }
    assert!(!to.exists());
}

/// Spoils the database of a closed bench: a page that holds the words of owners or visits.
fn spoil(db: &Path) {
    let connection = Connection::open(db).unwrap();
    let page: i64 = connection
        .query_row(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'visit'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    drop(connection);
    let mut bytes = fs::read(db).unwrap();
    let start = usize::try_from(page - 1).unwrap() * 4_096;
    bytes[start..start + 2_000].fill(0x5A);
    fs::write(db, bytes).unwrap();
}

#[test]
fn a_damaged_database_is_told_never_backed_up_and_brought_back_with_all_that_came_after() {
    let (shop, dir) = furnished();
    let backup = dir.path().join("backup");
    let before = backed_up(shop.dir.path(), &backup, 100).entries;
    shop.apply(200, vec![note("after the backup"), note("and beside it")]);
    photograph(&shop, 300, 50);
    let want = shop.bench.journal(Page::first(99)).unwrap();
    let damaged = shop.dir.path().to_owned();
    drop(shop.bench);
    spoil(&damaged.join("bench.db"));

    let kinds: Vec<FindingKind> = verify(&damaged)
        .unwrap()
        .findings
        .iter()
        .map(|it| it.kind)
        .collect();
    assert!(kinds.contains(&FindingKind::DatabaseDamaged), "{kinds:?}");
    let refused = back_up(&damaged, &backup, at(400), false, &mut |_| {}).unwrap_err();
    assert!(
        matches!(refused, BenchError::NotBackedUp { .. }),
        "{refused:?}"
    );
    let verified = verify(&backup).unwrap();
    assert_eq!(
        (verified.findings.len(), verified.states, verified.entries),
        (0, 1, before)
    );

    let how = HowToRestore {
        since: Some(&damaged),
        ..HowToRestore::default()
    };
    let new = dir.path().join("new");
    let restored = bring_back(&backup, &new, how);
    assert_eq!((restored.entries_since, restored.entries), (3, before + 3));
    whole(&new);
    assert_eq!(
        Bench::open(&new).unwrap().journal(Page::first(99)).unwrap(),
        want
    );

    // Without a backup the journal gives all of it again.
    let anew = dir.path().join("anew");
    let restored = bring_back(&damaged, &anew, HowToRestore::default());
    assert_eq!(restored.entries, before + 3);
    whole(&anew);
    assert_eq!(
        Bench::open(&anew)
            .unwrap()
            .journal(Page::first(99))
            .unwrap(),
        want
    );
    assert!(anew.join("notes/corran.toml").is_file());
}

#[test]
fn what_is_lost_of_a_journal_is_told_and_what_follows_is_written_down() {
    let (shop, dir) = furnished();
    for n in 0..6 {
        shop.apply(100 + n, vec![note(&format!("note {n}"))]);
    }
    let total = u64::from(shop.bench.journal(Page::first(1)).unwrap().total);
    let damaged = shop.dir.path().to_owned();
    drop(shop.bench);
    let lost = total - 3;
    Connection::open(damaged.join("bench.db"))
        .unwrap()
        .execute_batch(&format!(
            "PRAGMA foreign_keys = OFF; DROP TRIGGER journal_is_never_shortened; DELETE FROM journal WHERE id = {lost}"
        ))
        .unwrap();
    let new = dir.path().join("new");
    let refused = restore(&damaged, &new, HowToRestore::default(), &mut |_| {}).unwrap_err();
    assert!(matches!(refused, BenchError::Losses { .. }), "{refused:?}");
    assert!(
        refused
            .to_string()
            .contains(&format!("entry {lost} of the journal is missing")),
        "{refused}"
    );
    assert_eq!(
        fs::read_dir(dir.path()).unwrap().count(),
        0,
        "something was left behind"
    );
    let how = HowToRestore {
        with_losses: true,
        ..HowToRestore::default()
    };
    let restored = bring_back(&damaged, &new, how);
    // What stood directly before the gap may have belonged to it.
    assert_eq!(restored.entries, lost - 2);
    whole(&new);
    let told = fs::read_to_string(new.join("not-restored.txt")).unwrap();
    assert!(told.contains("note 5") && told.contains("note 3"), "{told}");
}

#[test]
fn files_that_are_damaged_or_gone_are_told_and_a_good_copy_is_kept() {
    let (shop, dir) = furnished();
    let (bench, backup) = (shop.dir.path(), dir.path().join("backup"));
    backed_up(bench, &backup, 100);
    let names = |folder: &Path| {
        let mut names: Vec<_> = fs::read_dir(folder.join("photos"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.is_file())
            .collect();
        names.sort();
        names
    };
    let (here, there) = (names(bench), names(&backup));
    // One is spoiled here that the backup has, one there, and one that only the bench had.
    fs::write(&here[0], "spoiled").unwrap();
    fs::remove_file(&there[1]).unwrap();
    fs::write(&there[2], "spoiled").unwrap();
    photograph(&shop, 200, 60);
    let new: Vec<_> = names(bench)
        .into_iter()
        .filter(|path| !here.contains(path))
        .collect();
    fs::write(&new[0], "spoiled").unwrap();
    let again = backed_up(bench, &backup, 300);
    assert_eq!((again.copied, again.mended), (1, 0));
    let lost: Vec<&str> = again.lost.iter().map(|lost| lost.why.as_str()).collect();
    assert_eq!(lost, ["it is not what its name says"]);
    assert_eq!(again.lost[0].what, "photograph 7 of visit 1");
    let kinds: Vec<FindingKind> = verify(&backup)
        .unwrap()
        .findings
        .iter()
        .map(|it| it.kind)
        .collect();
    assert_eq!(kinds.len(), 2, "{kinds:?}");

    let refused = restore(
        &backup,
        &dir.path().join("a"),
        HowToRestore::default(),
        &mut |_| {},
    )
    .unwrap_err();
    assert!(refused.to_string().contains("photograph"), "{refused}");
    let mended = back_up(bench, &backup, at(400), true, &mut |_| {}).unwrap();
    assert_eq!((mended.mended, mended.lost.len()), (1, 1));
    let how = HowToRestore {
        with_losses: true,
        ..HowToRestore::default()
    };
    let restored = bring_back(&backup, &dir.path().join("b"), how);
    assert_eq!(restored.lost_files.len(), 1);
    let findings = verify(&dir.path().join("b")).unwrap().findings;
    let kinds: Vec<FindingKind> = findings.iter().map(|it| it.kind).collect();
    assert_eq!(kinds, [FindingKind::FileMissing]);
    // A backup keeps what it has when the bench spoils its own.
    assert!(
        dir.path()
            .join("b")
            .join(here[0].strip_prefix(bench).unwrap())
            .is_file()
    );
}

#[test]
fn a_state_is_let_go_only_when_a_later_one_holds_all_of_it() {
    let (shop, dir) = furnished();
    let backup = dir.path().join("backup");
    for minute in 0..6 {
        backed_up(shop.dir.path(), &backup, 60 * minute);
    }
    let states = |backup: &Path| {
        let mut names: Vec<String> = fs::read_dir(backup.join("states"))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap()[..6].to_owned())
            .collect();
        names.sort();
        names
    };
    assert_eq!(states(&backup), ["000004", "000005", "000006"]);
    shop.apply(400, vec![note("only in the sixth and after")]);
    backed_up(shop.dir.path(), &backup, 420);
    // A bench brought back from before that goes another way does not push the other record out.
    let old = dir.path().join("old");
    let how = HowToRestore {
        as_of: AsOf::Number(6),
        ..HowToRestore::default()
    };
    bring_back(&backup, &old, how);
    for minute in 8..14 {
        backed_up(&old, &backup, 60 * minute);
    }
    assert_eq!(states(&backup), ["000007", "000011", "000012", "000013"]);
    whole(&backup);
}

#[test]
fn a_backup_made_while_two_hands_write_holds_all_that_was_acknowledged_before() {
    let (shop, dir) = furnished();
    let backup = dir.path().join("backup");
    let bench = shop.dir.path();
    let acknowledged = std::sync::atomic::AtomicU64::new(0);
    std::thread::scope(|scope| {
        let writers: Vec<_> = ["Ines", "Tomas"]
            .iter()
            .map(|name| {
                let acknowledged = &acknowledged;
                scope.spawn(move || {
                    let own = Bench::open(bench).unwrap();
                    for n in 0..150 {
                        own.apply(&Hand::new(name), at(n), vec![note(name), note("beside")])
                            .unwrap();
                        acknowledged.fetch_add(2, std::sync::atomic::Ordering::SeqCst);
                    }
                })
            })
            .collect();
        let mut n = 0;
        while writers.iter().any(|writer| !writer.is_finished()) {
            let before = acknowledged.load(std::sync::atomic::Ordering::SeqCst);
            let done = backed_up(bench, &backup, n);
            n += 1;
            assert!(done.entries >= before, "{} of {before}", done.entries);
            whole(&backup);
        }
    });
    let last = backed_up(bench, &backup, 9_999);
    assert_eq!(
        last.entries,
        u64::from(shop.bench.journal(Page::first(1)).unwrap().total)
    );
    whole(&backup);
}

/// Not a test of its own: started again by the kill test below.
#[test]
fn a_child_that_backs_up_again_and_again() {
    let Some(dir) = told_dir() else { return };
    let bench = Bench::open(&dir.join("bench")).unwrap();
    for n in 0..10_000_u32 {
        let kept = bench
            .keep_photo(
                VisitId::new(1),
                Stage::Arrived,
                "",
                &support::noise(30 + n, 9),
            )
            .unwrap();
        bench.apply(&hand(), at(i64::from(n)), vec![kept]).unwrap();
        say(&format!("begins {n}"));
        backed_up(bench.dir(), &dir.join("backup"), i64::from(n));
        say(&format!("made {n}"));
    }
}

#[test]
fn a_kill_during_a_backup_leaves_the_ones_before_it_whole() {
    let dir = tempfile::tempdir().unwrap();
    let bench = Bench::create(&dir.path().join("bench"), settings(), &hand(), at(0)).unwrap();
    bench.apply(&hand(), at(1), arrival("A 1")).unwrap();
    drop(bench);
    let backup = dir.path().join("backup");
    let mut made = 0;
    let rounds = rounds(12);
    for round in 0..rounds {
        let mut child = Running::start("a_child_that_backs_up_again_and_again", dir.path());
        made += child
            .says("made ", usize::try_from(round % 3).unwrap())
            .len();
        child.says("begins ", 1);
        made += child
            .kill_after(Duration::from_micros(round * 1_700 % 40_000), "made ")
            .len();
        if made == 0 {
            continue;
        }
        whole(&backup);
        whole(&dir.path().join("bench"));
    }
    assert!(made as u64 >= rounds / 2, "{made}");
    let entries = backed_up(&dir.path().join("bench"), &backup, 5_000).entries;
    whole(&backup);
    let left: Vec<_> = fs::read_dir(backup.join("states"))
        .unwrap()
        .chain(fs::read_dir(backup.join("photos")).unwrap())
        .map(|entry| entry.unwrap().file_name())
        .filter(|name| name.to_string_lossy().starts_with('.'))
        .collect();
    assert!(left.is_empty(), "{left:?}");
    let restored = bring_back(&backup, &dir.path().join("new"), HowToRestore::default());
    assert_eq!(restored.entries, entries);
}

/// Not a test of its own: started again by the kill test below.
#[test]
fn a_child_that_restores() {
    let Some(dir) = told_dir() else { return };
    say("begins");
    bring_back(
        &dir.join("backup"),
        &dir.join("new"),
        HowToRestore::default(),
    );
    say("made");
}

#[test]
fn a_kill_during_a_restore_leaves_no_half_bench_and_the_next_one_is_whole() {
    let (shop, dir) = furnished();
    for width in 0..40 {
        photograph(&shop, 100, 70 + width);
    }
    let (backup, new) = (dir.path().join("backup"), dir.path().join("new"));
    backed_up(shop.dir.path(), &backup, 200);
    let mut killed = 0;
    for round in 0..rounds(12) {
        let mut child = Running::start("a_child_that_restores", dir.path());
        child.says("begins", 1);
        child.kill_after(Duration::from_micros(round * 3_000 % 60_000), "made");
        if new.exists() {
            whole(&new);
            fs::remove_dir_all(&new).unwrap();
        } else {
            killed += 1;
        }
    }
    assert!(killed > 0, "no kill came in time");
    bring_back(&backup, &new, HowToRestore::default());
    whole(&new);
    let left: Vec<_> = fs::read_dir(dir.path())
        .unwrap()
        .map(|it| it.unwrap().file_name())
        .collect();
    assert_eq!(left.len(), 2, "{left:?}");
}

#[test]
fn a_full_disk_under_the_backup_is_told_and_the_one_before_stands() {
    let (shop, dir) = furnished();
    let Some(disk) = SmallDisk::new(&dir.path().join("disk"), "size=6m") else {
        return;
    };
    let backup = disk.0.join("backup");
    backed_up(shop.dir.path(), &backup, 100);
    shop.apply(200, vec![note("more")]);
    photograph(&shop, 300, 200);
    for spare in [0, 16 << 10, 300 << 10] {
        let filler = fill(&disk, spare);
        let error = back_up(shop.dir.path(), &backup, at(400), false, &mut |_| {}).unwrap_err();
        assert!(matches!(error, BenchError::DiskFull { .. }), "{error:?}");
        fs::remove_file(filler).unwrap();
        let verified = verify(&backup).unwrap();
        assert_eq!(
            (verified.findings.len(), verified.states),
            (0, 1),
            "{verified:?}"
        );
    }
    assert_eq!(backed_up(shop.dir.path(), &backup, 500).states, 2);
    whole(&backup);
    disk.remount("ro");
    let error = back_up(shop.dir.path(), &backup, at(600), false, &mut |_| {}).unwrap_err();
    assert!(matches!(error, BenchError::ReadOnly { .. }), "{error:?}");
    // A stick that is locked can still be looked at and restored from.
    whole(&backup);
    bring_back(&backup, &dir.path().join("new"), HowToRestore::default());
}

#[test]
fn a_bench_that_cannot_be_written_any_more_is_backed_up_and_verified_all_the_same() {
    let dir = tempfile::tempdir().unwrap();
    let Some(disk) = SmallDisk::new(&dir.path().join("bench"), "size=8m") else {
        return;
    };
    // As a program leaves it that died: with its log.
    let shop = shop();
    shop.arrive(1);
    for name in ["bench.db", "bench.db-wal"] {
        fs::copy(shop.dir.path().join(name), disk.0.join(name)).unwrap();
    }
    disk.remount("ro");
    whole(&disk.0);
    let backup = dir.path().join("backup");
    assert_eq!(backed_up(&disk.0, &backup, 5).entries, 4);
    whole(&backup);
}
