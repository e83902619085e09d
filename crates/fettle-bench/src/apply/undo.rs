//! Undo: puts the rows that an entry touched back as they were before it.
//!
//! It is refused when a later entry that still stands wrote to the same columns of the same row, hangs a row on one that would go,
//! or took away one that a returning row hangs on. Undone pairs in between do not count: they cancel.

use std::collections::BTreeMap;

use rusqlite::{ErrorCode, OptionalExtension, ToSql, types::Value};

use super::{
    check::struck_by,
    donor::check_on_donor,
    door::{Door, Outcome, Refusal},
    finding::check_no_circle,
    going::check_tray,
    pieces::{check_in_a_drawer, check_returns, check_undone},
};
use crate::{
    change::Undo,
    error::BenchError,
    ids::{
        CameraId, DonorId, DonorPartId, DrawerId, EntryId, FaultId, LotId, MovementId, OwnerId,
        PartId, VisitId,
    },
    journal::Made,
    store::TABLES,
};

/// A row's columns, each as the SQL literal that `quote` gives.
type Columns = BTreeMap<String, String>;

/// What an entry did to a row, from before its first touch to after its last.
struct Image {
    table: &'static str,
    row: i64,
    before: Option<Columns>,
    after: Option<Columns>,
}

impl Image {
    /// The columns that were altered; `None` when the whole row came or went.
    fn altered(&self) -> Option<Vec<&str>> {
        altered(self.before.as_ref(), self.after.as_ref())
    }

    /// A number in the row, as it was or became.
    fn number(&self, column: &str) -> Option<i64> {
        let columns = self.before.as_ref().or(self.after.as_ref())?;
        columns.get(column)?.parse().ok()
    }
}

fn altered<'c>(before: Option<&'c Columns>, after: Option<&'c Columns>) -> Option<Vec<&'c str>> {
    let (before, after) = (before?, after?);
    let differs = |(name, value): (&'c String, &'c String)| {
        (before.get(name) != Some(value)).then_some(name.as_str())
    };
    Some(after.iter().filter_map(differs).collect())
}

pub(crate) fn undo(door: &mut Door<'_>, mut it: Undo) -> Result<Outcome, Refusal> {
    it.entry = door.known("entry", it.entry)?;
    let target = it.entry;
    if let Some(by) = struck_by(door.connection, target)? {
        return Err(Refusal::rule(
            "entry",
            format!(
                "entry {target} is already struck by entry {by}: to restore it, undo entry {by}"
            ),
        ));
    }
    let images = images(door, target)?;
    if images
        .iter()
        .any(|image| image.table == "bench" && image.before.is_none())
    {
        return Err(Refusal::rule(
            "entry",
            "a bench has a name: settle it anew instead",
        ));
    }
    if images.iter().any(|image| image.table == "bill") {
        return Err(Refusal::rule(
            "entry",
            format!(
                "entry {target} issued a numbered bill or credit note, and those stand for good: {PUT_RIGHT}"
            ),
        ));
    }
    for image in &images {
        refuse_if_touched_since(door, target, image)?;
        refuse_if_built_on(door, target, image, &images)?;
        refuse_if_hung_on_nothing(door, target, image, &images)?;
    }
    check_undone(door, &pieces_undone(&images))?;
    put_back(door, &images).map_err(explain_constraint)?;
    check_rules_again(door, &images)?;
    door.insert(
        "struck",
        &[("id", &target.get()), ("by_id", &door.entry.get())],
    )?;

    let told = told(door, target)?;
    let mut outcome = Outcome::new(it, Made::Nothing).telling(told);
    concern_the_same(door, target, &mut outcome)?;
    outcome.undoes = Some(target);
    Ok(outcome)
}

