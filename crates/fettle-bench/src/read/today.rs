//! What can be done next, from every visit that is not home.

use jiff::civil::Date;
use rusqlite::Connection;

use super::{
    line::{lines, standing_since},
    row::settings,
};
use crate::{
    change::BenchSettings,
    view::{BenchToday, DayAhead, Hold, NextStep, Possible, VisitLine},
    words::{DayFor, Stage},
};

pub(crate) fn today(connection: &Connection, on: Date) -> rusqlite::Result<BenchToday> {
    let here = lines(connection, "WHERE v.stage <> 'home' ORDER BY v.id", [])?;
    Ok(sort_out(settings(connection)?, here, on))
}

/// The days to remember, nearest first: by when what is here is promised, when what is held is to be looked at again, and the ends
/// of the guarantees that last on this day.
pub(crate) fn days_ahead(connection: &Connection, on: Date) -> rusqlite::Result<Vec<DayAhead>> {
    let mut days = Vec::new();
    for line in lines(connection, "WHERE v.stage <> 'home' ORDER BY v.id", [])? {
        let promised = line
            .promised
            .map(|day| (day, DayFor::Promised, String::new()));
        let held = line.holds.iter();
        let held =
            held.filter_map(|it| Some((it.look_again?, DayFor::LookAgain, it.reason.clone())));
        let of_it: Vec<(Date, DayFor, String)> = promised.into_iter().chain(held).collect();
        days.extend(of_it.into_iter().map(|(on, what, words)| DayAhead {
            on,
            what,
            line: line.clone(),
            words,
        }));
    }
    // Asked of the index first; a visit that was sent again counts by its last sending.
    let guaranteed = lines(
        connection,
        "WHERE v.id IN (SELECT visit_id FROM sending WHERE guarantee_days IS NOT NULL \
            AND date(sent_on, '+' || guarantee_days || ' days') >= ?1) \
         AND v.stage = 'home' AND date(s.sent_on, '+' || s.guarantee_days || ' days') >= ?1 ORDER BY v.id",
        [on.to_string()],
    )?;
    days.extend(guaranteed.into_iter().filter_map(|line| {
        Some(DayAhead {
            on: line.guarantee_until?,
            what: DayFor::GuaranteeEnds,
            line,
            words: String::new(),
        })
    }));
    days.sort_by_key(|day| (day.on, day.line.visit, day.what));
    Ok(days)
}

/// Puts every visit into exactly one list.
fn sort_out(bench: BenchSettings, here: Vec<VisitLine>, on: Date) -> BenchToday {
    let came_back = here
        .iter()
        .filter(|line| line.guarantee_of.is_some())
        .map(|line| line.visit)
        .collect();
    let (mut waiting, mut ready, mut apart, mut possible) = (vec![], vec![], vec![], vec![]);
    for line in here {
        if !line.waits.is_empty() || line.next == NextStep::Answer {
            waiting.push(line);
            continue;
        }
        match line.stage {
            Stage::Proved | Stage::Packed | Stage::ReturnedUnrepaired => {
                let due = line.holds.iter().find(|hold| hold.is_due(on));
                match due.map(|hold| (look_again(hold), hold.since)) {
                    Some((because, since)) => possible.push(Possible {
                        because: Some(because),
                        since,
                        line,
                    }),
                    None if line.holds.is_empty() => ready.push(line),
                    None => waiting.push(line),
                }
            }
            Stage::Apart | Stage::Together => apart.push(line),
            Stage::Arrived | Stage::LookedOver | Stage::Quoted | Stage::Agreed | Stage::Home => {
                possible.push(Possible {
                    because: line.because.clone().or_else(|| answered(&line)),
                    since: line.because_since.unwrap_or(line.stage_since),
                    line,
                });
            }
        }
    }
    waiting.sort_by_key(standing_since);
    apart.sort_by_key(|line: &VisitLine| line.stage_since);
    ready.sort_by_key(|line: &VisitLine| line.stage_since);
    possible.sort_by_key(|it| {
        (
            it.because.is_none(),
            it.line.promised.is_none(),
            it.line.promised,
            it.line.stage_since,
        )
    });
    BenchToday {
        bench,
        apart,
        possible,
        waiting,
        ready,
        came_back,
    }
}

fn look_again(hold: &Hold) -> String {
    format!("look again at why it is held: {}", hold.reason)
}

/// What a quote's answer made possible.
fn answered(line: &VisitLine) -> Option<String> {
    match line.next {
        NextStep::Agree => Some("the owner agreed".to_owned()),
        NextStep::Return => Some("the owner did not agree".to_owned()),
        _ => None,
    }
}
