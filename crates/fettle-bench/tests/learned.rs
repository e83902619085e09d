//! What finished visits add up to: faults, quotes held, parts, what came back, days and income.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use fettle_bench::{
    BillId, BillIssued, BillLine, CameraId, Change, CreditIssued, FaultIs, FaultRecorded, Found,
    Grade, LearnedFilter, LineFor, PartFitted, QuoteAnswered, QuoteId, QuoteKind, QuoteLine,
    QuoteMade, Sent, Stage, StageMoved, Term, VisitId, VisitOpened, WorkDone,
};
use support::{Shop, arrival, arrival_details, settings, shop};

fn go(visit: VisitId, to: Stage) -> Change {
    StageMoved {
        visit,
        to,
        note: String::new(),
    }
    .into()
}

fn fault(visit: VisitId, id: &str, is: FaultIs) -> Change {
    FaultRecorded {
        visit,
        fault: Term::known(id, id),
        is,
        found: Found::Found,
        because_of: None,
        note: String::new(),
    }
    .into()
}

fn work_line(work: &str, likely: f64, nine: f64) -> QuoteLine {
    QuoteLine {
        line_for: LineFor::Work,
        what: Term::own(work),
        grade: None,
        quantity: None,
        minutes_likely: Some(likely),
        minutes_nine_in_ten: Some(nine),
        amount: "10".parse().unwrap(),
    }
}

fn quote(visit: VisitId, kind: QuoteKind, lines: Vec<QuoteLine>) -> Change {
    QuoteMade {
        kind,
        ..QuoteMade::new(visit, lines, settings().currency, "")
    }
    .into()
}

fn agreed(visit: VisitId) -> Change {
    QuoteAnswered {
        visit,
        quote: QuoteId::LATEST,
        agreed: true,
        words: String::new(),
        on: "2026-09-22".parse().unwrap(),
    }
    .into()
}

fn worked(visit: VisitId, work: &str, minutes: f64) -> Change {
    WorkDone {
        visit,
        work: Term::own(work),
        minutes: Some(minutes),
        note: String::new(),
    }
    .into()
}

fn sent(visit: VisitId, on: &str, guarantee_days: Option<u32>) -> Vec<Change> {
    let sent = Sent {
        visit,
        carrier: String::new(),
        tracking: String::new(),
        on: on.parse().unwrap(),
        guarantee_days,
    };
    vec![
        go(visit, Stage::Proved),
        go(visit, Stage::Packed),
        sent.into(),
        go(visit, Stage::Home),
    ]
}

/// Three cameras: one that comes back under guarantee with the same cause, one well, one still here.
fn told() -> Shop {
    let shop = shop();
    let [first, second] = [1, 2].map(VisitId::new);
    for n in 1..=3 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    shop.apply(
        4,
        vec![
            fault(first, "hardened-grease", FaultIs::Cause),
            fault(first, "sheared-pawl", FaultIs::Damage),
            quote(
                first,
                QuoteKind::Repair,
                vec![
                    work_line("clean", 50.0, 80.0),
                    work_line("never timed", 5.0, 9.0),
                ],
            ),
            agreed(first),
            quote(first, QuoteKind::Extra, vec![work_line("set", 10.0, 16.0)]),
            agreed(first),
            worked(first, "clean", 70.0),
            worked(first, "set", 12.0),
            PartFitted {
                visit: first,
                part: Term::own("pawl"),
                grade: Grade::Made,
                quantity: 2,
                price: None,
                note: String::new(),
            }
            .into(),
        ],
    );
    shop.apply(5, sent(first, "2026-10-01", Some(30)));
    shop.apply(
        6,
        vec![
            fault(second, "hardened-grease", FaultIs::Cause),
            quote(
                second,
                QuoteKind::Repair,
                vec![work_line("clean", 50.0, 80.0)],
            ),
            agreed(second),
            worked(second, "clean", 60.0),
            worked(second, "clean", 30.0),
        ],
    );
    shop.apply(7, sent(second, "2026-10-21", Some(30)));
    let mut back = arrival_details(fettle_bench::OwnerId::new(1));
    back.arrived = "2026-10-31".parse().unwrap();
    back.guarantee_of = Some(first);
    let back = VisitOpened {
        camera: CameraId::new(1),
        arrival: back,
    };
    let back = shop.apply(8, vec![back.into()]).visit().unwrap();
    shop.apply(9, vec![fault(back, "hardened-grease", FaultIs::Cause)]);
    shop
}

fn line(amount: &str, percent: Option<&str>) -> BillLine {
    BillLine {
        words: "work".to_owned(),
        quantity: None,
        amount: amount.parse().unwrap(),
        tax_percent: percent.map(|it| it.parse().unwrap()),
    }
}

#[test]
fn finished_visits_are_counted_and_those_still_at_work_are_not() {
    let learned = told().bench.learned(&LearnedFilter::default()).unwrap();
    assert_eq!(learned.visits, 2);
    let faults: Vec<(&str, u64, u64)> = learned
        .faults
        .iter()
        .map(|it| (it.fault.words.as_str(), it.share.count, it.share.of))
        .collect();
    assert_eq!(faults, [("hardened-grease", 2, 2), ("sheared-pawl", 1, 2)]);
    assert!(learned.faults[1].share.low > 0.05 && learned.faults[1].share.high < 0.95);
    assert_eq!(learned.parts.len(), 1);
    assert_eq!(
        (learned.parts[0].words.as_str(), learned.parts[0].quantity),
        ("pawl", 2)
    );
    assert_eq!(learned.days_home.days, [10, 30]);
    assert_eq!(
        (
            learned.days_home.p10,
            learned.days_home.p50,
            learned.days_home.p90
        ),
        (Some(10), Some(10), Some(30))
    );
}

