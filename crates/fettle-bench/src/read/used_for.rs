//! What pieces of a part went into, and the visits that could have wanted one.

use jiff::{civil::Date, tz::TimeZone};
use rusqlite::Connection;

use super::{row::time, stock::pieces};
use crate::{ids::PartId, term::Term, view::Use};

type Read<T> = rusqlite::Result<T>;

/// Pieces that one visit took and kept, with the works done in it, in the order they were done.
pub(crate) struct UseInVisit {
    pub(crate) used: Use,
    pub(crate) works: Vec<Term>,
}

/// What visits used of a part, oldest first.
pub(crate) fn uses_in_visits(connection: &Connection, part: PartId) -> Read<Vec<UseInVisit>> {
    let mut of_visit = connection.prepare_cached(
        "SELECT m.visit_id, min(m.at_utc), sum(-m.change_pieces \
         - ifnull((SELECT sum(r.change_pieces) FROM movement r WHERE r.taken_id = m.id), 0)) AS used \
         FROM lot l JOIN movement m ON m.lot_id = l.id \
         WHERE l.part_id = ?1 AND m.movement = 'taken' AND m.visit_id IS NOT NULL \
         GROUP BY m.visit_id HAVING used > 0 ORDER BY 2",
    )?;
    let mut works = connection
        .prepare_cached("SELECT term_id, words FROM work WHERE visit_id = ?1 ORDER BY id")?;
    let mut rows = of_visit.query([part.get()])?;
    let mut uses = Vec::new();
    while let Some(row) = rows.next()? {
        let visit: i64 = row.get(0)?;
        let done = works.query_map([visit], |row| {
            Ok(Term {
                id: row.get(0)?,
                words: row.get(1)?,
            })
        })?;
        uses.push(UseInVisit {
            used: Use {
                on: time(row, 1)?.to_zoned_datetime(TimeZone::UTC).date(),
                quantity: pieces(row, 2)?,
            },
            works: done.collect::<Result<_, _>>()?,
        });
    }
    Ok(uses)
}

/// Visits of cameras with any of these service notes that arrived on a day or later.
pub(crate) fn visits_since(
    connection: &Connection,
    notes_ids: &[String],
    since: Date,
) -> Read<u32> {
    let models = serde_json::to_string(notes_ids).unwrap_or_default();
    connection
        .prepare_cached(
            "SELECT count(*) FROM visit v JOIN camera c ON c.id = v.camera_id \
             WHERE c.notes_id IN (SELECT value FROM json_each(?1)) AND v.arrived_on >= ?2",
        )?
        .query_row((models, since.to_string()), |row| row.get(0))
}
