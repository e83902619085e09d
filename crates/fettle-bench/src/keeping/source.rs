//! A database that is only read, whatever state it and its folder are in, and its online copy.

use std::{
    ffi::OsString,
    fs::{self, File},
    path::{Path, PathBuf},
};

use rusqlite::{
    Connection, OpenFlags,
    backup::{Backup, StepResult},
};
use tempfile::TempDir;

use super::step::{Progress, Step};
use crate::{
    error::BenchError,
    store::{self, SCHEMA_VERSION},
};

/// Pages copied between two tellings of how far it is.
const PAGES_AT_ONCE: i32 = 2_000;

/// A database opened for reading.
pub(crate) struct Source {
    path: PathBuf,
    connection: Connection,
    /// Where a folder cannot be written, not even for the index of the log, a copy is read that lies elsewhere.
    _copy: Option<TempDir>,
}

impl Source {
    /// Opens a database without altering anything of it. What is no database at all is told as damaged.
    pub(crate) fn open(path: &Path) -> Result<Self, BenchError> {
        match read_only(path) {
            Ok(connection) => Ok(Self {
                path: path.to_owned(),
                connection,
                _copy: None,
            }),
            Err(error) => {
                use rusqlite::ErrorCode as C;
                match error.sqlite_error_code() {
                    Some(C::CannotOpen | C::ReadOnly | C::PermissionDenied) => Self::aside(path),
                    _ => Err(BenchError::from_database(path, &error)),
                }
            }
        }
    }

    /// Copies database and log as they lie, for a folder that nobody writes to.
    fn aside(path: &Path) -> Result<Self, BenchError> {
        let folder = temporary_folder()?;
        let copy = folder.path().join("bench.db");
        let told = |path: &Path, error: std::io::Error| BenchError::from_io(path, &error);
        fs::copy(path, &copy).map_err(|error| told(path, error))?;
        let (log, log_copy) = (log_of(path), log_of(&copy));
        if log.is_file() {
            fs::copy(&log, log_copy).map_err(|error| told(&log, error))?;
        }
        let sql = |error: rusqlite::Error| BenchError::from_database(path, &error);
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(&copy, flags).map_err(sql)?;
        look(&connection).map_err(sql)?;
        Ok(Self {
            path: path.to_owned(),
            connection,
            _copy: Some(folder),
        })
    }

    /// Reads something of it.
    pub(crate) fn read<T>(
        &self,
        reading: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, BenchError> {
        reading(&self.connection).map_err(|error| BenchError::from_database(&self.path, &error))
    }

    /// Copies the database as it stands at one moment into one new file, without a log beside it. Others may write meanwhile.
    pub(crate) fn copy_to(&self, to: &Path, progress: &mut Progress<'_>) -> Result<(), BenchError> {
        let told = |error: rusqlite::Error| self.told_of_copy(to, &error);
        // The transaction holds the moment, so that a copy in many steps never begins anew.
        let moment = self.connection.unchecked_transaction().map_err(told)?;
        look(&moment).map_err(told)?;
        let mut copy = Connection::open(to).map_err(told)?;
        // It has no name yet; it is brought to the disk as a whole.
        copy.pragma_update(None, "synchronous", "OFF")
            .map_err(told)?;
        let backup = Backup::new(&moment, &mut copy).map_err(told)?;
        loop {
            let step = backup.step(PAGES_AT_ONCE).map_err(told)?;
            let at = backup.progress();
            let count = |pages: i32| u64::try_from(pages).unwrap_or(0);
            let (of, left) = (count(at.pagecount), count(at.remaining));
            progress(Step::new("database", of.saturating_sub(left), of));
            match step {
                StepResult::Done => break,
                StepResult::More => {}
                _ => {
                    return Err(BenchError::Busy {
                        db: self.path.clone(),
                    });
                }
            }
        }
        drop(backup);
        let mode: String = copy
            .pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get(0))
            .map_err(told)?;
        copy.close().map_err(|(_, error)| told(error))?;
        let synced = File::open(to).and_then(|file| file.sync_all());
        synced.map_err(|error| BenchError::from_io(to, &error))?;
        if mode == "delete" {
            Ok(())
        } else {
            Err(BenchError::Database {
                db: to.to_owned(),
                why: format!("the copy keeps a log of the kind `{mode}`"),
            })
        }
    }

