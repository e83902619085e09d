//! How long the record takes on a bench of the demo's size (60 visits, some 3,000 journal entries), the drawers with 10,000 parts and
//! 100,000 movements, and what 20,000 finished visits add up to.
#![allow(
    clippy::unwrap_used,
    reason = "a bench that cannot be made is not measured"
)]

use std::sync::OnceLock;

use divan::{Bencher, black_box};
use fettle_bench::{
    About, ArrivalDetails, Bench, BenchError, BenchSettings, BillIssued, BillLine, CameraDetails,
    CameraId, Change, Currency, DrawerId, DrawerNamed, FaultIs, FaultRecorded, Found, Grade, Hand,
    Instrument, LearnedFilter, LineFor, LotId, MovementId, NoteWritten, OwnerDetails, OwnerId,
    Page, PartFilter, PartFitted, PartId, PartOf, PartReturned, PartStored, PartTaken, Phase,
    PieceId, PieceRemoved, PieceReturned, QuoteAnswered, QuoteId, QuoteLine, QuoteMade, ReadingRow,
    ReadingTaken, Seen, Sent, Serial, SignObserved, Stage, StageMoved, Term, VisitFilter, VisitId,
    VisitOpened, WorkDone,
};
use jiff::{Timestamp, tz::TimeZone};

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
    BenchSettings::new("The bench at Saltmere", Currency::new("XTS").unwrap())
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
    let on = TimeZone::UTC.to_datetime(at(0)).date();
    assert_eq!(bench().today(on).unwrap().apart.len(), 20);
    bencher.bench_local(|| bench().today(black_box(on)).unwrap());
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

/// Parts in the full drawers, and movements of each: one that stores, the rest that take and bring back.
const PARTS: i64 = 10_000;
const MOVEMENTS: i64 = 10;

/// A bench with full drawers, made once.
fn full_drawers() -> &'static Bench {
    static BENCH: OnceLock<(tempfile::TempDir, Bench)> = OnceLock::new();
    let (_, bench) = BENCH.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let bench = Bench::make(dir.path(), settings(), &hand(), at(0), |bench| {
            let drawers = (0..100).map(|n| {
                let name = format!("drawer {n}");
                Change::from(DrawerNamed {
                    name,
                    ..DrawerNamed::default()
                })
            });
            bench.apply(&hand(), at(0), drawers.collect())?;
            for n in 0..PARTS {
                bench.apply(&hand(), at(60 * n), movements(n))?;
            }
            Ok::<(), BenchError>(())
        });
        (dir, bench.unwrap())
    });
    bench
}

/// A part of one of ten models comes into a drawer; pieces are taken and some brought back.
fn movements(n: i64) -> Vec<Change> {
    let stored = PartStored {
        of: PartOf {
            notes_id: Some(format!("model-{}", n % 10)),
            model: format!("Aldous {}", n % 10),
            part: Term::known(format!("part-{n}"), format!("part number {n}")),
        },
        grade: Grade::Original,
        quantity: 20,
        price: None,
        source: "the clockmaker's estate".to_owned(),
        drawer: DrawerId::new(n % 100 + 1),
        minimum: (n % 7 == 0).then_some(18),
        note: String::new(),
    };
    let mut changes: Vec<Change> = vec![stored.into()];
    for i in 1..MOVEMENTS {
        changes.push(if i % 3 == 0 {
            PartReturned {
                taken: MovementId::LATEST,
                quantity: 1,
                drawer: None,
                note: String::new(),
            }
            .into()
        } else {
            PartTaken {
                lot: LotId::LATEST,
                visit: None,
                quantity: 1,
                price: None,
                note: String::new(),
            }
            .into()
        });
    }
    changes
}

/// What the Drawers page reads: the list's first part with its chances to last a year, and the drawers.
#[divan::bench(args = [false, true])]
fn drawers_page(bencher: Bencher<'_, '_>, narrowed: bool) {
    let now = at(400 * 86_400);
    let today = TimeZone::UTC.to_datetime(now).date();
    let filter = PartFilter {
        notes_id: narrowed.then(|| "model-3".to_owned()),
        ..PartFilter::default()
    };
    let look = || {
        let bench = full_drawers();
        let list = bench.parts(&filter, Page::first(60), now).unwrap();
        let lasting = bench.lasting(&list.lines, today, 1.0).unwrap();
        assert_eq!((list.lines.len(), lasting.len()), (60, 60));
        bench.drawers().unwrap()
    };
    assert_eq!(look().len(), 100);
    bencher.bench_local(|| black_box(look()));
}

#[divan::bench]
fn one_part(bencher: Bencher<'_, '_>) {
    bencher.bench_local(|| full_drawers().part(black_box(PartId::new(4_321))).unwrap());
}

#[divan::bench]
fn one_drawer(bencher: Bencher<'_, '_>) {
    bencher.bench_local(|| full_drawers().drawer(black_box(DrawerId::new(42))).unwrap());
}

