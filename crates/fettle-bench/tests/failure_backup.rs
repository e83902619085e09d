//! A kill while a backup is made or brought back, and disks that are full or cannot be written.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::{fs, time::Duration};

use fettle_bench::{Bench, BenchError, HowToRestore, Stage, VisitId, back_up, verify};
use support::{
    arrival, at,
    child::{Running, rounds, say, told_dir},
    disk::{SmallDisk, fill},
    hand,
    keep::{backed_up, bring_back, furnished, note, photograph, whole},
    settings, shop,
};

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

#[test]
fn a_state_that_was_being_taken_away_is_none_and_goes_with_the_next_backup() {
    let (shop, dir) = furnished();
    let backup = dir.path().join("backup");
    backed_up(shop.dir.path(), &backup, 200);
    let going = backup.join("states/.going-7");
    fs::create_dir(&going).unwrap();
    fs::write(going.join("bench.db"), "half").unwrap();
    whole(&backup);
    assert_eq!(backed_up(shop.dir.path(), &backup, 300).states, 2);
    assert!(!going.exists());
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
