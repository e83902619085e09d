//! Backups: made while others write, whole whatever happens, never over a good one.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::{fs, path::Path};

use fettle_bench::{
    AsOf, Bench, BenchError, FindingKind, Hand, HowToRestore, Page, VisitId, back_up, restore,
    verify,
};
use rusqlite::Connection;
use support::{
    arrival, at, hand,
    keep::{backed_up, bring_back, furnished, note, photograph, whole},
    settings,
};

#[test]
fn a_backup_brings_the_same_bench_back_and_copies_only_what_is_new() {
    let (shop, dir) = furnished();
    let (backup, new) = (dir.path().join("backup"), dir.path().join("new"));
    // What concerns this computer alone stays on it.
    fs::create_dir(shop.dir.path().join("door")).unwrap();
    for name in ["door/key", "backup.toml", "backup-state.json"] {
        fs::write(shop.dir.path().join(name), "x").unwrap();
    }
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
    for left_out in ["notes/.hidden", "door", "backup.toml", "backup-state.json"] {
        assert!(!new.join(left_out).exists(), "{left_out}");
    }
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
    // Two at once would write over each other.
    let held = fs::File::create(other_backup.join(".in-use")).unwrap();
    held.lock().unwrap();
    let refused = back_up(other.dir.path(), &other_backup, at(2), false, &mut |_| {}).unwrap_err();
    assert!(
        refused
            .to_string()
            .contains("is being written by another backup just now"),
        "{refused}"
    );
    drop(held);
    for (from, into, why) in [
        (
            &other_backup,
            &dir.path().join("no/such"),
            "make that first",
        ),
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
fn a_damaged_state_is_told_and_the_one_before_it_is_brought_back() {
    let (shop, dir) = furnished();
    let backup = dir.path().join("backup");
    let first = backed_up(shop.dir.path(), &backup, 100);
    shop.apply(200, vec![note("after it")]);
    let second = backed_up(shop.dir.path(), &backup, 300);
    let state = backup.join("states").join(&second.state);
    let db = fs::read(state.join("bench.db")).unwrap();
    let restored = |name: &str, how: HowToRestore<'_>| {
        restore(&backup, &dir.path().join(name), how, &mut |_| {})
    };
    let earlier = HowToRestore {
        as_of: AsOf::Number(1),
        ..HowToRestore::default()
    };
    let spoilt: [(&str, &[u8]); 3] = [
        ("bench.db", &db[..db.len() / 2]),
        ("manifest.json", b"{\"format\":"),
        ("notes/corran.toml", b"spoilt"),
    ];
    for (n, (file, bytes)) in spoilt.into_iter().enumerate() {
        let kept = fs::read(state.join(file)).unwrap();
        for torn in [Some(bytes), None] {
            match torn {
                Some(bytes) => fs::write(state.join(file), bytes).unwrap(),
                None => fs::remove_file(state.join(file)).unwrap(),
            }
            let verified = verify(&backup).unwrap();
            let kinds: Vec<FindingKind> = verified.findings.iter().map(|it| it.kind).collect();
            assert_eq!(kinds, [FindingKind::StateDamaged], "{file}");
            assert_eq!(
                (&verified.findings[0].about, verified.entries),
                (&second.state, first.entries)
            );
            let refused = restored("new", HowToRestore::default()).unwrap_err();
            assert!(
                matches!(refused, BenchError::Losses { .. }),
                "{file}: {refused}"
            );
            let name = format!("{n}{}", torn.is_some());
            assert_eq!(restored(&name, earlier).unwrap().entries, first.entries);
            whole(&dir.path().join(&name));
        }
        fs::write(state.join(file), kept).unwrap();
    }
    whole(&backup);
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
