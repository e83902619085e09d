//! Alternatives side by side, extra work, and what the owner agreed to.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use fettle_bench::{
    Change, LineFor, NextStep, QuoteAnswered, QuoteId, QuoteKind, QuoteLine, QuoteMade, Stage,
    Term, Undo, VisitId,
};
use support::{Shop, settings, shop, today};

const VISIT: VisitId = VisitId::new(1);

fn quote(kind: QuoteKind, amount: &str) -> QuoteMade {
    let line = QuoteLine {
        line_for: LineFor::Work,
        what: Term::own("clean it"),
        grade: None,
        quantity: None,
        minutes_likely: None,
        minutes_nine_in_ten: None,
        amount: amount.parse().unwrap(),
    };
    QuoteMade {
        kind,
        ..QuoteMade::new(VISIT, vec![line], settings().currency, "")
    }
}

fn answer(quote: i64, agreed: bool) -> Change {
    QuoteAnswered {
        visit: VISIT,
        quote: QuoteId::new(quote),
        agreed,
        words: "as you think best".to_owned(),
        on: "2026-09-24".parse().unwrap(),
    }
    .into()
}

/// A camera looked over, with a repair, an overhaul and the return quoted.
fn offered() -> Shop {
    let shop = shop();
    shop.arrive(1);
    shop.go(2, VISIT, &[Stage::LookedOver]);
    for kind in [
        QuoteKind::Repair,
        QuoteKind::Overhaul,
        QuoteKind::ReturnUnrepaired,
    ] {
        shop.apply(3, vec![quote(kind, "30").into()]);
    }
    shop
}

/// The answers so far, and the numbers of the quotes that count.
fn stands(shop: &Shop) -> (Vec<Option<bool>>, Vec<i64>) {
    let view = shop.bench.visit(VISIT).unwrap();
    let answers = view
        .quotes
        .iter()
        .map(|it| Some(it.answer.as_ref()?.agreed));
    let agreed = view.agreed().into_iter().map(|it| it.id.get());
    (answers.collect(), agreed.collect())
}

fn next(shop: &Shop) -> NextStep {
    shop.bench.visit(VISIT).unwrap().line.next
}

#[test]
fn alternatives_stand_open_side_by_side_and_one_agreed_to_declines_the_others() {
    let shop = offered();
    assert_eq!(stands(&shop), (vec![None, None, None], vec![]));
    assert_eq!(next(&shop), NextStep::Answer);
    shop.apply(4, vec![answer(1, false)]);
    assert_eq!(next(&shop), NextStep::Answer);
    let agreed = shop.apply(5, vec![answer(2, true)]);
    let all = vec![Some(false), Some(true), Some(false)];
    assert_eq!(stands(&shop), (all, vec![2]));
    let view = shop.bench.visit(VISIT).unwrap();
    let declined = view.quotes[2].answer.clone().unwrap();
    assert_eq!(
        (declined.words, declined.on.to_string()),
        (String::new(), "2026-09-24".to_owned())
    );
    assert_eq!(next(&shop), NextStep::Agree);
    // Undone, the third stands open again.
    let entry = agreed.entries[0];
    shop.apply(6, vec![Undo { entry }.into()]);
    assert_eq!(stands(&shop), (vec![Some(false), None, None], vec![]));
}

#[test]
fn the_return_agreed_to_asks_for_the_return_and_so_do_all_alternatives_declined() {
    let shop = offered();
    shop.apply(4, vec![answer(3, true)]);
    assert_eq!(next(&shop), NextStep::Return);
    let shop = offered();
    shop.apply(
        4,
        vec![answer(1, false), answer(2, false), answer(3, false)],
    );
    assert_eq!(next(&shop), NextStep::Return);
    // A better offer is open again, though all before it were declined.
    shop.apply(5, vec![quote(QuoteKind::Repair, "20").into()]);
    assert_eq!(next(&shop), NextStep::Answer);
}

#[test]
fn extra_work_is_answered_by_itself_and_counts_only_when_agreed_to() {
    let shop = offered();
    shop.apply(4, vec![answer(1, true)]);
    shop.go(5, VISIT, &[Stage::Agreed, Stage::Apart]);
    assert_eq!(next(&shop), NextStep::PutTogether);
    shop.apply(
        6,
        vec![
            quote(QuoteKind::Extra, "12").into(),
            quote(QuoteKind::Extra, "13").into(),
        ],
    );
    assert_eq!(next(&shop), NextStep::Answer);
    assert_eq!(shop.bench.today(today()).unwrap().waiting.len(), 1);
    assert_eq!(stands(&shop).1, [1]);
    shop.apply(7, vec![answer(4, true), answer(5, false)]);
    assert_eq!(stands(&shop).1, [1, 4]);
    assert_eq!(next(&shop), NextStep::PutTogether);
    // Agreeing to extra work declines nothing: a later alternative stays open.
    shop.apply(8, vec![quote(QuoteKind::Overhaul, "80").into()]);
    shop.apply(
        9,
        vec![quote(QuoteKind::Extra, "3").into(), answer(7, true)],
    );
    assert_eq!(stands(&shop).0[5], None);
    // The last alternative agreed to counts in the place of the first.
    shop.apply(10, vec![answer(6, true)]);
    assert_eq!(stands(&shop).1, [6, 4, 7]);
}

#[test]
fn a_quote_carries_its_tax_deposit_and_last_day() {
    let shop = shop();
    shop.arrive(1);
    let it = QuoteMade {
        tax_percent: Some("19".parse().unwrap()),
        tax_name: "sales tax".to_owned(),
        deposit: Some("10".parse().unwrap()),
        valid_until: Some("2026-10-20".parse().unwrap()),
        ..quote(QuoteKind::Repair, "10.03")
    };
    shop.apply(2, vec![it.clone().into()]);
    let view = shop.bench.visit(VISIT).unwrap();
    assert_eq!(view.quotes[0].what, it);
    assert_eq!(view.quotes[0].totals.gross.to_string(), "11.94");
    for (bad, want) in [
        (
            QuoteMade {
                tax_name: String::new(),
                ..it.clone()
            },
            "tax_name: is empty",
        ),
        (
            QuoteMade {
                deposit: Some("11.95".parse().unwrap()),
                ..it.clone()
            },
            "deposit: is 11.95: give 0 to 11.94, which is the whole with tax",
        ),
        (
            QuoteMade {
                deposit: Some("1.001".parse().unwrap()),
                ..it.clone()
            },
            "deposit: is 1.001, but XTS has no coin smaller",
        ),
        (
            QuoteMade {
                tax_percent: Some("-1".parse().unwrap()),
                ..it
            },
            "tax_percent: is -1 %: give 0 to 100",
        ),
    ] {
        let told = shop.refusal(3, vec![bad.into()]);
        assert!(told.contains(want), "{told}");
    }
}
