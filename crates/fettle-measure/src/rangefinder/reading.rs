//! Readings of a rangefinder.

use serde::{Deserialize, Serialize};

use crate::focus::distance;
use crate::run::{Column, Row, RunError, Table};

const COLUMNS: [Column; 3] = [
    Column::new("distance_m", "m", 0.02, 20_000.0).or_word("inf", f64::INFINITY),
    Column::new("extension_mm", "mm", -2000.0, 2000.0),
    Column::new("vertical_arcmin", "arcmin", -300.0, 300.0).or_empty(),
];

/// The extension at which the images met, at one distance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Where it stands in the file, from 1.
    pub line: usize,
    /// From film to subject; infinite for a far one.
    #[serde(with = "distance")]
    pub distance_m: f64,
    /// How far the lens stood out from infinity when the images met; negative when it stood nearer to the film.
    pub extension_mm: f64,
    /// By how much the movable image then stood too high, as seen in the finder.
    pub vertical_arcmin: Option<f64>,
}

/// Reads a run with the columns `distance_m` (metres, or `inf`), `extension_mm` and, where it was looked at, `vertical_arcmin`.
///
/// # Errors
/// [`RunError`] with every problem found, by line and column.
pub fn read(bytes: &[u8]) -> Result<Vec<Reading>, RunError> {
    let table = Table::read(bytes, &COLUMNS)?;
    let reading = |row: &Row| {
        Some(Reading {
            line: row.line(),
            distance_m: row.get(0)?,
            extension_mm: row.get(1)?,
            vertical_arcmin: row.get(2),
        })
    };
    Ok(table.rows().iter().filter_map(reading).collect())
}
