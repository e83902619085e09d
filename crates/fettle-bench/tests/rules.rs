//! Every rule that a change can break, with what is said of it; and undo where one change leans on another.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use fettle_bench::{
    About, ArrivalCorrected, ArrivalDetails, BenchError, BenchSettings, CameraDetails, CameraId,
    Change, Decimal, DeclaredItem, EntryId, FaultId, FaultIs, FaultRecorded, Found, Grade, Hand,
    Instrument, Language, LineFor, Money, NoteWritten, OwnerDetails, OwnerId, Packed, PaperSize,
    PartFitted, Phase, PieceId, PieceRemoved, PieceReturned, QuoteAnswered, QuoteId, QuoteLine,
    QuoteMade, ReadingRow, ReadingTaken, Seen, Sent, Serial, SignObserved, Stage, StageMoved, Term,
    Tick, TrialMade, TrialReading, Turned, Undo, VisitId, VisitOpened, WaitFor, WaitId,
    WaitingBegun, WaitingEnded, WorkDone,
};
use support::{Shop, arrival, arrival_details, at, camera, hand, owner, settings, shop};

const VISIT: VisitId = VisitId::new(1);

fn go(to: Stage) -> Change {
    StageMoved {
        visit: VISIT,
        to,
        note: String::new(),
    }
    .into()
}

fn note(text: impl Into<String>) -> Change {
    NoteWritten {
        about: About::Visit(VISIT),
        text: text.into(),
    }
    .into()
}

fn piece(id: &str, cell: Option<u32>) -> Change {
    PieceRemoved {
        visit: VISIT,
        piece: Term::known(id, id),
        cell,
        note: String::new(),
        photo: None,
    }
    .into()
}

fn fault(words: &str, because_of: Option<i64>) -> Change {
    FaultRecorded {
        visit: VISIT,
        fault: Term::own(words),
        is: FaultIs::Damage,
        found: Found::Found,
        because_of: because_of.map(FaultId::new),
        note: String::new(),
    }
    .into()
}

fn quote(likely: f64, nine_in_ten: f64, total: &str) -> Change {
    let line = QuoteLine {
        line_for: LineFor::Work,
        what: Term::own("clean it"),
        grade: None,
        quantity: None,
        minutes_likely: Some(likely),
        minutes_nine_in_ten: Some(nine_in_ten),
        amount: "30".parse().unwrap(),
    };
    let total = Money::new(total.parse().unwrap(), settings().currency);
    QuoteMade {
        total,
        ..QuoteMade::new(VISIT, vec![line], settings().currency, "")
    }
    .into()
}

fn reading(row: ReadingRow) -> Change {
    ReadingTaken {
        visit: VISIT,
        phase: Phase::Before,
        instrument: Instrument::Register,
        limit_id: None,
        rows: vec![row],
        findings: Vec::new(),
        recording: None,
        method: String::new(),
        detail: None,
    }
    .into()
}

fn arrived(change: impl FnOnce(&mut ArrivalDetails)) -> Change {
    let mut arrival = arrival_details(OwnerId::new(1));
    change(&mut arrival);
    ArrivalCorrected {
        visit: VISIT,
        arrival,
    }
    .into()
}

