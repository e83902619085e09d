//! What a power cut, a failing disk or a copy made at the wrong moment leaves behind: it opens with all that was acknowledged before, or
//! the damage is told.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::{
    fs,
    path::{Path, PathBuf},
};

use fettle_bench::{
    About, Bench, Change, EntryId, FindingKind, NoteWritten, Page, Stage, VisitId, WaitFor,
    WaitingBegun, verify,
};
use support::{Shop, arrival, at, hand, shop};

fn note(text: &str) -> Change {
    NoteWritten {
        about: About::Visit(VisitId::new(1)),
        text: text.to_owned(),
    }
    .into()
}

fn database(dir: &Path) -> PathBuf {
    dir.join("bench.db")
}

fn log(dir: &Path) -> PathBuf {
    dir.join("bench.db-wal")
}

/// A bench with changes of two entries each that lie in the log only, and how long the log was after each.
fn logged() -> (Shop, Vec<u64>) {
    let shop = shop();
    shop.arrive(1);
    let lengths = (0..40)
        .map(|n| {
            shop.apply(n, vec![note(&format!("change {n}")), note("beside")]);
            fs::metadata(log(shop.dir.path())).unwrap().len()
        })
        .collect();
    (shop, lengths)
}

/// What a torn bench holds: a beginning of the changes, each whole; so many of them.
fn assert_a_beginning_stands(dir: &Path) -> usize {
    assert_eq!(verify(dir).unwrap().findings, [], "{}", dir.display());
    let bench = Bench::open(dir).unwrap();
    bench.check().unwrap();
    let notes = bench
        .visit(VisitId::new(1))
        .map_or(0, |view| view.notes.len());
    assert_eq!(notes % 2, 0, "half of what belongs together stands");
    for n in 0..notes / 2 {
        let entry = EntryId::new(5 + 2 * i64::try_from(n).unwrap());
        assert_eq!(bench.entry(entry).unwrap().1, note(&format!("change {n}")));
    }
    if notes > 0 {
        bench
            .apply(&hand(), at(9_999), vec![note("it goes on")])
            .unwrap();
    }
    notes / 2
}

#[test]
fn a_log_torn_at_any_place_loses_nothing_that_was_written_before_it() {
    let (shop, lengths) = logged();
    let (db, whole) = (
        fs::read(database(shop.dir.path())).unwrap(),
        fs::read(log(shop.dir.path())).unwrap(),
    );
    let written = usize::try_from(*lengths.last().unwrap()).unwrap();
    let dir = tempfile::tempdir().unwrap();
    for n in 0..60_usize {
        // Anywhere, also within a frame or at its border.
        let cut = if n % 3 == 0 {
            usize::try_from(lengths[n / 3 * 2]).unwrap()
        } else {
            n * 7_919 * 131 % written
        };
        let torn = match n % 4 {
            0 => whole[..cut].to_vec(),
            1 => [&whole[..cut], &vec![0; whole.len() - cut][..]].concat(),
            2 => [&whole[..cut], &vec![0x5A; 9_001][..]].concat(),
            // A sector in the middle that never reached the disk; what follows it did.
            _ => {
                let mut torn = whole.clone();
                let end = (cut + 512).min(torn.len());
                torn[cut..end].fill(0xFF);
                torn
            }
        };
        let bench = dir.path().join(n.to_string());
        fs::create_dir(&bench).unwrap();
        fs::write(database(&bench), &db).unwrap();
        fs::write(log(&bench), &torn).unwrap();
        let stand = assert_a_beginning_stands(&bench);
        let before = lengths
            .iter()
            .filter(|length| **length <= cut as u64)
            .count();
        assert!(stand >= before, "cut at {cut}: {stand} of {before} stand");
    }
}

