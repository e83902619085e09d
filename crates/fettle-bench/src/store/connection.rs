//! Connections to the database of one bench.

use std::{
    path::{Path, PathBuf},
    sync::{Mutex, MutexGuard, PoisonError},
    time::Duration,
};

use rusqlite::{Connection, OpenFlags};
use rusqlite_migration::{M, Migrations};

use super::watch;
use crate::error::BenchError;

/// Embedded, numbered, never edited.
const MIGRATIONS: &[M<'static>] = &[
    M::up(include_str!("../migrations/01_record.sql")),
    M::up(include_str!("../migrations/02_trial_strip.sql")),
    M::up(include_str!("../migrations/03_stock.sql")),
    M::up(include_str!("../migrations/04_owner_side.sql")),
    M::up(include_str!("../migrations/05_scale.sql")),
];

/// The version of the tables that this program knows, kept in `user_version`.
pub const SCHEMA_VERSION: i64 = 5;

/// Marks the file as a bench in its header: "Fttl".
const APPLICATION_ID: i64 = 0x4674_746C;

/// How long to wait for another program that writes.
pub(crate) const BUSY_TIMEOUT: Duration = Duration::from_secs(10);

/// More readers than this are opened when needed and closed after use.
const READERS_KEPT: usize = 4;

/// One writer, some readers.
#[derive(Debug)]
pub(crate) struct Store {
    path: PathBuf,
    readers: Mutex<Vec<Connection>>,
    writer: Mutex<Connection>,
}

/// When what is written must be on the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Durability {
    /// Before a change is acknowledged.
    EachChange,
    /// When the bench that is being made is whole; until then it has no name and may be lost.
    AtTheEnd,
}

