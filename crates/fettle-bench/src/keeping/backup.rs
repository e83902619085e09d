//! Backing a bench up, while it is open.

use std::{
    collections::{HashMap, HashSet},
    fs::{self, File},
    path::{Path, PathBuf},
    sync::atomic::{AtomicBool, Ordering},
};

use jiff::Timestamp;
use rusqlite::Connection;
use serde::Serialize;

use super::{
    carry::{Carried, Hindrance, Kept, Lost, Notes, carry_notes, sync_below},
    journal::last_entry,
    place::{
        FORMAT, Hashed, LastEntry, Manifest, Place, State, entry_hash, identity, write_manifest,
    },
    shelves::{self, hash_of, kept_on, place},
    source::{Snapshot, Source, in_short},
    step::{Progress, Step},
    thin::{Aged, can_go},
};
use crate::{
    error::BenchError,
    files::{Folder, Shelf, sync_folder},
    store::Durability,
};

/// What a backup came to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BackedUp {
    /// The folder of the backup.
    pub folder: PathBuf,
    /// The state of the record that was added to it.
    pub state: String,
    /// When.
    pub made_at: Timestamp,
    /// Entries of the journal in it.
    pub entries: u64,
    /// How long its database is.
    pub database_bytes: u64,
    /// Kept files and service notes that it has.
    pub files: u64,
    /// How many of them were copied now.
    pub copied: u64,
    /// How long those are together.
    pub copied_bytes: u64,
    /// Damaged files of the backup that were put right from the bench; only when they were looked at.
    pub mended: u64,
    /// States that the backup holds now.
    pub states: u64,
    /// States that were let go, for later ones hold all that they held.
    pub let_go: Vec<String>,
    /// Files that the record names and neither bench nor backup has whole.
    pub lost: Vec<Lost>,
}

/// Backs a bench up into a folder: the database as it stands at one moment, and every file that is not there yet. The bench may be
/// written to meanwhile. What was backed up before stays whole whatever happens, and a damaged database is not backed up.
///
/// With `look`, the files that lie there already are held against their names and copied anew where they are damaged.
///
/// # Errors
/// When the folder is not the backup of this bench and not empty, lies within the bench or around it, or cannot be written; when the
/// bench is damaged. A file of the bench that is damaged or gone is no error: it is told in [`BackedUp::lost`].
pub fn back_up(
    bench: &Path,
    to: &Path,
    at: Timestamp,
    look: bool,
    progress: &mut Progress<'_>,
) -> Result<BackedUp, BenchError> {
    let folder = Folder::new(bench, Durability::EachChange);
    let db = folder.database();
    if !db.is_file() {
        return Err(BenchError::NotABench {
            dir: bench.to_owned(),
        });
    }
    let source = Source::open(&db)?;
    let place = prepare(&source, bench, to)?;
    let _held = place.hold()?;
    let (making, state) = place.next_state(at)?;
    let backed_up = add_state(
        &source, &folder, &place, &making, &state, at, look, progress,
    );
    if backed_up.is_err() {
        // The first error is the one to tell; the next backup takes away what is left.
        let _ = fs::remove_dir_all(&making);
    }
    backed_up
}

/// Makes an empty or new folder the backup of this bench, or looks whether it is that already.
///
/// # Errors
/// As for [`back_up`].
pub fn prepare_backup(bench: &Path, to: &Path) -> Result<(), BenchError> {
    let db = Folder::new(bench, Durability::EachChange).database();
    prepare(&Source::open(&db)?, bench, to).map(drop)
}

fn prepare(source: &Source, bench: &Path, to: &Path) -> Result<Place, BenchError> {
    let (who, name) = source.read(|connection| {
        let name: String = connection.query_row("SELECT name FROM bench", [], |row| row.get(0))?;
        Ok((identity(connection)?, name))
    })?;
    Place::of_bench(to, bench, &who, &name)
}

