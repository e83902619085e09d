//! Visits in a line: one query for the lines, one for what they wait for.

use std::collections::HashMap;

use jiff::{Timestamp, ToSpan, civil::Date};
use rusqlite::{Connection, Params, Row};

use super::row::{day, day_if, time, time_if, word, word_if};
use crate::{
    ids::{CameraId, HoldId, OwnerId, PhotoId, VisitId, WaitId},
    view::{Hold, NextStep, VisitLine, Wait},
    words::{QuoteKind, Stage, WaitFor},
};

const LINE: &str = "\
    SELECT v.id, v.camera_id, trim(c.maker || ' ' || c.model), \
        ifnull((SELECT number FROM serial WHERE camera_id = c.id ORDER BY id LIMIT 1), ''), \
        c.notes_id, v.owner_id, o.name, v.words, v.stage, v.stage_since_utc, v.unrepaired, \
        v.arrived_on, v.promised_on, v.guarantee_of_id, \
        (SELECT count(*) FROM piece WHERE visit_id = v.id AND returned_utc IS NULL), \
        (SELECT min(id) FROM photo WHERE visit_id = v.id), s.sent_on, s.guarantee_days, q.quote_kind, \
        EXISTS (SELECT 1 FROM quote WHERE visit_id = v.id AND quote_kind <> 'extra'), \
        EXISTS (SELECT 1 FROM quote WHERE visit_id = v.id AND quote_kind <> 'extra' \
            AND agreed IS NULL AND id > ifnull(q.id, 0)), \
        EXISTS (SELECT 1 FROM quote WHERE visit_id = v.id AND quote_kind = 'extra' AND agreed IS NULL) \
    FROM visit v JOIN camera c ON c.id = v.camera_id JOIN owner o ON o.id = v.owner_id \
    LEFT JOIN sending s ON s.id = (SELECT max(id) FROM sending WHERE visit_id = v.id) \
    LEFT JOIN quote q ON q.id = (SELECT max(id) FROM quote \
        WHERE visit_id = v.id AND quote_kind <> 'extra' AND agreed = 1)";

/// The visits that a condition and order name, in a line each.
pub(crate) fn lines(
    connection: &Connection,
    condition: &str,
    parameters: impl Params,
) -> rusqlite::Result<Vec<VisitLine>> {
    let mut lines = connection
        .prepare_cached(&format!("{LINE} {condition}"))?
        .query_map(parameters, line)?
        .collect::<rusqlite::Result<Vec<VisitLine>>>()?;
    let ids: Vec<i64> = lines.iter().map(|line| line.visit.get()).collect();
    let mut waits = waits_of(connection, &ids)?;
    let mut holds = holds_of(connection, &ids)?;
    for line in &mut lines {
        line.holds = holds.remove(&line.visit).unwrap_or_default();
        line.holds.retain(|hold| hold.ended.is_none());
        let (open, ended): (Vec<Wait>, Vec<Wait>) = waits
            .remove(&line.visit)
            .unwrap_or_default()
            .into_iter()
            .partition(|wait| wait.ended.is_none());
        let came = ended
            .iter()
            .filter(|wait| wait.ended >= Some(line.stage_since))
            .max_by_key(|wait| wait.ended);
        line.because = came.map(came_in_words);
        line.because_since = came.and_then(|wait| wait.ended);
        line.waits = open;
    }
    Ok(lines)
}

fn came_in_words(wait: &Wait) -> String {
    let what = if wait.what.is_empty() {
        String::new()
    } else {
        format!(": {}", wait.what)
    };
    let came = match wait.wait_for {
        WaitFor::Answer => "the owner's answer came",
        WaitFor::Part => "the part came",
        WaitFor::Post => "the post runs again",
    };
    format!("{came}{what}")
}

fn line(row: &Row<'_>) -> rusqlite::Result<VisitLine> {
    let stage = word(row, 8, Stage::from_text)?;
    let quoted = Quoted {
        agreed: word_if(row, 18, QuoteKind::from_text)?,
        any: row.get(19)?,
        open: row.get(20)?,
        extra_open: row.get(21)?,
    };
    Ok(VisitLine {
        visit: VisitId::new(row.get(0)?),
        camera: CameraId::new(row.get(1)?),
        camera_name: row.get(2)?,
        serial: row.get(3)?,
        notes_id: row.get(4)?,
        owner: OwnerId::new(row.get(5)?),
        owner_name: row.get(6)?,
        words: row.get(7)?,
        stage,
        stage_since: time(row, 9)?,
        unrepaired: row.get(10)?,
        arrived: day(row, 11)?,
        promised: day_if(row, 12)?,
        guarantee_of: row.get::<_, Option<i64>>(13)?.map(VisitId::new),
        pieces_out: row.get(14)?,
        cover: row.get::<_, Option<i64>>(15)?.map(PhotoId::new),
        guarantee_until: guarantee_end(day_if(row, 16)?, row.get(17)?),
        next: next(stage, quoted),
        because: None,
        because_since: None,
        waits: Vec::new(),
        holds: Vec::new(),
    })
}

