//! What can go wrong with the record: what, where, why, and what to do.

use std::{
    io::Write,
    path::{Path, PathBuf},
};

use fettle_measure::photograph::PhotographError;

use crate::ids::EntryId;

/// Something that the record could not do. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BenchError {
    /// The folder holds no bench.
    #[error(
        "{dir} is not a bench: it has no bench.db; give the folder of a bench, or make one there"
    )]
    NotABench {
        /// The folder.
        dir: PathBuf,
    },
    /// The folder already holds a bench.
    #[error("{dir} is already a bench; open it, or give another folder")]
    AlreadyABench {
        /// The folder.
        dir: PathBuf,
    },
    /// A newer version made this bench.
    #[error(
        "{dir} was made by a newer version of fettle (its tables are version {found}, this program knows up to {known}); nothing was touched: use the newer program"
    )]
    Newer {
        /// The folder.
        dir: PathBuf,
        /// The version found.
        found: i64,
        /// The newest version known.
        known: i64,
    },
    /// A newer version wrote an entry of the journal.
    #[error(
        "entry {entry} of the journal was written by a newer version of fettle ({why}): use the newer program"
    )]
    NewerChange {
        /// The entry.
        entry: EntryId,
        /// What in it is not known.
        why: String,
    },
    /// There is nothing of this kind with this number.
    #[error("there is no {what} {id}; it may have been undone")]
    Unknown {
        /// What kind of thing.
        what: &'static str,
        /// Its number.
        id: i64,
    },
    /// A change broke a rule.
    #[error("{kind}: {field}: {why}")]
    Rule {
        /// The place of the change among those applied together, from 0.
        index: usize,
        /// The kind of change.
        kind: &'static str,
        /// The field concerned.
        field: &'static str,
        /// The rule, the value and the way out.
        why: String,
    },
    /// An undo is refused because of a later entry.
    #[error(
        "entry {entry} cannot be undone: entry {by} came later and builds on it ({sentence}); undo that one first"
    )]
    InTheWay {
        /// The entry to be undone.
        entry: EntryId,
        /// The one in the way.
        by: EntryId,
        /// What that one did.
        sentence: String,
    },
    /// Another program holds the database.
    #[error(
        "{db} is busy: another program has been writing to it for too long; try again, or close the other program"
    )]
    Busy {
        /// The database.
        db: PathBuf,
    },
    /// The folder or the database cannot be written.
    #[error(
        "{path} cannot be written: it is read-only for this user; change its permissions, or copy the bench to a folder of your own"
    )]
    ReadOnly {
        /// The folder or file.
        path: PathBuf,
    },
    /// The disk is full.
    #[error("the disk that holds {path} is full; nothing was changed: make room and try again")]
    DiskFull {
        /// The folder or file.
        path: PathBuf,
    },
    /// The database is damaged.
    #[error(
        "{db} is damaged ({why}); keep a copy of the folder as it is and restore the last backup"
    )]
    Corrupt {
        /// The database.
        db: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// A damaged database is not backed up.
    #[error(
        "{db} is damaged ({why}) and was not backed up; what {backup} holds from before is as it was: keep both, and restore it into a new folder with `fettle restore`"
    )]
    NotBackedUp {
        /// The database.
        db: PathBuf,
        /// What is wrong with it.
        why: String,
        /// The folder of the backup.
        backup: PathBuf,
    },
    /// A folder is not one that can be used for this.
    #[error("{path} {why}")]
    Place {
        /// The folder.
        path: PathBuf,
        /// Why not, and what to do.
        why: String,
    },
    /// A backup cannot be brought back whole.
    #[error(
        "nothing was restored, for {what}; restore another state with --as-of, or bring back what there is with --with-losses"
    )]
    Losses {
        /// What is missing or damaged.
        what: String,
    },
    /// A photograph is none, or cannot be read.
    #[error(transparent)]
    NotAPhoto(PhotographError),
    /// A file is too large.
    #[error("the {what} is too large: {size}, the most is {most}")]
    TooLarge {
        /// What kind of file.
        what: &'static str,
        /// Its size, with unit.
        size: String,
        /// The most, with unit.
        most: String,
    },
    /// The report of a reading of exposure times is not what this program writes.
    #[error(
        "the full report of these exposure times cannot be read ({why}); the figures beside it stand: to see the traces, measure the recording again"
    )]
    Report {
        /// Why.
        why: String,
    },
    /// Service notes could not be added to.
    #[error("the service notes `{id}` were left as they are: {why}")]
    Notes {
        /// The model.
        id: String,
        /// Why.
        why: String,
    },
    /// A file could not be read or written.
    #[error("{path}: {why}")]
    File {
        /// The file.
        path: PathBuf,
        /// What the system says.
        why: String,
    },
    /// The database refused something that the checks let through.
    #[error("{db}: {why}; this is a mistake in fettle, please report it: nothing was changed")]
    Database {
        /// The database.
        db: PathBuf,
        /// What it says.
        why: String,
    },
}

impl BenchError {
    /// What the system said of a file outside the bench, told as the bench tells it.
    #[must_use]
    pub fn from_system(path: &Path, error: &std::io::Error) -> Self {
        Self::from_io(path, error)
    }

    /// Translates a system error of a file.
    pub(crate) fn from_io(path: &Path, error: &std::io::Error) -> Self {
        use std::io::ErrorKind as K;
        let path = path.to_owned();
        match error.kind() {
            K::StorageFull | K::QuotaExceeded => Self::DiskFull { path },
            K::PermissionDenied | K::ReadOnlyFilesystem => Self::ReadOnly { path },
            _ => Self::File {
                path,
                why: in_words(error),
            },
        }
    }

