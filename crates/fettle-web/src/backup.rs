//! The scheduled backup: what is asked for, how the last one went, and making one now.

mod daily;
mod remind;

use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use axum::extract::{Query, Request, State};
use axum::response::Response;
use fettle_bench::{
    BACKUP_DAYS_MOST, BackupDue, BackupLog, BackupPlan, Bench, GoodBackup, backup_due,
    prepare_backup,
};
use jiff::{Timestamp, ZonedDateTime};
use maud::{Markup, html};

use crate::door::Who;
use crate::error::{PageError, sentence};
use crate::form::{Fields, Form, Wrong};
use crate::layout::Page;
use crate::state::{AppState, Desk};
use crate::thing::{Forms, Outcome, Recorded, answer, show_page};
use crate::upload::{Takes, Upload};
use crate::{number, urls};

pub use self::daily::keep_backups;
pub(crate) use self::remind::reminder;

/// Why a tablet settles nothing here.
const ELSEWHERE: &str = "Where the backup goes is settled on the computer that the bench lies on. A backup can be made from here.";
const PLAN: &str = "plan";
const NOW: &str = "now";
/// So long it is waited for a backup that was asked for, so that a small one stands on the page at once.
const WAITED: Duration = Duration::from_secs(3);

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(recorded): Query<Recorded>,
) -> Result<Markup, PageError> {
    // The work with the record is done on a thread that knows nothing of the request.
    let is_here = Who::now() == Who::Here;
    show_page(&state, recorded, urls::BACKUP, move |desk| {
        page(desk, &Form::default(), is_here)
    })
    .await
}

/// Settles what is asked for: on the bench's own computer, for it says where that computer writes.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    if Who::now() != Who::Here {
        return Err(PageError::refused(ELSEWHERE).or(urls::BACKUP, "Back to the backup"));
    }
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let mut wrong = Wrong::default();
            settle(desk, &sent.fields, &mut wrong)?;
            back_to_page(desk, PLAN, sent.fields, wrong, true)
        })
        .await?;
    Ok(answer(&state, outcome))
}

/// Makes a backup, and waits a little for it.
pub(crate) async fn now(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let is_here = Who::now() == Who::Here;
    let outcome = state
        .at_bench(move |desk| {
            let mut wrong = Wrong::default();
            match BackupPlan::read(desk.bench.dir())? {
                None => wrong.note("", "Settle first where the backup goes."),
                Some(plan) if !desk.bench.backup_is_there(&plan)? => {
                    wrong.note("", not_there(&plan));
                }
                Some(plan) => begin(&desk.bench, &plan, desk.now.timestamp()),
            }
            back_to_page(desk, NOW, sent.fields, wrong, is_here)
        })
        .await?;
    Ok(answer(&state, outcome))
}

fn back_to_page(
    desk: &Desk,
    id: &str,
    fields: Fields,
    wrong: Wrong,
    is_here: bool,
) -> Result<Outcome, PageError> {
    if wrong.is_empty() {
        return Ok(Ok(urls::BACKUP.to_owned()));
    }
    let page = page(desk, &Form::returned(id, fields, wrong), is_here)?;
    Ok(Err(Box::new(page)))
}

/// Begins a backup on a thread of its own, for it may take longer than a page is waited for. How it goes stands on the page.
fn begin(bench: &Arc<Bench>, plan: &BackupPlan, at: Timestamp) {
    let (bench, folder) = (Arc::clone(bench), plan.folder.clone());
    let (ended, end) = mpsc::channel();
    thread::spawn(move || {
        // How it went is kept by the bench, also when it failed.
        let _ = bench.back_up(&folder, at);
        let _ = ended.send(());
    });
    // Either it is made by then or it goes on; the page says which.
    let _ = end.recv_timeout(WAITED);
}

