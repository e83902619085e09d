//! What visits add to what is learned, from the tables. SQL would add money as floating point, so it is added here.

use std::{
    collections::{BTreeMap, BTreeSet, HashMap, HashSet},
    sync::Arc,
};

use fettle_reason::{Taking, take_together};
use jiff::civil::Date;
use rusqlite::{Connection, Row};
use rust_decimal::Decimal;

use super::{
    bill::credit_taxes,
    line::id_list,
    row::{currency, day, decimal, decimal_if, term, word},
};
use crate::{
    ids::VisitId,
    money::{Currency, Totals, by_rate, sum},
    sums::{Alike, Charge, QuotedMinutes, VisitSum},
    words::{FaultIs, Grade, Stage},
};

type Read<T> = rusqlite::Result<T>;

/// The visits that are asked for: some, or every one.
struct Asked<'c> {
    connection: &'c Connection,
    only: Option<String>,
}

impl Asked<'_> {
    /// Rows of a query that ends in a condition; `visit` is its column that names the visit.
    fn rows(
        &self,
        visit: &str,
        select: &str,
        order: &str,
        mut tell: impl FnMut(VisitId, &Row<'_>) -> Read<()>,
    ) -> Read<()> {
        let condition = match self.only {
            Some(_) => format!("{visit} IN (SELECT value FROM json_each(?1))"),
            None => "?1 IS NULL".to_owned(),
        };
        let sql = format!("SELECT {visit}, {select} AND {condition} ORDER BY {order}");
        let mut statement = self.connection.prepare_cached(&sql)?;
        let mut rows = statement.query([&self.only])?;
        while let Some(row) = rows.next()? {
            tell(VisitId::new(row.get(0)?), row)?;
        }
        Ok(())
    }
}

/// What these visits add, or every visit; those that are gone fall out.
pub(crate) fn sums_of(
    connection: &Connection,
    only: Option<&BTreeSet<VisitId>>,
    alike: &mut Alike,
) -> Read<BTreeMap<VisitId, VisitSum>> {
    let only = only.map(|visits| {
        let ids: Vec<i64> = visits.iter().map(|visit| visit.get()).collect();
        id_list(&ids)
    });
    let asked = Asked { connection, only };
    let mut sums = visits(&asked, alike)?;
    let mut add = |visit: VisitId, add: &mut dyn FnMut(&mut VisitSum)| {
        if let Some(sum) = sums.get_mut(&visit) {
            add(sum);
        }
    };
    asked.rows(
        "visit_id",
        "term_id, words, fault_is FROM fault WHERE found = 'found'",
        "id",
        |visit, row| {
            let is = word(row, 3, FaultIs::from_text)?;
            let fault = alike.term(term(row, 1)?);
            add(visit, &mut |sum| sum.faults.push((is, Arc::clone(&fault))));
            Ok(())
        },
    )?;
    for (of, select) in [
        (
            "visit_id",
            "words, grade, quantity FROM part_fitted WHERE true",
        ),
        (
            "m.visit_id",
            "a.words, l.grade, -m.change_pieces FROM movement m JOIN lot l ON l.id = m.lot_id \
             JOIN part a ON a.id = l.part_id \
             WHERE m.visit_id IS NOT NULL AND m.movement IN ('taken', 'returned')",
        ),
    ] {
        asked.rows(of, select, of, |visit, row| {
            let words = alike.words(row.get_ref(1)?.as_str()?);
            let (grade, pieces) = (word(row, 2, Grade::from_text)?, row.get(3)?);
            add(visit, &mut |sum| {
                sum.parts.push((Arc::clone(&words), grade, pieces));
            });
            Ok(())
        })?;
    }
    asked.rows(
        "visit_id",
        "sent_on FROM sending WHERE true",
        "id",
        |visit, row| {
            let on = day(row, 1)?;
            // The last of them stays.
            add(visit, &mut |sum| {
                sum.sent_after = Some((on - sum.arrived).get_days());
            });
            Ok(())
        },
    )?;
    for (visit, minutes) in quoted(&asked)? {
        add(visit, &mut |sum| sum.quoted = Some(minutes));
    }
    for (visit, charges) in charges(&asked)? {
        add(visit, &mut |sum| sum.charges.clone_from(&charges));
    }
    Ok(sums)
}

fn visits(asked: &Asked<'_>, alike: &mut Alike) -> Read<BTreeMap<VisitId, VisitSum>> {
    let mut sums = BTreeMap::new();
    asked.rows(
        "v.id",
        "v.arrived_on, v.stage, v.unrepaired, v.guarantee_of_id, c.notes_id \
         FROM visit v JOIN camera c ON c.id = v.camera_id WHERE true",
        "v.id",
        |visit, row| {
            let stage = word(row, 2, Stage::from_text)?;
            let notes_id = row.get_ref(5)?.as_str_or_null()?;
            sums.insert(
                visit,
                VisitSum {
                    arrived: day(row, 1)?,
                    finished: matches!(
                        stage,
                        Stage::Proved | Stage::Packed | Stage::Home | Stage::ReturnedUnrepaired
                    ),
                    unrepaired: row.get(3)?,
                    notes_id: notes_id.map(|id| alike.words(id)),
                    guarantee_of: row.get::<_, Option<i64>>(4)?.map(VisitId::new),
                    faults: Vec::new(),
                    quoted: None,
                    parts: Vec::new(),
                    sent_after: None,
                    charges: Some(Vec::new()),
                },
            );
            Ok(())
        },
    )?;
    Ok(sums)
}

