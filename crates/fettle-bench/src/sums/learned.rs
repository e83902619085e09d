//! What finished visits add up to.

use std::{cmp::Reverse, collections::BTreeMap};

use fettle_reason::{Share, share};
use jiff::civil::Date;
use rust_decimal::Decimal;

use super::{Sums, VisitSum};
use crate::{
    ids::VisitId,
    money::{Currency, sum},
    read::not_added,
    term::Term,
    view::{
        BackPoint, CameBack, DaysHome, FaultShare, Income, Learned, LearnedFilter, PartUsed,
        QuotePoint, QuotesHeld, same_cause,
    },
    words::{FaultIs, Grade},
};

type Read<T> = rusqlite::Result<T>;

/// The finished visits that a filter leaves.
type Picked<'s> = Vec<(VisitId, &'s VisitSum)>;

pub(crate) fn learned(sums: &Sums, filter: &LearnedFilter) -> Read<Learned> {
    let picked: Picked<'_> = sums
        .visits
        .iter()
        .map(|(visit, sum)| (*visit, &**sum))
        .filter(|(_, it)| it.finished && of_model(it, filter))
        .filter(|(_, it)| within(it.arrived, filter))
        .collect();
    let visits = picked.len() as u64;
    Ok(Learned {
        visits,
        faults: faults(&picked, visits),
        quotes: quotes(&picked),
        parts: parts(&picked),
        came_back: came_back(sums, &picked),
        days_home: days_home(&picked),
        income: income(sums, filter)?,
    })
}

fn of_model(it: &VisitSum, filter: &LearnedFilter) -> bool {
    let wanted = filter.notes_id.as_deref();
    wanted.is_none_or(|wanted| it.notes_id.as_deref() == Some(wanted))
}

fn within(day: Date, filter: &LearnedFilter) -> bool {
    filter.from.is_none_or(|from| from <= day) && filter.to.is_none_or(|to| day <= to)
}

/// Each is told in the greatest of the words that were used for it.
fn faults(picked: &Picked<'_>, visits: u64) -> Vec<FaultShare> {
    let mut found: BTreeMap<(&str, FaultIs), (u64, &Term)> = BTreeMap::new();
    for (is, term) in picked.iter().flat_map(|(_, it)| &it.faults) {
        let (count, told) = found.entry((term.key(), *is)).or_insert((0, term));
        *count += 1;
        if (&told.words, &told.id) < (&term.words, &term.id) {
            *told = term;
        }
    }
    let mut found: Vec<(FaultIs, u64, &Term)> = found
        .into_iter()
        .map(|((_, is), (count, term))| (is, count, term))
        .collect();
    found.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.2.words.cmp(&b.2.words)));
    let told = found.into_iter().map(|(is, count, term)| FaultShare {
        fault: term.clone(),
        is,
        share: share(count, visits),
    });
    told.collect()
}

fn quotes(picked: &Picked<'_>) -> QuotesHeld {
    let points = picked.iter().filter_map(|(visit, it)| {
        let quoted = it.quoted?;
        Some(QuotePoint {
            visit: *visit,
            likely: quoted.likely,
            nine_in_ten: quoted.nine_in_ten,
            took: quoted.took,
        })
    });
    let points: Vec<QuotePoint> = points.collect();
    // What just fills the figure is within it, whatever its last digit lost in reckoning.
    let held = |it: &&QuotePoint| it.took <= it.nine_in_ten * (1.0 + 1e-9);
    let within = points.iter().filter(held).count() as u64;
    QuotesHeld {
        within_nine_in_ten: share(within, points.len() as u64),
        points,
    }
}

fn parts(picked: &Picked<'_>) -> Vec<PartUsed> {
    let mut used: BTreeMap<(&str, &str), (Grade, i64)> = BTreeMap::new();
    for (words, grade, pieces) in picked.iter().flat_map(|(_, it)| &it.parts) {
        let (_, sum) = used.entry((words, grade.as_str())).or_insert((*grade, 0));
        *sum = sum.saturating_add(*pieces);
    }
    let used = used.into_iter().filter(|(_, (_, pieces))| *pieces > 0);
    let mut used: Vec<PartUsed> = used
        .map(|((words, _), (grade, pieces))| PartUsed {
            words: words.to_owned(),
            grade,
            quantity: pieces.unsigned_abs(),
        })
        .collect();
    // Sorted by words and grade already, which a stable sort keeps among equals.
    used.sort_by_key(|it| Reverse(it.quantity));
    used
}

fn came_back(sums: &Sums, picked: &Picked<'_>) -> CameBack {
    let is_home = |it: &VisitSum| !it.unrepaired && it.sent_after.is_some();
    let home = picked.iter().filter(|(_, it)| is_home(it)).count() as u64;
    let later = sums.visits.iter().filter_map(|(visit, it)| {
        let earlier = it.guarantee_of?;
        let at = picked
            .binary_search_by_key(&earlier, |(visit, _)| *visit)
            .ok()?;
        Some((earlier, picked.get(at)?.1, *visit, it))
    });
    let points: Vec<BackPoint> = later
        .map(|(earlier, before, later, it)| {
            let causes = causes(it);
            BackPoint {
                earlier,
                later,
                same: same_cause(&self::causes(before), &causes),
                causes,
            }
        })
        .collect();
    let mut back: Vec<VisitId> = points.iter().map(|it| it.earlier).collect();
    back.sort_unstable();
    back.dedup();
    let count = |same| points.iter().filter(|it| it.same == Some(same)).count() as u64;
    CameBack {
        share: came_back_share(back.len() as u64, home),
        same_cause: count(true),
        other_cause: count(false),
        points,
    }
}

/// A camera may have come back that was fetched and so never sent.
fn came_back_share(back: u64, home: u64) -> Share {
    share(back, home.max(back))
}

/// The causes found at a visit, the damages where no cause was found.
fn causes(it: &VisitSum) -> Vec<Term> {
    let any = it.faults.iter().any(|(is, _)| *is == FaultIs::Cause);
    let wanted = if any { FaultIs::Cause } else { FaultIs::Damage };
    let causes = it.faults.iter().filter(|(is, _)| *is == wanted);
    causes.map(|(_, term)| Term::clone(term)).collect()
}

fn days_home(picked: &Picked<'_>) -> DaysHome {
    let days = picked.iter().filter_map(|(_, it)| it.sent_after);
    let mut days: Vec<i64> = days.filter(|days| *days >= 0).map(i64::from).collect();
    days.sort_unstable();
    // The smallest that so many tenths of them reach.
    let tenths = |n: usize| {
        days.get((days.len() * n).div_ceil(10).saturating_sub(1))
            .copied()
    };
    DaysHome {
        p10: tenths(1),
        p50: tenths(5),
        p90: tenths(9),
        days,
    }
}

fn income(sums: &Sums, filter: &LearnedFilter) -> Read<Vec<Income>> {
    let mut months: BTreeMap<(Currency, Date), (Decimal, Decimal)> = BTreeMap::new();
    for it in sums.visits.values().filter(|it| of_model(it, filter)) {
        let charges = it.charges.as_ref().ok_or_else(not_added)?;
        for charge in charges.iter().filter(|it| within(it.on, filter)) {
            let month = (charge.currency, charge.on.first_of_month());
            let (nets, taxes) = months.entry(month).or_default();
            *nets = sum([*nets, charge.net]).ok_or_else(not_added)?;
            *taxes = sum([*taxes, charge.tax]).ok_or_else(not_added)?;
        }
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
