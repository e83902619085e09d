//! Bills, credit notes and payments: what is refused, what is open, and that numbers have no gaps.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use fettle_bench::{
    BillId, BillIssued, BillLine, Change, CreditIssued, Currency, Decimal, Money, PaymentReceived,
    Undo, VisitId, VisitView,
};
use proptest::prelude::*;
use support::{Shop, shop};

const VISIT: VisitId = VisitId::new(1);

fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

fn line(amount: &str, percent: Option<&str>) -> BillLine {
    BillLine {
        words: "cleaning".to_owned(),
        quantity: None,
        amount: decimal(amount),
        tax_percent: percent.map(decimal),
    }
}

fn bill(lines: Vec<BillLine>) -> BillIssued {
    BillIssued {
        visit: VISIT,
        on: "2026-09-30".parse().unwrap(),
        due_on: None,
        lines,
        currency: Currency::new("XTS").unwrap(),
        tax_name: "sales tax".to_owned(),
        note: String::new(),
    }
}

fn credit(of: i64, lines: Vec<BillLine>) -> Change {
    CreditIssued {
        bill: BillId::new(of),
        on: "2026-10-02".parse().unwrap(),
        lines,
        reason: "the spring was not replaced".to_owned(),
    }
    .into()
}

fn payment(amount: &str, currency: &str) -> Change {
    PaymentReceived {
        visit: VISIT,
        amount: Money::new(decimal(amount), Currency::new(currency).unwrap()),
        on: "2026-10-01".parse().unwrap(),
        how: "bank".to_owned(),
        note: String::new(),
    }
    .into()
}

fn shop_with_a_visit() -> Shop {
    let shop = shop();
    shop.arrive(1);
    shop
}

fn view(shop: &Shop) -> VisitView {
    shop.bench.visit(VISIT).unwrap()
}

#[test]
fn numbers_have_no_gap_though_some_are_refused_and_credit_notes_share_them() {
    let shop = shop_with_a_visit();
    let first = shop.apply(2, vec![bill(vec![line("100", Some("19"))]).into()]);
    assert_eq!(first.bill(), Some(BillId::new(1)));
    shop.refusal(3, vec![bill(vec![line("1.005", None)]).into()]);
    // Two at once of which the second is refused: the first takes no number either.
    shop.refusal(
        4,
        vec![bill(vec![line("1", None)]).into(), bill(Vec::new()).into()],
    );
    let second = shop.apply(5, vec![credit(1, vec![line("20", Some("19"))])]);
    assert_eq!(second.bill(), Some(BillId::new(2)));
    let third = shop.apply(6, vec![bill(vec![line("7", None)]).into()]);
    assert_eq!(third.bill(), Some(BillId::new(3)));
    let told = shop.bench.entry(first.entries[0]).unwrap().0.sentence;
    assert_eq!(told, "bill 1 issued: XTS 119.00");
}

#[test]
fn a_bill_and_what_it_hangs_on_stand_for_good() {
    let shop = shop_with_a_visit();
    let issued = shop.apply(2, vec![bill(vec![line("100", None)]).into()]);
    let credited = shop.apply(3, vec![credit(1, vec![line("100", None)])]);
    for entry in [issued.entries[0], credited.entries[0]] {
        let told = shop.refusal(4, vec![Undo { entry }.into()]);
        assert!(
            told.contains("stand for good: write a credit note"),
            "{told}"
        );
    }
    // The visit's arrival: the bill would hang on nothing.
    let arrival = shop
        .bench
        .journal(fettle_bench::Page::first(10))
        .unwrap()
        .lines
        .iter()
        .find(|entry| entry.kind == "visit-opened")
        .map(|entry| entry.id)
        .unwrap();
    let told = shop.refusal(5, vec![Undo { entry: arrival }.into()]);
    assert!(told.contains("a bill stands for good"), "{told}");
    let connection = rusqlite::Connection::open(shop.dir.path().join("bench.db")).unwrap();
    for sql in [
        "DELETE FROM bill",
        "DELETE FROM bill_line",
        "UPDATE bill SET id = 9 WHERE id = 2",
        "UPDATE bill_line SET amount = '1'",
    ] {
        assert!(connection.execute(sql, []).is_err(), "{sql}");
    }
}

