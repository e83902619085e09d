//! Lists by the page, one camera, one owner, and what can leave.

use rusqlite::{Connection, Row, params_from_iter, types::Value};

use super::{
    journal::{MOST, entries},
    line::{id_list, lines},
    row::{day_if, json, money_if, word_if},
};
use crate::{
    change::{CameraDetails, OwnerDetails, Serial},
    ids::{CameraId, OwnerId, VisitId},
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

pub(crate) fn visits(
    connection: &Connection,
    filter: &VisitFilter,
    page: Page,
) -> Read<Paged<VisitLine>> {
    let page = page.bounded();
    let (condition, mut given) = conditions(filter);
    let total = connection
        .prepare_cached(&format!("SELECT count(*) FROM visit v {condition}"))?
        .query_row(params_from_iter(&given), |row| row.get(0))?;
    given.extend([page.take.into(), page.skip.into()]);
    // The lines are drawn up only when their visits are picked.
    let picked: Vec<i64> = connection
        .prepare_cached(&format!(
            "SELECT v.id FROM visit v {condition} ORDER BY v.id DESC LIMIT ?{} OFFSET ?{}",
            given.len() - 1,
            given.len()
        ))?
        .query_map(params_from_iter(&given), |row| row.get(0))?
        .collect::<Read<_>>()?;
    let lines = lines(
        connection,
        "WHERE v.id IN (SELECT value FROM json_each(?1)) ORDER BY v.id DESC",
        [id_list(&picked)],
    )?;
    Ok(Paged { lines, page, total })
}

/// What a filter asks of a visit, and the values that it names: what it does not ask keeps no index from being used.
fn conditions(filter: &VisitFilter) -> (String, Vec<Value>) {
    let asked: [(&str, Option<Value>); 4] = [
        ("v.camera_id = ", filter.camera.map(|id| id.get().into())),
        ("v.owner_id = ", filter.owner.map(|id| id.get().into())),
        (
            "v.stage = ",
            filter.stage.map(|stage| stage.as_str().to_owned().into()),
        ),
        (
            "v.camera_id IN (SELECT id FROM camera WHERE notes_id = ",
            filter.notes_id.clone().map(Value::from),
        ),
    ];
    let (mut conditions, mut given) = (Vec::new(), Vec::new());
    for (condition, value) in asked {
        let Some(value) = value else { continue };
        given.push(value);
        let close = if condition.contains('(') { ")" } else { "" };
        conditions.push(format!("{condition}?{}{close}", given.len()));
    }
    if filter.here {
        conditions.push("v.stage <> 'home'".to_owned());
    }
    if conditions.is_empty() {
        return (String::new(), given);
    }
    (format!("WHERE {}", conditions.join(" AND ")), given)
}

pub(crate) fn cameras(connection: &Connection, page: Page) -> Read<Paged<CameraLine>> {
    const ORDER: &str = "c.maker COLLATE NOCASE, c.model COLLATE NOCASE, c.id";
    let page = page.bounded();
    let lines = connection
        .prepare_cached(&format!(
            "SELECT {CAMERA}, (SELECT count(*) FROM visit WHERE camera_id = c.id), v.id, v.stage, \
             v.arrived_on, o.name \
             FROM camera c LEFT JOIN visit v ON v.id = (SELECT max(id) FROM visit WHERE camera_id = c.id) \
             LEFT JOIN owner o ON o.id = v.owner_id \
             WHERE c.id IN (SELECT c.id FROM camera c ORDER BY {ORDER} LIMIT ?1 OFFSET ?2) \
             ORDER BY {ORDER}"
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
             FROM owner o LEFT JOIN visit v ON v.owner_id = o.id \
             WHERE o.id IN (SELECT id FROM owner ORDER BY name COLLATE NOCASE, id LIMIT ?1 OFFSET ?2) \
             GROUP BY o.id ORDER BY o.name COLLATE NOCASE, o.id"
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
         p.weight_g, ifnull(p.has_cells, 0), p.id IS NOT NULL, \
         EXISTS (SELECT 1 FROM packing_declared WHERE packing_id = p.id) \
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
                [row.get(6)?, row.get(7)?, row.get(8)?],
            ),
        );
    }
    Ok(lines
        .into_iter()
        .map(|line| {
            let (address, came_with, declared, weight_g, parcel) =
                more.remove(&line.visit).unwrap_or_default();
            let [has_cells, ticked_off, contents_declared] = parcel;
            let held = held(&line, &address);
            let packed = line.stage == Stage::Packed;
            GoingHome {
                line,
                address,
                came_with,
                declared,
                packed,
                ticked_off,
                contents_declared,
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
