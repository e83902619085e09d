//! The scheduled backup: what was asked for, how the last ones went, when one is due, and when to remind of it.
//!
//! Both files lie in the bench's folder and concern this computer alone: they are no part of the record.

use std::{
    fs, io,
    path::{Path, PathBuf},
};

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use super::{
    backup::BackedUp,
    place::{Place, refused, write_json, write_whole},
};
use crate::{error::BenchError, files::Folder, store::Durability};

/// What was asked for; it stands in `backup.toml`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BackupPlan {
    /// The folder.
    pub folder: PathBuf,
    /// Every how many days.
    pub every_days: u32,
    /// Whether it lies on a disk that is not always there.
    #[serde(default)]
    pub may_be_absent: bool,
}

/// How the last backups went; it stands in `backup-state.json`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct BackupLog {
    /// The last that was made.
    pub last_good: Option<GoodBackup>,
    /// The last that was tried and not made, unless one was made since.
    pub last_failure: Option<FailedBackup>,
}

/// A backup that was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GoodBackup {
    /// When.
    pub at: Timestamp,
    /// Where.
    pub folder: PathBuf,
    /// The state that was added.
    pub state: String,
    /// Entries of the journal in it.
    pub entries: u64,
    /// Files in it.
    pub files: u64,
    /// How long its database is.
    pub database_bytes: u64,
    /// States that it holds.
    pub states: u64,
    /// Files of the bench that are damaged or gone and not in it.
    pub lost: u64,
}

/// A backup that could not be made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FailedBackup {
    /// When.
    pub at: Timestamp,
    /// Where it should have been made.
    pub folder: PathBuf,
    /// Why it was not.
    pub why: String,
}

/// The most days between two backups.
pub const BACKUP_DAYS_MOST: u32 = 365;
/// A bench is left in peace for so long before it is reminded of its first backup.
const FIRST_AFTER: SignedDuration = SignedDuration::from_hours(24 * 7);
/// A backup made by hand, without a plan, counts as old after this.
const BY_HAND_OLD: SignedDuration = SignedDuration::from_hours(24 * 30);
/// A plan may slip by this before it is reminded of.
const GRACE: SignedDuration = SignedDuration::from_hours(24);
/// A backup that failed is tried again after this.
const AGAIN_AFTER: SignedDuration = SignedDuration::from_hours(1);

impl BackupPlan {
    /// What was asked for; `None` when nothing was.
    ///
    /// # Errors
    /// When the file cannot be read or says something else.
    pub fn read(bench: &Path) -> Result<Option<Self>, BenchError> {
        let path = Folder::new(bench, Durability::EachChange).backup_settings();
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(BenchError::from_io(&path, &error)),
        };
        toml::from_str(&text).map(Some).map_err(|error| {
            let why = format!(
                "cannot be read ({}): settle the backup anew on /backup, or delete the file",
                error.message()
            );
            refused(&path, why)
        })
    }

    /// Keeps it.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn write(&self, bench: &Path) -> Result<(), BenchError> {
        let path = Folder::new(bench, Durability::EachChange).backup_settings();
        let text = toml::to_string(self)
            .map_err(|error| refused(&path, format!("cannot be written: {error}")))?;
        write_whole(bench, &name_of(&path), text.as_bytes())
    }

    /// Asks for no scheduled backup any more.
    ///
    /// # Errors
    /// When the file cannot be taken away.
    pub fn remove(bench: &Path) -> Result<(), BenchError> {
        let path = Folder::new(bench, Durability::EachChange).backup_settings();
        match fs::remove_file(&path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => {
                Err(BenchError::from_io(&path, &error))
            }
            _ => Ok(()),
        }
    }

    /// Whether the folder is there and is the backup of the bench with this first entry. An empty folder that stands where a disk
    /// should be is not.
    pub(crate) fn is_there(&self, identity: &str) -> bool {
        Place::open(&self.folder)
            .is_ok_and(|place| place.is_some_and(|place| place.mark.bench == identity))
    }

    fn every(&self) -> SignedDuration {
        SignedDuration::from_hours(24 * i64::from(self.every_days.clamp(1, BACKUP_DAYS_MOST)))
    }
}

impl BackupLog {
    /// How the last ones went. What cannot be read counts as nothing, which only reminds too soon.
    #[must_use]
    pub fn read(bench: &Path) -> Self {
        let path = Folder::new(bench, Durability::EachChange).backup_state();
        fs::read(path)
            .ok()
            .and_then(|json| serde_json::from_slice(&json).ok())
            .unwrap_or_default()
    }

    fn write(&self, bench: &Path) -> Result<(), BenchError> {
        let path = Folder::new(bench, Durability::EachChange).backup_state();
        write_json(bench, &name_of(&path), self)
    }
}

