//! The page for today, going home, lists by the page, and cameras and owners over time.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use fettle_bench::{
    ArrivalDetails, BenchError, CameraId, Change, HoldEnded, NextStep, OwnerDetails, OwnerId, Page,
    PieceRemoved, SendingHeld, Sent, Stage, StageMoved, Term, VisitFilter, VisitId, VisitOpened,
    WaitFor, WaitingBegun,
};
use support::{arrival, arrival_details, owner, shop};

fn go(visit: i64, to: Stage) -> Change {
    StageMoved {
        visit: VisitId::new(visit),
        to,
        note: String::new(),
    }
    .into()
}

fn waiting(visit: i64, wait_for: WaitFor) -> Change {
    WaitingBegun {
        visit: VisitId::new(visit),
        wait_for,
        what: "spring".to_owned(),
    }
    .into()
}

#[test]
fn every_visit_that_is_here_stands_in_one_list_with_its_next_step() {
    let shop = shop();
    for n in 1..=9 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    shop.apply(20, vec![go(2, Stage::LookedOver)]);
    shop.apply(21, vec![go(3, Stage::Quoted)]);
    shop.apply(22, vec![go(4, Stage::Apart)]);
    shop.apply(23, vec![go(5, Stage::Apart), waiting(5, WaitFor::Part)]);
    shop.apply(24, vec![go(6, Stage::Together)]);
    shop.apply(25, vec![go(7, Stage::Proved)]);
    shop.apply(26, vec![go(8, Stage::ReturnedUnrepaired)]);
    shop.apply(
        27,
        vec![
            go(9, Stage::Proved),
            go(9, Stage::Packed),
            go(9, Stage::Home),
        ],
    );
    let again = ArrivalDetails {
        guarantee_of: Some(VisitId::new(9)),
        ..arrival_details(OwnerId::new(9))
    };
    shop.apply(
        28,
        vec![
            VisitOpened {
                camera: CameraId::new(9),
                arrival: again,
            }
            .into(),
        ],
    );

    let today = shop.bench.today(support::today()).unwrap();
    let steps = |lines: &[fettle_bench::VisitLine]| -> Vec<(i64, NextStep)> {
        lines
            .iter()
            .map(|line| (line.visit.get(), line.next))
            .collect()
    };
    let possible: Vec<_> = today.possible.iter().map(|it| it.line.clone()).collect();
    assert_eq!(
        steps(&possible),
        [
            (1, NextStep::LookOver),
            (2, NextStep::Quote),
            (10, NextStep::LookOver)
        ]
    );
    assert_eq!(
        steps(&today.apart),
        [(4, NextStep::PutTogether), (6, NextStep::Prove)]
    );
    assert_eq!(
        steps(&today.waiting),
        [(3, NextStep::Answer), (5, NextStep::PutTogether)]
    );
    assert_eq!(
        steps(&today.ready),
        [(7, NextStep::Pack), (8, NextStep::Pack)]
    );
    assert_eq!(today.came_back, [VisitId::new(10)]);
    assert_eq!(today.waiting[1].waits[0].to_string(), "a part: spring");
}

#[test]
fn what_can_leave_says_what_holds_it() {
    let shop = shop();
    let addressed = OwnerDetails {
        address: "Quay 3\nSaltmere".to_owned(),
        ..owner("Marít Halvarsén")
    };
    for n in 1..=4 {
        let mut changes = arrival(&format!("A {n}"));
        if n != 1 {
            changes[0] = addressed.clone().into();
        }
        shop.apply(n, changes);
    }
    let cover = Term::own("side cover");
    let visit = VisitId::new(3);
    let out = PieceRemoved {
        visit,
        piece: cover,
        cell: None,
        note: String::new(),
        photo: None,
    };
    shop.apply(
        10,
        vec![
            go(1, Stage::Proved),
            go(2, Stage::Proved),
            go(4, Stage::Proved),
        ],
    );
    shop.apply(11, vec![out.into(), go(3, Stage::ReturnedUnrepaired)]);
    shop.apply(12, vec![go(2, Stage::Packed), waiting(4, WaitFor::Post)]);
    let leaving = shop.bench.going_home().unwrap();
    let held = |n: i64| {
        leaving
            .iter()
            .find(|it| it.line.visit.get() == n)
            .unwrap()
            .held
            .clone()
            .unwrap_or_default()
    };
    assert_eq!(held(1), "the owner's address is not known");
    assert_eq!(held(2), "");
    assert!(held(3).starts_with("pieces still lie in the tray"));
    assert_eq!(held(4), "waits for the post: spring");
    assert!(
        leaving
            .iter()
            .all(|it| it.packed == (it.line.visit.get() == 2))
    );
}

