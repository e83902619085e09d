//! The thread that makes the scheduled backup when it is due.

use std::thread;
use std::time::Duration;

use fettle_bench::{BackupDue, BackupLog, BackupPlan, Bench, BenchError, backup_due};
use jiff::Timestamp;

use crate::state::AppState;

/// How often it is looked whether one is due, and whether the disk was plugged in.
const LOOKS_EVERY: Duration = Duration::from_secs(60);
/// How long it rests when not even how it went could be kept.
const RESTS: Duration = Duration::from_secs(3_600);

/// Makes the scheduled backups of this bench for as long as the program runs, on a thread of their own. The program may end at any
/// moment: what was backed up before stays whole.
///
/// # Errors
///
/// When no thread can be begun.
pub fn keep_backups(state: &AppState) -> std::io::Result<()> {
    let state = state.clone();
    let work = move || {
        loop {
            let looked = look(state.bench(), state.now().timestamp());
            thread::sleep(if looked.is_ok() { LOOKS_EVERY } else { RESTS });
        }
    };
    thread::Builder::new()
        .name("backup".to_owned())
        .spawn(work)
        .map(drop)
}

/// Makes the backup if it is due and its folder is there. How that went is kept; an error is one that could not be kept either.
fn look(bench: &Bench, now: Timestamp) -> Result<BackupDue, BenchError> {
    let plan = BackupPlan::read(bench.dir())?;
    let log = BackupLog::read(bench.dir());
    let Some(asked) = plan.as_ref().filter(|_| bench.backing_up().is_none()) else {
        return Ok(BackupDue::NotAsked);
    };
    let due = backup_due(plan.as_ref(), &log, bench.backup_is_there(asked)?, now);
    if due == BackupDue::Now
        && let Err(error) = bench.back_up(&asked.folder, now)
        && BackupLog::read(bench.dir()) == log
    {
        return Err(error);
    }
    Ok(due)
}

#[cfg(test)]
mod tests {
    use fettle_bench::{BenchSettings, Currency, Hand, prepare_backup};
    use jiff::ToSpan;

    use super::*;

    #[test]
    fn a_backup_is_made_once_it_is_due_and_the_disk_is_there() {
        let dir = tempfile::tempdir().unwrap();
        let settings = BenchSettings::new("The bench at Saltmere", Currency::new("XTS").unwrap());
        let now: Timestamp = "2026-11-27T08:00:00Z".parse().unwrap();
        let bench =
            Bench::create(&dir.path().join("bench"), settings, &Hand::new("Ines"), now).unwrap();
        assert_eq!(look(&bench, now).unwrap(), BackupDue::NotAsked);
        let disk = dir.path().join("disk");
        std::fs::create_dir(&disk).unwrap();
        let plan = BackupPlan {
            folder: disk.join("backup"),
            every_days: 1,
            may_be_absent: true,
        };
        plan.write(bench.dir()).unwrap();
        // Nothing is made where no disk is, nor in an empty folder of its name.
        assert_eq!(look(&bench, now).unwrap(), BackupDue::Absent);
        std::fs::create_dir(&plan.folder).unwrap();
        assert_eq!(look(&bench, now).unwrap(), BackupDue::Absent);
        prepare_backup(bench.dir(), &plan.folder).unwrap();
        assert_eq!(look(&bench, now).unwrap(), BackupDue::Now);
        let made = BackupLog::read(bench.dir()).last_good.unwrap();
        assert_eq!((made.at, made.states), (now, 1));
        let tomorrow = now + 24.hours();
        assert_eq!(
            look(&bench, now + 23.hours()).unwrap(),
            BackupDue::Later(tomorrow)
        );
        // The disk is away over the second day and there again on the third.
        let away = dir.path().join("away");
        std::fs::rename(&disk, &away).unwrap();
        assert_eq!(look(&bench, tomorrow).unwrap(), BackupDue::Absent);
        std::fs::rename(&away, &disk).unwrap();
        assert_eq!(look(&bench, tomorrow + 24.hours()).unwrap(), BackupDue::Now);
        assert_eq!(BackupLog::read(bench.dir()).last_good.unwrap().states, 2);
        // A failure is kept and tried again after an hour.
        std::fs::remove_dir_all(plan.folder.join("states")).unwrap();
        std::fs::write(plan.folder.join("states"), "in the way").unwrap();
        let later = now + 96.hours();
        assert_eq!(look(&bench, later).unwrap(), BackupDue::Now);
        assert!(BackupLog::read(bench.dir()).last_failure.is_some());
        assert_eq!(
            look(&bench, later).unwrap(),
            BackupDue::Later(later + 1.hour())
        );
    }
}
