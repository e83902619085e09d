//! Two databases held against each other, table by table and row by row.

use rusqlite::{Connection, Row, types::ValueRef};
use serde_json::Value;

/// What is told of a table that differs.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Difference {
    pub(crate) table: String,
    /// How many rows differ, are missing or are too many.
    pub(crate) rows: u64,
    /// The first of them, in words.
    pub(crate) first: String,
}

/// Caches, which are made again from the rest, and SQLite's own.
const LEFT_OUT: &str = "name NOT LIKE 'sqlite_%' AND name NOT LIKE 'find_%'";

/// Names of the tables that are held against each other.
pub(crate) fn names(connection: &Connection) -> rusqlite::Result<Vec<String>> {
    connection
        .prepare(&format!(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND {LEFT_OUT} ORDER BY name"
        ))?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// Holds one table of a record against the same table as its journal gives it.
pub(crate) fn compare(
    record: &Connection,
    journal: &Connection,
    table: &str,
) -> rusqlite::Result<Option<Difference>> {
    // What a later version words anew is no damage.
    let columns: Vec<String> = journal
        .prepare("SELECT name FROM pragma_table_info(?1) WHERE NOT (?1 = 'journal' AND name = 'sentence') ORDER BY cid")?
        .query_map([table], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    let sql = format!("SELECT {} FROM {table} ORDER BY id", columns.join(", "));
    let id = columns.iter().position(|name| name == "id").unwrap_or(0);
    let (mut ours, mut theirs) = (record.prepare(&sql)?, journal.prepare(&sql)?);
    let (mut ours, mut theirs) = (ours.query([])?, theirs.query([])?);
    let mut difference: Option<Difference> = None;
    let mut note = |first: String| {
        difference
            .get_or_insert(Difference {
                table: table.to_owned(),
                rows: 0,
                first,
            })
            .rows += 1;
    };
    let (mut here, mut there) = (ours.next()?, theirs.next()?);
    loop {
        let number = |row: Option<&Row<'_>>| row.map(|row| row.get::<_, i64>(id)).transpose();
        let (mine, its) = (number(here)?, number(there)?);
        match (mine, its) {
            (None, None) => break,
            (Some(n), _) if its.is_none_or(|m| n < m) => {
                note(format!(
                    "row {n} stands there, of which the journal knows nothing"
                ));
                here = ours.next()?;
            }
            (_, Some(m)) if mine.is_none_or(|n| m < n) => {
                note(format!("row {m} is missing, which the journal gives"));
                there = theirs.next()?;
            }
            _ => {
                if let (Some(here), Some(there)) = (here, there)
                    && let Some(differs) = cell_that_differs(table, &columns, here, there)?
                {
                    note(format!("row {} {differs}", mine.unwrap_or(0)));
                }
                here = ours.next()?;
                there = theirs.next()?;
            }
        }
    }
    Ok(difference)
}

/// The first cell that differs between two rows of the same number, in words.
fn cell_that_differs(
    table: &str,
    columns: &[String],
    here: &Row<'_>,
    there: &Row<'_>,
) -> rusqlite::Result<Option<String>> {
    for (column, name) in columns.iter().enumerate() {
        let (mine, its) = (here.get_ref(column)?, there.get_ref(column)?);
        if !same(table, mine, its) {
            let (mine, its) = (written(mine), written(its));
            return Ok(Some(format!(
                "says {mine} in {name}, where the journal gives {its}"
            )));
        }
    }
    Ok(None)
}

/// Whether two cells say the same.
fn same(table: &str, mine: ValueRef<'_>, its: ValueRef<'_>) -> bool {
    if mine == its {
        return true;
    }
    // The images that undo reads: those of an older version lack the columns that came later.
    let (ValueRef::Text(mine), ValueRef::Text(its)) = (mine, its) else {
        return false;
    };
    let row = |text: &[u8]| match serde_json::from_slice(text) {
        Ok(Value::Object(row)) => Some(row),
        _ => None,
    };
    match (table, row(mine), row(its)) {
        ("touched", Some(mine), Some(its)) => mine
            .iter()
            .all(|(name, value)| its.get(name) == Some(value)),
        _ => false,
    }
}

/// Most characters of a cell that are told.
const TOLD: usize = 60;

fn written(cell: ValueRef<'_>) -> String {
    match cell {
        ValueRef::Null => "nothing".to_owned(),
        ValueRef::Integer(whole) => whole.to_string(),
        ValueRef::Real(number) => number.to_string(),
        ValueRef::Text(bytes) | ValueRef::Blob(bytes) => {
            let text = String::from_utf8_lossy(bytes);
            let mut cut: String = text.chars().take(TOLD).collect();
            if text.chars().nth(TOLD).is_some() {
                cut.push('…');
            }
            format!("“{cut}”")
        }
    }
}
