//! The folder of a backup: what it is, whose it is, and the states of the record in it.
//!
//! ```text
//! fettle-backup.json          what this folder is, and of which bench
//! states/000007-2026-11-27/   one state of the record: bench.db, manifest.json, notes/
//! photos/ recordings/ papers/ files by the hash of their content, shared by all states
//! ```

use std::{
    fs::{self, File, TryLockError},
    io::{self, BufReader, Write},
    path::{Component, Path, PathBuf},
};

use jiff::{Timestamp, tz::TimeZone};
use rusqlite::Connection;
use serde::{Deserialize, Serialize, de::DeserializeOwned};

use crate::{
    error::BenchError,
    files::{Folder, Shelf, sync_folder},
    store::Durability,
};

/// The name of the format.
pub(crate) const FORMAT: &str = "fettle-backup-1";
/// Says what the folder is.
const MARK: &str = "fettle-backup.json";
/// The folder of the states.
const STATES: &str = "states";
/// What a state says of itself.
const MANIFEST: &str = "manifest.json";
/// How what is not finished begins.
pub(crate) const UNFINISHED: &str = ".making-";
/// How what is being taken away begins.
const GOING: &str = ".going-";
/// Held while a backup is made.
const LOCK: &str = ".in-use";

/// What the folder says of itself.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Mark {
    pub(crate) format: String,
    /// The bench: the hash of its first entry.
    pub(crate) bench: String,
    /// What it was called when the backup was begun.
    pub(crate) name: String,
}

/// What a state of the record says of itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Manifest {
    pub(crate) format: String,
    pub(crate) program: String,
    pub(crate) bench: String,
    pub(crate) name: String,
    pub(crate) made_at: Timestamp,
    pub(crate) tables_version: i64,
    pub(crate) entries: u64,
    pub(crate) last_entry: LastEntry,
    pub(crate) database: Hashed,
    pub(crate) notes: Vec<Hashed>,
    /// Kept files by their place, which ends with the hash of their content.
    pub(crate) files: Vec<String>,
}

/// The last entry of a journal, so that a record can be told from one that went on from an older state.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct LastEntry {
    pub(crate) number: i64,
    pub(crate) blake3: String,
}

/// A file with its hash.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Hashed {
    pub(crate) name: String,
    pub(crate) bytes: u64,
    pub(crate) blake3: String,
}

/// One state of the record in a backup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct State {
    pub(crate) number: u32,
    pub(crate) dir: PathBuf,
}

impl State {
    pub(crate) fn name(&self) -> String {
        self.dir
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
    }

    pub(crate) fn database(&self) -> PathBuf {
        Folder::new(&self.dir, Durability::EachChange).database()
    }

    pub(crate) fn notes(&self) -> PathBuf {
        Folder::new(&self.dir, Durability::EachChange).notes()
    }

    pub(crate) fn manifest(&self) -> Result<Manifest, BenchError> {
        let path = self.dir.join(MANIFEST);
        let manifest: Manifest = read_json(&path)?;
        check_format(&path, &manifest.format)?;
        Ok(manifest)
    }
}

/// The folder of a backup.
#[derive(Clone, Debug)]
pub(crate) struct Place {
    pub(crate) dir: PathBuf,
    pub(crate) mark: Mark,
}

impl Place {
    /// The backup in this folder; `None` when it is none.
    pub(crate) fn open(dir: &Path) -> Result<Option<Self>, BenchError> {
        let path = dir.join(MARK);
        if !path.is_file() {
            return Ok(None);
        }
        let mark: Mark = read_json(&path)?;
        check_format(&path, &mark.format)?;
        Ok(Some(Self {
            dir: dir.to_owned(),
            mark,
        }))
    }

    /// The backup of this bench in this folder, which is made one when it is new or empty.
    pub(crate) fn of_bench(
        dir: &Path,
        bench: &Path,
        identity: &str,
        name: &str,
    ) -> Result<Self, BenchError> {
        refuse_within(dir, bench)?;
        if let Some(place) = Self::open(dir)? {
            return if place.mark.bench == identity {
                Ok(place)
            } else {
                let why = format!(
                    "is the backup of another bench (“{}”): give another folder, so that each keeps its own",
                    place.mark.name
                );
                Err(refused(dir, why))
            };
        }
        let told = |error: io::Error| BenchError::from_io(dir, &error);
        match fs::read_dir(dir) {
            Ok(entries) => {
                for entry in entries {
                    let name = entry.map_err(told)?.file_name();
                    if !name.to_string_lossy().starts_with(UNFINISHED) {
                        let why = format!(
                            "holds other files ({}): give a new folder for the backup, such as {}",
                            name.display(),
                            dir.join("fettle-backup").display()
                        );
                        return Err(refused(dir, why));
                    }
                }
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                // A disk that is not plugged in must not be stood in for by a folder of its name.
                fs::create_dir(dir).map_err(|error| match error.kind() {
                    io::ErrorKind::NotFound => refused(
                        dir,
                        "cannot be made, for the folder that it should lie in is not there: plug in the disk, or make that folder first".to_owned(),
                    ),
                    _ => told(error),
                })?;
            }
            Err(error) => return Err(told(error)),
        }
        let mark = Mark {
            format: FORMAT.to_owned(),
            bench: identity.to_owned(),
            name: name.to_owned(),
        };
        write_json(dir, MARK, &mark)?;
        Ok(Self {
            dir: dir.to_owned(),
            mark,
        })
    }