#[expect(clippy::too_many_arguments, reason = "what one backup is made of")]
fn add_state(
    source: &Source,
    folder: &Folder,
    place: &Place,
    making: &Path,
    state: &State,
    at: Timestamp,
    look: bool,
    progress: &mut Progress<'_>,
) -> Result<BackedUp, BenchError> {
    let path = making.join("bench.db");
    source.copy_to(&path, progress)?;
    let copy = Snapshot::open(&path, &folder.database())?;
    refuse_damaged(&copy, folder, place)?;
    let last_entry = last_entry_of(&copy.connection, folder)?;
    let tables_version = copy
        .version()
        .map_err(|error| BenchError::from_database(&path, &error))?;
    let entries = copy
        .connection
        .query_row("SELECT count(*) FROM journal", [], |row| {
            row.get::<_, i64>(0)
        })
        .map_err(|error| BenchError::from_database(&path, &error))?;
    let named = shelves::named_by(&copy.connection);
    let mut aged = Vec::new();
    for state in place.states()? {
        // One that cannot be read is left as it is.
        if let Ok(manifest) = state.manifest() {
            let held = holds(&copy.connection, &manifest.last_entry);
            aged.push((state, manifest.made_at, held));
        }
    }
    copy.close(&path)?;
    let database = hashed(&path)?;
    let Notes {
        carried: notes,
        mut lost,
    } = carry_notes(&folder.notes(), &making.join("notes"))?;
    // Files come into a bench before the entry that names them, so those listed now are all that the copy knows.
    let carried = carry_files(folder.dir(), place, look, progress)?;
    let there: HashSet<&str> = carried.files.iter().map(String::as_str).collect();
    for named in named
        .iter()
        .filter(|named| !there.contains(named.place().as_str()))
    {
        let why = carried.hindered.get(&named.place()).cloned();
        lost.push(Lost {
            file: named.place(),
            what: named.words.clone(),
            why: why.unwrap_or_else(|| "it is missing".to_owned()),
        });
    }
    lost.sort();
    let manifest = Manifest {
        format: FORMAT.to_owned(),
        program: concat!("fettle ", env!("CARGO_PKG_VERSION")).to_owned(),
        bench: place.mark.bench.clone(),
        name: place.mark.name.clone(),
        made_at: at,
        tables_version,
        entries: u64::try_from(entries).unwrap_or(0),
        last_entry,
        database,
        notes,
        files: carried.files,
    };
    write_manifest(making, &manifest)?;
    // Now it gets its name: before, all of it must be on the disk.
    let told = |error: std::io::Error| BenchError::from_io(&state.dir, &error);
    sync_below(making).map_err(told)?;
    fs::rename(making, &state.dir).map_err(told)?;
    sync_folder(&place.states_folder()).map_err(told)?;
    let let_go = thin(place, &aged, state.number, at);
    Ok(BackedUp {
        folder: place.dir.clone(),
        state: state.name(),
        made_at: at,
        entries: manifest.entries,
        database_bytes: manifest.database.bytes,
        files: (manifest.files.len() + manifest.notes.len()) as u64,
        copied: carried.copied,
        copied_bytes: carried.copied_bytes,
        mended: carried.mended,
        states: place.states()?.len() as u64,
        let_go,
        lost,
    })
}

fn refuse_damaged(copy: &Snapshot, folder: &Folder, place: &Place) -> Result<(), BenchError> {
    let damage = copy.damage(false);
    if damage.is_empty() {
        return Ok(());
    }
    Err(BenchError::NotBackedUp {
        db: folder.database(),
        why: in_short(&damage),
        backup: place.dir.clone(),
    })
}

fn last_entry_of(connection: &Connection, folder: &Folder) -> Result<LastEntry, BenchError> {
    let number = last_entry(connection);
    let hash = entry_hash(connection, number)
        .map_err(|error| BenchError::from_database(&folder.database(), &error))?;
    Ok(LastEntry {
        number,
        blake3: hash.ok_or_else(|| BenchError::Corrupt {
            db: folder.database(),
            why: format!("entry {number} of the journal is missing"),
        })?,
    })
}

/// Whether this record holds all up to this entry.
pub(crate) fn holds(record: &Connection, entry: &LastEntry) -> bool {
    entry_hash(record, entry.number).is_ok_and(|hash| hash.as_ref() == Some(&entry.blake3))
}

