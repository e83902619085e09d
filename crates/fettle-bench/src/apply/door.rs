//! What a change writes through: the transaction, the moment, and what the same `apply` made before.

use std::collections::HashMap;

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, ToSql};

use crate::{
    change::Change,
    error::BenchError,
    files::Folder,
    ids::{CameraId, DonorId, DrawerId, EntryId, OwnerId, PartId, RowId, VisitId},
    journal::Made,
    term::Term,
    words::Stage,
};

/// Why a change cannot be applied.
#[derive(Debug)]
pub(crate) enum Refusal {
    /// It breaks a rule.
    Rule { field: &'static str, why: String },
    /// Something it names is not there, or stands in the way.
    Bench(BenchError),
    /// The database refused.
    Sql(rusqlite::Error),
}

impl Refusal {
    pub(crate) fn rule(field: &'static str, why: impl Into<String>) -> Self {
        Self::Rule {
            field,
            why: why.into(),
        }
    }
}

impl From<rusqlite::Error> for Refusal {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sql(error)
    }
}

impl From<BenchError> for Refusal {
    fn from(error: BenchError) -> Self {
        Self::Bench(error)
    }
}

/// What a change came to: as it goes into the journal, and what it concerns.
pub(crate) struct Outcome {
    pub(crate) change: Change,
    pub(crate) made: Made,
    pub(crate) visit: Option<VisitId>,
    pub(crate) camera: Option<CameraId>,
    pub(crate) owner: Option<OwnerId>,
    pub(crate) part: Option<PartId>,
    pub(crate) drawer: Option<DrawerId>,
    pub(crate) donor: Option<DonorId>,
    pub(crate) undoes: Option<EntryId>,
    /// Told with what the journal knows; `None` when the change tells it all.
    pub(crate) sentence: Option<String>,
}

impl Outcome {
    pub(crate) fn new(change: impl Into<Change>, made: Made) -> Self {
        Self {
            change: change.into(),
            made,
            visit: None,
            camera: None,
            owner: None,
            part: None,
            drawer: None,
            donor: None,
            undoes: None,
            sentence: None,
        }
    }

    pub(crate) fn at(mut self, visit: &VisitRow) -> Self {
        self.visit = Some(visit.id);
        self.camera = Some(visit.camera);
        self.owner = Some(visit.owner);
        self
    }

    pub(crate) fn telling(mut self, sentence: String) -> Self {
        self.sentence = Some(sentence);
        self
    }
}

/// A visit as the rules need it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct VisitRow {
    pub(crate) id: VisitId,
    pub(crate) camera: CameraId,
    pub(crate) owner: OwnerId,
    pub(crate) stage: Stage,
    pub(crate) unrepaired: bool,
}

/// A column and its value.
pub(crate) type Column<'v> = (&'static str, &'v dyn ToSql);

pub(crate) struct Door<'t> {
    pub(crate) connection: &'t Connection,
    pub(crate) folder: &'t Folder,
    /// The moment, as stored.
    pub(crate) at: String,
    /// The entry being written.
    pub(crate) entry: EntryId,
    latest: HashMap<&'static str, i64>,
}

impl<'t> Door<'t> {
    pub(crate) fn new(
        connection: &'t Connection,
        folder: &'t Folder,
        at: Timestamp,
        entry: EntryId,
    ) -> Self {
        Self {
            connection,
            folder,
            at: at.to_string(),
            entry,
            latest: HashMap::new(),
        }
    }

    /// From now on what is written belongs to this entry.
    pub(crate) fn begin(&mut self, entry: EntryId) -> rusqlite::Result<()> {
        self.entry = entry;
        self.connection
            .prepare_cached("DELETE FROM temp.now_writing")?
            .execute([])?;
        self.connection
            .prepare_cached("INSERT INTO temp.now_writing (entry_id) VALUES (?1)")?
            .execute([entry.get()])?;
        Ok(())
    }

    /// The entry stands in the journal; `LATEST` names it from now on.
    pub(crate) fn wrote(&mut self, entry: EntryId) {
        self.latest.insert(EntryId::TABLE, entry.get());
    }

    /// The row that an id names: the one made last for `LATEST`, else one that exists.
    pub(crate) fn known<I: RowId>(&self, field: &'static str, id: I) -> Result<I, Refusal> {
        if id.number() == 0 {
            let latest = self.latest.get(I::TABLE).copied().ok_or_else(|| {
                Refusal::rule(
                    field,
                    format!("names the latest {}, but none was made with it", I::WHAT),
                )
            })?;
            return Ok(I::from_number(latest));
        }
        let exists = self
            .connection
            .prepare_cached(&format!("SELECT 1 FROM {} WHERE id = ?1", I::TABLE))?
            .exists([id.number()])?;
        if exists {
            Ok(id)
        } else {
            Err(BenchError::Unknown {
                what: I::WHAT,
                id: id.number(),
            }
            .into())
        }
    }