/// Keeps how a backup went. One that failed is only kept when it was the one that is asked for: who tried another was told.
///
/// # Errors
/// When that cannot be written into the bench's folder.
pub fn note_backup(
    bench: &Path,
    to: &Path,
    at: Timestamp,
    done: &Result<BackedUp, BenchError>,
) -> Result<(), BenchError> {
    let mut log = BackupLog::read(bench);
    let folder = std::path::absolute(to).unwrap_or_else(|_| to.to_owned());
    match done {
        Ok(done) => {
            log.last_failure = None;
            log.last_good = Some(GoodBackup {
                at,
                folder,
                state: done.state.clone(),
                entries: done.entries,
                files: done.files,
                database_bytes: done.database_bytes,
                states: done.states,
                lost: done.lost.len() as u64,
            });
        }
        Err(_) if BackupPlan::read(bench)?.is_none_or(|plan| plan.folder != folder) => {
            return Ok(());
        }
        Err(error) => {
            log.last_failure = Some(FailedBackup {
                at,
                folder,
                why: error.to_string(),
            });
        }
    }
    log.write(bench)
}

/// What is to be done now about the scheduled backup.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BackupDue {
    /// None is asked for.
    NotAsked,
    /// The next is due then.
    Later(Timestamp),
    /// It is due, and the folder is not there.
    Absent,
    /// It is to be made.
    Now,
}

/// What is to be done at this moment; `is_there` says whether the folder is.
#[must_use]
pub fn backup_due(
    plan: Option<&BackupPlan>,
    log: &BackupLog,
    is_there: bool,
    now: Timestamp,
) -> BackupDue {
    let Some(plan) = plan else {
        return BackupDue::NotAsked;
    };
    // One from another folder does not count: that may be the disk that was given away. One from the future was made under a clock
    // that was wrong.
    let last = log
        .last_good
        .as_ref()
        .filter(|good| good.folder == plan.folder && good.at <= now);
    if let Some(next) = last
        .map(|good| after(good.at, plan.every()))
        .filter(|next| *next > now)
    {
        return BackupDue::Later(next);
    }
    let failed = log.last_failure.as_ref().filter(|failed| failed.at <= now);
    if let Some(again) = failed
        .map(|it| after(it.at, AGAIN_AFTER))
        .filter(|again| *again > now)
    {
        return BackupDue::Later(again);
    }
    if is_there {
        BackupDue::Now
    } else {
        BackupDue::Absent
    }
}

/// What the Bench page reminds of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BackupReminder {
    /// No backup was ever made.
    Never,
    /// The last one is this old, in days, or its time cannot be right.
    Old {
        /// How many days.
        days: i64,
        /// Whether the folder is not there.
        is_absent: bool,
    },
    /// The folder is gone that should always be there.
    Gone,
    /// The last one failed.
    Failed(String),
    /// The last one lacks files that are damaged or gone.
    Lost(u64),
}

/// What to remind of at this moment, of a bench that was begun then; `None` when all is well.
#[must_use]
pub fn backup_reminder(
    plan: Option<&BackupPlan>,
    log: &BackupLog,
    begun: Timestamp,
    is_there: bool,
    now: Timestamp,
) -> Option<BackupReminder> {
    if let Some(failed) = &log.last_failure {
        return Some(BackupReminder::Failed(failed.why.clone()));
    }
    if plan.is_some_and(|plan| !plan.may_be_absent && !is_there) {
        return Some(BackupReminder::Gone);
    }
    let Some(good) = &log.last_good else {
        let waits = plan.map_or(FIRST_AFTER, |_| GRACE);
        return (after(begun, waits) < now).then_some(BackupReminder::Never);
    };
    let old_after = plan.map_or(BY_HAND_OLD, |plan| {
        plan.every().checked_add(GRACE).unwrap_or(GRACE)
    });
    if after(good.at, old_after) < now {
        let days = now.duration_since(good.at).as_hours() / 24;
        let is_absent = plan.is_some() && !is_there;
        return Some(BackupReminder::Old { days, is_absent });
    }
    (good.lost > 0).then_some(BackupReminder::Lost(good.lost))
}