#[test]
fn what_a_bill_refuses_is_told_with_the_way_out() {
    let shop = shop_with_a_visit();
    shop.apply(
        2,
        vec![bill(vec![line("100", Some("19")), line("5", None)]).into()],
    );
    shop.apply(3, vec![credit(1, vec![line("60", Some("19.0"))])]);
    let cases: Vec<(Change, &str)> = vec![
        (bill(Vec::new()).into(), "lines: has none"),
        (
            bill(vec![line("1.005", None)]).into(),
            "is 1.005, but XTS has no coin smaller than 0.01: round it",
        ),
        (
            bill(vec![line("1000000000000.01", None)]).into(),
            "the most is 1000000000000",
        ),
        (
            bill(vec![line("10", Some("19")), line("-11", Some("19"))]).into(),
            "what bears 19 % tax comes to -1: take off no more than is charged",
        ),
        (
            bill(vec![line("10", Some("101"))]).into(),
            "is 101 %: give 0 to 100",
        ),
        (
            BillIssued {
                tax_name: String::new(),
                ..bill(vec![line("10", Some("19"))])
            }
            .into(),
            "tax_name: is empty",
        ),
        (
            BillIssued {
                due_on: Some("2026-09-29".parse().unwrap()),
                ..bill(vec![line("10", None)])
            }
            .into(),
            "due_on: is 2026-09-29, before the bill of 2026-09-30",
        ),
        (
            credit(1, vec![line("40.01", Some("19"))]),
            "comes to 40.01: of that the bill has 40 left, give 0 to 40",
        ),
        (
            credit(1, vec![line("1", Some("7"))]),
            "what bears 7 % tax comes to 1: of that the bill has 0 left",
        ),
        (
            credit(1, vec![line("-1", None)]),
            "what bears no tax comes to -1",
        ),
        (
            credit(1, vec![line("1", None), line("-1", None)]),
            "come to 0: a credit note takes something back",
        ),
        (
            credit(2, vec![line("1", None)]),
            "2 is itself a credit note, on bill 1: name the bill",
        ),
        (credit(9, vec![line("1", None)]), "there is no bill 9"),
        (payment("0", "XTS"), "is 0: say how much was paid"),
        (payment("0.001", "XTS"), "no coin smaller than 0.01"),
        (payment("0.5", "JPY"), "no coin smaller than 1"),
    ];
    for (change, want) in cases {
        let told = shop.refusal(4, vec![change.clone()]);
        assert!(told.contains(want), "{told}\ndoes not say\n{want}");
    }
}

#[test]
fn payments_settle_the_bills_in_the_order_of_their_numbers() {
    let shop = shop_with_a_visit();
    let open = |want: &[&str]| {
        let open: Vec<String> = view(&shop)
            .bills
            .iter()
            .map(|it| it.open.to_string())
            .collect();
        assert_eq!(open, want);
    };
    let owed = |want: &[&str]| {
        let owed: Vec<String> = view(&shop).owed().iter().map(Money::to_string).collect();
        assert_eq!(owed, want);
    };
    // A deposit before there is a bill.
    shop.apply(2, vec![payment("50", "XTS")]);
    owed(&["XTS -50.00"]);
    shop.apply(3, vec![bill(vec![line("100.00", Some("10"))]).into()]);
    open(&["60.00"]);
    owed(&["XTS 60.00"]);
    shop.apply(4, vec![bill(vec![line("20.00", None)]).into()]);
    // What was paid in another currency settles nothing of these.
    shop.apply(5, vec![payment("500", "EUR")]);
    open(&["60.00", "20.00"]);
    owed(&["EUR -500.00", "XTS 80.00"]);
    let paid = shop.apply(6, vec![payment("65", "XTS")]);
    open(&["0.00", "15.00"]);
    shop.apply(7, vec![credit(2, vec![line("20.00", None)])]);
    open(&["0.00", "0.00"]);
    owed(&["EUR -500.00", "XTS -5.00"]);
    // A payment is an ordinary entry: it can be undone.
    let entry = paid.entries[0];
    shop.apply(8, vec![Undo { entry }.into()]);
    open(&["60.00", "0.00"]);
}

#[test]
fn a_search_finds_a_bill_by_its_lines_and_a_payment_by_how_it_came() {
    let shop = shop_with_a_visit();
    let lines = vec![BillLine {
        words: "shimming the groundglass".to_owned(),
        ..line("5", None)
    }];
    shop.apply(2, vec![bill(lines).into(), payment("5", "XTS")]);
    assert_eq!(
        shop.bench.find("groundglass", 5).unwrap()[0].matched,
        "bill"
    );
    assert_eq!(shop.bench.find("bank", 5).unwrap()[0].matched, "payment");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// However a bill is taken back, piece by piece, in the end nothing is left of it, and on the way never less than nothing.
    #[test]
    fn credit_notes_that_take_back_a_whole_bill_take_back_its_tax_to_the_last_coin(
        amounts in proptest::collection::vec((1_i64..5_000, prop_oneof![Just(None), Just(Some("7.7")), Just(Some("19"))]), 1..6),
        parts in proptest::collection::vec(1_u32..100, 6),
        code in "XTS|JPY|KWD",
    ) {
        let shop = shop_with_a_visit();
        let currency = Currency::new(&code).unwrap();
        let lines: Vec<BillLine> = amounts
            .iter()
            .map(|(coins, rate)| BillLine {
                amount: Decimal::new(*coins, currency.decimals()),
                ..line("0", *rate)
            })
            .collect();
        shop.apply(2, vec![BillIssued { currency, ..bill(lines.clone()) }.into()]);
        for (line, part) in lines.iter().zip(&parts) {
            let coins = line.amount.mantissa();
            let first = coins * i128::from(*part) / 100;
            for coins in [first, coins - first] {
                if coins > 0 {
                    let amount = Decimal::from_i128_with_scale(coins, currency.decimals());
                    shop.apply(3, vec![credit(1, vec![BillLine { amount, ..line.clone() }])]);
                }
                let bill = view(&shop).bills.remove(0);
                prop_assert!(bill.open >= Decimal::ZERO);
                for credit in &bill.credits {
                    prop_assert!(credit.totals.tax >= Decimal::ZERO);
                }
            }
        }
        let bill = view(&shop).bills.remove(0);
        let credited: Decimal = bill.credits.iter().map(|it| it.totals.gross).sum();
        prop_assert_eq!(credited, bill.totals.gross);
        prop_assert_eq!(bill.open, Decimal::ZERO);
    }
}