    /// Translates an error of the database at this path; where it names no cause, a small file beside the database tells it.
    pub(crate) fn from_database(db: &Path, error: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as C;
        let folder = db.parent().unwrap_or(db);
        match error.sqlite_error_code() {
            Some(C::CannotOpen | C::SystemIoFailure) => match try_writing(folder) {
                Err(reason) => Self::from_io(folder, &reason),
                Ok(()) => Self::from_sqlite(db, error),
            },
            _ => Self::from_sqlite(db, error),
        }
    }

    /// Translates an error of the database by what it says alone.
    fn from_sqlite(db: &Path, error: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as C;
        let db = db.to_owned();
        match error.sqlite_error_code() {
            Some(C::DatabaseBusy | C::DatabaseLocked) => Self::Busy { db },
            Some(C::ReadOnly | C::PermissionDenied) => Self::ReadOnly { path: db },
            Some(C::DiskFull) => Self::DiskFull { path: db },
            Some(C::DatabaseCorrupt | C::NotADatabase) => Self::Corrupt {
                db,
                why: error.to_string(),
            },
            Some(C::CannotOpen) => Self::File {
                path: db,
                why: "cannot be opened; look at the permissions of the folder".to_owned(),
            },
            // The one place where the database does not tell a full disk from a broken one: making room for its shared index.
            Some(C::SystemIoFailure)
                if extended_code(error) == rusqlite::ffi::SQLITE_IOERR_SHMSIZE =>
            {
                Self::DiskFull { path: db }
            }
            Some(C::SystemIoFailure) => Self::File {
                path: db,
                why: format!("the disk reports an error ({error}); nothing was changed"),
            },
            _ => Self::Database {
                db,
                why: error.to_string(),
            },
        }
    }
}

/// What the system says, in plain words and without its number.
pub(crate) fn in_words(error: &std::io::Error) -> String {
    use std::io::ErrorKind as K;
    match error.kind() {
        K::NotFound => "there is no such file or folder".to_owned(),
        K::PermissionDenied => "this user may not; change its permissions".to_owned(),
        K::IsADirectory => "it is a folder where a file is wanted".to_owned(),
        K::NotADirectory => "a file stands where a folder is wanted".to_owned(),
        K::AlreadyExists => "something of that name is there already".to_owned(),
        _ => {
            let text = error.to_string();
            let bare = text.split(" (os error").next().unwrap_or_default();
            let mut letters = bare.chars();
            letters.next().map_or_else(String::new, |first| {
                first.to_lowercase().chain(letters).collect()
            })
        }
    }
}

/// Whether a few kilobytes can be written in this folder; nothing stays.
fn try_writing(folder: &Path) -> std::io::Result<()> {
    let mut file = tempfile::tempfile_in(folder)?;
    file.write_all(&[0x55; 8 << 10])?;
    file.sync_all()
}

fn extended_code(error: &rusqlite::Error) -> i32 {
    error.sqlite_error().map_or(0, |told| told.extended_code)
}

#[cfg(test)]
mod tests {
    use std::io::{Error, ErrorKind};

    use super::*;

    #[test]
    fn what_the_system_says_of_a_file_is_told_with_its_path_and_the_way_out() {
        let path = Path::new("/bench/photos/x.jpg");
        for (kind, want) in [
            (
                ErrorKind::StorageFull,
                "the disk that holds /bench/photos/x.jpg is full",
            ),
            (ErrorKind::QuotaExceeded, "make room and try again"),
            (
                ErrorKind::PermissionDenied,
                "/bench/photos/x.jpg cannot be written: it is read-only",
            ),
            (ErrorKind::ReadOnlyFilesystem, "change its permissions"),
            (
                ErrorKind::NotFound,
                "/bench/photos/x.jpg: there is no such file",
            ),
            (
                ErrorKind::AlreadyExists,
                "something of that name is there already",
            ),
        ] {
            let told = BenchError::from_io(path, &Error::from(kind)).to_string();
            assert!(told.contains(want), "{told} does not say {want}");
        }
    }

    #[test]
    fn the_system_s_numbers_and_capitals_are_left_out() {
        for number in 1..130 {
            let told = in_words(&Error::from_raw_os_error(number));
            assert!(!told.contains("os error"), "{told}");
            assert!(!told.starts_with(char::is_uppercase), "{told}");
        }
    }

    #[test]
    fn what_the_database_says_is_told_by_its_kind() {
        let db = Path::new("/bench/bench.db");
        let told = |code| {
            let error = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(code), None);
            BenchError::from_sqlite(db, &error).to_string()
        };
        for (code, want) in [
            (rusqlite::ffi::SQLITE_BUSY, "bench.db is busy"),
            (rusqlite::ffi::SQLITE_LOCKED, "try again"),
            (rusqlite::ffi::SQLITE_READONLY, "it is read-only"),
            (rusqlite::ffi::SQLITE_FULL, "is full"),
            (rusqlite::ffi::SQLITE_CORRUPT, "bench.db is damaged"),
            (rusqlite::ffi::SQLITE_NOTADB, "restore the last backup"),
            (rusqlite::ffi::SQLITE_CANTOPEN, "look at the permissions"),
            (rusqlite::ffi::SQLITE_IOERR, "the disk reports an error"),
            (rusqlite::ffi::SQLITE_IOERR_SHMSIZE, "is full"),
            (rusqlite::ffi::SQLITE_MISUSE, "this is a mistake in fettle"),
        ] {
            assert!(
                told(code).contains(want),
                "{} does not say {want}",
                told(code)
            );
        }
    }
}