/// Keeps what the form asks for, and makes its folder the backup of this bench.
fn settle(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> Result<(), PageError> {
    let bench = desk.bench.dir();
    let folder = fields.text("folder");
    if folder.is_empty() {
        return Ok(BackupPlan::remove(bench)?);
    }
    let every = wrong.whole(fields, "every", "the days between two backups");
    if every.is_none() && fields.text("every").is_empty() {
        wrong.note(
            "every",
            "the days between two backups are missing: write 1 for every day",
        );
    }
    if every.is_some_and(|days| days > BACKUP_DAYS_MOST) {
        wrong.note(
            "every",
            format!("a backup is made at least every {BACKUP_DAYS_MOST} days"),
        );
    }
    if !Path::new(folder).is_absolute() {
        wrong.note(
            "folder",
            "write the whole path, from the root of the disk on, such as /media/usb/fettle-backup",
        );
    }
    let Some(every_days) = every.filter(|_| wrong.is_empty()) else {
        return Ok(());
    };
    let plan = BackupPlan {
        folder: folder.into(),
        every_days,
        may_be_absent: fields.ticked("absent"),
    };
    if let Err(error) = prepare_backup(bench, &plan.folder) {
        wrong.note("folder", sentence(&error.to_string()));
        return Ok(());
    }
    plan.write(bench).or_else(|error| wrong.not_recorded(error))
}

fn not_there(plan: &BackupPlan) -> String {
    format!(
        "{} is not there, or is no backup of this bench: plug in the disk, or settle another folder.",
        plan.folder.display()
    )
}

fn page(desk: &Desk, returned: &Form, is_here: bool) -> Result<Page, PageError> {
    // What cannot be read is settled anew on this page.
    let (plan, unreadable) = match BackupPlan::read(desk.bench.dir()) {
        Ok(plan) => (plan, None),
        Err(error) => (None, Some(sentence(&error.to_string()))),
    };
    let log = BackupLog::read(desk.bench.dir());
    let is_there = match &plan {
        Some(plan) => desk.bench.backup_is_there(plan)?,
        None => false,
    };
    let deed = |id: &str| match id {
        NOW => urls::BACKUP_NOW.to_owned(),
        _ => urls::BACKUP.to_owned(),
    };
    let forms = Forms {
        desk,
        returned,
        deed: &deed,
    };
    let (asked, now) = (forms.named(PLAN), forms.named(NOW));
    let body = html! {
        h1 { "Backup" }
        p.lead { "A second copy of everything, best on another disk. It is made while you work, it copies only what is new, and it keeps earlier states of the record." }
        (now.problems())
        (asked.problems())
        @if let Some(why) = &unreadable { p.needs-hand { (why) } }
        section {
            h2 { "How it stands" }
            (standing(desk, plan.as_ref(), &log, is_there))
            @if desk.bench.backing_up().is_none() && plan.is_some() {
                (forms.around(&now, NOW, &html! { div.acts { button.first { "Back up now" } } }))
            }
        }
        section {
            h2 { "What is asked for" }
            @if is_here { (forms.around(&asked, PLAN, &plan_fields(&asked, plan.as_ref()))) }
            @else { p { (ELSEWHERE) } }
        }
        @if let Some(good) = &log.last_good { (commands(desk, good)) }
    };
    Ok(Page::new("Backup", body).about("backup"))
}

fn standing(desk: &Desk, plan: Option<&BackupPlan>, log: &BackupLog, is_there: bool) -> Markup {
    let due = backup_due(plan, log, is_there, desk.now.timestamp());
    html! {
        dl.facts {
            @if let Some(step) = desk.bench.backing_up() {
                dt { "Just now" }
                dd { span.needs-hand { "A backup is being made" } ": " (step.doing) ", " (step.done) " of " (step.of) ". " a href=(urls::BACKUP) { "Look again" } }
            }
            dt { "Last backup" }
            @match &log.last_good {
                None => { dd { "None was made yet." } }
                Some(good) => { dd { (made(good, &desk.now)) } }
            }
            @if let Some(failed) = &log.last_failure {
                dt { "Last try" }
                dd { span.needs-hand { "Failed" } " on " (moment(failed.at, &desk.now)) ": " (sentence(&failed.why)) }
            }
            @if let Some(plan) = plan {
                dt { "Next" }
                dd {
                    @match due {
                        BackupDue::NotAsked => {}
                        BackupDue::Later(at) => { "On " (moment(at, &desk.now)) ", while the program runs." }
                        BackupDue::Now => { "It is due and begins within a minute." }
                        BackupDue::Absent => { span.needs-hand { "It is due" } ". " (not_there(plan)) " Then it begins within a minute." }
                    }
                }
            }
        }
    }
}

fn made(good: &GoodBackup, now: &ZonedDateTime) -> Markup {
    let counted = |count: u64, one, many| {
        number::count(usize::try_from(count).unwrap_or(usize::MAX), one, many)
    };
    html! {
        (moment(good.at, now)) ", in " code { (good.folder.display()) } ": "
        (counted(good.entries, "entry", "entries")) " of the journal, "
        (counted(good.files, "file", "files")) ", a database of "
        (number::bytes(usize::try_from(good.database_bytes).unwrap_or(usize::MAX))) ". It holds "
        (counted(good.states, "state", "states")) " of the record."
        @if good.lost > 0 {
            " " span.needs-hand { (counted(good.lost, "file", "files")) " of the bench could not be copied" }
            ": damaged or gone. " code { "fettle verify" } " says which, and what to do."
        }
    }
}

fn moment(at: Timestamp, now: &ZonedDateTime) -> String {
    number::moment(&at.to_zoned_datetime(now.time_zone().clone()))
}

fn plan_fields(form: &Form, plan: Option<&BackupPlan>) -> Markup {
    let folder = plan.map_or_else(String::new, |plan| plan.folder.display().to_string());
    let every = plan.map_or(1, |plan| plan.every_days).to_string();
    let absent = plan.is_none_or(|plan| plan.may_be_absent);
    html! {
        div.fields {
            (form.line("folder", "Folder").holding(&folder).hint("the whole path of a new or empty folder, or of this bench’s backup; empty: none is asked for").class("wide").draw())
            (form.line("every", "Every").unit("days").holding(&every).hint("1: every day").class("third").draw())
        }
        (form.tick("absent", "yes", "The disk is not always plugged in", absent))
        p.hint { "A disk that is not there is waited for; the Bench page reminds of it when the last backup is a day older than it should be." }
        div.acts { button { "Settle it so" } }
    }
}

fn commands(desk: &Desk, good: &GoodBackup) -> Markup {
    let backup = good.folder.display();
    let bench =
        std::path::absolute(desk.bench.dir()).unwrap_or_else(|_| desk.bench.dir().to_owned());
    html! {
        section {
            h2 { "Looking through, and bringing back" }
            p { "On the command line of this computer, or of the one that the disk is carried to:" }
            dl.facts {
                dt { "Is the bench whole?" }
                dd { code { "fettle verify --bench " (quoted(&bench.display().to_string())) } }
                dt { "Is the backup whole?" }
                dd { code { "fettle verify " (quoted(&backup.to_string())) } }
                dt { "Bring it back" }
                dd { code { "fettle restore " (quoted(&backup.to_string())) " NEW-FOLDER" } ". It makes a new bench and alters neither the backup nor this one." }
            }
        }
    }
}

/// As it is typed on a command line.
fn quoted(path: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-".contains(c);
    if path.chars().all(plain) {
        path.to_owned()
    } else {
        format!("'{}'", path.replace('\'', r"'\''"))
    }
}
