//! Bringing a bench back: from a backup, and from what can be read of a damaged one.

mod beside;
mod journal;

use std::{
    collections::HashMap,
    fs,
    path::{Path, PathBuf},
};

use jiff::{Timestamp, civil::Date, tz::TimeZone};
use rusqlite::{Connection, OpenFlags};
use serde::Serialize;

use self::{
    beside::Beside,
    journal::{bring_since, from_journal},
};
use super::{
    carry::{Carried, Hindrance, Kept, Lost, carry, carry_below},
    place::{Manifest, Place, State, refused},
    shelves::{self, hash_in, named_by},
    step::{Progress, Step},
};
use crate::{
    bench::Bench,
    error::BenchError,
    files::{Folder, Shelf},
    store::Durability,
};

/// Which state of a backup is brought back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AsOf {
    /// The newest.
    #[default]
    Newest,
    /// The last that was made up to the end of this day.
    Day(Date),
    /// The one with this number.
    Number(u32),
}

/// How a bench is brought back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HowToRestore<'h> {
    /// Which state.
    pub as_of: AsOf,
    /// The damaged bench, for what was recorded after the backup was made.
    pub since: Option<&'h Path>,
    /// Whether the rest is brought back when something is lost.
    pub with_losses: bool,
}

/// What was brought back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Restored {
    /// The new bench.
    pub folder: PathBuf,
    /// The state of the backup; `None` when it was made anew from a journal.
    pub state: Option<String>,
    /// When that was made.
    pub made_at: Option<Timestamp>,
    /// Entries of the journal.
    pub entries: u64,
    /// How many of them came from the damaged bench.
    pub entries_since: u64,
    /// Kept files and service notes.
    pub files: u64,
    /// Files that were not brought back.
    pub lost_files: Vec<Lost>,
    /// What of the journal was not brought back, as sentences.
    pub lost_entries: Vec<String>,
}

impl Restored {
    fn losses(&self) -> Option<String> {
        let mut losses = self.lost_entries.clone();
        match self.lost_files.as_slice() {
            [] => {}
            [one] => losses.push(format!("{} ({}): {}", one.file, one.what, one.why)),
            [one, more @ ..] => losses.push(format!(
                "{} ({}): {}, and {} more",
                one.file,
                one.what,
                one.why,
                more.len()
            )),
        }
        (!losses.is_empty()).then(|| losses.join("; "))
    }
}

/// Makes a bench in a new or empty folder from a backup, or from what can be read of a damaged bench. Everything is verified while it
/// is copied; the bench is made beside its place and gets its name at the end.
///
/// # Errors
/// When the source is neither, the folder is not empty, or something cannot be written; when something is lost and the rest was not
/// asked for. Nothing is left behind then.
pub fn restore(
    from: &Path,
    dir: &Path,
    how: HowToRestore<'_>,
    progress: &mut Progress<'_>,
) -> Result<Restored, BenchError> {
    refuse_below(from, dir)?;
    let beside = Beside::make(dir)?;
    let backup = Place::open(from)?;
    let mut restored = match &backup {
        Some(place) => from_backup(place, &beside.dir, how, progress)?,
        None if Folder::new(from, Durability::AtTheEnd).database().is_file() => {
            if how.since.is_some() || how.as_of != AsOf::Newest {
                let why =
                    "is a bench, not a backup: --since and --as-of are for backups".to_owned();
                return Err(refused(from, why));
            }
            let db = Folder::new(from, Durability::AtTheEnd).database();
            let notes = Folder::new(from, Durability::AtTheEnd).notes();
            from_journal(&db, from, &notes, &beside.dir, progress)?
        }
        None => {
            let why = "holds neither a backup nor a bench: give the folder in which `fettle backup` made one".to_owned();
            return Err(refused(from, why));
        }
    };
    if let Some(what) = restored.losses().filter(|_| !how.with_losses) {
        return Err(BenchError::Losses { what });
    }
    beside.name(dir)?;
    dir.clone_into(&mut restored.folder);
    Ok(restored)
}

/// A new bench does not lie within what it is made from.
fn refuse_below(from: &Path, dir: &Path) -> Result<(), BenchError> {
    let parent = dir.parent().filter(|parent| !parent.as_os_str().is_empty());
    let lies = fs::canonicalize(parent.unwrap_or(Path::new(".")));
    match (lies, fs::canonicalize(from)) {
        (Ok(lies), Ok(from)) if lies.starts_with(&from) => {
            let why = "lies within what is restored: give a folder outside of it".to_owned();
            Err(refused(dir, why))
        }
        _ => Ok(()),
    }
}

