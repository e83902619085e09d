//! Writes bills, credit notes and payments.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rust_decimal::Decimal;

use super::{
    check::{check_count, check_line, check_payable, check_percent, check_prose},
    door::{Door, Outcome, Refusal, VisitRow},
};
use crate::{
    change::{BillIssued, BillLine, CreditIssued, PaymentReceived, taxed},
    ids::{BillId, PaymentId},
    journal::Made,
    money::{Currency, Money, by_rate},
    read::{Charged, charged},
};

/// Sums of lines by their rate of tax.
type Nets = BTreeMap<Option<Decimal>, Decimal>;

pub(crate) fn issue(door: &mut Door<'_>, mut it: BillIssued) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_prose("note", &it.note, false)?;
    let nets = check_lines(&it.lines, it.currency)?;
    if let Some((rate, net)) = nets.iter().find(|(_, net)| **net < Decimal::ZERO) {
        return Err(Refusal::rule(
            "lines",
            format!(
                "what {} comes to {net}: take off no more than is charged",
                bearing(*rate)
            ),
        ));
    }
    let taxed = it.lines.iter().any(|line| line.tax_percent.is_some());
    check_line("tax_name", &it.tax_name, taxed)?;
    if let Some(due) = it.due_on
        && due < it.on
    {
        return Err(Refusal::rule(
            "due_on",
            format!("is {due}, before the bill of {}", it.on),
        ));
    }
    let totals = it.totals().ok_or_else(too_large)?;
    let head = Head {
        credits: None,
        on: it.on,
        due_on: it.due_on,
        currency: it.currency,
        tax_name: &it.tax_name,
        note: &it.note,
    };
    let id = write(door, &visit, &head, &it.lines)?;
    let told = crate::change::with(
        &format!("bill {id} issued"),
        &Money::new(totals.gross, it.currency).to_string(),
        &it.note,
    );
    Ok(Outcome::new(it, Made::Bill(id)).at(&visit).telling(told))
}

pub(crate) fn credit(door: &mut Door<'_>, mut it: CreditIssued) -> Result<Outcome, Refusal> {
    it.bill = door.known("bill", it.bill)?;
    check_prose("reason", &it.reason, true)?;
    let bill = charged(door.connection, it.bill)?;
    if let Some(of) = bill.credits {
        return Err(Refusal::rule(
            "bill",
            format!(
                "{} is itself a credit note, on bill {of}: name the bill",
                it.bill
            ),
        ));
    }
    if it.on < bill.on {
        return Err(Refusal::rule(
            "on",
            format!("is {}, before the bill of {}", it.on, bill.on),
        ));
    }
    let visit = door.visit(bill.visit)?;
    let nets = check_lines(&it.lines, bill.currency)?;
    check_left(&nets, &bill)?;
    let net: Decimal = nets.values().sum();
    let head = Head {
        credits: Some(it.bill),
        on: it.on,
        due_on: None,
        currency: bill.currency,
        tax_name: &bill.tax_name,
        note: &it.reason,
    };
    let id = write(door, &visit, &head, &it.lines)?;
    let told = format!(
        "credit note {id} on bill {}: {} before tax, {}",
        it.bill,
        Money::new(net, bill.currency),
        it.reason
    );
    Ok(Outcome::new(it, Made::Bill(id)).at(&visit).telling(told))
}

/// A credit note takes back something, of each rate no more than the bill and its credit notes have left.
fn check_left(nets: &Nets, bill: &Charged) -> Result<(), Refusal> {
    for (rate, net) in nets {
        let left = bill.left.get(rate).copied().unwrap_or(Decimal::ZERO);
        if *net < Decimal::ZERO || *net > left {
            return Err(Refusal::rule(
                "lines",
                format!(
                    "what {} comes to {net}: of that the bill has {left} left, give 0 to {left}",
                    bearing(*rate)
                ),
            ));
        }
    }
    if nets.values().all(Decimal::is_zero) {
        return Err(Refusal::rule(
            "lines",
            "come to 0: a credit note takes something back",
        ));
    }
    Ok(())
}

pub(crate) fn receive(door: &mut Door<'_>, mut it: PaymentReceived) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_payable("amount", it.amount.amount, it.amount.currency)?;
    if it.amount.amount.is_zero() {
        return Err(Refusal::rule("amount", "is 0: say how much was paid"));
    }
    check_line("how", &it.how, false)?;
    check_prose("note", &it.note, false)?;
    let at = door.at.clone();
    let id = door.insert(
        "payment",
        &[
            ("visit_id", &visit.id.get()),
            ("paid_amount", &it.amount.amount.to_string()),
            ("paid_currency", &it.amount.currency.as_str()),
            ("paid_on", &it.on.to_string()),
            ("how", &it.how),
            ("note", &it.note),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Payment(PaymentId::new(id))).at(&visit))
}

/// The lines' sums by their rates; the lines must be payable.
fn check_lines(lines: &[BillLine], currency: Currency) -> Result<Nets, Refusal> {
    if lines.is_empty() {
        return Err(Refusal::rule("lines", "has none: give at least one line"));
    }
    check_count("lines", lines.len())?;
    for line in lines {
        check_line("lines", &line.words, true)?;
        check_payable("lines", line.amount, currency)?;
        check_percent("lines", line.tax_percent)?;
    }
    by_rate(taxed(lines)).ok_or_else(too_large)
}

fn too_large() -> Refusal {
    Refusal::rule("lines", "add up to more than exact decimals can hold")
}

fn bearing(rate: Option<Decimal>) -> String {
    rate.map_or_else(
        || "bears no tax".to_owned(),
        |percent| format!("bears {} % tax", percent.normalize()),
    )
}

/// What a bill and a credit note have in common.
struct Head<'h> {
    credits: Option<BillId>,
    on: Date,
    due_on: Option<Date>,
    currency: Currency,
    tax_name: &'h str,
    note: &'h str,
}

fn write(
    door: &mut Door<'_>,
    visit: &VisitRow,
    head: &Head<'_>,
    lines: &[BillLine],
) -> rusqlite::Result<BillId> {
    let at = door.at.clone();
    let credits = head.credits.map(BillId::get);
    let due_on = head.due_on.map(|day| day.to_string());
    let id = door.insert(
        "bill",
        &[
            ("visit_id", &visit.id.get()),
            ("credits_id", &credits),
            ("issued_on", &head.on.to_string()),
            ("due_on", &due_on),
            ("currency", &head.currency.as_str()),
            ("tax_name", &head.tax_name),
            ("note", &head.note),
            ("at_utc", &at),
        ],
    )?;
    for line in lines {
        let tax = line.tax_percent.map(|percent| percent.to_string());
        door.insert(
            "bill_line",
            &[
                ("bill_id", &id),
                ("words", &line.words),
                ("quantity", &line.quantity),
                ("amount", &line.amount.to_string()),
                ("tax_percent", &tax),
            ],
        )?;
    }
    Ok(BillId::new(id))
}
