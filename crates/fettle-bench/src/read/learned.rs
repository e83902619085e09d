//! What finished visits add up to. SQL counts; money is added up here, for SQL would add it as floating point.

use std::collections::{BTreeMap, HashMap, HashSet};

use fettle_reason::{Share, Taking, share, take_together};
use jiff::civil::Date;
use rusqlite::{Connection, Row};
use rust_decimal::Decimal;

use super::{
    bill::{credit_taxes, not_added},
    row::{currency, day, decimal, decimal_if, term, word},
};
use crate::{
    ids::VisitId,
    money::{Currency, Totals, by_rate, sum},
    term::Term,
    view::{
        BackPoint, CameBack, DaysHome, FaultShare, Income, Learned, LearnedFilter, PartUsed,
        QuotePoint, QuotesHeld, same_cause,
    },
    words::{FaultIs, Grade},
};

type Read<T> = rusqlite::Result<T>;

/// The finished visits that a filter leaves, as the first words of every query: `picked (id, arrived_on, unrepaired)`.
struct Picking<'f> {
    filter: &'f LearnedFilter,
    from: Option<String>,
    to: Option<String>,
}

impl<'f> Picking<'f> {
    fn new(filter: &'f LearnedFilter) -> Self {
        Self {
            filter,
            from: filter.from.map(|day| day.to_string()),
            to: filter.to.map(|day| day.to_string()),
        }
    }