#[test]
fn a_broken_rule_is_told_with_the_value_and_the_way_out() {
    let shop = shop();
    shop.arrive(1);
    let xts = settings().currency;
    let row = || ReadingRow {
        name: "centre".to_owned(),
        ..ReadingRow::default()
    };
    let trial = |as_found, turns: f64, value, repeatability| {
        Change::from(TrialMade {
            visit: VisitId::new(1),
            setting: Term::own("register"),
            as_found,
            turned: vec![Turned {
                adjuster: "bush".to_owned(),
                turns,
            }],
            readings: vec![TrialReading {
                limit_id: "register".to_owned(),
                value,
                repeatability,
            }],
            note: String::new(),
        })
    };
    let cases: Vec<(Change, &str)> = vec![
        (
            trial(true, 0.5, Some(1.0), 0.1),
            "bush was turned by 0.5: as found nothing is turned yet",
        ),
        (trial(false, 0.5, None, 0.1), "needs at least one reading"),
        (
            trial(false, 0.5, Some(1.0), 0.0),
            "the repeatability of register is 0",
        ),
        (
            trial(false, f64::NAN, Some(1.0), 0.1),
            "is NaN: leave it out",
        ),
        (owner("  ").into(), "owner-added: name: is empty"),
        (
            owner("two\nlines").into(),
            "name: holds the control character U+000A",
        ),
        (
            owner(&"x".repeat(501)).into(),
            "name: has 501 bytes, the most is 500",
        ),
        (
            CameraDetails {
                maker: "Aldous".to_owned(),
                ..CameraDetails::default()
            }
            .into(),
            "model: is empty",
        ),
        (
            CameraDetails {
                notes_id: Some("Corran 66".to_owned()),
                ..camera("1")
            }
            .into(),
            "`Corran 66` is not an id",
        ),
        (
            CameraDetails {
                serials: vec![Serial {
                    at: String::new(),
                    number: " ".to_owned(),
                }],
                ..camera("1")
            }
            .into(),
            "serials: is empty",
        ),
        (
            VisitOpened {
                camera: CameraId::new(1),
                arrival: arrival_details(OwnerId::new(1)),
            }
            .into(),
            "camera 1 is still here at visit 1: that visit goes home first",
        ),
        (
            VisitOpened {
                camera: CameraId::LATEST,
                arrival: arrival_details(OwnerId::new(1)),
            }
            .into(),
            "names the latest camera, but none was made with it",
        ),
        (
            VisitOpened {
                camera: CameraId::new(9),
                arrival: arrival_details(OwnerId::new(1)),
            }
            .into(),
            "there is no camera 9",
        ),
        (
            arrived(|it| it.owner = OwnerId::new(7)),
            "there is no owner 7",
        ),
        (
            arrived(|it| it.promised = Some("2026-09-01".parse().unwrap())),
            "promised: is 2026-09-01, before it arrived on 2026-09-21",
        ),
        (
            arrived(|it| it.declared = Some(Money::new("-1".parse().unwrap(), xts))),
            "declared: is XTS -1.00: give 0 or more",
        ),
        (
            arrived(|it| it.guarantee_of = Some(VISIT)),
            "visit 1 is not an earlier visit of this camera",
        ),
        (
            arrived(|it| it.came_with.push(String::new())),
            "came_with: is empty",
        ),
        (
            go(Stage::Home),
            "visit 1 is arrived and cannot be moved to home: it goes home only when packed",
        ),
        (
            go(Stage::Packed),
            "it is packed only when proved or returned unrepaired",
        ),
        (go(Stage::Arrived), "it already stands there"),
        (
            Packed {
                ticks: vec![Tick {
                    item: "case".to_owned(),
                    packed: true,
                }],
                ..Packed::new(VISIT)
            }
            .into(),
            "it is packed only when proved",
        ),
        (
            Sent {
                visit: VISIT,
                carrier: String::new(),
                tracking: String::new(),
                on: "2026-09-30".parse().unwrap(),
                guarantee_days: None,
            }
            .into(),
            "it is sent only when packed",
        ),
        (
            WaitingEnded {
                visit: VISIT,
                wait: WaitId::new(1),
                note: String::new(),
            }
            .into(),
            "there is no wait 1",
        ),
        (
            piece("side-cover", Some(0)),
            "cell: is 0: the cells of the tray count from 1",
        ),
        (
            PieceReturned {
                visit: VISIT,
                piece: PieceId::new(1),
                note: String::new(),
            }
            .into(),
            "there is no piece 1",
        ),
        (fault("a", Some(1)), "there is no fault 1"),
        (
            quote(30.0, 20.0, "30"),
            "minutes_nine_in_ten: is 20, less than the likely 30",
        ),
        (quote(f64::NAN, 20.0, "30"), "minutes_likely: is NaN"),
        (quote(-1.0, 20.0, "30"), "minutes_likely: is -1 min"),
        (
            quote(10.0, 20.0, "31"),
            "total: is 31, but the lines add up to 30",
        ),
        (
            QuoteMade::new(VISIT, Vec::new(), xts, "").into(),
            "lines: has none",
        ),
        (
            QuoteAnswered {
                visit: VISIT,
                quote: QuoteId::new(1),
                agreed: true,
                words: String::new(),
                on: "2026-09-30".parse().unwrap(),
            }
            .into(),
            "there is no quote 1",
        ),
        (
            WorkDone {
                visit: VISIT,
                work: Term::own("x"),
                minutes: Some(f64::INFINITY),
                note: String::new(),
            }
            .into(),
            "minutes: is inf: leave it out",
        ),
        (
            PartFitted {
                visit: VISIT,
                part: Term::own("x"),
                grade: Grade::Made,
                quantity: 0,
                price: None,
                note: String::new(),
            }
            .into(),
            "quantity: is 0",
        ),
        (
            reading(ReadingRow {
                value: Some(f64::NAN),
                ..row()
            }),
            "rows: is NaN",
        ),
        (
            reading(ReadingRow {
                limit: Some(-0.1),
                ..row()
            }),
            "the limit of centre is -0.1: it is a width",
        ),
        (reading(ReadingRow::default()), "rows: is empty"),
        (
            SignObserved {
                visit: VISIT,
                sign: Term::known("Bad Id", "x"),
                seen: Seen::Yes,
                numbers: Vec::new(),
                note: String::new(),
            }
            .into(),
            "`Bad Id` is not an id",
        ),
        (note("a\0b"), "text: holds the control character U+0000"),
        (note("x".repeat(50_001)), "text: has 50001 bytes"),
        (
            Undo {
                entry: EntryId::new(99),
            }
            .into(),
            "there is no journal entry 99",
        ),
        (
            Undo {
                entry: EntryId::new(1),
            }
            .into(),
            "a bench has a name: settle it anew instead",
        ),
        (
            Undo {
                entry: EntryId::LATEST,
            }
            .into(),
            "names the latest journal entry, but none was made with it",
        ),
    ];
    for (change, want) in cases {
        let told = shop.refusal(2, vec![change.clone()]);
        assert!(
            told.contains(want),
            "{told}\ndoes not say\n{want}\nof {change:?}"
        );
    }
    let nobody = shop
        .bench
        .apply(&Hand::new(" "), at(3), vec![note("x")])
        .unwrap_err();
    assert!(nobody.to_string().contains("hand: is empty"), "{nobody}");
}