impl Store {
    /// Opens the database at this path, which must exist, and brings its tables up to date.
    pub(crate) fn open(path: &Path, durability: Durability) -> Result<Self, BenchError> {
        let sql = |error: rusqlite::Error| BenchError::from_database(path, &error);
        let mut writer = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE).map_err(sql)?;
        check_version(&writer, path).map_err(sql)??;
        if writer.is_readonly("main").map_err(sql)? {
            return Err(BenchError::ReadOnly {
                path: path.to_owned(),
            });
        }
        lay_tables(&mut writer).map_err(|error| from_migration(path, error))?;
        if durability == Durability::AtTheEnd {
            writer
                .pragma_update(None, "synchronous", "OFF")
                .map_err(sql)?;
        }
        writer.set_prepared_statement_cache_capacity(256);
        watch(&writer).map_err(sql)?;
        Ok(Self {
            path: path.to_owned(),
            readers: Mutex::new(Vec::new()),
            writer: Mutex::new(writer),
        })
    }

    /// Closes every connection and leaves one file, without a log beside it.
    pub(crate) fn close(self) -> Result<(), BenchError> {
        let Self {
            path,
            readers,
            writer,
        } = self;
        drop(readers);
        let sql = |error: rusqlite::Error| BenchError::from_database(&path, &error);
        let writer = writer.into_inner().unwrap_or_else(PoisonError::into_inner);
        let busy: bool = writer
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))
            .map_err(sql)?;
        if busy {
            return Err(BenchError::Busy { db: path });
        }
        writer.close().map_err(|(_, error)| sql(error))
    }

    /// The file.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// The one connection that writes. A thread that panicked while writing left no transaction behind, for dropping it rolled
    /// it back; so a poisoned lock is taken over.
    pub(crate) fn writer(&self) -> MutexGuard<'_, Connection> {
        self.writer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Runs a reading in one transaction, so that all its queries see the same moment.
    pub(crate) fn read<T>(
        &self,
        reading: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, BenchError> {
        let connection = self.take_reader().map_err(|error| self.error(&error))?;
        let value = in_one_transaction(&connection, reading).map_err(|error| self.error(&error));
        let mut kept = self.readers.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() < READERS_KEPT {
            kept.push(connection);
        }
        value
    }

    /// A reading connection kept from before, else a new one.
    fn take_reader(&self) -> rusqlite::Result<Connection> {
        let kept = self
            .readers
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .pop();
        if let Some(connection) = kept {
            return Ok(connection);
        }
        let connection = connect(&self.path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        connection.set_prepared_statement_cache_capacity(128);
        Ok(connection)
    }

    /// Translates an error of this database.
    pub(crate) fn error(&self, error: &rusqlite::Error) -> BenchError {
        BenchError::from_database(&self.path, error)
    }
}

fn in_one_transaction<T>(
    connection: &Connection,
    reading: impl FnOnce(&Connection) -> rusqlite::Result<T>,
) -> rusqlite::Result<T> {
    let transaction = connection.unchecked_transaction()?;
    let value = reading(&transaction)?;
    transaction.commit()?;
    Ok(value)
}

/// Lays the tables in an empty database, or brings an older one up to date.
pub(crate) fn lay_tables(connection: &mut Connection) -> rusqlite_migration::Result<()> {
    Migrations::from_slice(MIGRATIONS).to_latest(connection)
}

/// Makes a new, empty database at this path, with its tables.
pub(crate) fn make(path: &Path) -> Result<(), BenchError> {
    let sql = |error: rusqlite::Error| BenchError::from_database(path, &error);
    let mut connection = connect(
        path,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
    )
    .map_err(sql)?;
    connection
        .pragma_update(None, "journal_mode", "WAL")
        .map_err(sql)?;
    connection
        .pragma_update(None, "application_id", APPLICATION_ID)
        .map_err(sql)?;
    lay_tables(&mut connection).map_err(|error| from_migration(path, error))?;
    connection.close().map_err(|(_, error)| sql(error))
}

fn connect(path: &Path, flags: OpenFlags) -> rusqlite::Result<Connection> {
    let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.busy_timeout(BUSY_TIMEOUT)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    #[cfg(feature = "queries")]
    super::told::tell(&connection);
    Ok(connection)
}

/// Refuses what is no bench or a newer one, before anything is written.
pub(crate) fn check_version(
    connection: &Connection,
    path: &Path,
) -> rusqlite::Result<Result<(), BenchError>> {
    let dir = || path.parent().unwrap_or(path).to_owned();
    let found: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let id: i64 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    Ok(if id != APPLICATION_ID {
        Err(BenchError::NotABench { dir: dir() })
    } else if found > SCHEMA_VERSION {
        Err(BenchError::Newer {
            dir: dir(),
            found,
            known: SCHEMA_VERSION,
        })
    } else {
        Ok(())
    })
}

fn from_migration(path: &Path, error: rusqlite_migration::Error) -> BenchError {
    match error {
        rusqlite_migration::Error::RusqliteError { err, .. } => {
            BenchError::from_database(path, &err)
        }
        other => BenchError::Database {
            db: path.to_owned(),
            why: other.to_string(),
        },
    }
}

#[cfg(test)]
mod tests {
    use rust_decimal::Decimal;

    use super::*;
    use crate::{change::BenchSettings, ids::VisitId, money::Currency, read, words::QuoteKind};

    #[test]
    fn the_known_version_is_the_number_of_migrations() {
        assert_eq!(usize::try_from(SCHEMA_VERSION).unwrap(), MIGRATIONS.len());
        assert!(Migrations::from_slice(MIGRATIONS).validate().is_ok());
    }

    #[test]
    fn a_bench_of_any_older_version_is_brought_up_to_date_with_what_it_held() {
        let held = "\
            INSERT INTO bench (id, name, place, address, contact, currency, hourly_rate) VALUES (1, 'Saltmere', '', '', '', 'XTS', '60'); \
            INSERT INTO owner (name, email, phone, address, note) VALUES ('Ada Wren', '', '', '', ''); \
            INSERT INTO camera (maker, model, note) VALUES ('Aldous', 'Sprat', ''); \
            INSERT INTO visit (camera_id, owner_id, arrived_on, words, wanted, condition, stage, stage_since_utc, unrepaired) \
            VALUES (1, 1, '2026-09-01', '', '', '', 'home', '2026-09-02T08:00:00Z', 0); \
            INSERT INTO quote (visit_id, total_amount, total_currency, note, at_utc) VALUES (1, '12.5', 'XTS', '', '2026-09-02T08:00:00Z'); \
            INSERT INTO quote_line (quote_id, line_for, words, amount) VALUES (1, 'work', 'clean it', '12.5'); \
            INSERT INTO packing (visit_id, note, at_utc) VALUES (1, '', '2026-09-02T08:00:00Z'); \
            INSERT INTO sending (visit_id, carrier, tracking, sent_on, at_utc) VALUES (1, '', '', '2026-09-03', '2026-09-02T08:00:00Z');";
        for older in 1..MIGRATIONS.len() {
            let mut connection = Connection::open_in_memory().unwrap();
            let first = Migrations::from_slice(&MIGRATIONS[..older]);
            first.to_latest(&mut connection).unwrap();
            connection.execute_batch(held).unwrap();
            lay_tables(&mut connection).unwrap();
            let version: i64 = connection
                .pragma_query_value(None, "user_version", |row| row.get(0))
                .unwrap();
            assert_eq!(version, SCHEMA_VERSION);
            let settled = read::settings(&connection).unwrap();
            let rate = settled.hourly_rate;
            let want = BenchSettings {
                hourly_rate: rate,
                ..BenchSettings::new("Saltmere", Currency::new("XTS").unwrap())
            };
            assert_eq!((settled, rate), (want, Some(60.into())));
            let visit = read::visit(&connection, VisitId::new(1)).unwrap().unwrap();
            assert_eq!(visit.owner.details.name, "Ada Wren");
            assert_eq!(visit.quotes[0].what.kind, QuoteKind::Repair);
            assert_eq!(visit.quotes[0].totals.gross, Decimal::new(125, 1));
            assert_eq!(visit.packed.unwrap().what.weight_g, None);
            assert_eq!(visit.line.guarantee_until, None);
        }
    }

    #[test]
    fn a_full_database_is_told_as_a_full_disk_and_keeps_what_it_had() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("bench.db");
        make(&path).unwrap();
        let store = Store::open(&path, Durability::EachChange).unwrap();
        let mut writer = store.writer();
        let pages: i64 = writer
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .unwrap();
        writer
            .pragma_update_and_check(None, "max_page_count", pages + 2, |_| Ok(()))
            .unwrap();
        let transaction = writer.transaction().unwrap();
        let error = transaction
            .execute(
                "INSERT INTO owner (name, email, phone, address, note) VALUES (?1, '', '', '', '')",
                ["x".repeat(100_000)],
            )
            .unwrap_err();
        assert!(
            matches!(store.error(&error), BenchError::DiskFull { .. }),
            "{error:?}"
        );
        drop(transaction);
        let owners: i64 = writer
            .query_row("SELECT count(*) FROM owner", [], |row| row.get(0))
            .unwrap();
        assert_eq!(owners, 0);
    }

    #[test]
    fn a_database_that_another_holds_is_told_as_busy() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("bench.db");
        make(&path).unwrap();
        let store = Store::open(&path, Durability::EachChange).unwrap();
        let other = connect(&path, OpenFlags::SQLITE_OPEN_READ_WRITE).unwrap();
        other.execute_batch("BEGIN IMMEDIATE").unwrap();
        let writer = store.writer();
        writer.busy_timeout(Duration::from_millis(20)).unwrap();
        let error = writer.execute_batch("BEGIN IMMEDIATE").unwrap_err();
        assert!(
            matches!(store.error(&error), BenchError::Busy { .. }),
            "{error:?}"
        );
    }
}
