//! What the Bench page reminds of.

use fettle_bench::{BackupLog, BackupPlan, BackupReminder, backup_reminder};
use maud::{Markup, html};

use crate::error::{PageError, sentence};
use crate::state::Desk;
use crate::{number, urls};

/// One line, when the last good backup is older than it should be; nothing when all is well.
pub(crate) fn reminder(desk: &Desk) -> Result<Markup, PageError> {
    let plan = match BackupPlan::read(desk.bench.dir()) {
        Ok(plan) => plan,
        Err(error) => {
            return Ok(line(
                "The scheduled backup is off",
                &sentence(&error.to_string()),
            ));
        }
    };
    let is_there = match &plan {
        Some(plan) => desk.bench.backup_is_there(plan)?,
        None => false,
    };
    let reminder = backup_reminder(
        plan.as_ref(),
        &BackupLog::read(desk.bench.dir()),
        desk.bench.begun_at()?,
        is_there,
        desk.now.timestamp(),
    );
    let folder = plan.map_or_else(String::new, |plan| plan.folder.display().to_string());
    Ok(match reminder {
        None => html! {},
        Some(BackupReminder::Never) => line(
            "This bench has no backup",
            "A broken disk would take the whole record. Settle where one goes; a USB disk will do.",
        ),
        Some(BackupReminder::Old { days, is_absent }) => {
            let days = usize::try_from(days).unwrap_or(0);
            let what = format!(
                "The last backup is {} old",
                number::count(days, "day", "days")
            );
            let remedy = if is_absent {
                format!("Plug in the disk of {folder}; the backup then begins by itself.")
            } else {
                "Make one now.".to_owned()
            };
            line(&what, &remedy)
        }
        Some(BackupReminder::Gone) => line(
            "The folder of the backup is gone",
            &format!(
                "{folder} is not there, or is no backup of this bench any more: bring it back, or settle another."
            ),
        ),
        Some(BackupReminder::Failed(why)) => line("The last backup failed", &sentence(&why)),
        Some(BackupReminder::Lost(files)) => {
            let files = usize::try_from(files).unwrap_or(usize::MAX);
            let what = number::count(files, "file", "files");
            line(
                &format!("The last backup lacks {what}"),
                "They are damaged or gone in the bench. Run fettle verify: it says which, and where a whole copy lies.",
            )
        }
    })
}

fn line(what: &str, remedy: &str) -> Markup {
    html! { p { span.needs-hand { (what) } ". " (remedy) " " a href=(urls::BACKUP) { "To the backup" } } }
}