    fn rows<T>(
        &self,
        connection: &Connection,
        select: &str,
        read: impl FnMut(&Row<'_>) -> Read<T>,
    ) -> Read<Vec<T>> {
        // Only what is asked for is looked up, and each condition names its parameter.
        let of_model = match self.filter.notes_id {
            Some(_) => "v.camera_id IN (SELECT id FROM camera WHERE notes_id = ?1)",
            None => "?1 IS NULL",
        };
        let sql = format!(
            "WITH picked AS MATERIALIZED (SELECT v.id, v.arrived_on, v.unrepaired FROM visit v \
             WHERE v.stage IN ('proved', 'packed', 'home', 'returned-unrepaired') AND {of_model} \
             AND (?2 IS NULL OR v.arrived_on >= ?2) AND (?3 IS NULL OR v.arrived_on <= ?3)) {select}"
        );
        connection
            .prepare_cached(&sql)?
            .query_map((&self.filter.notes_id, &self.from, &self.to), read)?
            .collect()
    }
}

/// A count, which is never below zero.
fn whole(row: &Row<'_>, column: usize) -> Read<u64> {
    Ok(row.get::<_, i64>(column)?.unsigned_abs())
}

pub(crate) fn learned(connection: &Connection, filter: &LearnedFilter) -> Read<Learned> {
    let picking = Picking::new(filter);
    let counted = picking.rows(connection, "SELECT count(*) FROM picked", |row| {
        whole(row, 0)
    })?;
    let visits: u64 = counted.first().copied().unwrap_or_default();
    Ok(Learned {
        visits,
        faults: faults(connection, &picking, visits)?,
        quotes: quotes(connection, &picking)?,
        parts: parts(connection, &picking)?,
        came_back: came_back(connection, &picking)?,
        days_home: days_home(connection, &picking)?,
        income: income(connection, filter)?,
    })
}

fn faults(connection: &Connection, picking: &Picking<'_>, visits: u64) -> Read<Vec<FaultShare>> {
    picking.rows(
        connection,
        "SELECT f.term_id, max(f.words), f.fault_is, count(*) AS found FROM picked p \
         JOIN fault f ON f.visit_id = p.id WHERE f.found = 'found' \
         GROUP BY ifnull(f.term_id, f.words), f.fault_is ORDER BY found DESC, 2",
        |row| {
            Ok(FaultShare {
                fault: term(row, 0)?,
                is: word(row, 2, FaultIs::from_text)?,
                share: share(whole(row, 3)?, visits),
            })
        },
    )
}

/// Of each visit the works that were agreed to and whose minutes were counted: other lines say nothing of how well quotes hold.
fn quotes(connection: &Connection, picking: &Picking<'_>) -> Read<QuotesHeld> {
    let lines: Vec<Option<(i64, String, Taking, f64)>> = picking.rows(
        connection,
        "SELECT q.visit_id, ifnull(l.term_id, l.words), l.minutes_likely, \
         ifnull(l.minutes_nine_in_ten, l.minutes_likely), \
         (SELECT sum(w.minutes) FROM work w WHERE w.visit_id = q.visit_id \
            AND ifnull(w.term_id, w.words) = ifnull(l.term_id, l.words)) AS took \
         FROM picked p JOIN quote q ON q.visit_id = p.id JOIN quote_line l ON l.quote_id = q.id \
         WHERE q.agreed = 1 AND l.line_for = 'work' AND l.minutes_likely > 0 \
         AND (q.quote_kind = 'extra' OR q.id = (SELECT max(id) FROM quote \
            WHERE visit_id = p.id AND agreed = 1 AND quote_kind <> 'extra'))",
        |row| {
            let taking = Taking {
                likely: row.get(2)?,
                nine_in_ten: row.get(3)?,
            };
            let took: Option<f64> = row.get(4)?;
            let Some(took) = took.filter(|minutes| *minutes > 0.0) else {
                return Ok(None);
            };
            Ok(Some((row.get(0)?, row.get(1)?, taking, took)))
        },
    )?;
    // Sorted and sifted here: asked for in SQL, the minutes would be added up twice.
    let mut lines: Vec<(i64, String, Taking, f64)> = lines.into_iter().flatten().collect();
    lines.sort_by(|a, b| (a.0, &a.1).cmp(&(b.0, &b.1)));
    let points: Vec<QuotePoint> = lines
        .chunk_by(|a, b| a.0 == b.0)
        .filter_map(|of_visit| {
            let each: Vec<Taking> = of_visit.iter().map(|(_, _, taking, _)| *taking).collect();
            let whole = take_together(&each);
            // A work that stands in two lines was done once.
            let works = of_visit.chunk_by(|a, b| a.1 == b.1);
            let took = works
                .filter_map(|work| work.first())
                .map(|line| line.3)
                .sum();
            Some(QuotePoint {
                visit: VisitId::new(of_visit.first()?.0),
                likely: whole.likely,
                nine_in_ten: whole.nine_in_ten,
                took,
            })
        })
        .collect();
    // What just fills the figure is within it, whatever its last digit lost in reckoning.
    let held = |it: &&QuotePoint| it.took <= it.nine_in_ten * (1.0 + 1e-9);
    let within = points.iter().filter(held).count() as u64;
    Ok(QuotesHeld {
        within_nine_in_ten: share(within, points.len() as u64),
        points,
    })
}

fn parts(connection: &Connection, picking: &Picking<'_>) -> Read<Vec<PartUsed>> {
    picking.rows(
        connection,
        "SELECT words, grade, sum(pieces) AS fitted FROM ( \
            SELECT f.words, f.grade, f.quantity AS pieces FROM picked p JOIN part_fitted f ON f.visit_id = p.id \
            UNION ALL \
            SELECT a.words, l.grade, -m.change_pieces FROM picked p JOIN movement m ON m.visit_id = p.id \
            JOIN lot l ON l.id = m.lot_id JOIN part a ON a.id = l.part_id \
            WHERE m.movement IN ('taken', 'returned')) \
         GROUP BY words, grade HAVING fitted > 0 ORDER BY fitted DESC, words, grade",
        |row| {
            Ok(PartUsed {
                words: row.get(0)?,
                grade: word(row, 1, Grade::from_text)?,
                quantity: whole(row, 2)?,
            })
        },
    )
}

fn came_back(connection: &Connection, picking: &Picking<'_>) -> Read<CameBack> {
    let home = picking.rows(
        connection,
        "SELECT count(*) FROM picked p WHERE NOT p.unrepaired \
         AND EXISTS (SELECT 1 FROM sending WHERE visit_id = p.id)",
        |row| whole(row, 0),
    )?;
    let home: u64 = home.first().copied().unwrap_or_default();
    let pairs: Vec<(VisitId, VisitId)> = picking.rows(
        connection,
        "SELECT p.id, v.id FROM picked p JOIN visit v ON v.guarantee_of_id = p.id ORDER BY v.id",
        |row| Ok((VisitId::new(row.get(0)?), VisitId::new(row.get(1)?))),
    )?;
    let mut points = Vec::with_capacity(pairs.len());
    for (earlier, later) in pairs {
        let causes = causes(connection, later)?;
        points.push(BackPoint {
            earlier,
            later,
            same: same_cause(&self::causes(connection, earlier)?, &causes),
            causes,
        });
    }
    let mut back: Vec<VisitId> = points.iter().map(|it| it.earlier).collect();
    back.sort_unstable();
    back.dedup();
    let count = |same| points.iter().filter(|it| it.same == Some(same)).count() as u64;
    Ok(CameBack {
        share: came_back_share(back.len() as u64, home),
        same_cause: count(true),
        other_cause: count(false),
        points,
    })
}

/// A camera may have come back that was fetched and so never sent.
fn came_back_share(back: u64, home: u64) -> Share {
    share(back, home.max(back))
}

/// The causes found at a visit, the damages where no cause was found.
pub(crate) fn causes(connection: &Connection, visit: VisitId) -> Read<Vec<Term>> {
    let found: Vec<(FaultIs, Term)> = connection
        .prepare_cached(
            "SELECT term_id, words, fault_is FROM fault WHERE visit_id = ?1 AND found = 'found' ORDER BY id",
        )?
        .query_map([visit.get()], |row| {
            Ok((word(row, 2, FaultIs::from_text)?, term(row, 0)?))
        })?
        .collect::<Read<_>>()?;
    let any = found.iter().any(|(is, _)| *is == FaultIs::Cause);
    let wanted = if any { FaultIs::Cause } else { FaultIs::Damage };
    let causes = found.into_iter().filter(|(is, _)| *is == wanted);
    Ok(causes.map(|(_, term)| term).collect())
}

fn days_home(connection: &Connection, picking: &Picking<'_>) -> Read<DaysHome> {
    let days: Vec<i64> = picking.rows(
        connection,
        "SELECT CAST(julianday(s.sent_on) - julianday(p.arrived_on) AS INTEGER) AS days \
         FROM picked p JOIN sending s ON s.id = (SELECT max(id) FROM sending WHERE visit_id = p.id) \
         WHERE days >= 0 ORDER BY days",
        |row| row.get(0),
    )?;
    // The smallest that so many tenths of them reach.
    let tenths = |n: usize| {
        days.get((days.len() * n).div_ceil(10).saturating_sub(1))
            .copied()
    };
    Ok(DaysHome {
        p10: tenths(1),
        p50: tenths(5),
        p90: tenths(9),
        days,
    })
}

/// Sums of lines by their rate of tax.
type Nets = BTreeMap<Option<Decimal>, Decimal>;

/// A line of a bill or credit note.
struct Charge {
    bill: i64,
    /// The bill that it takes back, when it stands on a credit note.
    credits: Option<i64>,
    on: Date,
    currency: Currency,
    line: (Decimal, Option<Decimal>),
}

/// Every bill is read, for the tax of a credit note hangs on the bill and the credit notes before it.
fn charges(connection: &Connection, notes_id: Option<&str>) -> Read<Vec<Charge>> {
    let of_model = notes_id.map_or("?1 IS NULL", |_| {
        "b.visit_id IN (SELECT v.id FROM visit v JOIN camera c ON c.id = v.camera_id WHERE c.notes_id = ?1)"
    });
    connection
        .prepare_cached(&format!(
            "SELECT b.id, b.credits_id, b.issued_on, b.currency, l.amount, l.tax_percent \
             FROM bill b JOIN bill_line l ON l.bill_id = b.id WHERE {of_model} ORDER BY b.id"
        ))?
        .query_map([notes_id], |row| {
            Ok(Charge {
                bill: row.get(0)?,
                credits: row.get(1)?,
                on: day(row, 2)?,
                currency: currency(row, 3)?,
                line: (decimal(row, 4)?, decimal_if(row, 5)?),
            })
        })?
        .collect()
}

fn income(connection: &Connection, filter: &LearnedFilter) -> Read<Vec<Income>> {
    let charges = charges(connection, filter.notes_id.as_deref())?;
    let credited: HashSet<i64> = charges.iter().filter_map(|it| it.credits).collect();
    let mut left: HashMap<i64, Nets> = HashMap::new();
    let mut months: BTreeMap<(Currency, Date), (Decimal, Decimal)> = BTreeMap::new();
    for lines in charges.chunk_by(|a, b| a.bill == b.bill) {
        let Some(head) = lines.first() else { continue };
        let (net, tax) = comes_to(head, lines, &credited, &mut left).ok_or_else(not_added)?;
        let before = filter.from.is_some_and(|from| head.on < from);
        let after = filter.to.is_some_and(|to| head.on > to);
        if before || after {
            continue;
        }
        let month = (head.currency, head.on.first_of_month());
        let (nets, taxes) = months.entry(month).or_default();
        *nets = sum([*nets, net]).ok_or_else(not_added)?;
        *taxes = sum([*taxes, tax]).ok_or_else(not_added)?;
    }
    months
        .into_iter()
        .map(|((currency, month), (net, tax))| {
            Ok(Income {
                currency,
                month,
                net,
                tax,
                gross: sum([net, tax]).ok_or_else(not_added)?,
            })
        })
        .collect()
}

/// What a bill brings before tax, and its tax; below zero for a credit note. `left` is what credit notes have left of the bills that
/// some take back.
fn comes_to(
    head: &Charge,
    lines: &[Charge],
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
