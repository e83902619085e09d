//! One camera through its stages, as pages and papers see it.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use fettle_bench::{
    About, Change, FaultId, FaultIs, FaultRecorded, Found, Grade, HitIn, Instrument, LineFor,
    Money, NextStep, NoteWritten, Packed, Page, PartFitted, Phase, PieceRemoved, PieceReturned,
    QuoteAnswered, QuoteId, QuoteLine, QuoteMade, ReadingRow, ReadingTaken, Seen, Sent,
    SettingProved, ShortfallNoted, SignObserved, Stage, StageMoved, Term, Tick, Undo, Verdict,
    VisitFilter, VisitId, WaitFor, WaitId, WaitingBegun, WaitingEnded, WorkDone,
};
use support::{arrival, at, shop};

#[test]
fn a_camera_goes_through_every_stage_and_the_journal_tells_it() {
    let shop = shop();
    let visit = shop.arrive(10);
    assert_eq!(visit, VisitId::new(1));
    shop.apply(
        20,
        vec![
            SignObserved {
                visit,
                sign: Term::known("slow-speeds-hang", "slow speeds hang"),
                seen: Seen::Yes,
                numbers: Vec::new(),
                note: "from 1/8 down".to_owned(),
            }
            .into(),
            StageMoved {
                visit,
                to: Stage::LookedOver,
                note: String::new(),
            }
            .into(),
        ],
    );
    let faults = shop.apply(
        30,
        vec![
            fault(visit, "hardened-grease", FaultIs::Cause, None),
            fault(
                visit,
                "sheared-pawl",
                FaultIs::Damage,
                Some(FaultId::LATEST),
            ),
        ],
    );
    let euro = shop.bench.settings().unwrap().currency;
    let line = QuoteLine {
        line_for: LineFor::Work,
        what: Term::own("clean the gear train"),
        grade: None,
        quantity: None,
        minutes_likely: Some(55.0),
        minutes_nine_in_ten: Some(90.5),
        amount: "55.10".parse().unwrap(),
    };
    shop.apply(
        40,
        vec![
            QuoteMade::new(visit, vec![line.clone(), line], euro, "").into(),
            StageMoved {
                visit,
                to: Stage::Quoted,
                note: String::new(),
            }
            .into(),
            WaitingBegun {
                visit,
                wait_for: WaitFor::Answer,
                what: String::new(),
            }
            .into(),
        ],
    );
    let today = shop.bench.today(support::today()).unwrap();
    assert_eq!((today.waiting.len(), today.possible.len()), (1, 0));
    shop.apply(
        50,
        vec![
            QuoteAnswered {
                visit,
                quote: QuoteId::new(1),
                agreed: true,
                words: "yes please".to_owned(),
                on: "2026-09-23".parse().unwrap(),
            }
            .into(),
            WaitingEnded {
                visit,
                wait: WaitId::new(1),
                note: String::new(),
            }
            .into(),
        ],
    );
    let today = shop.bench.today(support::today()).unwrap();
    assert_eq!(
        today.possible[0].because.as_deref(),
        Some("the owner's answer came")
    );
    assert_eq!(today.possible[0].line.next, NextStep::Agree);
    shop.go(60, visit, &[Stage::Agreed, Stage::Apart]);
    let out = shop.apply(
        70,
        vec![piece(visit, "side-cover", 1), piece(visit, "wind-pawl", 2)],
    );
    assert_eq!(
        shop.bench.today(support::today()).unwrap().apart[0].pieces_out,
        2
    );
    let refusal = shop.refusal(
        75,
        vec![
            StageMoved {
                visit,
                to: Stage::Together,
                note: String::new(),
            }
            .into(),
        ],
    );
    assert!(refusal.contains("side-cover, wind-pawl"), "{refusal}");
    for id in [2, 1] {
        let piece = fettle_bench::PieceId::new(id);
        shop.apply(
            80,
            vec![
                PieceReturned {
                    visit,
                    piece,
                    note: String::new(),
                }
                .into(),
            ],
        );
    }
    assert_eq!(out.piece(), Some(fettle_bench::PieceId::new(2)));
    shop.apply(
        90,
        vec![
            WorkDone {
                visit,
                work: Term::own("clean the gear train"),
                minutes: Some(61.5),
                note: String::new(),
            }
            .into(),
            PartFitted {
                visit,
                part: Term::known("wind-pawl", "wind pawl"),
                grade: Grade::Made,
                quantity: 1,
                price: Some(Money::new("12".parse().unwrap(), euro)),
                note: String::new(),
            }
            .into(),
            reading(visit, Phase::After),
            SettingProved {
                visit,
                setting: Term::known("focus-register", "register"),
                held: true,
                note: String::new(),
            }
            .into(),
            ShortfallNoted {
                visit,
                what: "1/500 is slow".to_owned(),
                correction: "close half a stop".to_owned(),
            }
            .into(),
        ],
    );
    shop.go(100, visit, &[Stage::Together, Stage::Proved]);
    assert_eq!(
        shop.bench.going_home().unwrap()[0].came_with,
        ["case", "cap"]
    );
    shop.apply(
        110,
        vec![
            Packed {
                ticks: vec![Tick {
                    item: "cap".to_owned(),
                    packed: false,
                }],
                ..Packed::new(visit)
            }
            .into(),
            StageMoved {
                visit,
                to: Stage::Packed,
                note: String::new(),
            }
            .into(),
            Sent {
                visit,
                carrier: "Harbour Post".to_owned(),
                tracking: "HP 77".to_owned(),
                on: "2026-10-01".parse().unwrap(),
                guarantee_days: None,
            }
            .into(),
            StageMoved {
                visit,
                to: Stage::Home,
                note: String::new(),
            }
            .into(),
            NoteWritten {
                about: About::Visit(visit),
                text: "thanks came by post".to_owned(),
            }
            .into(),
        ],
    );
    let view = shop.bench.visit(visit).unwrap();
    assert_eq!(view.line.stage, Stage::Home);
    assert_eq!(view.faults[1].what.because_of, faults_first(&faults));
    assert_eq!(view.quotes[0].what.total.to_string(), "XTS 110.20");
    assert_eq!(
        view.quotes[0].answer.as_ref().map(|answer| answer.agreed),
        Some(true)
    );
    assert_eq!(view.tray().count(), 0);
    assert_eq!(
        view.readings[0].what,
        match reading(visit, Phase::After) {
            Change::ReadingTaken(it) => it,
            _ => unreachable!(),
        }
    );
    assert_eq!(view.packed.as_ref().map(|it| it.what.ticks.len()), Some(1));
    let told: Vec<&str> = view
        .journal
        .iter()
        .rev()
        .map(|entry| entry.sentence.as_str())
        .collect();
    for want in [
        "arrived: slow speeds hang, a full service",
        "slow speeds hang — yes: from 1/8 down",
        "found as cause: hardened-grease",
        "quoted: XTS 110.20",
        "the owner agreed: yes please",
        "no longer waiting for the owner's answer",
        "side-cover taken off into cell 1",
        "wind-pawl put back from cell 2",
        "fitted 1 × wind pawl (made): XTS 12.00",
        "shutter read after the work: 1 in",
        "parcel packed: without cap",
        "sent on 2026-10-01: Harbour Post, HP 77",
        "gone home",
        "note: thanks came by post",
    ] {
        assert!(told.contains(&want), "{want:?} is not in {told:#?}");
    }
    assert_eq!(
        shop.bench
            .visits(&VisitFilter::default(), Page::first(10))
            .unwrap()
            .total,
        1
    );
    shop.bench.check().unwrap();
}

