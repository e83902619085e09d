//! The record as it is told to another program: every table row by row, and every entry of the journal.

use std::path::PathBuf;

use jiff::Timestamp;

use crate::{ids::EntryId, journal::Hand};

/// One thing that is told of the record, in order: each table followed by its rows, and at the end the journal.
#[derive(Clone, Debug, PartialEq)]
pub enum Out<'o> {
    /// A table begins.
    Table {
        /// Its name.
        name: &'o str,
        /// Its columns.
        columns: &'o [String],
    },
    /// A row of the table, one cell a column.
    Row(&'o [Cell]),
    /// An entry of the journal.
    Entry {
        /// Names it.
        id: EntryId,
        /// When.
        at: Timestamp,
        /// Who.
        hand: Hand,
        /// The first entry of those written together with it.
        group: EntryId,
        /// The change as it stands in the journal, as JSON.
        change: &'o str,
    },
}

/// What stands in one column of one row.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing.
    Nothing,
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
}

/// A file of a bench's folder besides the database.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct KeptFile {
    /// Its name within the folder: `photos/5d….jpg`, `notes/corran-66.toml`; always with `/`.
    pub name: String,
    /// Where it lies.
    pub path: PathBuf,
}