#[test]
fn lists_come_by_the_page_and_filtered() {
    let shop = shop();
    for n in 1..=12 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    shop.apply(20, vec![go(5, Stage::Apart), go(6, Stage::Apart)]);
    let page = Page { skip: 5, take: 4 };
    let visits = shop.bench.visits(&VisitFilter::default(), page).unwrap();
    let numbers: Vec<i64> = visits.lines.iter().map(|line| line.visit.get()).collect();
    assert_eq!((numbers, visits.total), (vec![7, 6, 5, 4], 12));
    let apart = VisitFilter {
        stage: Some(Stage::Apart),
        here: true,
        ..VisitFilter::default()
    };
    assert_eq!(shop.bench.visits(&apart, Page::first(1)).unwrap().total, 2);
    let model = VisitFilter {
        notes_id: Some("sprat".to_owned()),
        ..VisitFilter::default()
    };
    assert_eq!(shop.bench.visits(&model, Page::first(9)).unwrap().total, 0);
    assert_eq!(
        shop.bench
            .cameras(Page::first(u32::MAX))
            .unwrap()
            .lines
            .len(),
        12
    );
    let owners = shop
        .bench
        .owners(Page {
            skip: u32::MAX,
            take: 5,
        })
        .unwrap();
    assert_eq!((owners.lines.len(), owners.total), (0, 12));
    assert_eq!(
        shop.bench.journal(Page::first(3)).unwrap().lines[0].sentence,
        "taken apart"
    );
}

#[test]
fn a_camera_and_an_owner_are_seen_over_time() {
    let shop = shop();
    shop.apply(1, arrival("A 1"));
    shop.apply(
        2,
        vec![go(1, Stage::ReturnedUnrepaired), go(1, Stage::Home)],
    );
    shop.apply(
        3,
        vec![
            owner("Benoit Ferrier").into(),
            VisitOpened {
                camera: CameraId::new(1),
                arrival: arrival_details(OwnerId::LATEST),
            }
            .into(),
        ],
    );
    let camera = shop.bench.camera(CameraId::new(1)).unwrap();
    assert_eq!(camera.camera.name(), "Aldous Corran 66");
    let owners: Vec<&str> = camera
        .visits
        .iter()
        .map(|visit| visit.owner_name.as_str())
        .collect();
    assert_eq!(owners, ["Benoit Ferrier", "Marít Halvarsén"]);
    let owner = shop.bench.owner(OwnerId::new(2)).unwrap();
    assert_eq!((owner.visits.len(), owner.journal.len()), (1, 2));
    let error = shop.bench.owner(OwnerId::new(3)).unwrap_err();
    assert!(
        matches!(
            error,
            BenchError::Unknown {
                what: "owner",
                id: 3
            }
        ),
        "{error:?}"
    );
}

#[test]
fn what_is_kept_back_waits_until_the_day_to_look_again() {
    let shop = shop();
    shop.arrive(1);
    shop.apply(2, vec![go(1, Stage::Proved)]);
    let visit = VisitId::new(1);
    let hold = |reason: &str, look_again: Option<&str>| {
        Change::from(SendingHeld {
            visit,
            reason: reason.to_owned(),
            look_again: look_again.map(|day| day.parse().unwrap()),
        })
    };
    let kept = shop.apply(3, vec![hold("the owner is away", Some("2026-10-05"))]);
    let day = |day: &str| shop.bench.today(day.parse().unwrap()).unwrap();
    let early = day("2026-10-04");
    assert_eq!(
        (early.waiting.len(), early.ready.len(), early.possible.len()),
        (1, 0, 0)
    );
    let due = day("2026-10-05");
    assert_eq!((due.waiting.len(), due.ready.len()), (0, 0));
    assert_eq!(
        due.possible[0].because.as_deref(),
        Some("look again at why it is held: the owner is away")
    );
    let held = &shop.bench.going_home().unwrap()[0].held;
    assert_eq!(
        held.as_deref(),
        Some("the owner is away (look again on 2026-10-05)")
    );
    let over = HoldEnded {
        visit,
        hold: kept.hold().unwrap(),
        note: "back from the islands".to_owned(),
    };
    let ended = shop.apply(4, vec![over.clone().into()]);
    let told = shop.bench.entry(ended.entries[0]).unwrap().0.sentence;
    assert_eq!(
        told,
        "no longer held: the owner is away, back from the islands"
    );
    assert_eq!(day("2026-10-05").ready.len(), 1);
    let view = shop.bench.visit(visit).unwrap();
    assert_eq!((view.line.holds.len(), view.holds.len()), (0, 1));
    assert_eq!(view.holds[0].note, "back from the islands");
    assert!(
        shop.refusal(5, vec![over.into()])
            .contains("hold 1 is already over")
    );
    let nameless = shop.refusal(5, vec![hold("", None)]);
    assert!(nameless.contains("reason: is empty"), "{nameless}");
    shop.apply(6, vec![go(1, Stage::Packed), go(1, Stage::Home)]);
    let home = shop.refusal(7, vec![hold("too late", None)]);
    assert!(
        home.contains("visit 1 is home: there is nothing to keep back"),
        "{home}"
    );
}