/// A moment so long after another; the last there is when there is none so late.
fn after(at: Timestamp, long: SignedDuration) -> Timestamp {
    at.checked_add(long).unwrap_or(Timestamp::MAX)
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

#[cfg(test)]
mod tests {
    use jiff::ToSpan;

    use super::*;

    fn now() -> Timestamp {
        "2026-11-27T12:00:00Z".parse().unwrap()
    }

    fn plan(every_days: u32) -> BackupPlan {
        BackupPlan {
            folder: "/disk/backup".into(),
            every_days,
            may_be_absent: true,
        }
    }

    fn made(hours_ago: i64) -> BackupLog {
        BackupLog {
            last_good: Some(GoodBackup {
                at: now() - hours_ago.hours(),
                folder: "/disk/backup".into(),
                state: "000001-2026-11-01".to_owned(),
                entries: 1,
                files: 1,
                database_bytes: 1,
                states: 1,
                lost: 0,
            }),
            last_failure: None,
        }
    }

    fn failed(log: BackupLog, minutes_ago: i64) -> BackupLog {
        BackupLog {
            last_failure: Some(FailedBackup {
                at: now() - minutes_ago.minutes(),
                folder: "/disk/backup".into(),
                why: "the disk is full".to_owned(),
            }),
            ..log
        }
    }

    #[test]
    fn a_backup_is_made_when_it_is_due_and_the_folder_is_there() {
        let daily = plan(1);
        let due = |log: &BackupLog, there| backup_due(Some(&daily), log, there, now());
        assert_eq!(
            backup_due(None, &made(999), true, now()),
            BackupDue::NotAsked
        );
        assert_eq!(due(&BackupLog::default(), true), BackupDue::Now);
        assert_eq!(due(&BackupLog::default(), false), BackupDue::Absent);
        assert_eq!(due(&made(24), true), BackupDue::Now);
        assert_eq!(due(&made(30), false), BackupDue::Absent);
        assert_eq!(due(&made(23), true), BackupDue::Later(now() + 1.hour()));
        // Tried again, but not at once.
        let soon = failed(made(30), 20);
        assert_eq!(due(&soon, true), BackupDue::Later(now() + 40.minutes()));
        assert_eq!(due(&failed(made(30), 61), true), BackupDue::Now);
        // A clock that ran ahead does not put it off for years.
        assert_eq!(due(&made(-9_000), true), BackupDue::Now);
        assert_eq!(due(&failed(made(30), -9_000), true), BackupDue::Now);
        // One made elsewhere is none for this folder.
        let elsewhere = BackupPlan {
            folder: "/other".into(),
            ..plan(7)
        };
        assert_eq!(
            backup_due(Some(&elsewhere), &made(1), true, now()),
            BackupDue::Now
        );
    }

    #[test]
    fn a_reminder_comes_when_the_last_good_backup_is_older_than_asked_and_not_before() {
        let begun = |days: i64| now() - (24 * days).hours();
        let none = BackupLog::default();
        let remind = |plan: Option<&BackupPlan>, log: &BackupLog, days, there| {
            backup_reminder(plan, log, begun(days), there, now())
        };
        assert_eq!(remind(None, &none, 6, false), None);
        assert_eq!(remind(None, &none, 8, false), Some(BackupReminder::Never));
        assert_eq!(
            remind(Some(&plan(1)), &none, 2, false),
            Some(BackupReminder::Never)
        );
        assert_eq!(remind(Some(&plan(7)), &made(24 * 7), 400, true), None);
        let old = |days, is_absent| Some(BackupReminder::Old { days, is_absent });
        assert_eq!(
            remind(Some(&plan(7)), &made(24 * 8 + 1), 400, true),
            old(8, false)
        );
        assert_eq!(
            remind(Some(&plan(7)), &made(24 * 9), 400, false),
            old(9, true)
        );
        assert_eq!(remind(None, &made(24 * 29), 400, false), None);
        assert_eq!(remind(None, &made(24 * 31), 400, false), old(31, false));
        let full = Some(BackupReminder::Failed("the disk is full".to_owned()));
        assert_eq!(remind(Some(&plan(7)), &failed(made(1), 5), 400, true), full);
        let fixed = BackupPlan {
            may_be_absent: false,
            ..plan(7)
        };
        assert_eq!(
            remind(Some(&fixed), &made(1), 400, false),
            Some(BackupReminder::Gone)
        );
        assert_eq!(remind(Some(&fixed), &made(1), 400, true), None);
        let mut torn = made(1);
        torn.last_good.as_mut().unwrap().lost = 2;
        assert_eq!(
            remind(None, &torn, 400, true),
            Some(BackupReminder::Lost(2))
        );
    }

    #[test]
    fn what_was_asked_for_reads_back() {
        let dir = tempfile::tempdir().unwrap();
        assert_eq!(BackupPlan::read(dir.path()).unwrap(), None);
        plan(3).write(dir.path()).unwrap();
        assert_eq!(BackupPlan::read(dir.path()).unwrap(), Some(plan(3)));
        fs::write(dir.path().join("backup.toml"), "folder = 3").unwrap();
        let told = BackupPlan::read(dir.path()).unwrap_err().to_string();
        assert!(told.contains("settle the backup anew"), "{told}");
        BackupPlan::remove(dir.path()).unwrap();
        BackupPlan::remove(dir.path()).unwrap();
        assert_eq!(BackupPlan::read(dir.path()).unwrap(), None);
        assert_eq!(BackupLog::read(dir.path()), BackupLog::default());
        made(1).write(dir.path()).unwrap();
        assert_eq!(BackupLog::read(dir.path()), made(1));
    }
}
