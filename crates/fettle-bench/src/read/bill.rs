//! Bills with their credit notes.

use std::collections::{BTreeMap, HashMap};

use jiff::civil::Date;
use rusqlite::{Connection, Row};
use rust_decimal::Decimal;

use super::row::{currency, day, day_if, decimal, decimal_if, time, unreadable};
use crate::{
    change::{BillIssued, BillLine, CreditIssued, taxed},
    ids::{BillId, EntryId, VisitId},
    money::{Currency, TaxLine, Totals, by_rate, sum, tax_on},
    view::{Bill, Credit},
};

type Read<T> = rusqlite::Result<T>;

/// Sums of lines by their rate of tax.
type Nets = BTreeMap<Option<Decimal>, Decimal>;

/// A bill as a credit note on it must know it.
pub(crate) struct Charged {
    pub(crate) visit: VisitId,
    /// The bill that it takes back, when it is a credit note.
    pub(crate) credits: Option<BillId>,
    pub(crate) on: Date,
    pub(crate) currency: Currency,
    pub(crate) tax_name: String,
    /// What its credit notes have left of it, before tax.
    pub(crate) left: Nets,
}

pub(crate) fn charged(connection: &Connection, bill: BillId) -> Read<Charged> {
    let lines: Vec<(Decimal, Option<Decimal>)> = connection
        .prepare_cached(
            "SELECT b.credits_id IS NULL, l.amount, l.tax_percent \
             FROM bill b JOIN bill_line l ON l.bill_id = b.id WHERE b.id = ?1 OR b.credits_id = ?1",
        )?
        .query_map([bill.get()], |row| {
            let amount = decimal(row, 1)?;
            let charged: bool = row.get(0)?;
            Ok((if charged { amount } else { -amount }, decimal_if(row, 2)?))
        })?
        .collect::<Read<_>>()?;
    let left = by_rate(lines).ok_or_else(not_added)?;
    connection
        .prepare_cached(
            "SELECT visit_id, credits_id, issued_on, currency, tax_name FROM bill WHERE id = ?1",
        )?
        .query_row([bill.get()], |row| {
            Ok(Charged {
                visit: VisitId::new(row.get(0)?),
                credits: row.get::<_, Option<i64>>(1)?.map(BillId::new),
                on: day(row, 2)?,
                currency: currency(row, 3)?,
                tax_name: row.get(4)?,
                left,
            })
        })
}

/// The bills of a visit by their numbers, nothing of them paid yet; `entry` gives the entry that issued one.
pub(crate) fn bills(
    connection: &Connection,
    visit: VisitId,
    entry: impl Fn(BillId) -> EntryId,
) -> Read<Vec<Bill>> {
    let mut lines = lines(connection, visit)?;
    let mut statement = connection.prepare_cached(
        "SELECT id, at_utc, credits_id, issued_on, due_on, currency, tax_name, note \
         FROM bill WHERE visit_id = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([visit.get()])?;
    let mut bills: Vec<Bill> = Vec::new();
    while let Some(row) = rows.next()? {
        let id = BillId::new(row.get(0)?);
        let lines = lines.remove(&id).unwrap_or_default();
        match row.get::<_, Option<i64>>(2)?.map(BillId::new) {
            None => bills.push(bill(row, visit, id, entry(id), lines)?),
            Some(of) => {
                let bill = bills.iter_mut().find(|bill| bill.id == of);
                let bill = bill.ok_or_else(|| {
                    unreadable(2, format!("credit note {id} is on no bill of its visit"))
                })?;
                let totals = credit_totals(bill, &lines).ok_or_else(not_added)?;
                bill.credits.push(Credit {
                    id,
                    entry: entry(id),
                    at: time(row, 1)?,
                    what: CreditIssued {
                        bill: of,
                        on: day(row, 3)?,
                        lines,
                        reason: row.get(7)?,
                    },
                    totals,
                });
            }
        }
    }
    Ok(bills)
}

fn bill(
    row: &Row<'_>,
    visit: VisitId,
    id: BillId,
    entry: EntryId,
    lines: Vec<BillLine>,
) -> Read<Bill> {
    let what = BillIssued {
        visit,
        on: day(row, 3)?,
        due_on: day_if(row, 4)?,
        lines,
        currency: currency(row, 5)?,
        tax_name: row.get(6)?,
        note: row.get(7)?,
    };
    let totals = what.totals().ok_or_else(not_added)?;
    Ok(Bill {
        id,
        entry,
        at: time(row, 1)?,
        open: totals.gross,
        what,
        totals,
        credits: Vec::new(),
    })
}

fn lines(connection: &Connection, visit: VisitId) -> Read<HashMap<BillId, Vec<BillLine>>> {
    let mut lines: HashMap<BillId, Vec<BillLine>> = HashMap::new();
    let mut statement = connection.prepare_cached(
        "SELECT l.bill_id, l.words, l.quantity, l.amount, l.tax_percent \
         FROM bill b JOIN bill_line l ON l.bill_id = b.id WHERE b.visit_id = ?1 ORDER BY l.id",
    )?;
    let mut rows = statement.query([visit.get()])?;
    while let Some(row) = rows.next()? {
        let line = BillLine {
            words: row.get(1)?,
            quantity: row.get(2)?,
            amount: decimal(row, 3)?,
            tax_percent: decimal_if(row, 4)?,
        };
        lines
            .entry(BillId::new(row.get(0)?))
            .or_default()
            .push(line);
    }
    Ok(lines)
}

/// A credit note after those on the bill before it. Its tax is what the tax on what is left of the bill falls by: were it reckoned on
/// its own lines, two notes that together take back the whole bill could take back a coin more or less of tax than the bill bears.
fn credit_totals(bill: &Bill, lines: &[BillLine]) -> Option<Totals> {
    let earlier = bill.credits.iter().flat_map(|it| taxed(&it.what.lines));
    let earlier = earlier.map(|(amount, rate)| (-amount, rate));
    let left = by_rate(taxed(&bill.what.lines).chain(earlier))?;
    let nets = by_rate(taxed(lines))?;
    let taxes = credit_taxes(&left, &nets, bill.what.currency)?;
    Totals::from_parts(nets.into_values(), taxes)
}

/// What the tax on what is left of a bill falls by when so much of it is taken back.
pub(crate) fn credit_taxes(left: &Nets, nets: &Nets, currency: Currency) -> Option<Vec<TaxLine>> {
    let mut taxes = Vec::new();
    for (rate, net) in nets {
        let Some(percent) = *rate else { continue };
        let before = left.get(rate).copied().unwrap_or_default();
        let tax = |net| tax_on(net, percent, currency);
        taxes.push(TaxLine {
            percent,
            net: *net,
            tax: sum([tax(before)?, -tax(sum([before, -*net])?)?])?,
        });
    }
    Some(taxes)
}

pub(crate) fn not_added() -> rusqlite::Error {
    unreadable(0, "the lines of a bill cannot be added up".to_owned())
}