#[test]
fn a_guarantee_runs_from_the_day_the_camera_was_last_sent() {
    let shop = shop();
    shop.arrive(1);
    shop.apply(2, vec![go(1, Stage::Proved), go(1, Stage::Packed)]);
    let visit = VisitId::new(1);
    let sent = |on: &str, guarantee_days| {
        Change::from(Sent {
            visit,
            carrier: String::new(),
            tracking: String::new(),
            on: on.parse().unwrap(),
            guarantee_days,
        })
    };
    let until = || shop.bench.visit(visit).unwrap().line.guarantee_until;
    assert_eq!(until(), None);
    shop.apply(3, vec![sent("2026-09-30", Some(180))]);
    assert_eq!(until(), Some("2027-03-29".parse().unwrap()));
    // The post brought it back and it was sent again.
    shop.apply(4, vec![sent("2026-10-30", Some(365))]);
    assert_eq!(until(), Some("2027-10-30".parse().unwrap()));
    shop.apply(5, vec![sent("2026-11-01", None)]);
    assert_eq!(until(), None);
    // A day beyond the calendar is no day.
    shop.apply(6, vec![sent("9999-12-01", Some(36_525))]);
    assert_eq!(until(), None);
    let long = shop.refusal(7, vec![sent("2026-11-01", Some(36_526))]);
    assert!(
        long.contains("guarantee_days: is 36526 days: the most is 36525"),
        "{long}"
    );
}

#[test]
fn the_days_ahead_are_those_promised_to_look_again_and_of_guarantees_that_last() {
    let shop = shop();
    for n in 1..=4 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    let mut promised = arrival_details(OwnerId::new(1));
    promised.promised = Some("2026-10-10".parse().unwrap());
    let corrected = fettle_bench::ArrivalCorrected {
        visit: VisitId::new(1),
        arrival: promised,
    };
    let held = SendingHeld {
        visit: VisitId::new(2),
        reason: "the owner is away".to_owned(),
        look_again: Some("2026-10-05".parse().unwrap()),
    };
    shop.apply(10, vec![corrected.into(), held.into()]);
    for (visit, days) in [(3, 30), (4, 60)] {
        let sent = Sent {
            visit: VisitId::new(visit),
            carrier: String::new(),
            tracking: String::new(),
            on: "2026-09-10".parse().unwrap(),
            guarantee_days: Some(days),
        };
        shop.apply(
            11,
            vec![
                go(visit, Stage::Proved),
                go(visit, Stage::Packed),
                sent.into(),
                go(visit, Stage::Home),
            ],
        );
    }
    let days = shop
        .bench
        .days_ahead("2026-10-11".parse().unwrap())
        .unwrap();
    let told: Vec<String> = days
        .iter()
        .map(|day| {
            format!(
                "{} {} {} {}",
                day.on,
                day.line.visit,
                day.what.as_str(),
                day.words
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            "2026-10-05 2 look-again the owner is away",
            // Overdue, and still here.
            "2026-10-10 1 promised ",
            "2026-11-09 4 guarantee-ends ",
        ]
    );
    // The last day of a guarantee still counts.
    let last = shop
        .bench
        .days_ahead("2026-10-10".parse().unwrap())
        .unwrap();
    assert_eq!(last.len(), 4);
}