fn faults_first(applied: &fettle_bench::Applied) -> Option<FaultId> {
    match applied.made[0] {
        fettle_bench::Made::Fault(id) => Some(id),
        _ => None,
    }
}

fn fault(visit: VisitId, id: &str, is: FaultIs, because_of: Option<FaultId>) -> Change {
    FaultRecorded {
        visit,
        fault: Term::known(id, id),
        is,
        found: Found::Found,
        because_of,
        note: String::new(),
    }
    .into()
}

fn piece(visit: VisitId, id: &str, cell: u32) -> Change {
    PieceRemoved {
        visit,
        piece: Term::known(id, id),
        cell: Some(cell),
        note: String::new(),
        photo: None,
    }
    .into()
}

fn reading(visit: VisitId, phase: Phase) -> Change {
    ReadingTaken {
        visit,
        phase,
        instrument: Instrument::Shutter,
        limit_id: Some("shutter".to_owned()),
        rows: vec![ReadingRow {
            name: "1/125".to_owned(),
            unit: "s".to_owned(),
            nominal: Some(1.0 / 125.0),
            value: Some(0.1 + 0.2),
            error: Some(0.1),
            error_unit: "stops".to_owned(),
            uncertainty: Some(0.03),
            limit: Some(0.25),
            verdict: Some(Verdict::In),
        }],
        findings: vec!["hum at 50 Hz".to_owned()],
        recording: None,
        method: "light sensor on the line input".to_owned(),
        detail: Some(serde_json::json!({"shots": [{"n": 1, "effective_s": 0.30000000000000004}]})),
    }
    .into()
}

