//! All that stands in the record, in short.

use std::collections::HashMap;

use rusqlite::Connection;

use super::{
    lists::{all_cameras, all_owners},
    row::{day, money_if, term, word},
};
use crate::{
    change::PartOf,
    ids::{CameraId, DrawerId, LotId, OwnerId, VisitId},
    index::{Index, KnownLot, KnownVisit},
    words::Grade,
};

type Read<T> = rusqlite::Result<T>;

pub(crate) fn index(connection: &Connection) -> Read<Index> {
    Ok(Index {
        owners: all_owners(connection)?,
        cameras: all_cameras(connection)?,
        visits: visits(connection)?,
        drawers: drawers(connection)?,
        lots: lots(connection)?,
    })
}

fn visits(connection: &Connection) -> Read<Vec<KnownVisit>> {
    connection
        .prepare(
            "SELECT id, camera_id, owner_id, arrived_on, stage <> 'home' FROM visit ORDER BY id",
        )?
        .query_map([], |row| {
            Ok(KnownVisit {
                visit: VisitId::new(row.get(0)?),
                camera: CameraId::new(row.get(1)?),
                owner: OwnerId::new(row.get(2)?),
                arrived: day(row, 3)?,
                here: row.get(4)?,
            })
        })?
        .collect()
}

fn drawers(connection: &Connection) -> Read<Vec<(DrawerId, String)>> {
    connection
        .prepare("SELECT id, name FROM drawer ORDER BY id")?
        .query_map([], |row| Ok((DrawerId::new(row.get(0)?), row.get(1)?)))?
        .collect()
}

fn lots(connection: &Connection) -> Read<Vec<KnownLot>> {
    let stored: HashMap<i64, u32> = connection
        .prepare("SELECT lot_id, sum(change_pieces) FROM movement WHERE movement = 'stored' GROUP BY lot_id")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Read<_>>()?;
    connection
        .prepare(
            "SELECT l.id, p.notes_id, p.model, p.term_id, p.words, l.grade, l.price_amount, l.price_currency, \
             l.source, l.note, l.drawer_id FROM lot l JOIN part p ON p.id = l.part_id ORDER BY l.id",
        )?
        .query_map([], |row| {
            let id: i64 = row.get(0)?;
            Ok(KnownLot {
                lot: LotId::new(id),
                of: PartOf {
                    notes_id: row.get(1)?,
                    model: row.get(2)?,
                    part: term(row, 3)?,
                },
                grade: word(row, 5, Grade::from_text)?,
                price: money_if(row, 6)?,
                source: row.get(8)?,
                note: row.get(9)?,
                drawer: row.get::<_, Option<i64>>(10)?.map(DrawerId::new),
                stored: stored.get(&id).copied().unwrap_or(0),
            })
        })?
        .collect()
}
