//! A bench looked through: what is whole is called whole, what is damaged is told with what is lost and what to do.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::{fs, path::Path};

use fettle_bench::{
    About, Bench, BenchError, Change, FindingKind, NoteWritten, Stage, Undo, VisitId, verify,
};
use rusqlite::Connection;
use support::{Shop, arrival, at, hand, shop};

fn kinds(dir: &Path) -> Vec<FindingKind> {
    verify(dir)
        .unwrap()
        .findings
        .iter()
        .map(|finding| finding.kind)
        .collect()
}

/// A bench with a visit, a photograph that stands, and one that was undone.
fn photographed() -> (Shop, String) {
    let shop = shop();
    let visit = shop.arrive(1);
    let keep = |pixels| {
        shop.bench
            .keep_photo(
                visit,
                Stage::Arrived,
                "the front",
                &support::noise(pixels, 20),
            )
            .unwrap()
    };
    let stands = keep(20);
    let Change::PhotoAttached(photo) = &stands else {
        panic!("{stands:?}")
    };
    let name = format!("photos/{}.{}", photo.file.hash, photo.file.extension);
    shop.apply(2, vec![stands]);
    let entry = shop.apply(3, vec![keep(24)]).entries[0];
    shop.apply(4, vec![Undo { entry }.into()]);
    (shop, name)
}

#[test]
fn a_whole_bench_is_called_whole() {
    let (shop, _) = photographed();
    let verified = verify(shop.dir.path()).unwrap();
    assert_eq!(verified.findings, []);
    assert!(verified.is_whole() && !verified.is_backup);
    assert_eq!((verified.files, verified.unnamed), (2, 0));
    assert_eq!(
        verified.entries,
        u64::from(
            shop.bench
                .journal(fettle_bench::Page::first(1))
                .unwrap()
                .total
        )
    );
    // A file that was kept and never recorded harms nothing.
    shop.bench
        .keep_photo(VisitId::new(1), Stage::Arrived, "", &support::noise(30, 20))
        .unwrap();
    let verified = verify(shop.dir.path()).unwrap();
    assert!(verified.is_whole());
    assert_eq!((verified.files, verified.unnamed), (3, 1));
}

#[test]
fn verifying_alters_nothing() {
    let (shop, _) = photographed();
    drop(shop.bench);
    let before = fs::read(shop.dir.path().join("bench.db")).unwrap();
    assert_eq!(verify(shop.dir.path()).unwrap().findings, []);
    assert_eq!(fs::read(shop.dir.path().join("bench.db")).unwrap(), before);
}

#[test]
fn a_file_that_is_gone_or_altered_is_told_with_what_it_was() {
    let (shop, name) = photographed();
    let path = shop.dir.path().join(&name);
    let mut bytes = fs::read(&path).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&path, &bytes).unwrap();
    let verified = verify(shop.dir.path()).unwrap();
    let [finding] = verified.findings.as_slice() else {
        panic!("{verified:?}")
    };
    assert_eq!(
        (finding.kind, &finding.about),
        (FindingKind::FileDamaged, &name)
    );
    assert_eq!(finding.lost, "Photograph 1 of visit 1 (“the front”).");
    fs::write(&path, &bytes[..middle]).unwrap();
    assert_eq!(kinds(shop.dir.path()), [FindingKind::FileDamaged]);
    fs::remove_file(&path).unwrap();
    assert_eq!(kinds(shop.dir.path()), [FindingKind::FileMissing]);
    fs::remove_dir_all(shop.dir.path().join("photos")).unwrap();
    let verified = verify(shop.dir.path()).unwrap();
    assert!(
        verified
            .findings
            .iter()
            .any(|it| it.lost.contains("which was undone")),
        "{verified:?}"
    );
}