fn from_backup(
    backup: &Place,
    dir: &Path,
    how: HowToRestore<'_>,
    progress: &mut Progress<'_>,
) -> Result<Restored, BenchError> {
    let state = choose(backup, how.as_of)?;
    let folder = Folder::new(dir, Durability::AtTheEnd);
    progress(Step::new("database", 0, 1));
    let carried = state
        .manifest()
        .map_err(|error| error.to_string())
        .and_then(|manifest| {
            let (from, to) = (state.database(), folder.database());
            match carry(&from, &to, Some(&manifest.database.blake3)) {
                Ok(_) => Ok(Ok(manifest)),
                Err(Hindrance::Source(why)) => Err(format!("{}: {why}", from.display())),
                Err(Hindrance::Target(error)) => Ok(Err(error)),
            }
        });
    progress(Step::new("database", 1, 1));
    let manifest = match carried {
        Ok(manifest) => manifest?,
        Err(why) if how.with_losses => {
            let mut restored = from_journal(
                &state.database(),
                &backup.dir,
                &state.notes(),
                dir,
                progress,
            )?;
            restored.state = Some(state.name());
            let told = format!(
                "the state {} is damaged ({why}); it was made anew from its journal",
                state.name()
            );
            restored.lost_entries.insert(0, told);
            return Ok(restored);
        }
        Err(why) => {
            let what = format!(
                "the state {} of the backup is damaged ({why})",
                state.name()
            );
            return Err(BenchError::Losses { what });
        }
    };
    keep_a_log(&folder.database())?;
    let mut lost = Vec::new();
    let mut files = carry_listed_notes(&state, &manifest, &folder.notes(), &mut lost)?;
    let named = named_in(&folder.database())?;
    let mut wanted: Vec<String> = manifest.files.clone();
    wanted.extend(named.iter().map(shelves::Named::place));
    files += carry_files(&backup.dir, dir, wanted, &named, progress, &mut lost)?;
    let bench = Bench::open(dir)?;
    let mut restored = Restored {
        folder: dir.to_owned(),
        state: Some(state.name()),
        made_at: Some(manifest.made_at),
        entries: manifest.entries,
        entries_since: 0,
        files,
        lost_files: lost,
        lost_entries: Vec::new(),
    };
    if let Some(since) = how.since {
        bring_since(since, &bench, &manifest, &mut restored, progress)?;
    }
    bench.close()?;
    Ok(restored)
}

/// The state that was asked for.
fn choose(backup: &Place, as_of: AsOf) -> Result<State, BenchError> {
    let mut states = backup.states()?;
    let names: Vec<String> = states.iter().map(State::name).collect();
    let found = match as_of {
        AsOf::Newest => states.pop(),
        AsOf::Number(number) => states.into_iter().find(|state| state.number == number),
        AsOf::Day(day) => states.into_iter().rfind(|state| {
            let made_on = state.manifest().ok();
            made_on.is_some_and(|it| TimeZone::UTC.to_datetime(it.made_at).date() <= day)
        }),
    };
    found.ok_or_else(|| {
        let why = if names.is_empty() {
            "holds no state of the record: the backup was never finished".to_owned()
        } else {
            format!(
                "holds no such state of the record; it has {}",
                names.join(", ")
            )
        };
        refused(&backup.dir, why)
    })
}

/// A backup's database is one file; a bench's keeps a log beside it while it is open.
fn keep_a_log(db: &Path) -> Result<(), BenchError> {
    let told = |error: rusqlite::Error| BenchError::from_database(db, &error);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(db, flags).map_err(told)?;
    connection
        .pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))
        .map_err(told)?;
    connection.close().map_err(|(_, error)| told(error))
}

fn named_in(db: &Path) -> Result<Vec<shelves::Named>, BenchError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(db, flags)
        .map_err(|error| BenchError::from_database(db, &error))?;
    Ok(named_by(&connection))
}

fn carry_listed_notes(
    state: &State,
    manifest: &Manifest,
    to: &Path,
    lost: &mut Vec<Lost>,
) -> Result<u64, BenchError> {
    fs::create_dir_all(to).map_err(|error| BenchError::from_io(to, &error))?;
    let mut carried = 0;
    for note in &manifest.notes {
        match carry_below(&state.notes(), to, &note.name, Some(&note.blake3)) {
            Ok(_) => carried += 1,
            Err(Hindrance::Source(why)) => lost.push(Lost::note(&note.name, why)),
            Err(Hindrance::Target(error)) => return Err(error),
        }
    }
    Ok(carried)
}

/// Carries kept files by their places; gives how many came.
fn carry_files(
    from: &Path,
    to: &Path,
    mut places: Vec<String>,
    named: &[shelves::Named],
    progress: &mut Progress<'_>,
    lost: &mut Vec<Lost>,
) -> Result<u64, BenchError> {
    places.sort_unstable();
    places.dedup();
    for shelf in Shelf::ALL {
        let folder = to.join(shelf.name());
        fs::create_dir_all(&folder).map_err(|error| BenchError::from_io(&folder, &error))?;
    }
    let fits = |place: &str| {
        place
            .split_once('/')
            .is_some_and(|(shelf, name)| Shelf::named(shelf).is_some() && hash_in(name).is_some())
    };
    let kept: Vec<Kept> = places
        .into_iter()
        .filter(|place| fits(place))
        .map(|place| Kept {
            from: from.join(&place),
            to: to.join(&place),
            place,
        })
        .collect();
    let words: HashMap<String, &str> = named
        .iter()
        .map(|named| (named.place(), named.words.as_str()))
        .collect();
    let (mut done, of) = (0, kept.len() as u64);
    let mut carried = 0;
    let mut failed = None;
    shelves::at_once(
        &kept,
        |kept| kept.carry(false),
        |kept, came| {
            done += 1;
            progress(Step::new("files", done, of));
            match came {
                Ok(Carried::There) => {}
                Ok(Carried::New(_) | Carried::Mended(_)) => carried += 1,
                Err(Hindrance::Source(why)) => {
                    lost.push(Lost {
                        file: kept.place.clone(),
                        what: words.get(&kept.place).map_or_else(
                            || "a file that nothing in the record names".to_owned(),
                            |words| (*words).to_owned(),
                        ),
                        why,
                    });
                }
                Err(Hindrance::Target(error)) => {
                    failed.get_or_insert(error);
                }
            }
        },
    );
    lost.sort();
    failed.map_or(Ok(carried), Err)
}