fn guarantee_end(sent: Option<Date>, days: Option<u32>) -> Option<Date> {
    sent?.checked_add(i64::from(days?).days()).ok()
}

/// How a visit stands with its quotes.
#[derive(Clone, Copy)]
struct Quoted {
    /// The alternative last agreed to.
    agreed: Option<QuoteKind>,
    /// Whether any alternative was quoted.
    any: bool,
    /// Whether an alternative later than the one agreed to is not answered.
    open: bool,
    /// Whether extra work is not answered.
    extra_open: bool,
}

/// What a stage asks for next. Extra work waits for its answer at any stage of the work.
fn next(stage: Stage, quoted: Quoted) -> NextStep {
    match stage {
        Stage::Arrived => NextStep::LookOver,
        Stage::LookedOver | Stage::Quoted => match quoted.agreed {
            _ if quoted.open => NextStep::Answer,
            Some(QuoteKind::ReturnUnrepaired) => NextStep::Return,
            Some(_) => NextStep::Agree,
            None if quoted.any => NextStep::Return,
            None if stage == Stage::LookedOver => NextStep::Quote,
            None => NextStep::Answer,
        },
        Stage::Agreed | Stage::Apart | Stage::Together if quoted.extra_open => NextStep::Answer,
        Stage::Agreed => NextStep::TakeApart,
        Stage::Apart => NextStep::PutTogether,
        Stage::Together => NextStep::Prove,
        Stage::Proved | Stage::ReturnedUnrepaired => NextStep::Pack,
        Stage::Packed => NextStep::Send,
        Stage::Home => NextStep::Nothing,
    }
}

/// The waits of these visits, in the order they began.
pub(crate) fn waits_of(
    connection: &Connection,
    visits: &[i64],
) -> rusqlite::Result<HashMap<VisitId, Vec<Wait>>> {
    let mut waits: HashMap<VisitId, Vec<Wait>> = HashMap::new();
    let mut statement = connection.prepare_cached(
        "SELECT visit_id, id, wait_for, what, since_utc, ended_utc, ended_note FROM wait \
         WHERE visit_id IN (SELECT value FROM json_each(?1)) ORDER BY id",
    )?;
    let mut rows = statement.query([id_list(visits)])?;
    while let Some(row) = rows.next()? {
        waits
            .entry(VisitId::new(row.get(0)?))
            .or_default()
            .push(Wait {
                id: WaitId::new(row.get(1)?),
                wait_for: word(row, 2, WaitFor::from_text)?,
                what: row.get(3)?,
                since: time(row, 4)?,
                ended: time_if(row, 5)?,
                note: row.get(6)?,
            });
    }
    Ok(waits)
}

/// The times during which these visits were held, in the order they began.
pub(crate) fn holds_of(
    connection: &Connection,
    visits: &[i64],
) -> rusqlite::Result<HashMap<VisitId, Vec<Hold>>> {
    let mut holds: HashMap<VisitId, Vec<Hold>> = HashMap::new();
    let mut statement = connection.prepare_cached(
        "SELECT visit_id, id, reason, look_again_on, since_utc, ended_utc, ended_note FROM hold \
         WHERE visit_id IN (SELECT value FROM json_each(?1)) ORDER BY id",
    )?;
    let mut rows = statement.query([id_list(visits)])?;
    while let Some(row) = rows.next()? {
        holds
            .entry(VisitId::new(row.get(0)?))
            .or_default()
            .push(Hold {
                id: HoldId::new(row.get(1)?),
                reason: row.get(2)?,
                look_again: day_if(row, 3)?,
                since: time(row, 4)?,
                ended: time_if(row, 5)?,
                note: row.get(6)?,
            });
    }
    Ok(holds)
}

/// Numbers as a JSON list, to be read by `json_each`.
pub(crate) fn id_list(ids: &[i64]) -> String {
    let ids: Vec<String> = ids.iter().map(i64::to_string).collect();
    format!("[{}]", ids.join(","))
}

/// Since when a line stands where it stands, waits or is held.
pub(crate) fn standing_since(line: &VisitLine) -> Timestamp {
    let waits = line.waits.iter().map(|wait| wait.since);
    waits
        .chain(line.holds.iter().map(|hold| hold.since))
        .min()
        .unwrap_or(line.stage_since)
}
