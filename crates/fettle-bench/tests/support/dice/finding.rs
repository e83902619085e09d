//! What is found, and quotes.

use fettle_bench::{
    Change, CircumstanceKnown, Currency, EarlierHandsNoted, FaultId, FaultIs, FaultRecorded, Found,
    Grade, LineFor, Number, QuoteAnswered, QuoteId, QuoteKind, QuoteLine, QuoteMade, Seen,
    SignObserved, StripOrdered, Term, VisitId,
};

use super::Dice;

pub(super) fn throw(like: &Change, visit: VisitId, dice: &mut Dice<'_>) -> Change {
    match like {
        Change::SignObserved(_) => SignObserved {
            visit,
            sign: dice.term(),
            seen: dice.pick(Seen::ALL),
            numbers: vec![Number {
                name: dice.line(),
                value: dice.number(),
                unit: "mm".to_owned(),
            }],
            note: dice.text(),
        }
        .into(),
        Change::CircumstanceKnown(_) => CircumstanceKnown {
            visit,
            circumstance: dice.term(),
            known: dice.pick(Seen::ALL),
            note: dice.text(),
        }
        .into(),
        Change::EarlierHandsNoted(_) => EarlierHandsNoted {
            visit,
            at: dice.line(),
            what: dice.line(),
        }
        .into(),
        Change::FaultRecorded(_) => FaultRecorded {
            visit,
            fault: dice.term(),
            is: dice.pick(FaultIs::ALL),
            found: dice.pick(Found::ALL),
            because_of: dice.yes().then(|| FaultId::new(dice.id())),
            note: dice.text(),
        }
        .into(),
        Change::QuoteMade(_) => quote(visit, dice).into(),
        Change::QuoteAnswered(_) => QuoteAnswered {
            visit,
            quote: QuoteId::new(dice.id()),
            agreed: dice.yes(),
            words: dice.text(),
            on: dice.day(),
        }
        .into(),
        Change::StripOrdered(_) => StripOrdered {
            visit,
            ordered: dice.yes(),
        }
        .into(),
        other => panic!("{other:?} is thrown elsewhere"),
    }
}

fn quote(visit: VisitId, dice: &mut Dice<'_>) -> QuoteMade {
    let lines = (0..=dice.upto(2))
        .map(|_| QuoteLine {
            line_for: dice.pick(LineFor::ALL),
            what: dice.term(),
            grade: dice.yes().then(|| dice.pick(Grade::ALL)),
            quantity: dice.yes().then(|| dice.upto(4)),
            minutes_likely: dice.yes().then_some(30.5),
            minutes_nine_in_ten: dice.yes().then_some(45.25),
            amount: dice.pick(&["12.50", "0.10", "-3"]).parse().unwrap(),
        })
        .collect();
    QuoteMade {
        kind: dice.pick(QuoteKind::ALL),
        tax_percent: dice.percent(),
        tax_name: dice.line(),
        deposit: dice.yes().then(|| "0.05".parse().unwrap()),
        valid_until: dice.yes().then(|| dice.day()),
        ..QuoteMade::new(visit, lines, Currency::new("XTS").unwrap(), dice.text())
    }
}

/// One change of each of these kinds, only for its kind.
pub(super) fn kinds() -> Vec<Change> {
    let visit = VisitId::new(1);
    let term = || Term::own("x");
    let text = String::new;
    let day = || "2026-09-01".parse().unwrap();
    vec![
        SignObserved {
            visit,
            sign: term(),
            seen: Seen::Yes,
            numbers: Vec::new(),
            note: text(),
        }
        .into(),
        CircumstanceKnown {
            visit,
            circumstance: term(),
            known: Seen::Yes,
            note: text(),
        }
        .into(),
        EarlierHandsNoted {
            visit,
            at: text(),
            what: text(),
        }
        .into(),
        FaultRecorded {
            visit,
            fault: term(),
            is: FaultIs::Cause,
            found: Found::Found,
            because_of: None,
            note: text(),
        }
        .into(),
        QuoteMade::new(visit, Vec::new(), Currency::new("XTS").unwrap(), "").into(),
        QuoteAnswered {
            visit,
            quote: QuoteId::new(1),
            agreed: true,
            words: text(),
            on: day(),
        }
        .into(),
        StripOrdered {
            visit,
            ordered: true,
        }
        .into(),
    ]
}