fn images(door: &Door<'_>, entry: EntryId) -> Result<Vec<Image>, Refusal> {
    let mut statement = door.connection.prepare_cached(
        "SELECT table_name, row_id, before_json, after_json FROM touched WHERE entry_id = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([entry.get()])?;
    let mut images: Vec<Image> = Vec::new();
    while let Some(row) = rows.next()? {
        let name: String = row.get(0)?;
        let table = TABLES
            .iter()
            .map(|table| table.name)
            .find(|table| *table == name)
            .ok_or_else(|| damaged(door, &format!("entry {entry} touched a table {name}")))?;
        let image = Image {
            table,
            row: row.get(1)?,
            before: columns(door, row.get(2)?)?,
            after: columns(door, row.get(3)?)?,
        };
        match images
            .iter_mut()
            .find(|known| known.table == table && known.row == image.row)
        {
            Some(known) => known.after = image.after,
            None => images.push(image),
        }
    }
    Ok(images)
}

fn columns(door: &Door<'_>, json: Option<String>) -> Result<Option<Columns>, Refusal> {
    let Some(json) = json else { return Ok(None) };
    let columns: Columns = serde_json::from_str(&json)
        .map_err(|error| damaged(door, &format!("a row's image cannot be read: {error}")))?;
    let named = |name: &str| name.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
    if columns.keys().all(|name| named(name)) {
        Ok(Some(columns))
    } else {
        Err(damaged(door, "a row's image names an odd column"))
    }
}

fn damaged(door: &Door<'_>, why: &str) -> Refusal {
    BenchError::Corrupt {
        db: door.folder.database(),
        why: why.to_owned(),
    }
    .into()
}

/// Refuses when an entry after `target` that stands wrote to what it wrote to.
fn refuse_if_touched_since(door: &Door<'_>, target: EntryId, image: &Image) -> Result<(), Refusal> {
    let mine = image.altered();
    let mut statement = door.connection.prepare_cached(
        "SELECT t.entry_id, t.before_json, t.after_json \
         FROM touched t JOIN journal j ON j.id = t.entry_id LEFT JOIN struck s ON s.id = t.entry_id \
         WHERE t.table_name = ?1 AND t.row_id = ?2 AND t.entry_id > ?3 \
         AND s.id IS NULL AND ifnull(j.undoes_id, 0) <= ?3 ORDER BY t.entry_id DESC",
    )?;
    let mut rows = statement.query((image.table, image.row, target.get()))?;
    while let Some(row) = rows.next()? {
        let (before, after) = (columns(door, row.get(1)?)?, columns(door, row.get(2)?)?);
        let theirs = altered(before.as_ref(), after.as_ref());
        let meet = match (&mine, &theirs) {
            (Some(mine), Some(theirs)) => mine.iter().any(|name| theirs.contains(name)),
            _ => true,
        };
        if meet {
            return Err(in_the_way(door, target, EntryId::new(row.get(0)?))?);
        }
    }
    Ok(())
}

/// Refuses when a row hangs on one that would go.
fn refuse_if_built_on(
    door: &Door<'_>,
    target: EntryId,
    image: &Image,
    images: &[Image],
) -> Result<(), Refusal> {
    if image.before.is_some() {
        return Ok(());
    }
    for table in TABLES {
        for (column, parent) in foreign_keys(door, table.name)? {
            if parent != image.table {
                continue;
            }
            let hanging: Vec<i64> = door
                .connection
                .prepare_cached(&format!(
                    "SELECT id FROM {} WHERE {column} = ?1",
                    table.name
                ))?
                .query_map([image.row], |row| row.get(0))?
                .collect::<rusqlite::Result<_>>()?;
            for row in hanging {
                let goes_too = images.iter().any(|other| {
                    other.table == table.name && other.row == row && other.before.is_none()
                });
                if !goes_too {
                    return Err(blame(door, target, table.name, row)?);
                }
            }
        }
    }
    Ok(())
}

/// Refuses when a returning row would hang on one that is gone.
fn refuse_if_hung_on_nothing(
    door: &Door<'_>,
    target: EntryId,
    image: &Image,
    images: &[Image],
) -> Result<(), Refusal> {
    let Some(before) = &image.before else {
        return Ok(());
    };
    for (column, parent) in foreign_keys(door, image.table)? {
        let Some(row) = before
            .get(&column)
            .and_then(|literal| literal.parse::<i64>().ok())
        else {
            continue;
        };
        let returns_too = images
            .iter()
            .any(|other| other.table == parent && other.row == row && other.before.is_some());
        let exists = door
            .connection
            .prepare_cached(&format!("SELECT 1 FROM {parent} WHERE id = ?1"))?
            .exists([row])?;
        if !exists && !returns_too {
            return Err(blame(door, target, &parent, row)?);
        }
    }
    Ok(())
}

fn foreign_keys(door: &Door<'_>, table: &str) -> rusqlite::Result<Vec<(String, String)>> {
    door.connection
        .prepare_cached("SELECT \"from\", \"table\" FROM pragma_foreign_key_list(?1)")?
        .query_map([table], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}

/// The refusal that names the last standing entry that wrote to this row.
fn blame(door: &Door<'_>, target: EntryId, table: &str, row: i64) -> Result<Refusal, Refusal> {
    let by: Option<i64> = door
        .connection
        .prepare_cached(
            "SELECT max(t.entry_id) FROM touched t LEFT JOIN struck s ON s.id = t.entry_id \
             WHERE t.table_name = ?1 AND t.row_id = ?2 AND s.id IS NULL",
        )?
        .query_row((table, row), |row| row.get(0))?;
    match by {
        Some(by) => in_the_way(door, target, EntryId::new(by)),
        None => Ok(damaged(
            door,
            &format!("nothing in the journal tells of row {row} of {table}"),
        )),
    }
}

/// How a bill is put right that cannot be undone.
const PUT_RIGHT: &str = "write a credit note, and a new bill where one is due";

fn in_the_way(door: &Door<'_>, target: EntryId, by: EntryId) -> Result<Refusal, Refusal> {
    let sentence = sentence(door, by)?.0;
    let for_good = door
        .connection
        .prepare_cached("SELECT 1 FROM touched WHERE entry_id = ?1 AND table_name = 'bill'")?
        .exists([by.get()])?;
    if for_good {
        return Ok(Refusal::rule(
            "entry",
            format!(
                "entry {target} cannot be undone: entry {by} builds on it ({sentence}), and a bill stands for good: {PUT_RIGHT}"
            ),
        ));
    }
    Ok(BenchError::InTheWay {
        entry: target,
        by,
        sentence,
    }
    .into())
}

/// Rows that came go, rows that were altered are put back, rows that went return; in this order, so that nothing is there twice.
/// What went last returns first: a lot before its movements, for they add up in it.
fn put_back(door: &Door<'_>, images: &[Image]) -> rusqlite::Result<()> {
    door.connection
        .execute_batch("PRAGMA defer_foreign_keys = ON")?;
    for image in images.iter().rev().filter(|image| image.before.is_none()) {
        door.connection
            .prepare_cached(&format!("DELETE FROM {} WHERE id = ?1", image.table))?
            .execute([image.row])?;
    }
    for image in images.iter().rev().filter(|image| image.after.is_some()) {
        let Some(before) = &image.before else {
            continue;
        };
        let names = image.altered().unwrap_or_default();
        let columns: Vec<(&str, Value)> = names
            .iter()
            .filter_map(|name| Some((*name, literal(before.get(*name)?))))
            .collect();
        if columns.is_empty() {
            continue;
        }
        let sets: Vec<String> = columns
            .iter()
            .enumerate()
            .map(|(n, (name, _))| format!("{name} = ?{}", n + 2))
            .collect();
        let mut values: Vec<&dyn ToSql> = vec![&image.row];
        values.extend(columns.iter().map(|(_, value)| value as &dyn ToSql));
        let sql = format!(
            "UPDATE {} SET {} WHERE id = ?1",
            image.table,
            sets.join(", ")
        );
        door.connection.prepare_cached(&sql)?.execute(&*values)?;
    }
    for image in images.iter().rev().filter(|image| image.after.is_none()) {
        let Some(before) = &image.before else {
            continue;
        };
        let names: Vec<&str> = before.keys().map(String::as_str).collect();
        let places: Vec<String> = (1..=names.len()).map(|n| format!("?{n}")).collect();
        let values: Vec<Value> = before.values().map(|value| literal(value)).collect();
        let sql = format!(
            "INSERT INTO {} ({}) VALUES ({})",
            image.table,
            names.join(", "),
            places.join(", ")
        );
        door.connection
            .prepare_cached(&sql)?
            .execute(rusqlite::params_from_iter(values))?;
    }
    Ok(())
}

/// The value of a literal that SQLite's `quote` wrote.
fn literal(text: &str) -> Value {
    if let Some(inner) = text
        .strip_prefix('\'')
        .and_then(|rest| rest.strip_suffix('\''))
    {
        Value::Text(inner.replace("''", "'"))
    } else if let Ok(number) = text.parse::<i64>() {
        Value::Integer(number)
    } else if let Ok(number) = text.parse::<f64>() {
        Value::Real(number)
    } else {
        Value::Null
    }
}

/// What was recorded since may no longer bear what returns.
fn check_rules_again(door: &Door<'_>, images: &[Image]) -> Result<(), Refusal> {
    for image in images {
        let visit = match image.table {
            "visit" => Some(image.row),
            "piece" => door
                .connection
                .prepare_cached("SELECT visit_id FROM piece WHERE id = ?1")?
                .query_row([image.row], |row| row.get(0))
                .optional()?,
            "donor_part" => {
                check_on_donor(door, DonorPartId::new(image.row), "undo the taking first")?;
                None
            }
            "lot" => {
                let loses = image
                    .altered()
                    .is_some_and(|names| names.contains(&"drawer_id"));
                check_in_a_drawer(door, LotId::new(image.row), loses)?;
                None
            }
            "movement" => {
                check_movement(door, image, images)?;
                None
            }
            "fault" => {
                check_no_circle(door, FaultId::new(image.row))?;
                None
            }
            _ => None,
        };
        if let Some(visit) = visit
            && door
                .connection
                .prepare_cached("SELECT 1 FROM visit WHERE id = ?1")?
                .exists([visit])?
        {
            check_tray(door, &door.visit(VisitId::new(visit))?)?;
        }
    }
    Ok(())
}

fn check_movement(door: &Door<'_>, image: &Image, images: &[Image]) -> Result<(), Refusal> {
    if image.before.is_some() {
        check_returns(door, MovementId::new(image.row))?;
        if let Some(from) = image.number("donor_part_id") {
            let way_out = "undo the later taking first, or note more on the donor";
            check_on_donor(door, DonorPartId::new(from), way_out)?;
        }
    }
    match image.number("lot_id") {
        // A lot that is itself among the images is looked at there.
        Some(lot) if !images.iter().any(|it| it.table == "lot" && it.row == lot) => {
            check_in_a_drawer(door, LotId::new(lot), false)
        }
        _ => Ok(()),
    }
}

fn explain_constraint(error: rusqlite::Error) -> Refusal {
    if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) {
        return Refusal::rule(
            "entry",
            "what it would bring back was recorded anew since: undo the later entry first",
        );
    }
    error.into()
}

fn concern_the_same(
    door: &Door<'_>,
    entry: EntryId,
    outcome: &mut Outcome,
) -> rusqlite::Result<()> {
    door.connection
        .prepare_cached(
            "SELECT visit_id, camera_id, owner_id, part_id, drawer_id, donor_id \
             FROM journal WHERE id = ?1",
        )?
        .query_row([entry.get()], |row| {
            outcome.visit = row.get::<_, Option<i64>>(0)?.map(VisitId::new);
            outcome.camera = row.get::<_, Option<i64>>(1)?.map(CameraId::new);
            outcome.owner = row.get::<_, Option<i64>>(2)?.map(OwnerId::new);
            outcome.part = row.get::<_, Option<i64>>(3)?.map(PartId::new);
            outcome.drawer = row.get::<_, Option<i64>>(4)?.map(DrawerId::new);
            outcome.donor = row.get::<_, Option<i64>>(5)?.map(DonorId::new);
            Ok(())
        })
}

/// What taking these rows back does to the pieces of each lot that is there; one that returns does so with its movements.
fn pieces_undone(images: &[Image]) -> Vec<(LotId, i64)> {
    let number = |columns: &Columns, name: &str| columns.get(name)?.parse::<i64>().ok();
    let of = |columns: &Option<Columns>, sign: i64| {
        let columns = columns.as_ref()?;
        let lot = LotId::new(number(columns, "lot_id")?);
        Some((lot, sign * number(columns, "change_pieces")?))
    };
    let returns = |lot: LotId| {
        images
            .iter()
            .any(|image| image.table == "lot" && image.row == lot.get() && image.after.is_none())
    };
    images
        .iter()
        .filter(|image| image.table == "movement")
        .flat_map(|image| [of(&image.after, -1), of(&image.before, 1)])
        .flatten()
        .filter(|(lot, _)| !returns(*lot))
        .collect()
}

fn sentence(door: &Door<'_>, entry: EntryId) -> rusqlite::Result<(String, Option<EntryId>)> {
    door.connection
        .prepare_cached("SELECT sentence, undoes_id FROM journal WHERE id = ?1")?
        .query_row([entry.get()], |row| {
            Ok((row.get(0)?, row.get::<_, Option<i64>>(1)?.map(EntryId::new)))
        })
}

/// An undo of an undo restores, and so on: what was first done is told, and which way it went this time.
fn told(door: &Door<'_>, target: EntryId) -> rusqlite::Result<String> {
    let mut undone = true;
    let (mut first, mut undoes) = sentence(door, target)?;
    while let Some(earlier) = undoes {
        (first, undoes) = sentence(door, earlier)?;
        undone = !undone;
    }
    Ok(format!(
        "{}: {first}",
        if undone { "undone" } else { "restored" }
    ))
}

#[cfg(test)]
mod tests {
    use rusqlite::Connection;

    use super::*;

    #[test]
    fn every_literal_reads_back_as_the_value_it_was() {
        let connection = Connection::open_in_memory().unwrap();
        let values = [
            Value::Null,
            Value::Integer(i64::MIN),
            Value::Integer(0),
            Value::Real(0.1),
            Value::Real(1e300),
            Value::Real(-5e-324),
            Value::Real(1.0),
            Value::Real(0.1 + 0.2),
            Value::Text(String::new()),
            Value::Text("it's 'quoted'\nünïcode 12".to_owned()),
            Value::Text("12".to_owned()),
            Value::Text("NULL".to_owned()),
        ];
        for value in values {
            let quoted: String = connection
                .query_row("SELECT quote(?1)", [&value], |row| row.get(0))
                .unwrap();
            assert_eq!(literal(&quoted), value, "{quoted}");
        }
    }
}
