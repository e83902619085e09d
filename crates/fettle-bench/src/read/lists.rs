//! Lists by the page, one camera, one owner, and what can leave.

use rusqlite::{Connection, Row};

use super::{
    journal::{MOST, entries},
    line::{id_list, lines},
    row::{day_if, json, money_if, word_if},
};
use crate::{
    change::{CameraDetails, OwnerDetails, Serial},
    ids::{CameraId, EntryId, OwnerId, VisitId},
    view::{
        Camera, CameraLine, CameraView, GoingHome, Owner, OwnerLine, OwnerView, Page, Paged,
        VisitFilter, VisitLine,
    },
    words::{Language, Stage},
};

type Read<T> = rusqlite::Result<T>;

const CAMERA: &str = "c.id, c.maker, c.model, c.notes_id, c.note, \
    (SELECT json_group_array(json_object('at', place, 'number', number) ORDER BY id) \
     FROM serial WHERE camera_id = c.id)";

fn camera_row(row: &Row<'_>) -> Read<Camera> {
    Ok(Camera {
        id: CameraId::new(row.get(0)?),
        details: CameraDetails {
            maker: row.get(1)?,
            model: row.get(2)?,
            notes_id: row.get(3)?,
            note: row.get(4)?,
            serials: json::<Vec<Serial>>(row, 5)?,
        },
    })
}

const OWNER: &str = "o.id, o.name, o.email, o.phone, o.address, o.note, o.language, o.country";

fn owner_row(row: &Row<'_>) -> Read<Owner> {
    Ok(Owner {
        id: OwnerId::new(row.get(0)?),
        details: OwnerDetails {
            name: row.get(1)?,
            email: row.get(2)?,
            phone: row.get(3)?,
            address: row.get(4)?,
            note: row.get(5)?,
            language: word_if(row, 6, Language::from_text)?,
            country: row.get(7)?,
        },
    })
}

pub(crate) fn camera_by(connection: &Connection, id: CameraId) -> Read<Option<Camera>> {
    let found: Read<Vec<Camera>> = connection
        .prepare_cached(&format!("SELECT {CAMERA} FROM camera c WHERE c.id = ?1"))?
        .query_map([id.get()], camera_row)?
        .collect();
    Ok(found?.pop())
}

pub(crate) fn owner_by(connection: &Connection, id: OwnerId) -> Read<Option<Owner>> {
    let found: Read<Vec<Owner>> = connection
        .prepare_cached(&format!("SELECT {OWNER} FROM owner o WHERE o.id = ?1"))?
        .query_map([id.get()], owner_row)?
        .collect();
    Ok(found?.pop())
}

/// Every camera, as they came.
pub(crate) fn all_cameras(connection: &Connection) -> Read<Vec<Camera>> {
    connection
        .prepare(&format!("SELECT {CAMERA} FROM camera c ORDER BY c.id"))?
        .query_map([], camera_row)?
        .collect()
}

/// Every owner, as they came.
pub(crate) fn all_owners(connection: &Connection) -> Read<Vec<Owner>> {
    connection
        .prepare(&format!("SELECT {OWNER} FROM owner o ORDER BY o.id"))?
        .query_map([], owner_row)?
        .collect()
}

pub(crate) fn camera(connection: &Connection, id: CameraId) -> Read<Option<CameraView>> {
    let Some(camera) = camera_by(connection, id)? else {
        return Ok(None);
    };
    Ok(Some(CameraView {
        camera,
        visits: lines(
            connection,
            "WHERE v.camera_id = ?1 ORDER BY v.id DESC",
            [id.get()],
        )?,
        journal: entries(
            connection,
            "WHERE j.camera_id = ?1 ORDER BY j.id DESC LIMIT ?2",
            (id.get(), MOST),
        )?,
    }))
}

pub(crate) fn owner(connection: &Connection, id: OwnerId) -> Read<Option<OwnerView>> {
    let Some(owner) = owner_by(connection, id)? else {
        return Ok(None);
    };
    Ok(Some(OwnerView {
        owner,
        visits: lines(
            connection,
            "WHERE v.owner_id = ?1 ORDER BY v.id DESC",
            [id.get()],
        )?,
        journal: entries(
            connection,
            "WHERE j.owner_id = ?1 ORDER BY j.id DESC LIMIT ?2",
            (id.get(), MOST),
        )?,
    }))
}

/// The visits of a model from the proof on, oldest first, each with its last entry.
pub(crate) fn finished(connection: &Connection, notes_id: &str) -> Read<Vec<(VisitId, EntryId)>> {
    let stages = [
        Stage::Proved,
        Stage::Packed,
        Stage::Home,
        Stage::ReturnedUnrepaired,
    ];
    let [proved, packed, home, returned] = stages.map(Stage::as_str);
    connection
        .prepare_cached(
            "SELECT v.id, (SELECT max(j.id) FROM journal j WHERE j.visit_id = v.id) \
             FROM visit v JOIN camera c ON c.id = v.camera_id \
             WHERE c.notes_id = ?1 AND v.stage IN (?2, ?3, ?4, ?5) ORDER BY v.id",
        )?
        .query_map((notes_id, proved, packed, home, returned), |row| {
            Ok((
                VisitId::new(row.get(0)?),
                EntryId::new(row.get::<_, Option<i64>>(1)?.unwrap_or_default()),
            ))
        })?
        .collect()
}