/// Of each visit the works that were agreed to and whose minutes were counted: other lines say nothing of how well quotes hold.
fn quoted(asked: &Asked<'_>) -> Read<Vec<(VisitId, QuotedMinutes)>> {
    let mut lines: Vec<(VisitId, String, Taking, f64)> = Vec::new();
    asked.rows(
        "q.visit_id",
        "ifnull(l.term_id, l.words), l.minutes_likely, \
         ifnull(l.minutes_nine_in_ten, l.minutes_likely), \
         (SELECT sum(w.minutes) FROM work w WHERE w.visit_id = q.visit_id \
            AND ifnull(w.term_id, w.words) = ifnull(l.term_id, l.words)) AS took \
         FROM quote q JOIN quote_line l ON l.quote_id = q.id \
         WHERE q.agreed = 1 AND l.line_for = 'work' AND l.minutes_likely > 0 \
         AND (q.quote_kind = 'extra' OR q.id = (SELECT max(id) FROM quote o \
            WHERE o.visit_id = q.visit_id AND o.agreed = 1 AND o.quote_kind <> 'extra'))",
        "q.visit_id",
        |visit, row| {
            let taking = Taking {
                likely: row.get(2)?,
                nine_in_ten: row.get(3)?,
            };
            let took: Option<f64> = row.get(4)?;
            if let Some(took) = took.filter(|minutes| *minutes > 0.0) {
                lines.push((visit, row.get(1)?, taking, took));
            }
            Ok(())
        },
    )?;
    // Sorted and sifted here: asked for in SQL, the minutes would be added up twice.
    lines.sort_by(|a, b| (a.0, &a.1).cmp(&(b.0, &b.1)));
    let quoted = lines.chunk_by(|a, b| a.0 == b.0).filter_map(|of_visit| {
        let each: Vec<Taking> = of_visit.iter().map(|(_, _, taking, _)| *taking).collect();
        let whole = take_together(&each);
        // A work that stands in two lines was done once.
        let works = of_visit.chunk_by(|a, b| a.1 == b.1);
        let minutes = QuotedMinutes {
            likely: whole.likely,
            nine_in_ten: whole.nine_in_ten,
            took: works
                .filter_map(|work| work.first())
                .map(|line| line.3)
                .sum(),
        };
        Some((of_visit.first()?.0, minutes))
    });
    Ok(quoted.collect())
}

/// Sums of lines by their rate of tax.
type Nets = BTreeMap<Option<Decimal>, Decimal>;

/// A line of a bill or credit note.
struct Line {
    visit: VisitId,
    bill: i64,
    /// The bill that it takes back, when it stands on a credit note.
    credits: Option<i64>,
    on: Date,
    currency: Currency,
    line: (Decimal, Option<Decimal>),
}

/// What the bills and credit notes of each visit bring. The tax of a credit note hangs on the bill and on the credit notes before it,
/// which are of the same visit.
fn charges(asked: &Asked<'_>) -> Read<Vec<(VisitId, Option<Vec<Charge>>)>> {
    let mut lines = Vec::new();
    asked.rows(
        "b.visit_id",
        "b.id, b.credits_id, b.issued_on, b.currency, l.amount, l.tax_percent \
         FROM bill b JOIN bill_line l ON l.bill_id = b.id WHERE true",
        "b.visit_id, b.id",
        |visit, row| {
            lines.push(Line {
                visit,
                bill: row.get(1)?,
                credits: row.get(2)?,
                on: day(row, 3)?,
                currency: currency(row, 4)?,
                line: (decimal(row, 5)?, decimal_if(row, 6)?),
            });
            Ok(())
        },
    )?;
    let charges = lines.chunk_by(|a, b| a.visit == b.visit);
    let charges = charges.filter_map(|of_visit| Some((of_visit.first()?.visit, charged(of_visit))));
    Ok(charges.collect())
}

fn charged(lines: &[Line]) -> Option<Vec<Charge>> {
    let credited: HashSet<i64> = lines.iter().filter_map(|it| it.credits).collect();
    let mut left: HashMap<i64, Nets> = HashMap::new();
    let bills = lines.chunk_by(|a, b| a.bill == b.bill);
    let charges = bills.filter_map(|lines| Some((lines.first()?, lines)));
    let charges = charges.map(|(head, lines)| {
        let (net, tax) = comes_to(head, lines, &credited, &mut left)?;
        Some(Charge {
            on: head.on,
            currency: head.currency,
            net,
            tax,
        })
    });
    charges.collect()
}

/// What a bill brings before tax, and its tax; below zero for a credit note. `left` is what credit notes have left of the bills that
/// some take back.
fn comes_to(
    head: &Line,
    lines: &[Line],
    credited: &HashSet<i64>,
    left: &mut HashMap<i64, Nets>,
) -> Option<(Decimal, Decimal)> {
    let amounts = lines.iter().map(|it| it.line);
    let Some(of) = head.credits else {
        if credited.contains(&head.bill) {
            left.insert(head.bill, by_rate(amounts.clone())?);
        }
        let totals = Totals::of(amounts, head.currency)?;
        return Some((totals.net, totals.tax));
    };
    let nets = by_rate(amounts)?;
    let left = left.entry(of).or_default();
    let taxes = credit_taxes(left, &nets, head.currency)?;
    for (rate, net) in &nets {
        let rest = left.entry(*rate).or_default();
        *rest = sum([*rest, -*net])?;
    }
    let tax = sum(taxes.iter().map(|it| it.tax))?;
    Some((-sum(nets.into_values())?, -tax))
}
