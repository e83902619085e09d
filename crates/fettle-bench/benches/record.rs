//! How long the record takes on a bench of the demo's size: 60 visits, some 3,000 journal entries.
#![allow(
    clippy::unwrap_used,
    reason = "a bench that cannot be made is not measured"
)]

use std::sync::OnceLock;

use divan::{Bencher, black_box};
use fettle_bench::{
    About, ArrivalDetails, Bench, BenchError, BenchSettings, CameraDetails, CameraId, Change,
    Currency, Hand, Instrument, NoteWritten, OwnerDetails, OwnerId, Page, Phase, PieceId,
    PieceRemoved, PieceReturned, ReadingRow, ReadingTaken, Seen, Serial, SignObserved, Stage,
    StageMoved, Term, VisitFilter, VisitId, VisitOpened,
};
use jiff::Timestamp;

fn main() {
    divan::main();
}

fn hand() -> Hand {
    Hand::new("Ines")
}

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000 + second).unwrap()
}

fn settings() -> BenchSettings {
    BenchSettings {
        name: "The bench at Saltmere".to_owned(),
        place: "Saltmere".to_owned(),
        address: String::new(),
        contact: String::new(),
        currency: Currency::new("XTS").unwrap(),
        hourly_rate: None,
    }
}

/// What happens in one visit: 25 signs, 10 pieces off and on, 2 readings of 9 speeds, a few stages.
fn story(n: i64) -> Vec<Change> {
    let visit = VisitId::new(n);
    let term =
        |kind: &str, i: i64| Term::known(format!("{kind}-{i}"), format!("{kind} number {i}"));
    let mut story: Vec<Change> = vec![
        OwnerDetails {
            name: format!("Owner {n}"),
            ..OwnerDetails::default()
        }
        .into(),
        CameraDetails {
            maker: "Aldous".to_owned(),
            model: "Corran 66".to_owned(),
            serials: vec![Serial {
                at: "body".to_owned(),
                number: format!("K {}", 10_000 + n),
            }],
            ..CameraDetails::default()
        }
        .into(),
        VisitOpened {
            camera: CameraId::LATEST,
            arrival: ArrivalDetails {
                owner: OwnerId::LATEST,
                arrived: "2026-09-01".parse().unwrap(),
                words: "slow speeds hang and the focusing is stiff".to_owned(),
                wanted: "a full service".to_owned(),
                condition: "clean".to_owned(),
                came_with: vec!["case".to_owned()],
                declared: None,
                promised: None,
                guarantee_of: None,
            },
        }
        .into(),
    ];
    for i in 0..25 {
        let note = "as one would expect after years of rest".to_owned();
        story.push(
            SignObserved {
                visit,
                sign: term("sign", i),
                seen: Seen::No,
                numbers: Vec::new(),
                note,
            }
            .into(),
        );
    }
    let go = |to| {
        Change::from(StageMoved {
            visit,
            to,
            note: String::new(),
        })
    };
    story.push(go(Stage::Apart));
    for i in 0..10 {
        let note = String::new();
        story.push(
            PieceRemoved {
                visit,
                piece: term("piece", i),
                cell: None,
                note,
                photo: None,
            }
            .into(),
        );
    }
    for i in 1..=10 {
        let piece = PieceId::new((n - 1) * 10 + i);
        story.push(
            PieceReturned {
                visit,
                piece,
                note: String::new(),
            }
            .into(),
        );
    }
    for phase in [Phase::Before, Phase::After] {
        let row = ReadingRow {
            name: "1/125".to_owned(),
            unit: "s".to_owned(),
            value: Some(0.0083),
            ..ReadingRow::default()
        };
        story.push(
            ReadingTaken {
                visit,
                phase,
                instrument: Instrument::Shutter,
                limit_id: None,
                rows: vec![row; 9],
                findings: Vec::new(),
                recording: None,
                method: String::new(),
                detail: None,
            }
            .into(),
        );
    }
    if n % 3 != 0 {
        story.extend([go(Stage::Proved), go(Stage::Packed), go(Stage::Home)]);
    }
    story
}

fn bench() -> &'static Bench {
    static BENCH: OnceLock<Bench> = OnceLock::new();
    BENCH.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap().keep();
        Bench::make::<BenchError>(&dir, settings(), &hand(), at(0), |bench| {
            for n in 1..=60 {
                bench.apply(&hand(), at(n), story(n))?;
            }
            Ok(())
        })
        .unwrap()
    })
}

#[divan::bench]
fn opening(bencher: Bencher<'_, '_>) {
    let dir = bench().dir();
    bencher.bench_local(|| Bench::open(black_box(dir)).unwrap());
}

#[divan::bench]
fn today(bencher: Bencher<'_, '_>) {
    assert_eq!(bench().today().unwrap().apart.len(), 20);
    bencher.bench_local(|| bench().today().unwrap());
}

#[divan::bench]
fn one_visit(bencher: Bencher<'_, '_>) {
    assert_eq!(bench().visit(VisitId::new(31)).unwrap().signs.len(), 25);
    bencher.bench_local(|| bench().visit(black_box(VisitId::new(31))).unwrap());
}

#[divan::bench]
fn one_camera(bencher: Bencher<'_, '_>) {
    bencher.bench_local(|| bench().camera(black_box(CameraId::new(31))).unwrap());
}

#[divan::bench]
fn all_visits(bencher: Bencher<'_, '_>) {
    let page = Page::first(100);
    assert_eq!(
        bench()
            .visits(&VisitFilter::default(), page)
            .unwrap()
            .lines
            .len(),
        60
    );
    bencher.bench_local(|| {
        bench()
            .visits(&VisitFilter::default(), black_box(page))
            .unwrap()
    });
}

#[divan::bench]
fn all_owners(bencher: Bencher<'_, '_>) {
    bencher.bench_local(|| bench().owners(black_box(Page::first(100))).unwrap());
}

#[divan::bench(args = ["K 10031", "focus", "corran stiff", "s"])]
fn finding(bencher: Bencher<'_, '_>, text: &str) {
    assert!(!bench().find(text, 50).unwrap().is_empty());
    bencher.bench_local(|| bench().find(black_box(text), 50).unwrap());
}

#[divan::bench]
fn one_change(bencher: Bencher<'_, '_>) {
    let about = About::Visit(VisitId::new(30));
    let note = NoteWritten {
        about,
        text: "a note".to_owned(),
    };
    bencher.bench_local(|| {
        bench()
            .apply(&hand(), at(9), vec![note.clone().into()])
            .unwrap()
    });
}