#[test]
fn terms_that_make_no_sense_are_refused() {
    let shop = shop();
    shop.arrive(1);
    let decimal = |text: &str| Some(text.parse::<Decimal>().unwrap());
    let bench = |change: &dyn Fn(&mut BenchSettings)| {
        let mut it = settings();
        change(&mut it);
        Change::from(it)
    };
    let declared = |change: &dyn Fn(&mut DeclaredItem)| {
        let mut it = DeclaredItem {
            what: "camera".to_owned(),
            quantity: 1,
            value: Money::new("120".parse().unwrap(), settings().currency),
            weight_g: None,
            hs: "9006".to_owned(),
            origin: String::new(),
        };
        change(&mut it);
        Change::from(Packed {
            declared: vec![it],
            ..Packed::new(VISIT)
        })
    };
    let cases: Vec<(Change, &str)> = vec![
        (
            bench(&|it| it.tax_percent = decimal("-1")),
            "tax_percent: is -1 %: give 0 to 100",
        ),
        (
            bench(&|it| it.tax_percent = decimal("7.12345")),
            "give at most 4 decimals",
        ),
        (
            bench(&|it| (it.tax_percent, it.tax_name) = (decimal("7"), String::new())),
            "tax_name: is empty",
        ),
        (
            bench(&|it| it.deposit_percent = decimal("100.5")),
            "deposit_percent: is 100.5 %",
        ),
        (
            bench(&|it| it.round_to = decimal("0")),
            "round_to: is 0: give more than 0",
        ),
        (
            bench(&|it| it.quote_days = Some(40_000)),
            "quote_days: is 40000 days",
        ),
        (
            bench(&|it| it.country = "Saltmere".to_owned()),
            "`Saltmere` is not a country",
        ),
        (
            bench(&|it| it.country = "xa".to_owned()),
            "write its two capital letters",
        ),
        (
            OwnerDetails {
                country: "X".to_owned(),
                ..owner("Marit")
            }
            .into(),
            "country: `X` is not a country",
        ),
        (declared(&|it| it.what.clear()), "declared: is empty"),
        (
            declared(&|it| it.quantity = 0),
            "camera is declared 0 times",
        ),
        (
            declared(&|it| it.hs = "900".to_owned()),
            "`900` is not a heading",
        ),
        (
            declared(&|it| it.hs = "9006.53".to_owned()),
            "give 4 to 10 digits",
        ),
        (
            declared(&|it| it.origin = "XAZ".to_owned()),
            "`XAZ` is not a country",
        ),
        (
            declared(&|it| it.value.amount = "-1".parse().unwrap()),
            "declared: is XTS -1.00: give 0 or more",
        ),
        (
            declared(&|it| it.value.amount = "1.005".parse().unwrap()),
            "no coin smaller than 0.01",
        ),
    ];
    for (change, want) in cases {
        let told = shop.refusal(2, vec![change]);
        assert!(told.contains(want), "{told}\ndoes not say\n{want}");
    }
}

