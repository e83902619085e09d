//! Visits in a line: one query for the lines, one for what they wait for.

use std::collections::HashMap;

use jiff::Timestamp;
use rusqlite::{Connection, Params, Row};

use super::row::{day, day_if, time, time_if, word};
use crate::{
    ids::{CameraId, OwnerId, PhotoId, VisitId, WaitId},
    view::{NextStep, VisitLine, Wait},
    words::{Stage, WaitFor},
};

const LINE: &str = "\
    SELECT v.id, v.camera_id, trim(c.maker || ' ' || c.model), \
        ifnull((SELECT number FROM serial WHERE camera_id = c.id ORDER BY id LIMIT 1), ''), \
        c.notes_id, v.owner_id, o.name, v.words, v.stage, v.stage_since_utc, v.unrepaired, \
        v.arrived_on, v.promised_on, v.guarantee_of_id, \
        (SELECT count(*) FROM piece WHERE visit_id = v.id AND returned_utc IS NULL), \
        (SELECT min(id) FROM photo WHERE visit_id = v.id), q.id IS NOT NULL, q.agreed \
    FROM visit v JOIN camera c ON c.id = v.camera_id JOIN owner o ON o.id = v.owner_id \
    LEFT JOIN quote q ON q.id = (SELECT max(id) FROM quote WHERE visit_id = v.id)";

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
    for line in &mut lines {
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
    let agreed = if row.get(16)? {
        Some(row.get::<_, Option<bool>>(17)?)
    } else {
        None
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
        next: next(stage, agreed),
        because: None,
        because_since: None,
        waits: Vec::new(),
    })
}

/// What a stage asks for next. `quote` is the answer to the last quote: `None` when there is no quote, `Some(None)` while it is not
/// answered.
fn next(stage: Stage, quote: Option<Option<bool>>) -> NextStep {
    match (stage, quote) {
        (Stage::Arrived, _) => NextStep::LookOver,
        (Stage::LookedOver | Stage::Quoted, Some(Some(true))) => NextStep::Agree,
        (Stage::LookedOver | Stage::Quoted, Some(Some(false))) => NextStep::Return,
        (Stage::LookedOver, None) => NextStep::Quote,
        (Stage::LookedOver | Stage::Quoted, _) => NextStep::Answer,
        (Stage::Agreed, _) => NextStep::TakeApart,
        (Stage::Apart, _) => NextStep::PutTogether,
        (Stage::Together, _) => NextStep::Prove,
        (Stage::Proved | Stage::ReturnedUnrepaired, _) => NextStep::Pack,
        (Stage::Packed, _) => NextStep::Send,
        (Stage::Home, _) => NextStep::Nothing,
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

/// Numbers as a JSON list, to be read by `json_each`.
pub(crate) fn id_list(ids: &[i64]) -> String {
    let ids: Vec<String> = ids.iter().map(i64::to_string).collect();
    format!("[{}]", ids.join(","))
}

/// Since when a line stands where it stands, or waits.
pub(crate) fn standing_since(line: &VisitLine) -> Timestamp {
    line.waits
        .iter()
        .map(|wait| wait.since)
        .min()
        .unwrap_or(line.stage_since)
}