    /// Keeps others out until it is dropped, and takes away what was left unfinished.
    pub(crate) fn hold(&self) -> Result<Held, BenchError> {
        let path = self.dir.join(LOCK);
        let told = |error: io::Error| BenchError::from_io(&path, &error);
        let file = File::create(&path).map_err(told)?;
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => {
                let why = "is being written by another backup just now: wait until that is done"
                    .to_owned();
                return Err(refused(&self.dir, why));
            }
            // Some disks know no locks; then it is for people not to make two at once.
            Ok(()) | Err(TryLockError::Error(_)) => {}
        }
        self.clear()?;
        Ok(Held { _file: file })
    }

    fn clear(&self) -> Result<(), BenchError> {
        let states = self.states_folder();
        fs::create_dir_all(&states).map_err(|error| BenchError::from_io(&states, &error))?;
        let mut folders = vec![self.dir.clone(), states];
        for shelf in Shelf::ALL {
            let folder = self.shelf(shelf);
            fs::create_dir_all(&folder).map_err(|error| BenchError::from_io(&folder, &error))?;
            folders.push(folder);
        }
        for folder in folders {
            let told = |error: io::Error| BenchError::from_io(&folder, &error);
            for entry in fs::read_dir(&folder).map_err(told)? {
                let entry = entry.map_err(told)?;
                let name = entry.file_name();
                let name = name.to_string_lossy();
                if ![UNFINISHED, GOING].iter().any(|it| name.starts_with(it)) {
                    continue;
                }
                let path = entry.path();
                let gone = if path.is_dir() {
                    fs::remove_dir_all(&path)
                } else {
                    fs::remove_file(&path)
                };
                gone.map_err(|error| BenchError::from_io(&path, &error))?;
            }
        }
        Ok(())
    }

    pub(crate) fn shelf(&self, shelf: Shelf) -> PathBuf {
        self.dir.join(shelf.name())
    }

    pub(crate) fn states_folder(&self) -> PathBuf {
        self.dir.join(STATES)
    }

    /// The states, oldest first.
    pub(crate) fn states(&self) -> Result<Vec<State>, BenchError> {
        let folder = self.states_folder();
        let told = |error: io::Error| BenchError::from_io(&folder, &error);
        let entries = match fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(told(error)),
        };
        let mut states = Vec::new();
        for entry in entries {
            let entry = entry.map_err(told)?;
            let name = entry.file_name();
            let number = name
                .to_str()
                .and_then(|name| name.split_once('-')?.0.parse().ok());
            if let Some(number) = number {
                states.push(State {
                    number,
                    dir: entry.path(),
                });
            }
        }
        states.sort_by_key(|state| state.number);
        Ok(states)
    }

    /// Takes a state away, at once or not at all: a kill half way must not leave what looks like a damaged one.
    pub(crate) fn let_go(&self, state: &State) -> io::Result<()> {
        let states = self.states_folder();
        let going = states.join(format!("{GOING}{}", state.number));
        fs::rename(&state.dir, &going)?;
        sync_folder(&states)?;
        // What stays of it is taken away before the next backup.
        let _ = fs::remove_dir_all(&going);
        Ok(())
    }

    /// The folder in which the next state is made, and the one that it becomes.
    pub(crate) fn next_state(&self, at: Timestamp) -> Result<(PathBuf, State), BenchError> {
        let last = self.states()?.last().map_or(0, |state| state.number);
        let number = last.saturating_add(1);
        let day = TimeZone::UTC.to_datetime(at).date();
        let states = self.states_folder();
        let making = states.join(format!("{UNFINISHED}{number}"));
        fs::create_dir(&making).map_err(|error| BenchError::from_io(&making, &error))?;
        let dir = states.join(format!("{number:06}-{day}"));
        Ok((making, State { number, dir }))
    }
}

/// Keeps others out of a backup while one is made.
#[derive(Debug)]
pub(crate) struct Held {
    _file: File,
}

pub(crate) fn write_manifest(folder: &Path, manifest: &Manifest) -> Result<(), BenchError> {
    write_json(folder, MANIFEST, manifest)
}

