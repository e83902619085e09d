//! What keeping the record needs of an open bench.

use std::{
    path::Path,
    sync::{Mutex, PoisonError},
};

use jiff::Timestamp;
use rusqlite::Connection;

use super::Bench;
use crate::{
    error::BenchError,
    ids::EntryId,
    keeping::{self, BackedUp, BackupPlan, Progress, Retold, Step},
    read,
};

/// A backup that is being made of the bench by this program.
#[derive(Debug, Default)]
pub(super) struct Running(Mutex<Option<Step>>);

impl Running {
    fn set(&self, step: Option<Step>) -> Option<Step> {
        std::mem::replace(
            &mut self.0.lock().unwrap_or_else(PoisonError::into_inner),
            step,
        )
    }
}

/// No backup is being made any more, however it ended.
struct Ends<'r>(&'r Running);

impl Drop for Ends<'_> {
    fn drop(&mut self) {
        self.0.set(None);
    }
}

impl Bench {
    /// Backs the bench up while it is open, and keeps how that went; see [`back_up`](crate::back_up).
    ///
    /// # Errors
    /// As for [`back_up`](crate::back_up), and when this program is making one already.
    pub fn back_up(&self, to: &Path, at: Timestamp) -> Result<BackedUp, BenchError> {
        let begun = Step::new("database", 0, 1);
        let was = self.backing_up.set(Some(begun));
        if was.is_some() {
            self.backing_up.set(was);
            return Err(keeping::refused(
                to,
                "is being written to already: wait until that backup is done".to_owned(),
            ));
        }
        let _ends = Ends(&self.backing_up);
        let done = keeping::back_up(self.dir(), to, at, false, &mut |step| {
            self.backing_up.set(Some(step));
        });
        keeping::note_backup(self.dir(), to, at, &done)?;
        done
    }

    /// How far a backup is that this program is making; `None` when it makes none.
    #[must_use]
    pub fn backing_up(&self) -> Option<Step> {
        *self
            .backing_up
            .0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether the folder of a scheduled backup is there, and is this bench's.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn backup_is_there(&self, plan: &BackupPlan) -> Result<bool, BenchError> {
        Ok(plan.is_there(&self.read(keeping::identity)?))
    }

    /// When its first entry was written.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn begun_at(&self) -> Result<Timestamp, BenchError> {
        let (entry, _) = self.read_known(EntryId::new(1), read::entry)?;
        Ok(entry.at)
    }

    /// Tells another journal's entries after one to this bench, as far as they go.
    pub(crate) fn retell(
        &self,
        from: &Connection,
        db: &Path,
        after: EntryId,
        progress: &mut Progress<'_>,
    ) -> Result<Retold, BenchError> {
        let folder = self.folder.clone().believing();
        keeping::retell(from, db, after, &self.store, &folder, progress)
    }

    /// Closes it and leaves one file, without a log beside it.
    pub(crate) fn close(self) -> Result<(), BenchError> {
        self.store.close()
    }
}