/// Finished visits on the full bench.
const VISITS: i64 = 20_000;

/// What a finished visit leaves that is learned from: two faults, a quote of three works, their minutes, a part, a bill, the parcel.
fn finished(n: i64) -> Vec<Change> {
    let visit = VisitId::LATEST;
    let day = |after: i64| {
        let first: jiff::civil::Date = "2006-01-02".parse().unwrap();
        first.saturating_add(jiff::Span::new().days(n / 3 + after))
    };
    let currency = settings().currency;
    let works: Vec<Term> = (0..3)
        .map(|i| Term::known(format!("work-{}", (n + i) % 20), "a work"))
        .collect();
    let found = |i: i64| FaultRecorded {
        visit,
        fault: Term::known(format!("fault-{}", (n * 7 + i) % 40), "a fault"),
        is: if i == 0 {
            FaultIs::Cause
        } else {
            FaultIs::Damage
        },
        found: Found::Found,
        because_of: None,
        note: String::new(),
    };
    let line = |work: &Term| QuoteLine {
        line_for: LineFor::Work,
        what: work.clone(),
        grade: None,
        quantity: None,
        minutes_likely: Some(30.0),
        minutes_nine_in_ten: Some(48.0),
        amount: 30.into(),
    };
    let done = |(i, work): (usize, &Term)| WorkDone {
        visit,
        work: work.clone(),
        minutes: Some(20.0 + ((n + i as i64 * 13) % 40) as f64),
        note: String::new(),
    };
    let billed = |_: &Term| BillLine {
        words: "a work".to_owned(),
        quantity: None,
        amount: 30.into(),
        tax_percent: Some(19.into()),
    };
    let go = |to| {
        Change::from(StageMoved {
            visit,
            to,
            note: String::new(),
        })
    };
    let mut changes: Vec<Change> = vec![
        CameraDetails {
            model: format!("Sprat {}", n % 10),
            notes_id: Some(format!("model-{}", n % 10)),
            ..CameraDetails::default()
        }
        .into(),
        VisitOpened {
            camera: CameraId::LATEST,
            arrival: ArrivalDetails {
                owner: OwnerId::new(1),
                arrived: day(0),
                words: String::new(),
                wanted: String::new(),
                condition: String::new(),
                came_with: Vec::new(),
                declared: None,
                promised: None,
                guarantee_of: None,
            },
        }
        .into(),
        found(0).into(),
        found(1).into(),
        QuoteMade::new(visit, works.iter().map(line).collect(), currency, "").into(),
        QuoteAnswered {
            visit,
            quote: QuoteId::LATEST,
            agreed: true,
            words: String::new(),
            on: day(5),
        }
        .into(),
        PartFitted {
            visit,
            part: Term::own(format!("part {}", n % 50)),
            grade: Grade::Made,
            quantity: 1,
            price: None,
            note: String::new(),
        }
        .into(),
        BillIssued {
            visit,
            on: day(30),
            due_on: None,
            lines: works.iter().map(billed).collect(),
            currency,
            tax_name: "sales tax".to_owned(),
            note: String::new(),
        }
        .into(),
    ];
    changes.extend(works.iter().enumerate().map(done).map(Change::from));
    changes.extend([go(Stage::Proved), go(Stage::Packed)]);
    changes.push(
        Sent {
            visit,
            carrier: String::new(),
            tracking: String::new(),
            on: day(20 + n % 60),
            guarantee_days: Some(180),
        }
        .into(),
    );
    changes.push(go(Stage::Home));
    changes
}

/// A bench of many years, made once.
fn many_years() -> &'static Bench {
    static BENCH: OnceLock<(tempfile::TempDir, Bench)> = OnceLock::new();
    let (_, bench) = BENCH.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let bench = Bench::make(dir.path(), settings(), &hand(), at(0), |bench| {
            let owner = OwnerDetails {
                name: "Owner".to_owned(),
                ..OwnerDetails::default()
            };
            bench.apply(&hand(), at(0), vec![owner.into()])?;
            for n in 0..VISITS {
                bench.apply(&hand(), at(n), finished(n))?;
            }
            Ok::<(), BenchError>(())
        });
        (dir, bench.unwrap())
    });
    bench
}

#[divan::bench(args = [false, true])]
fn learned(bencher: Bencher<'_, '_>, one_model: bool) {
    let filter = LearnedFilter {
        notes_id: one_model.then(|| "model-3".to_owned()),
        ..LearnedFilter::default()
    };
    let learned = many_years().learned(&filter).unwrap();
    let visits = if one_model { VISITS / 10 } else { VISITS };
    assert_eq!(learned.quotes.points.len() as i64, visits);
    assert_eq!(learned.days_home.days.len() as i64, visits);
    let net: fettle_bench::Decimal = learned.income.iter().map(|it| it.net).sum();
    assert_eq!(net, (90 * visits).into());
    bencher.bench_local(|| many_years().learned(black_box(&filter)).unwrap());
}