#[test]
fn the_bench_s_terms_and_an_owner_s_language_read_back() {
    let shop = shop();
    let terms = BenchSettings {
        tax_percent: Some("7.7".parse().unwrap()),
        tax_number: "XA 12 345".to_owned(),
        deposit_percent: Some("30".parse().unwrap()),
        round_to: Some("0.50".parse().unwrap()),
        quote_days: Some(30),
        guarantee_repair_days: Some(180),
        guarantee_overhaul_days: Some(365),
        payment: "in cash\nor by bank".to_owned(),
        pay_days: Some(14),
        country: "XA".to_owned(),
        language: Language::German,
        paper_size: PaperSize::Letter,
        ..settings()
    };
    let marit = OwnerDetails {
        language: Some(Language::German),
        country: "XB".to_owned(),
        ..owner("Marit Halvarsen")
    };
    shop.apply(1, vec![terms.clone().into(), marit.clone().into()]);
    assert_eq!(shop.bench.settings().unwrap(), terms);
    assert_eq!(
        shop.bench.owner(OwnerId::new(1)).unwrap().owner.details,
        marit
    );
}

#[test]
fn a_quote_too_large_for_exact_decimals_is_refused() {
    let shop = shop();
    shop.arrive(1);
    let line = QuoteLine {
        line_for: LineFor::Part,
        what: Term::own("gold"),
        grade: None,
        quantity: None,
        minutes_likely: None,
        minutes_nine_in_ten: None,
        amount: Decimal::MAX,
    };
    let quote = QuoteMade::new(VISIT, vec![line.clone(), line], settings().currency, "");
    assert!(
        shop.refusal(2, vec![quote.into()])
            .contains("more than exact decimals can hold")
    );
}

#[test]
fn a_detail_nested_too_deep_to_read_back_is_refused() {
    let shop = shop();
    shop.arrive(1);
    let mut deep = serde_json::Value::Null;
    for _ in 0..200 {
        deep = serde_json::Value::Array(vec![deep]);
    }
    let Change::ReadingTaken(mut it) = reading(ReadingRow {
        name: "x".to_owned(),
        ..ReadingRow::default()
    }) else {
        panic!("another kind of change")
    };
    it.detail = Some(deep);
    assert!(
        shop.refusal(2, vec![it.into()])
            .contains("does not read back from JSON")
    );
}

#[test]
fn a_fault_cannot_have_brought_itself_on_not_even_by_way_of_undo() {
    let shop = shop();
    shop.arrive(1);
    shop.apply(
        2,
        vec![fault("a", None), fault("b", None), fault("c", None)],
    );
    assert!(
        shop.refusal(3, vec![fault("a", Some(1))])
            .contains("makes a circle")
    );
    let link = shop.apply(4, vec![fault("a", Some(2))]);
    assert!(
        shop.refusal(5, vec![fault("b", Some(1))])
            .contains("makes a circle")
    );
    let unlink = shop.apply(
        6,
        vec![
            Undo {
                entry: link.entries[0],
            }
            .into(),
        ],
    );
    shop.apply(7, vec![fault("b", Some(3)), fault("c", Some(1))]);
    assert!(
        shop.refusal(
            8,
            vec![
                Undo {
                    entry: unlink.entries[0]
                }
                .into()
            ]
        )
        .contains("makes a circle")
    );
}

#[test]
fn what_is_together_has_an_empty_tray_also_after_an_undo() {
    let shop = shop();
    shop.arrive(1);
    shop.apply(2, vec![go(Stage::Apart), piece("side-cover", Some(1))]);
    assert!(
        shop.refusal(3, vec![piece("side-cover", Some(2))])
            .contains("already lies in the tray")
    );
    assert!(
        shop.refusal(3, vec![go(Stage::Together)])
            .contains("still something in the tray (side-cover)")
    );
    let back: Change = PieceReturned {
        visit: VISIT,
        piece: PieceId::new(1),
        note: String::new(),
    }
    .into();
    let returned = shop.apply(4, vec![back.clone(), go(Stage::Together)]);
    assert!(shop.refusal(5, vec![back]).contains("already back on"));
    assert!(
        shop.refusal(5, vec![piece("leather", None)])
            .contains("move it back to `apart`")
    );
    assert!(
        shop.refusal(
            5,
            vec![
                Undo {
                    entry: returned.entries[0]
                }
                .into()
            ]
        )
        .contains("in the tray")
    );
    shop.apply(6, vec![go(Stage::Apart)]);
    shop.apply(
        7,
        vec![
            Undo {
                entry: returned.entries[0],
            }
            .into(),
        ],
    );
    assert_eq!(shop.bench.visit(VISIT).unwrap().tray().count(), 1);
    // In pieces it can still go back unrepaired.
    shop.apply(
        8,
        vec![
            go(Stage::ReturnedUnrepaired),
            go(Stage::Packed),
            go(Stage::Home),
        ],
    );
    let line = shop.bench.visit(VISIT).unwrap().line;
    assert!(line.unrepaired && line.stage == Stage::Home);
}

