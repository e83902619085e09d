//! What was found when a bench or a backup was looked through.

use std::path::PathBuf;

use serde::Serialize;

/// What was found when a bench or a backup was looked through.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Verified {
    /// The folder.
    pub folder: PathBuf,
    /// Whether it is a backup.
    pub is_backup: bool,
    /// Entries of the journal that could be read.
    pub entries: u64,
    /// Files held against their hash.
    pub files: u64,
    /// How long they are together.
    pub files_bytes: u64,
    /// Files that nothing in the record names; they harm nothing.
    pub unnamed: u64,
    /// States of the record that a backup holds.
    pub states: u64,
    /// All that is wrong.
    pub findings: Vec<Finding>,
}

impl Verified {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.findings.is_empty()
    }
}

/// One thing that is wrong: what is damaged, what is lost by it, what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Of which kind.
    pub kind: FindingKind,
    /// What it is about: a file's name in the folder, a table, an entry.
    pub about: String,
    /// What is damaged, as a sentence.
    pub damaged: String,
    /// What is lost by it, as a sentence.
    pub lost: String,
    /// What to do, as a sentence.
    pub remedy: String,
}

/// Kinds of damage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum FindingKind {
    /// The database cannot be opened at all.
    DatabaseUnreadable,
    /// Pages, indexes or keys of the database are damaged.
    DatabaseDamaged,
    /// Entries of the journal are missing or cannot be read.
    JournalGap,
    /// An entry of the journal cannot be told anew.
    JournalRefused,
    /// A table is not what the journal gives.
    TableDiffers,
    /// A kept file is gone.
    FileMissing,
    /// A kept file is not what its name says.
    FileDamaged,
    /// A file or folder of a bench cannot be read.
    Unreadable,
    /// A state of a backup is damaged.
    StateDamaged,
}