pub(crate) fn visits(
    connection: &Connection,
    filter: &VisitFilter,
    page: Page,
) -> Read<Paged<VisitLine>> {
    let page = page.bounded();
    let condition = "WHERE (?1 IS NULL OR v.camera_id = ?1) AND (?2 IS NULL OR v.owner_id = ?2) \
        AND (?3 IS NULL OR v.stage = ?3) AND (?4 IS NULL OR c.notes_id = ?4) \
        AND (NOT ?5 OR v.stage <> 'home')";
    let given = (
        filter.camera.map(CameraId::get),
        filter.owner.map(OwnerId::get),
        filter.stage.map(Stage::as_str),
        filter.notes_id.as_deref(),
        filter.here,
    );
    let total = connection
        .prepare_cached(&format!(
            "SELECT count(*) FROM visit v JOIN camera c ON c.id = v.camera_id {condition}"
        ))?
        .query_row(given, |row| row.get(0))?;
    let (camera, owner, stage, notes, here) = given;
    let lines = lines(
        connection,
        &format!("{condition} ORDER BY v.id DESC LIMIT ?6 OFFSET ?7"),
        (camera, owner, stage, notes, here, page.take, page.skip),
    )?;
    Ok(Paged { lines, page, total })
}

pub(crate) fn cameras(connection: &Connection, page: Page) -> Read<Paged<CameraLine>> {
    let page = page.bounded();
    let lines = connection
        .prepare_cached(&format!(
            "SELECT {CAMERA}, (SELECT count(*) FROM visit WHERE camera_id = c.id), v.id, v.stage, \
             v.arrived_on, o.name \
             FROM camera c LEFT JOIN visit v ON v.id = (SELECT max(id) FROM visit WHERE camera_id = c.id) \
             LEFT JOIN owner o ON o.id = v.owner_id \
             ORDER BY c.maker COLLATE NOCASE, c.model COLLATE NOCASE, c.id LIMIT ?1 OFFSET ?2"
        ))?
        .query_map((page.take, page.skip), |row| {
            Ok(CameraLine {
                camera: camera_row(row)?,
                visits: row.get(6)?,
                last_visit: row.get::<_, Option<i64>>(7)?.map(VisitId::new),
                stage: word_if(row, 8, Stage::from_text)?,
                arrived: day_if(row, 9)?,
                owner_name: row.get(10)?,
            })
        })?
        .collect::<Read<_>>()?;
    Ok(Paged {
        lines,
        page,
        total: count(connection, "camera")?,
    })
}

pub(crate) fn owners(connection: &Connection, page: Page) -> Read<Paged<OwnerLine>> {
    let page = page.bounded();
    let lines = connection
        .prepare_cached(&format!(
            "SELECT {OWNER}, count(v.id), ifnull(sum(v.stage <> 'home'), 0), max(v.arrived_on) \
             FROM owner o LEFT JOIN visit v ON v.owner_id = o.id GROUP BY o.id \
             ORDER BY o.name COLLATE NOCASE, o.id LIMIT ?1 OFFSET ?2"
        ))?
        .query_map((page.take, page.skip), |row| {
            Ok(OwnerLine {
                owner: owner_row(row)?,
                visits: row.get(8)?,
                here: row.get(9)?,
                last_arrived: day_if(row, 10)?,
            })
        })?
        .collect::<Read<_>>()?;
    Ok(Paged {
        lines,
        page,
        total: count(connection, "owner")?,
    })
}

fn count(connection: &Connection, table: &str) -> Read<u32> {
    connection
        .prepare_cached(&format!("SELECT count(*) FROM {table}"))?
        .query_row([], |row| row.get(0))
}

pub(crate) fn going_home(connection: &Connection) -> Read<Vec<GoingHome>> {
    let lines = lines(
        connection,
        "WHERE v.stage IN ('proved', 'packed', 'returned-unrepaired') ORDER BY o.name COLLATE NOCASE, v.id",
        [],
    )?;
    let ids: Vec<i64> = lines.iter().map(|line| line.visit.get()).collect();
    let mut statement = connection.prepare_cached(
        "SELECT v.id, o.address, v.declared_amount, v.declared_currency, \
         (SELECT json_group_array(item ORDER BY id) FROM came_with WHERE visit_id = v.id), \
         p.weight_g, ifnull(p.has_cells, 0) \
         FROM visit v JOIN owner o ON o.id = v.owner_id LEFT JOIN packing p ON p.visit_id = v.id \
         WHERE v.id IN (SELECT value FROM json_each(?1))",
    )?;
    let mut more = std::collections::HashMap::new();
    let mut rows = statement.query([id_list(&ids)])?;
    while let Some(row) = rows.next()? {
        let address: String = row.get(1)?;
        let came_with: Vec<String> = json(row, 4)?;
        more.insert(
            VisitId::new(row.get(0)?),
            (
                address,
                came_with,
                money_if(row, 2)?,
                row.get(5)?,
                row.get(6)?,
            ),
        );
    }
    Ok(lines
        .into_iter()
        .map(|line| {
            let (address, came_with, declared, weight_g, has_cells) =
                more.remove(&line.visit).unwrap_or_default();
            let held = held(&line, &address);
            let packed = line.stage == Stage::Packed;
            GoingHome {
                line,
                address,
                came_with,
                declared,
                packed,
                weight_g,
                has_cells,
                held,
            }
        })
        .collect())
}

fn held(line: &VisitLine, address: &str) -> Option<String> {
    if let Some(wait) = line.waits.first() {
        return Some(format!("waits for {wait}"));
    }
    if let Some(hold) = line.holds.first() {
        return Some(hold.to_string());
    }
    if line.pieces_out > 0 && line.unrepaired {
        return Some("pieces still lie in the tray: put them back or pack them with it".to_owned());
    }
    address
        .trim()
        .is_empty()
        .then(|| "the owner's address is not known".to_owned())
}