    /// The row that an id names, which must belong to this visit.
    pub(crate) fn known_at<I: RowId>(
        &self,
        field: &'static str,
        id: I,
        visit: VisitId,
    ) -> Result<I, Refusal> {
        let id = self.known(field, id)?;
        let of: i64 = self
            .connection
            .prepare_cached(&format!("SELECT visit_id FROM {} WHERE id = ?1", I::TABLE))?
            .query_row([id.number()], |row| row.get(0))?;
        if of == visit.get() {
            Ok(id)
        } else {
            Err(Refusal::rule(
                field,
                format!(
                    "{} {} belongs to visit {of}, not to visit {visit}",
                    I::WHAT,
                    id.number()
                ),
            ))
        }
    }

    /// The visit that an id names.
    pub(crate) fn visit(&self, id: VisitId) -> Result<VisitRow, Refusal> {
        let id = self.known("visit", id)?;
        let row = self
            .connection
            .prepare_cached(
                "SELECT camera_id, owner_id, stage, unrepaired FROM visit WHERE id = ?1",
            )?
            .query_row([id.get()], |row| {
                Ok(VisitRow {
                    id,
                    camera: CameraId::new(row.get(0)?),
                    owner: OwnerId::new(row.get(1)?),
                    stage: crate::read::word(row, 2, Stage::from_text)?,
                    unrepaired: row.get(3)?,
                })
            })?;
        Ok(row)
    }

    /// Inserts a row and gives its id, which `LATEST` names from now on.
    pub(crate) fn insert(
        &mut self,
        table: &'static str,
        columns: &[Column<'_>],
    ) -> rusqlite::Result<i64> {
        let names: Vec<&str> = columns.iter().map(|(name, _)| *name).collect();
        let places: Vec<String> = (1..=columns.len()).map(|n| format!("?{n}")).collect();
        let sql = format!(
            "INSERT INTO {table} ({}) VALUES ({})",
            names.join(", "),
            places.join(", ")
        );
        self.connection
            .prepare_cached(&sql)?
            .execute(&*values(columns))?;
        let id = self.connection.last_insert_rowid();
        self.latest.insert(table, id);
        Ok(id)
    }

    /// Sets columns of a row.
    pub(crate) fn update(
        &self,
        table: &'static str,
        id: i64,
        columns: &[Column<'_>],
    ) -> rusqlite::Result<()> {
        let sets: Vec<String> = columns
            .iter()
            .enumerate()
            .map(|(n, (name, _))| format!("{name} = ?{}", n + 2))
            .collect();
        let sql = format!("UPDATE {table} SET {} WHERE id = ?1", sets.join(", "));
        let mut all: Vec<&dyn ToSql> = vec![&id];
        all.extend(values(columns));
        self.connection.prepare_cached(&sql)?.execute(&*all)?;
        Ok(())
    }

    /// Deletes the rows that belong to another.
    pub(crate) fn delete_of(
        &self,
        table: &'static str,
        column: &'static str,
        id: i64,
    ) -> rusqlite::Result<()> {
        self.connection
            .prepare_cached(&format!("DELETE FROM {table} WHERE {column} = ?1"))?
            .execute([id])?;
        Ok(())
    }

    /// Inserts what is said of a term at a visit, or replaces what was said of it before.
    pub(crate) fn say(
        &mut self,
        table: &'static str,
        visit: VisitId,
        term: &Term,
        columns: &[Column<'_>],
    ) -> rusqlite::Result<i64> {
        let said: Option<i64> = self
            .connection
            .prepare_cached(&format!(
                "SELECT id FROM {table} WHERE visit_id = ?1 AND ifnull(term_id, words) = ?2"
            ))?
            .query_row((visit.get(), term.key()), |row| row.get(0))
            .optional()?;
        let (visit, at) = (visit.get(), self.at.clone());
        let mut all: Vec<Column<'_>> = vec![
            ("visit_id", &visit),
            ("term_id", &term.id),
            ("words", &term.words),
            ("at_utc", &at),
        ];
        all.extend_from_slice(columns);
        let Some(id) = said else {
            return self.insert(table, &all);
        };
        self.update(table, id, &all)?;
        self.latest.insert(table, id);
        Ok(id)
    }
}

fn values<'v>(columns: &[Column<'v>]) -> Vec<&'v dyn ToSql> {
    columns.iter().map(|(_, value)| *value).collect()
}
