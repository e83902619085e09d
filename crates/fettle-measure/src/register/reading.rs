//! Readings of a register.

use serde::{Deserialize, Serialize};

use crate::run::{Column, RunError, Table};

const COLUMNS: [Column; 3] = [
    Column::new("x_mm", "mm", -300.0, 300.0),
    Column::new("y_mm", "mm", -300.0, 300.0),
    Column::new("reading_mm", "mm", 1.0, 600.0),
];

/// The depth from the lens's seat read at one point of the film plane.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Where it stands in the file, from 1.
    pub line: usize,
    /// To the right of the frame's middle, seen from the front.
    pub x_mm: f64,
    /// Above the frame's middle.
    pub y_mm: f64,
    /// The depth read.
    pub reading_mm: f64,
}

/// Reads a run with the columns `x_mm`, `y_mm` (from the frame's middle) and `reading_mm`.
///
/// # Errors
/// [`RunError`] with every problem found, by line and column.
pub fn read(bytes: &[u8]) -> Result<Vec<Reading>, RunError> {
    let table = Table::read(bytes, &COLUMNS)?;
    let reading = |row: &crate::run::Row| {
        Some(Reading {
            line: row.line(),
            x_mm: row.get(0)?,
            y_mm: row.get(1)?,
            reading_mm: row.get(2)?,
        })
    };
    Ok(table.rows().iter().filter_map(reading).collect())
}