    /// A full disk, or one that cannot be written, is that of the copy; the rest is told of the database.
    fn told_of_copy(&self, to: &Path, error: &rusqlite::Error) -> BenchError {
        use rusqlite::ErrorCode as C;
        match error.sqlite_error_code() {
            Some(C::DiskFull | C::ReadOnly | C::CannotOpen) => BenchError::from_database(to, error),
            _ => BenchError::from_database(&self.path, error),
        }
    }
}

fn read_only(path: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(store::BUSY_TIMEOUT)?;
    look(&connection)?;
    Ok(connection)
}

/// Reads the first page, so that what cannot be read is told at once.
fn look(connection: &Connection) -> rusqlite::Result<()> {
    connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))
}

/// The log beside a database.
pub(crate) fn log_of(path: &Path) -> PathBuf {
    let mut name = OsString::from(path);
    name.push("-wal");
    name.into()
}

/// A folder for what is only needed while it is looked at.
pub(crate) fn temporary_folder() -> Result<TempDir, BenchError> {
    let place = std::env::temp_dir();
    tempfile::Builder::new()
        .prefix("fettle-")
        .tempdir_in(&place)
        .map_err(|error| BenchError::from_io(&place, &error))
}

/// A copy that may be altered, for looking at it.
pub(crate) struct Snapshot {
    pub(crate) connection: Connection,
}

impl Snapshot {
    /// Opens a copy of the database of this bench; what is no bench or a newer one is refused.
    pub(crate) fn open(path: &Path, db: &Path) -> Result<Self, BenchError> {
        let sql = |error: rusqlite::Error| BenchError::from_database(db, &error);
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags).map_err(sql)?;
        connection
            .pragma_update(None, "synchronous", "OFF")
            .map_err(sql)?;
        store::check_version(&connection, db).map_err(sql)??;
        Ok(Self { connection })
    }

    /// What is wrong with its pages and keys; empty when it is whole. `fully` also holds indexes against their tables.
    pub(crate) fn damage(&self, fully: bool) -> Vec<String> {
        let pragma = if fully {
            "integrity_check"
        } else {
            "quick_check"
        };
        let mut told = self
            .connection
            .prepare(&format!("PRAGMA {pragma}(20)"))
            .and_then(|mut statement| statement.query_map([], |row| row.get(0))?.collect())
            .unwrap_or_else(|error: rusqlite::Error| vec![error.to_string()]);
        // A line may hold several, under a heading of its own.
        told = told
            .iter()
            .flat_map(|line| line.lines())
            .filter(|line| *line != "ok" && !line.starts_with("***"))
            .map(str::to_owned)
            .collect();
        let loose =
            self.connection
                .query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| {
                    row.get::<_, i64>(0)
                });
        match loose {
            Ok(0) => {}
            Ok(loose) => told.push(format!("{loose} rows hang on rows that are gone")),
            Err(error) => told.push(format!("its keys cannot be followed: {error}")),
        }
        told
    }

    /// Brings the tables of an older version up to date.
    pub(crate) fn bring_up_to_date(&mut self) -> Result<(), String> {
        let version = self.version().map_err(|error| error.to_string())?;
        if version == SCHEMA_VERSION {
            return Ok(());
        }
        store::lay_tables(&mut self.connection).map_err(|error| error.to_string())
    }

    /// The version of its tables.
    pub(crate) fn version(&self) -> rusqlite::Result<i64> {
        self.connection
            .pragma_query_value(None, "user_version", |row| row.get(0))
    }

    /// Closes it and leaves one file.
    pub(crate) fn close(self, path: &Path) -> Result<(), BenchError> {
        self.connection
            .close()
            .map_err(|(_, error)| BenchError::from_database(path, &error))
    }
}

/// Places of damage that are told one by one.
const TOLD: usize = 3;

/// What is wrong with a database, in short.
pub(crate) fn in_short(damage: &[String]) -> String {
    let mut told: Vec<String> = damage.iter().take(TOLD).cloned().collect();
    if damage.len() > TOLD {
        told.push(format!("and more, at {} places in all", damage.len()));
    }
    told.join("; ")
}
