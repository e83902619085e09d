//! Bills, credit notes and payments.

use fettle_bench::{
    BillId, BillIssued, BillLine, Change, CreditIssued, Currency, Money, PaymentReceived, VisitId,
};

use super::Dice;

pub(super) fn throw(like: &Change, visit: VisitId, dice: &mut Dice<'_>) -> Change {
    match like {
        Change::BillIssued(_) => BillIssued {
            visit,
            on: dice.day(),
            due_on: dice.yes().then(|| dice.day()),
            lines: lines(dice, &["120.00", "12.50", "0.10", "-3"]),
            currency: Currency::new("XTS").unwrap(),
            tax_name: dice.line(),
            note: dice.text(),
        }
        .into(),
        Change::CreditIssued(_) => CreditIssued {
            bill: BillId::new(dice.id()),
            on: "2026-09-28".parse().unwrap(),
            lines: lines(dice, &["0.10", "0.05", "3.33"]),
            reason: dice.line(),
        }
        .into(),
        Change::PaymentReceived(_) => PaymentReceived {
            visit,
            amount: Money::new(
                dice.pick(&["50.00", "0.1", "-20", "1200"]).parse().unwrap(),
                Currency::new(dice.pick(&["XTS", "EUR"])).unwrap(),
            ),
            on: dice.day(),
            how: dice.line(),
            note: dice.text(),
        }
        .into(),
        other => panic!("{other:?} is thrown elsewhere"),
    }
}

/// One or two lines of a few rates, so that a credit note meets what a bill charged.
fn lines(dice: &mut Dice<'_>, amounts: &[&str]) -> Vec<BillLine> {
    (0..=dice.upto(1))
        .map(|_| BillLine {
            words: dice.line(),
            quantity: dice.yes().then(|| dice.upto(4)),
            amount: dice.pick(amounts).parse().unwrap(),
            tax_percent: dice
                .yes()
                .then(|| dice.pick(&["19", "19.00"]).parse().unwrap()),
        })
        .collect()
}

/// One change of each of these kinds, only for its kind.
pub(super) fn kinds() -> Vec<Change> {
    let visit = VisitId::new(1);
    let text = String::new;
    let day = || "2026-09-01".parse().unwrap();
    vec![
        BillIssued {
            visit,
            on: day(),
            due_on: None,
            lines: Vec::new(),
            currency: Currency::new("XTS").unwrap(),
            tax_name: text(),
            note: text(),
        }
        .into(),
        CreditIssued {
            bill: BillId::new(1),
            on: day(),
            lines: Vec::new(),
            reason: text(),
        }
        .into(),
        PaymentReceived {
            visit,
            amount: Money::new(1.into(), Currency::new("XTS").unwrap()),
            on: day(),
            how: text(),
            note: text(),
        }
        .into(),
    ]
}