#[test]
fn a_table_that_another_program_altered_is_told_by_its_row() {
    let shop = shop();
    shop.arrive(1);
    let connection = Connection::open(shop.dir.path().join("bench.db")).unwrap();
    connection
        .execute("UPDATE owner SET name = 'Someone Else' WHERE id = 1", [])
        .unwrap();
    let verified = verify(shop.dir.path()).unwrap();
    let [finding] = verified.findings.as_slice() else {
        panic!("{verified:?}")
    };
    assert_eq!(
        (finding.kind, finding.about.as_str()),
        (FindingKind::TableDiffers, "owner")
    );
    assert!(
        finding
            .damaged
            .contains("row 1 says “Someone Else” in name, where the journal gives"),
        "{finding:?}"
    );
    connection.execute("DELETE FROM serial", []).unwrap();
    connection
        .execute(
            "INSERT INTO drawer (id, name, place) VALUES (9, 'x', '')",
            [],
        )
        .unwrap();
    let told: Vec<String> = verify(shop.dir.path())
        .unwrap()
        .findings
        .into_iter()
        .map(|finding| finding.damaged)
        .collect();
    assert!(
        told.iter().any(|it| it.contains("row 9 stands there")),
        "{told:?}"
    );
    assert!(
        told.iter().any(|it| it.contains("row 1 is missing")),
        "{told:?}"
    );
}

#[test]
fn entries_that_are_gone_are_told_by_their_numbers() {
    let shop = shop();
    for n in 0..5 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    let connection = Connection::open(shop.dir.path().join("bench.db")).unwrap();
    connection
        .execute_batch(
            "PRAGMA foreign_keys = OFF; DROP TRIGGER journal_is_never_shortened; \
             DELETE FROM journal WHERE id IN (7, 8) OR id > 15",
        )
        .unwrap();
    let verified = verify(shop.dir.path()).unwrap();
    let gaps: Vec<&str> = verified
        .findings
        .iter()
        .filter(|it| it.kind == FindingKind::JournalGap)
        .map(|it| it.about.as_str())
        .collect();
    assert_eq!(gaps, ["7-8", "16-16"]);
    assert_eq!(verified.entries, 13);
}

#[test]
fn every_damaged_page_is_told_or_does_no_harm() {
    let shop = shop();
    for n in 0..40 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    drop(shop.bench);
    let path = shop.dir.path().join("bench.db");
    let whole = fs::read(&path).unwrap();
    let mut told = 0;
    let places: Vec<usize> = (0..whole.len()).step_by(4_096 * 3).collect();
    for &place in &places {
        let mut bytes = whole.clone();
        bytes[place..place + 600].fill(0xA5);
        fs::write(&path, &bytes).unwrap();
        match verify(shop.dir.path()) {
            Ok(verified) => told += usize::from(!verified.is_whole()),
            Err(BenchError::NotABench { .. } | BenchError::Newer { .. }) => told += 1,
            Err(error) => panic!("at {place}: {error}"),
        }
    }
    // The words kept for finding lie in pages that hold nothing of the record.
    assert!(told * 4 > places.len() * 3, "{told} of {}", places.len());
    for length in [0, 100, 5_000, whole.len() / 2, whole.len() - 4_096] {
        fs::write(&path, &whole[..length]).unwrap();
        match verify(shop.dir.path()) {
            Ok(verified) => assert!(!verified.is_whole(), "cut to {length}"),
            Err(error) => assert!(matches!(error, BenchError::NotABench { .. }), "{error}"),
        }
    }
}

#[test]
fn a_bench_is_verified_while_it_is_written_to() {
    let shop = shop();
    shop.arrive(1);
    let dir = shop.dir.path().to_owned();
    std::thread::scope(|scope| {
        let writing = scope.spawn(|| {
            for n in 0..300 {
                let note = NoteWritten {
                    about: About::Visit(VisitId::new(1)),
                    text: format!("note {n}"),
                };
                shop.bench.apply(&hand(), at(n), vec![note.into()]).unwrap();
            }
        });
        while !writing.is_finished() {
            assert_eq!(verify(&dir).unwrap().findings, []);
        }
    });
    assert_eq!(verify(&dir).unwrap().findings, []);
}

#[test]
fn what_is_no_bench_or_a_newer_one_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    assert!(matches!(
        verify(dir.path()),
        Err(BenchError::NotABench { .. })
    ));
    let shop = shop();
    let path = shop.dir.path().join("bench.db");
    drop(shop.bench);
    Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    assert!(matches!(
        verify(shop.dir.path()),
        Err(BenchError::Newer { found: 99, .. })
    ));
    assert!(Bench::open(shop.dir.path()).is_err());
}
