//! Keeping the record: looking whether it is whole, backing it up, and bringing it back.

mod backup;
mod carry;
mod finding;
mod journal;
mod place;
mod restore;
mod schedule;
mod shelves;
mod source;
mod step;
mod tables;
mod thin;
mod verify;

pub use self::{
    backup::{BackedUp, back_up, prepare_backup},
    carry::Lost,
    finding::{Finding, FindingKind, Verified},
    restore::{AsOf, HowToRestore, Restored, restore},
    schedule::{
        BACKUP_DAYS_MOST, BackupDue, BackupLog, BackupPlan, BackupReminder, FailedBackup,
        GoodBackup, backup_due, backup_reminder, note_backup,
    },
    step::Step,
    verify::{verify, verify_with},
};
pub(crate) use self::{
    journal::{Retold, retell},
    place::{identity, refuse_state, refused},
    step::Progress,
};
