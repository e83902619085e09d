//! Tells the record to another program, all of it as it stands at one moment.

use rusqlite::{Connection, types::ValueRef};

use super::row::time;
use crate::{
    ids::EntryId,
    journal::Hand,
    out::{Cell, Out},
};

/// Tables that are kept from others or from the journal, and the journal itself, which is told entry by entry.
const LEFT_OUT: &str = "name NOT LIKE 'sqlite_%' AND name NOT LIKE 'find_%' AND name <> 'touched'";

/// Gives everything to `tell`, which returns whether to go on.
pub(crate) fn out(
    connection: &Connection,
    tell: &mut dyn FnMut(Out<'_>) -> bool,
) -> rusqlite::Result<()> {
    let names: Vec<String> = connection
        .prepare(&format!(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND {LEFT_OUT} ORDER BY name"
        ))?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    for name in names {
        if !table(connection, &name, tell)? {
            return Ok(());
        }
    }
    journal(connection, tell)
}

fn table(
    connection: &Connection,
    name: &str,
    tell: &mut dyn FnMut(Out<'_>) -> bool,
) -> rusqlite::Result<bool> {
    // The journal's changes are told with its entries.
    let columns: Vec<String> = connection
        .prepare("SELECT name FROM pragma_table_info(?1) WHERE name <> 'change_json' ORDER BY cid")?
        .query_map([name], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    let about = Out::Table {
        name,
        columns: &columns,
    };
    if !tell(about) {
        return Ok(false);
    }
    let mut statement = connection.prepare(&format!(
        "SELECT {} FROM {name} ORDER BY id",
        columns.join(", ")
    ))?;
    let mut rows = statement.query([])?;
    let mut cells: Vec<Cell> = Vec::new();
    while let Some(row) = rows.next()? {
        cells.clear();
        for column in 0..columns.len() {
            cells.push(match row.get_ref(column)? {
                ValueRef::Null => Cell::Nothing,
                ValueRef::Integer(whole) => Cell::Whole(whole),
                ValueRef::Real(number) => Cell::Number(number),
                value @ (ValueRef::Text(_) | ValueRef::Blob(_)) => {
                    Cell::Text(value.as_str()?.to_owned())
                }
            });
        }
        if !tell(Out::Row(&cells)) {
            return Ok(false);
        }
    }
    Ok(true)
}

fn journal(connection: &Connection, tell: &mut dyn FnMut(Out<'_>) -> bool) -> rusqlite::Result<()> {
    let mut statement = connection
        .prepare("SELECT id, at_utc, hand, group_id, change_json FROM journal ORDER BY id")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let entry = Out::Entry {
            id: EntryId::new(row.get(0)?),
            at: time(row, 1)?,
            hand: Hand::new(row.get_ref(2)?.as_str()?),
            group: EntryId::new(row.get(3)?),
            change: row.get_ref(4)?.as_str()?,
        };
        if !tell(entry) {
            break;
        }
    }
    Ok(())
}
