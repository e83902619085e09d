//! What must hold of pieces when an entry is undone or restored.

use rusqlite::OptionalExtension;

use super::{
    door::{Door, Refusal},
    lot::lot,
};
use crate::ids::{LotId, MovementId};

/// Refuses to take a movement back when that would leave fewer than no pieces.
pub(crate) fn check_undone(door: &Door<'_>, changes: &[(LotId, i64)]) -> Result<(), Refusal> {
    for (of, _) in changes {
        let change: i64 = changes
            .iter()
            .filter(|(lot, _)| lot == of)
            .map(|(_, change)| change)
            .sum();
        let lot = lot(door, *of)?;
        let left = i64::from(lot.quantity) + change;
        if left < 0 {
            return Err(Refusal::rule(
                "entry",
                format!(
                    "{} are there of {}, and without this entry {} fewer would be: what it brought is already taken; bring that back or count the drawer first",
                    lot.quantity,
                    lot.told(),
                    -change
                ),
            ));
        }
    }
    Ok(())
}

/// Refuses to restore a return when more would have come back than was taken.
pub(crate) fn check_returns(door: &Door<'_>, restored: MovementId) -> Result<(), Refusal> {
    let found: Option<(i64, i64, i64)> = door
        .connection
        .prepare_cached(
            "SELECT t.id, -t.change_pieces, (SELECT sum(change_pieces) FROM movement WHERE taken_id = t.id) \
             FROM movement r JOIN movement t ON t.id = r.taken_id WHERE r.id = ?1",
        )?
        .query_row([restored.get()], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })
        .optional()?;
    let Some((taking, taken, back)) = found else {
        return Ok(());
    };
    if back <= taken {
        return Ok(());
    }
    let by = last_standing(
        door,
        "m.taken_id = ?1 AND m.id <> ?2",
        taking,
        restored.get(),
    )?;
    Err(Refusal::rule(
        "entry",
        format!(
            "{back} would have come back of {taken} taken, for {} brought some back since: undo that one first",
            named(by)
        ),
    ))
}

/// Refuses when pieces would lie in no drawer; `loses` says that the undo takes the lot's drawer away.
pub(crate) fn check_in_a_drawer(door: &Door<'_>, of: LotId, loses: bool) -> Result<(), Refusal> {
    let homeless = door
        .connection
        .prepare_cached(
            "SELECT 1 FROM lot l JOIN stock s ON s.id = l.id \
             WHERE l.id = ?1 AND l.drawer_id IS NULL AND s.quantity > 0",
        )?
        .exists([of.get()])?;
    if !homeless {
        return Ok(());
    }
    let (by, did) = if loses {
        let condition = "m.lot_id = ?1 AND m.change_pieces > ?2";
        (last_standing(door, condition, of.get(), 0)?, "brought them")
    } else {
        let by: Option<i64> = door
            .connection
            .prepare_cached(
                "SELECT max(t.entry_id) FROM touched t LEFT JOIN struck s ON s.id = t.entry_id \
                 WHERE t.table_name = 'lot' AND t.row_id = ?1 AND t.entry_id < ?2 AND s.id IS NULL",
            )?
            .query_row((of.get(), door.entry.get()), |row| row.get(0))?;
        (by, "took the drawer away")
    };
    let lot = lot(door, of)?;
    Err(Refusal::rule(
        "entry",
        format!(
            "{} × {} would be left over, for {} {did}: undo that one first",
            lot.quantity,
            lot.told(),
            named(by)
        ),
    ))
}

/// The last entry that stands, before this one, of those that wrote a movement which is there.
fn last_standing(
    door: &Door<'_>,
    condition: &str,
    first: i64,
    second: i64,
) -> rusqlite::Result<Option<i64>> {
    door.connection
        .prepare_cached(&format!(
            "SELECT max(t.entry_id) FROM movement m \
             JOIN touched t ON t.table_name = 'movement' AND t.row_id = m.id \
             LEFT JOIN struck s ON s.id = t.entry_id \
             WHERE {condition} AND t.entry_id < ?3 AND s.id IS NULL"
        ))?
        .query_row((first, second, door.entry.get()), |row| row.get(0))
}

fn named(entry: Option<i64>) -> String {
    entry.map_or_else(
        || "another entry".to_owned(),
        |entry| format!("entry {entry}"),
    )
}
