//! The journal as pages show it.

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Params, Row};

use super::row::time;
use crate::{
    ids::{CameraId, EntryId, OwnerId, VisitId},
    journal::{Entry, Hand},
    view::{Page, Paged},
};

const ENTRY: &str = "\
    SELECT j.id, j.at_utc, j.hand, j.group_id, j.kind, j.sentence, j.visit_id, j.camera_id, \
        j.owner_id, s.by_id, j.undoes_id \
    FROM journal j LEFT JOIN struck s ON s.id = j.id";

/// The most entries given with a camera or an owner.
pub(crate) const MOST: u32 = 500;

/// Entries that a condition and order name.
pub(crate) fn entries(
    connection: &Connection,
    condition: &str,
    parameters: impl Params,
) -> rusqlite::Result<Vec<Entry>> {
    connection
        .prepare_cached(&format!("{ENTRY} {condition}"))?
        .query_map(parameters, entry)?
        .collect()
}

pub(crate) fn all(connection: &Connection, page: Page) -> rusqlite::Result<Paged<Entry>> {
    let page = page.bounded();
    Ok(Paged {
        lines: entries(
            connection,
            "ORDER BY j.id DESC LIMIT ?1 OFFSET ?2",
            (page.take, page.skip),
        )?,
        page,
        total: connection
            .prepare_cached("SELECT count(*) FROM journal")?
            .query_row([], |row| row.get(0))?,
    })
}

/// One entry with its change as JSON.
pub(crate) fn one(
    connection: &Connection,
    id: EntryId,
) -> rusqlite::Result<Option<(Entry, String)>> {
    let entry = entries(connection, "WHERE j.id = ?1", [id.get()])?.pop();
    let json: Option<String> = connection
        .prepare_cached("SELECT change_json FROM journal WHERE id = ?1")?
        .query_row([id.get()], |row| row.get(0))
        .optional()?;
    Ok(entry.zip(json))
}

/// An entry as it is replayed.
pub(crate) struct Told {
    pub(crate) id: EntryId,
    pub(crate) at: Timestamp,
    pub(crate) hand: Hand,
    pub(crate) group: EntryId,
    pub(crate) change: String,
}

const TOLD: &str = "SELECT id, at_utc, hand, group_id, change_json FROM journal";

/// Up to this many entries after one, in order, for replaying.
pub(crate) fn after(
    connection: &Connection,
    id: EntryId,
    most: u32,
) -> rusqlite::Result<Vec<Told>> {
    connection
        .prepare_cached(&format!("{TOLD} WHERE id > ?1 ORDER BY id LIMIT ?2"))?
        .query_map((id.get(), most), tell)?
        .collect()
}

/// One entry, for replaying.
pub(crate) fn told(connection: &Connection, id: EntryId) -> rusqlite::Result<Option<Told>> {
    connection
        .prepare_cached(&format!("{TOLD} WHERE id = ?1"))?
        .query_row([id.get()], tell)
        .optional()
}

fn tell(row: &Row<'_>) -> rusqlite::Result<Told> {
    Ok(Told {
        id: EntryId::new(row.get(0)?),
        at: time(row, 1)?,
        hand: Hand::new(row.get_ref(2)?.as_str()?),
        group: EntryId::new(row.get(3)?),
        change: row.get(4)?,
    })
}

fn entry(row: &Row<'_>) -> rusqlite::Result<Entry> {
    Ok(Entry {
        id: EntryId::new(row.get(0)?),
        at: time(row, 1)?,
        hand: Hand::new(row.get_ref(2)?.as_str()?),
        group: EntryId::new(row.get(3)?),
        kind: row.get(4)?,
        sentence: row.get(5)?,
        visit: row.get::<_, Option<i64>>(6)?.map(VisitId::new),
        camera: row.get::<_, Option<i64>>(7)?.map(CameraId::new),
        owner: row.get::<_, Option<i64>>(8)?.map(OwnerId::new),
        struck_by: row.get::<_, Option<i64>>(9)?.map(EntryId::new),
        undoes: row.get::<_, Option<i64>>(10)?.map(EntryId::new),
    })
}