fn hashed(path: &Path) -> Result<Hashed, BenchError> {
    let (blake3, bytes) = File::open(path)
        .and_then(hash_of)
        .map_err(|error| BenchError::from_io(path, &error))?;
    Ok(Hashed {
        name: "bench.db".to_owned(),
        bytes,
        blake3,
    })
}

/// What carrying the shelves came to.
struct CarriedAll {
    /// All kept files that the backup has.
    files: Vec<String>,
    copied: u64,
    copied_bytes: u64,
    mended: u64,
    /// Files that could not be carried, and why.
    hindered: HashMap<String, String>,
}

fn carry_files(
    bench: &Path,
    place_of: &Place,
    look: bool,
    progress: &mut Progress<'_>,
) -> Result<CarriedAll, BenchError> {
    let mut all = CarriedAll {
        files: Vec::new(),
        copied: 0,
        copied_bytes: 0,
        mended: 0,
        hindered: HashMap::new(),
    };
    let mut kept: Vec<Kept> = Vec::new();
    for shelf in Shelf::ALL {
        let there = kept_on(&place_of.dir, shelf)?;
        // A file has its name here only since it was whole and on the disk, so the name is enough.
        let known: HashSet<&str> = there.iter().map(String::as_str).collect();
        let carry = |name: &str| Kept {
            from: bench.join(shelf.name()).join(name),
            to: place_of.shelf(shelf).join(name),
            place: place(shelf, name),
        };
        let here = kept_on(bench, shelf)?;
        kept.extend(
            here.iter()
                .filter(|name| !known.contains(name.as_str()))
                .map(|name| carry(name)),
        );
        if look {
            kept.extend(there.iter().map(|name| carry(name)));
        } else {
            all.files
                .extend(there.iter().map(|name| place(shelf, name)));
        }
    }
    let mut failed = None;
    let stop = AtomicBool::new(false);
    let (mut done, of) = (0, kept.len() as u64);
    shelves::at_once(
        &kept,
        |kept| (!stop.load(Ordering::Relaxed)).then(|| kept.carry(look)),
        |kept, carried| {
            done += 1;
            progress(Step::new("files", done, of));
            match carried {
                None => {}
                Some(Ok(carried)) => {
                    all.files.push(kept.place.clone());
                    match carried {
                        Carried::There => {}
                        Carried::New(bytes) => {
                            all.copied += 1;
                            all.copied_bytes += bytes;
                        }
                        Carried::Mended(bytes) => {
                            all.mended += 1;
                            all.copied_bytes += bytes;
                        }
                    }
                }
                Some(Err(Hindrance::Source(why))) => {
                    all.hindered.insert(kept.place.clone(), why);
                }
                Some(Err(Hindrance::Target(error))) => {
                    stop.store(true, Ordering::Relaxed);
                    failed.get_or_insert(error);
                }
            }
        },
    );
    if let Some(error) = failed {
        return Err(error);
    }
    for shelf in Shelf::ALL {
        let folder = place_of.shelf(shelf);
        sync_folder(&folder).map_err(|error| BenchError::from_io(&folder, &error))?;
    }
    all.files.sort_unstable();
    Ok(all)
}

/// Lets states go that later ones hold; what cannot be taken away stays, and is tried again next time.
fn thin(
    place: &Place,
    states: &[(State, Timestamp, bool)],
    newest: u32,
    at: Timestamp,
) -> Vec<String> {
    let mut aged: Vec<Aged> = states
        .iter()
        .map(|(state, made_at, is_in_newest)| Aged {
            number: state.number,
            made_at: *made_at,
            is_in_newest: *is_in_newest,
        })
        .collect();
    aged.push(Aged {
        number: newest,
        made_at: at,
        is_in_newest: true,
    });
    let gone = can_go(&aged);
    states
        .iter()
        .filter(|(state, ..)| gone.contains(&state.number))
        .filter(|(state, ..)| place.let_go(state).is_ok())
        .map(|(state, ..)| state.name())
        .collect()
}