#[test]
fn quotes_are_held_against_the_minutes_of_the_works_that_were_counted() {
    let learned = told().bench.learned(&LearnedFilter::default()).unwrap();
    let points = learned.quotes.points;
    assert_eq!(points.len(), 2);
    // Of the first visit the work that was never timed is left out, and the extra work that was agreed to counts.
    assert!((points[0].took - 82.0).abs() < 1e-9, "{points:?}");
    assert!((60.0..64.0).contains(&points[0].likely), "{points:?}");
    assert!((84.0..96.0).contains(&points[0].nine_in_ten), "{points:?}");
    // Of the second both records of the work count.
    assert!((points[1].took - 90.0).abs() < 1e-9, "{points:?}");
    assert!((points[1].nine_in_ten - 80.0).abs() < 1e-6, "{points:?}");
    let share = learned.quotes.within_nine_in_ten;
    assert_eq!((share.count, share.of), (1, 2));
}

#[test]
fn what_came_back_under_guarantee_is_compared_with_the_first_time() {
    let shop = told();
    let learned = shop.bench.learned(&LearnedFilter::default()).unwrap();
    let back = learned.came_back;
    assert_eq!((back.share.count, back.share.of), (1, 2));
    assert_eq!((back.same_cause, back.other_cause), (1, 0));
    assert_eq!(back.points[0].same, Some(true));
    let later = back.points[0].later;
    let view = shop.bench.visit(later).unwrap();
    let returned = view.guarantee.unwrap();
    assert_eq!(
        (returned.earlier, returned.within, returned.same),
        (VisitId::new(1), true, Some(true))
    );
    // Thirty days from 1 October end on the 31st; a day later it is no longer under guarantee.
    let mut late = view.arrival;
    late.arrived = "2026-11-01".parse().unwrap();
    let corrected = fettle_bench::ArrivalCorrected {
        visit: later,
        arrival: late,
    };
    shop.apply(20, vec![corrected.into()]);
    assert!(!shop.bench.visit(later).unwrap().guarantee.unwrap().within);
    let other = FaultRecorded {
        visit: later,
        fault: Term::known("hardened-grease", "x"),
        is: FaultIs::Cause,
        found: Found::RuledOut,
        because_of: None,
        note: String::new(),
    };
    shop.apply(21, vec![other.into()]);
    assert_eq!(
        shop.bench.visit(later).unwrap().guarantee.unwrap().same,
        None
    );
    shop.apply(22, vec![fault(later, "bent-lever", FaultIs::Damage)]);
    let learned = shop.bench.learned(&LearnedFilter::default()).unwrap();
    assert_eq!(
        (learned.came_back.same_cause, learned.came_back.other_cause),
        (0, 1)
    );
}

#[test]
fn income_is_exact_by_month_and_a_credit_note_takes_back_in_its_own_month() {
    let shop = told();
    let bill = |on: &str, lines: Vec<BillLine>| {
        Change::from(BillIssued {
            visit: VisitId::new(1),
            on: on.parse().unwrap(),
            due_on: None,
            lines,
            currency: settings().currency,
            tax_name: "sales tax".to_owned(),
            note: String::new(),
        })
    };
    shop.apply(
        10,
        vec![
            bill(
                "2026-10-01",
                vec![line("0.07", Some("10")), line("0.07", Some("10"))],
            ),
            bill(
                "2026-10-31",
                vec![line("100.10", Some("19")), line("5", None)],
            ),
            bill("2026-12-01", vec![line("0.20", None)]),
            CreditIssued {
                bill: BillId::new(1),
                on: "2026-11-02".parse().unwrap(),
                lines: vec![line("0.07", Some("10"))],
                reason: "half".to_owned(),
            }
            .into(),
        ],
    );
    let income = |filter: &LearnedFilter| -> Vec<String> {
        let learned = shop.bench.learned(filter).unwrap();
        let told = learned.income.iter().map(|it| {
            format!(
                "{} {} {} {} {}",
                it.month, it.currency, it.net, it.tax, it.gross
            )
        });
        told.collect()
    };
    // 0.14 at 10 % bears 0.01 of tax; what is left after the credit note, 0.07, bears 0.01 too.
    assert_eq!(
        income(&LearnedFilter::default()),
        [
            "2026-10-01 XTS 105.24 19.03 124.27",
            "2026-11-01 XTS -0.07 0.00 -0.07",
            "2026-12-01 XTS 0.20 0 0.20",
        ]
    );
    let from = LearnedFilter {
        from: Some("2026-11-01".parse().unwrap()),
        to: Some("2026-11-30".parse().unwrap()),
        ..LearnedFilter::default()
    };
    assert_eq!(income(&from), ["2026-11-01 XTS -0.07 0.00 -0.07"]);
    let of_model = |notes_id: &str| LearnedFilter {
        notes_id: Some(notes_id.to_owned()),
        ..LearnedFilter::default()
    };
    assert_eq!(income(&of_model("corran-66")).len(), 3);
    assert!(income(&of_model("sprat")).is_empty());
    assert_eq!(shop.bench.learned(&of_model("sprat")).unwrap().visits, 0);
    assert_eq!(
        shop.bench.learned(&of_model("corran-66")).unwrap().visits,
        2
    );
    let early = LearnedFilter {
        to: Some("2026-09-20".parse().unwrap()),
        ..LearnedFilter::default()
    };
    assert_eq!(shop.bench.learned(&early).unwrap().visits, 0);
}
