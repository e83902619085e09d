//! What an export says of itself: its format, its tables and every file with its hash.

use std::path::Path;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::part::Part;
use crate::error::MovingError;

/// The name of the format.
pub(crate) const FORMAT: &str = "fettle-export-1";
/// The manifest's file.
pub(crate) const FILE: &str = "manifest.json";

/// What an export says of itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    /// The name of the format: `fettle-export-1`.
    pub format: String,
    /// The program that wrote it, with its version.
    pub program: String,
    /// When.
    pub made_at: Timestamp,
    /// The bench's name.
    pub bench: String,
    /// The version of the record's tables.
    pub tables_version: i64,
    /// How many entries the journal has.
    pub entries: u64,
    /// The tables.
    pub tables: Vec<TableNote>,
    /// Every file of the export but this one.
    pub files: Vec<FileNote>,
}

/// What a manifest says of one table.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableNote {
    /// Its file.
    pub file: String,
    /// The table of the record.
    pub table: String,
    /// What it holds, in words.
    pub about: String,
    /// How many rows it has.
    pub rows: u64,
}

/// What a manifest says of one file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct FileNote {
    /// Its name within the export, with `/` between folder and file.
    pub name: String,
    /// How long it is.
    pub bytes: u64,
    /// BLAKE3 of its content, 64 hexadecimal digits.
    pub blake3: String,
}

impl FileNote {
    /// Whether a file that is named by its content holds it; others always fit.
    pub(crate) fn fits_its_name(&self) -> bool {
        let kept = self
            .name
            .split_once('/')
            .filter(|(folder, _)| matches!(*folder, "photos" | "recordings" | "papers"));
        kept.is_none_or(|(_, file)| {
            file.split_once('.')
                .is_some_and(|(hash, _)| hash == self.blake3)
        })
    }

    /// Whether it is a file of the bench's folder, not of the record.
    pub(crate) fn is_kept(&self) -> bool {
        let folder = self.name.split_once('/').map(|(folder, _)| folder);
        matches!(folder, Some("photos" | "recordings" | "papers" | "notes"))
    }
}

impl Manifest {
    pub(crate) fn write(&self, folder: &Path) -> Result<(), MovingError> {
        let json = serde_json::to_string_pretty(self).map_err(|error| MovingError::File {
            path: folder.join(FILE),
            why: error.to_string(),
        })?;
        let mut part = Part::create(folder, FILE)?;
        part.put(&json)?;
        part.put("\n")?;
        part.end().map(drop)
    }
}