#[test]
fn undo_strikes_an_entry_and_undoing_the_undo_restores_it() {
    let shop = shop();
    let visit = shop.arrive(10);
    let note = shop.apply(
        20,
        vec![
            NoteWritten {
                about: About::Visit(visit),
                text: "wrong".to_owned(),
            }
            .into(),
        ],
    );
    let before = shop.bench.visit(visit).unwrap();
    let undo = shop.apply(
        30,
        vec![
            Undo {
                entry: note.entries[0],
            }
            .into(),
        ],
    );
    let view = shop.bench.visit(visit).unwrap();
    assert!(view.notes.is_empty());
    assert_eq!(view.journal[0].sentence, "undone: note: wrong");
    assert_eq!(view.journal[1].struck_by, Some(undo.entries[0]));
    assert!(
        shop.refusal(
            35,
            vec![
                Undo {
                    entry: note.entries[0]
                }
                .into()
            ]
        )
        .contains("already struck")
    );
    shop.apply(
        40,
        vec![
            Undo {
                entry: undo.entries[0],
            }
            .into(),
        ],
    );
    let view = shop.bench.visit(visit).unwrap();
    assert_eq!(view.notes, before.notes);
    assert_eq!(view.journal[0].sentence, "restored: note: wrong");
    assert_eq!(view.journal[2].struck_by, None);
}

#[test]
fn an_undo_is_refused_with_the_entry_that_stands_in_the_way() {
    let shop = shop();
    let first = shop.apply(10, arrival("A 1"));
    let visit = first.visit().unwrap();
    shop.apply(
        20,
        vec![
            NoteWritten {
                about: About::Visit(visit),
                text: "later".to_owned(),
            }
            .into(),
        ],
    );
    let refusal = shop.refusal(
        30,
        vec![
            Undo {
                entry: first.entries[2],
            }
            .into(),
        ],
    );
    assert_eq!(
        refusal,
        "entry 4 cannot be undone: entry 5 came later and builds on it (note: later); undo that one first"
    );
    let moved = shop.apply(
        40,
        vec![
            StageMoved {
                visit,
                to: Stage::LookedOver,
                note: String::new(),
            }
            .into(),
        ],
    );
    let again = shop.apply(
        50,
        vec![
            StageMoved {
                visit,
                to: Stage::Agreed,
                note: String::new(),
            }
            .into(),
        ],
    );
    assert!(
        shop.refusal(
            60,
            vec![
                Undo {
                    entry: moved.entries[0]
                }
                .into()
            ]
        )
        .contains("entry 7 came later")
    );
    shop.apply(
        70,
        vec![
            Undo {
                entry: again.entries[0],
            }
            .into(),
        ],
    );
    shop.apply(
        80,
        vec![
            Undo {
                entry: moved.entries[0],
            }
            .into(),
        ],
    );
    assert_eq!(shop.bench.visit(visit).unwrap().line.stage, Stage::Arrived);
}

#[test]
fn anything_is_found_by_the_beginning_of_its_words() {
    let shop = shop();
    let visit = shop.arrive(10);
    let _ = at(0);
    let hits = |text: &str| shop.bench.find(text, 10).unwrap();
    assert_eq!(hits("k 10482")[0].matched, "serial number");
    assert_eq!(hits("1")[0].place, HitIn::Visit(visit));
    assert!(matches!(hits("halvarsen marit")[0].place, HitIn::Owner(_)));
    assert_eq!(
        hits("corran hang").last().map(|hit| hit.place.clone()),
        Some(HitIn::Visit(visit))
    );
    assert_eq!(
        hits("leath")[0].excerpt,
        "slow speeds hang a full service \u{2068}leather\u{2069} lifting"
    );
}