/// Neither may lie within the other.
fn refuse_within(dir: &Path, bench: &Path) -> Result<(), BenchError> {
    let told = |path: &Path, error: io::Error| BenchError::from_io(path, &error);
    let bench = fs::canonicalize(bench).map_err(|error| told(bench, error))?;
    // The place itself may not be there yet, so what is there of it tells where it lies.
    let mut there = dir;
    let lies = loop {
        match fs::canonicalize(if there.as_os_str().is_empty() {
            Path::new(".")
        } else {
            there
        }) {
            Ok(lies) => break lies,
            Err(error) if error.kind() == io::ErrorKind::NotFound => match there.parent() {
                Some(parent) => there = parent,
                None => return Ok(()),
            },
            Err(error) => return Err(told(dir, error)),
        }
    };
    if lies.starts_with(&bench) {
        let why = "lies within the bench that is backed up: give a folder outside of it, best on another disk";
        return Err(refused(dir, why.to_owned()));
    }
    if there == dir && bench.starts_with(&lies) {
        let why =
            "holds the bench that is backed up: give a folder of its own, best on another disk";
        return Err(refused(dir, why.to_owned()));
    }
    Ok(())
}

pub(crate) fn refused(path: &Path, why: String) -> BenchError {
    BenchError::Place {
        path: path.to_owned(),
        why,
    }
}

/// A state of a backup is no bench to work in: what is written there would spoil it.
pub(crate) fn refuse_state(dir: &Path) -> Result<(), BenchError> {
    let backup = dir.join("../..");
    if dir.join(MANIFEST).is_file() && backup.join(MARK).is_file() {
        let why = format!(
            "is a state within a backup: give the folder of the backup, {}, or bring the state back first with `fettle restore`",
            fs::canonicalize(&backup).unwrap_or(backup).display()
        );
        return Err(refused(dir, why));
    }
    Ok(())
}

fn check_format(path: &Path, format: &str) -> Result<(), BenchError> {
    if format == FORMAT {
        return Ok(());
    }
    let why =
        format!("is of the format {format}, this program knows {FORMAT}: use the newer program");
    Err(refused(path, why))
}

fn read_json<T: DeserializeOwned>(path: &Path) -> Result<T, BenchError> {
    let file = File::open(path).map_err(|error| BenchError::from_io(path, &error))?;
    serde_json::from_reader(BufReader::new(file)).map_err(|error| BenchError::File {
        path: path.to_owned(),
        why: format!("cannot be read: {error}"),
    })
}

/// Writes a file that is there whole or not at all.
pub(crate) fn write_json(
    folder: &Path,
    name: &str,
    value: &impl Serialize,
) -> Result<(), BenchError> {
    let path = folder.join(name);
    let json = serde_json::to_vec_pretty(value).map_err(|error| BenchError::File {
        path: path.clone(),
        why: error.to_string(),
    })?;
    write_whole(folder, name, &json)
}

/// Writes a file that is there whole or not at all.
pub(crate) fn write_whole(folder: &Path, name: &str, bytes: &[u8]) -> Result<(), BenchError> {
    let path = folder.join(name);
    let part = folder.join(format!("{UNFINISHED}{name}"));
    let written = File::create(&part)
        .and_then(|mut file| {
            file.write_all(bytes)?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&part, &path))
        .and_then(|()| sync_folder(folder));
    written.map_err(|error| {
        // The first error is the one to tell.
        let _ = fs::remove_file(&part);
        BenchError::from_io(&path, &error)
    })
}

/// Tells a bench from all others: the hash of its first entry.
pub(crate) fn identity(connection: &Connection) -> rusqlite::Result<String> {
    entry_hash(connection, 1).and_then(|hash| hash.ok_or(rusqlite::Error::QueryReturnedNoRows))
}

/// The hash of an entry as it stands in the journal; `None` when there is none of this number.
pub(crate) fn entry_hash(connection: &Connection, number: i64) -> rusqlite::Result<Option<String>> {
    use rusqlite::OptionalExtension;
    connection
        .prepare_cached("SELECT at_utc, hand, group_id, change_json FROM journal WHERE id = ?1")?
        .query_row([number], |row| {
            let mut hasher = blake3::Hasher::new();
            hasher.update(&number.to_le_bytes());
            hasher.update(&row.get::<_, i64>(2)?.to_le_bytes());
            for column in [0, 1, 3] {
                let text = row.get_ref(column)?.as_str()?;
                hasher.update(&(text.len() as u64).to_le_bytes());
                hasher.update(text.as_bytes());
            }
            Ok(hasher.finalize().to_hex().to_string())
        })
        .optional()
}

/// Whether a name in a manifest leads to a file below the folder that it is about.
pub(crate) fn leads_below(name: &str) -> bool {
    let path = Path::new(name);
    !name.is_empty()
        && !name.contains('\\')
        && path
            .components()
            .all(|part| matches!(part, Component::Normal(_)))
}