#[test]
fn a_photograph_torn_by_a_power_cut_is_told_and_mended_when_it_is_sent_again() {
    let picture = support::noise(60, 40);
    let half = picture.len() / 2;
    let zeroed = [&picture[..half], &vec![0; picture.len() - half][..]].concat();
    for torn in [&picture[..half], &[][..], &zeroed[..]] {
        let shop = shop();
        let visit = shop.arrive(1);
        let kept = shop
            .bench
            .keep_photo(visit, Stage::Arrived, "", &picture)
            .unwrap();
        let Change::PhotoAttached(photo) = &kept else {
            panic!("{kept:?}")
        };
        let path = shop.dir.path().join(format!(
            "photos/{}.{}",
            photo.file.hash, photo.file.extension
        ));
        shop.apply(2, vec![kept]);
        fs::write(&path, torn).unwrap();
        let bench = Bench::open(shop.dir.path()).unwrap();
        assert_eq!(bench.visit(visit).unwrap().photos.len(), 1);
        let verified = verify(shop.dir.path()).unwrap();
        let kinds: Vec<FindingKind> = verified.findings.iter().map(|it| it.kind).collect();
        assert_eq!(kinds, [FindingKind::FileDamaged]);
        bench
            .keep_photo(visit, Stage::Arrived, "", &picture)
            .unwrap();
        assert_eq!(fs::read(&path).unwrap(), picture);
        assert!(verify(shop.dir.path()).unwrap().is_whole());
    }
}

#[test]
fn a_half_written_file_of_a_dead_program_harms_nothing() {
    let shop = shop();
    shop.arrive(1);
    for name in [
        "photos/.keeping-a1",
        "recordings/.recording-b2",
        ".making-c3.db",
    ] {
        fs::write(shop.dir.path().join(name), "half").unwrap();
    }
    assert!(verify(shop.dir.path()).unwrap().is_whole());
    Bench::open(shop.dir.path()).unwrap().check().unwrap();
}

#[test]
fn a_bench_copied_while_it_is_written_is_whole_or_told() {
    let shop = shop();
    shop.arrive(1);
    let dir = shop.dir.path();
    let copies = tempfile::tempdir().unwrap();
    let mut whole = 0;
    std::thread::scope(|scope| {
        let writing = scope.spawn(|| {
            let long = "what was seen at the bench ".repeat(150);
            for n in 0..700 {
                shop.bench
                    .apply(&hand(), at(n), vec![note(&long), note("beside")])
                    .unwrap();
            }
        });
        let mut n = 0;
        while !writing.is_finished() || n == 0 {
            let copy = copies.path().join(n.to_string());
            fs::create_dir(&copy).unwrap();
            let mut files = [database(dir), log(dir)];
            if n % 2 == 1 {
                files.reverse();
            }
            for file in files {
                fs::copy(&file, copy.join(file.file_name().unwrap())).unwrap();
            }
            if verify(&copy).unwrap().is_whole() {
                whole += 1;
                let bench = Bench::open(&copy).unwrap();
                bench.check().unwrap();
                let view = bench.visit(VisitId::new(1)).unwrap();
                assert_eq!(view.notes.len() % 2, 0);
                assert_eq!(view.notes.len() + 1, view.journal.len());
            }
            fs::remove_dir_all(&copy).unwrap();
            n += 1;
        }
    });
    assert!(whole > 0, "no copy was whole");
}

#[test]
fn a_clock_set_back_leaves_the_journal_in_the_order_of_its_entries() {
    let shop = shop();
    let visit = shop.arrive(5_000_000);
    let waits = |what: &str| {
        Change::from(WaitingBegun {
            visit,
            wait_for: WaitFor::Part,
            what: what.to_owned(),
        })
    };
    shop.apply(6_000_000, vec![waits("a pawl"), note("late")]);
    shop.apply(-90_000_000, vec![waits("a spring"), note("early")]);
    shop.apply(7, arrival("B 1"));
    let lines = shop.bench.journal(Page::first(99)).unwrap().lines;
    let entries: Vec<i64> = lines.iter().map(|entry| entry.id.get()).collect();
    let last = i64::try_from(lines.len()).unwrap();
    assert_eq!(entries, (1..=last).rev().collect::<Vec<_>>());
    let view = shop.bench.visit(visit).unwrap();
    let texts: Vec<&str> = view
        .notes
        .iter()
        .map(|note| note.what.text.as_str())
        .collect();
    assert_eq!(texts.len(), 2, "{texts:?}");
    for on in ["2019-01-01", "2026-09-21", "2031-01-01"] {
        let today = shop.bench.today(on.parse().unwrap()).unwrap();
        assert_eq!(today.waiting.len(), 1, "on {on}");
        shop.bench.days_ahead(on.parse().unwrap()).unwrap();
    }
    assert_eq!(verify(shop.dir.path()).unwrap().findings, []);
    let again = tempfile::tempdir().unwrap();
    let copy = shop.bench.replay(again.path()).unwrap();
    assert_eq!(copy.visit(visit).unwrap(), view);
}
