//! Donors and what is on them.

use rusqlite::{Connection, Params, Row};

use super::{
    journal::{MOST, entries},
    row::{term, time, word},
};
use crate::{
    change::{DonorDetails, OnDonor, PartOf},
    ids::{DonorId, DonorPartId},
    view::{DonorLine, DonorPart, DonorView},
    words::DonorPartIs,
};

type Read<T> = rusqlite::Result<T>;

/// How many pieces of a donor's part were taken.
const TAKEN: &str =
    "(SELECT ifnull(sum(m.change_pieces), 0) FROM movement m WHERE m.donor_part_id = dp.id)";

fn donor_lines(
    connection: &Connection,
    condition: &str,
    parameters: impl Params,
) -> Read<Vec<DonorLine>> {
    connection
        .prepare_cached(&format!(
            "SELECT n.id, n.maker, n.model, n.notes_id, n.serial, n.condition, n.source, n.at_utc, \
             ifnull(sum(dp.state <> 'spoiled' AND dp.quantity > {TAKEN}), 0), ifnull(sum({TAKEN}), 0) \
             FROM donor n LEFT JOIN donor_part dp ON dp.donor_id = n.id {condition}"
        ))?
        .query_map(parameters, |row| {
            Ok(DonorLine {
                id: DonorId::new(row.get(0)?),
                details: DonorDetails {
                    maker: row.get(1)?,
                    model: row.get(2)?,
                    notes_id: row.get(3)?,
                    serial: row.get(4)?,
                    condition: row.get(5)?,
                    source: row.get(6)?,
                },
                at: time(row, 7)?,
                parts: row.get(8)?,
                taken: row.get(9)?,
            })
        })?
        .collect()
}

/// Every donor by its model.
pub(crate) fn donors(connection: &Connection) -> Read<Vec<DonorLine>> {
    donor_lines(
        connection,
        "GROUP BY n.id ORDER BY n.maker COLLATE NOCASE, n.model COLLATE NOCASE, n.id",
        [],
    )
}

const DONOR_PART: &str = "dp.id, dp.term_id, dp.words, dp.quantity, dp.state, dp.note";

fn donor_part(row: &Row<'_>) -> Read<DonorPart> {
    let taken: u32 = row.get(6)?;
    let noted: u32 = row.get(3)?;
    Ok(DonorPart {
        id: DonorPartId::new(row.get(0)?),
        on: OnDonor {
            part: term(row, 1)?,
            quantity: noted.saturating_sub(taken),
            state: word(row, 4, DonorPartIs::from_text)?,
            note: row.get(5)?,
        },
        taken,
    })
}

pub(crate) fn donor(connection: &Connection, id: DonorId) -> Read<Option<DonorView>> {
    let Some(line) = donor_lines(connection, "WHERE n.id = ?1 GROUP BY n.id", [id.get()])?.pop()
    else {
        return Ok(None);
    };
    let parts = connection
        .prepare_cached(&format!(
            "SELECT {DONOR_PART}, {TAKEN} FROM donor_part dp WHERE dp.donor_id = ?1 ORDER BY dp.id"
        ))?
        .query_map([id.get()], donor_part)?
        .collect::<Read<_>>()?;
    Ok(Some(DonorView {
        line,
        parts,
        journal: entries(
            connection,
            "WHERE j.donor_id = ?1 ORDER BY j.id DESC LIMIT ?2",
            (id.get(), MOST),
        )?,
    }))
}

/// Donors of a part's own model that still have it.
pub(crate) fn with_part(connection: &Connection, of: &PartOf) -> Read<Vec<(DonorLine, DonorPart)>> {
    let found: Vec<(i64, DonorPart)> = connection
        .prepare_cached(&format!(
            "SELECT {DONOR_PART}, {TAKEN}, n.id FROM donor n JOIN donor_part dp ON dp.donor_id = n.id \
             WHERE ifnull(n.notes_id, trim(n.maker || ' ' || n.model)) = ?1 \
             AND ifnull(dp.term_id, dp.words) = ?2 AND dp.state <> 'spoiled' ORDER BY n.id"
        ))?
        .query_map(
            (of.notes_id.as_deref().unwrap_or(&of.model), of.part.key()),
            |row| Ok((row.get(7)?, donor_part(row)?)),
        )?
        .collect::<Read<_>>()?;
    let mut with = Vec::new();
    for (donor, part) in found {
        if part.on.quantity == 0 {
            continue;
        }
        let line = donor_lines(connection, "WHERE n.id = ?1 GROUP BY n.id", [donor])?.pop();
        with.extend(line.map(|line| (line, part)));
    }
    Ok(with)
}