#[test]
fn changes_of_the_same_row_that_do_not_meet_are_undone_one_without_the_other() {
    let shop = shop();
    shop.arrive(1);
    let moved = shop.apply(2, vec![go(Stage::LookedOver)]);
    let corrected = shop.apply(
        3,
        vec![arrived(|it| it.wanted = "only the shutter".to_owned())],
    );
    shop.apply(
        4,
        vec![
            Undo {
                entry: moved.entries[0],
            }
            .into(),
        ],
    );
    let view = shop.bench.visit(VISIT).unwrap();
    assert_eq!(
        (view.line.stage, view.arrival.wanted.as_str()),
        (Stage::Arrived, "only the shutter")
    );
    shop.apply(
        5,
        vec![
            Undo {
                entry: corrected.entries[0],
            }
            .into(),
        ],
    );
    assert_eq!(
        shop.bench.visit(VISIT).unwrap().arrival.wanted,
        "a full service"
    );
}

#[test]
fn what_returns_needs_what_it_hangs_on() {
    let shop = shop();
    let first = shop.apply(1, arrival("A 1"));
    let written = shop.apply(2, vec![note("x")]);
    let away = shop.apply(
        3,
        vec![
            Undo {
                entry: written.entries[0],
            }
            .into(),
        ],
    );
    let gone = shop.apply(
        4,
        vec![
            Undo {
                entry: first.entries[2],
            }
            .into(),
        ],
    );
    assert!(matches!(
        shop.bench.visit(VISIT),
        Err(BenchError::Unknown { .. })
    ));
    let told = shop.refusal(
        5,
        vec![
            Undo {
                entry: away.entries[0],
            }
            .into(),
        ],
    );
    let want = format!(
        "entry {} came later and builds on it (undone: arrived",
        gone.entries[0]
    );
    assert!(told.contains(&want), "{told}");
    // The number of an undone visit is not given again.
    let again = VisitOpened {
        camera: CameraId::new(1),
        arrival: arrival_details(OwnerId::new(1)),
    };
    assert_eq!(
        shop.apply(6, vec![again.into()]).visit(),
        Some(VisitId::new(2))
    );
    let told = shop.refusal(
        7,
        vec![
            Undo {
                entry: gone.entries[0],
            }
            .into(),
        ],
    );
    assert!(told.contains("recorded anew since"), "{told}");
}

#[test]
fn an_entry_can_be_undone_in_the_same_breath() {
    let shop = shop();
    shop.arrive(1);
    let applied = shop.apply(
        2,
        vec![
            note("slip of the pen"),
            Undo {
                entry: EntryId::LATEST,
            }
            .into(),
        ],
    );
    let view = shop.bench.visit(VISIT).unwrap();
    assert!(view.notes.is_empty());
    assert_eq!(view.journal[1].struck_by, Some(applied.entries[1]));
}

#[test]
fn a_wait_ends_once() {
    let shop: Shop = shop();
    shop.arrive(1);
    let begun = WaitingBegun {
        visit: VISIT,
        wait_for: WaitFor::Part,
        what: "a wind pawl".to_owned(),
    };
    let ended = WaitingEnded {
        visit: VISIT,
        wait: WaitId::LATEST,
        note: String::new(),
    };
    let applied = shop.apply(2, vec![begun.into(), ended.into()]);
    let wait = applied.wait().unwrap();
    let again = WaitingEnded {
        visit: VISIT,
        wait,
        note: String::new(),
    };
    assert!(
        shop.refusal(3, vec![again.into()])
            .contains("wait 1 is already over")
    );
    let told = &shop.bench.visit(VISIT).unwrap().journal[0].sentence;
    assert_eq!(told, "no longer waiting for a part: a wind pawl");
    assert_eq!(hand().as_str(), "Ines");
}
