//! What a journal still tells: a record made anew from it, and what it holds that a backup does not.

use std::{collections::HashSet, fs, path::Path};

use rusqlite::Connection;

use super::{Restored, carry_files};
use crate::{
    bench::Bench,
    error::BenchError,
    files::{Folder, Shelf},
    ids::EntryId,
    keeping::{
        carry::{Lost, carry_notes},
        journal::{Gap, Retold, last_entry},
        place::{Manifest, entry_hash, identity, refused, write_whole},
        shelves::{self, kept_on, named_by, place},
        source::{Snapshot, Source, temporary_folder},
        step::Progress,
    },
    store::Durability,
};

/// What stands in the new folder of what could be read and not be restored.
const NOT_RESTORED: &str = "not-restored.txt";

/// Adds what was recorded after the backup was made, as far as it can be read of the bench that was damaged.
pub(super) fn bring_since(
    damaged: &Path,
    bench: &Bench,
    manifest: &Manifest,
    restored: &mut Restored,
    progress: &mut Progress<'_>,
) -> Result<(), BenchError> {
    let temporary = temporary_folder()?;
    let copy = temporary.path().join("copy.db");
    let old = Folder::new(damaged, Durability::AtTheEnd);
    let db = old.database();
    if !db.is_file() {
        return Err(BenchError::NotABench {
            dir: damaged.to_owned(),
        });
    }
    let opened = Source::open(&db)
        .and_then(|source| source.copy_to(&copy, progress))
        .and_then(|()| Snapshot::open(&copy, &db));
    let copy = match opened {
        Ok(copy) => copy,
        Err(error @ (BenchError::Corrupt { .. } | BenchError::NotABench { .. })) => {
            restored
                .lost_entries
                .push(format!("what was recorded since cannot be read: {error}"));
            return Ok(());
        }
        Err(error) => return Err(error),
    };
    let other = |hash: rusqlite::Result<Option<String>>, want: &str| matches!(hash, Ok(Some(hash)) if hash != want);
    let last = &manifest.last_entry;
    if other(identity(&copy.connection).map(Some), &manifest.bench)
        || other(entry_hash(&copy.connection, last.number), &last.blake3)
    {
        let why = "is not the bench of which this backup was made, or went on from an older state of it: leave --since away".to_owned();
        return Err(refused(damaged, why));
    }
    let mut unnamed = Vec::new();
    let mut lying = Vec::new();
    for shelf in Shelf::ALL {
        let known: HashSet<String> = kept_on(bench.dir(), shelf)?.into_iter().collect();
        let here = kept_on(damaged, shelf).unwrap_or_default();
        lying.extend(
            here.iter()
                .filter(|name| !known.contains(*name))
                .map(|name| place(shelf, name)),
        );
    }
    restored.files += carry_files(damaged, bench.dir(), lying, &[], progress, &mut unnamed)?;
    carry_notes(
        &old.notes(),
        &Folder::new(bench.dir(), Durability::AtTheEnd).notes(),
    )?;
    let retold = bench.retell(&copy.connection, &db, EntryId::new(last.number), progress)?;
    restored.entries_since = retold.told;
    restored.entries += retold.told;
    tell_losses(
        &copy.connection,
        last.number,
        &retold,
        bench.dir(),
        restored,
    )?;
    // Files that the backup lacks may have come from the damaged bench by now, and its service notes are the newer ones.
    restored.lost_files = still_missing(bench)?;
    Ok(())
}

/// Files that the record names and that are not there.
fn still_missing(bench: &Bench) -> Result<Vec<Lost>, BenchError> {
    let named = bench.read(|connection| Ok(named_by(connection)))?;
    Ok(named
        .into_iter()
        .filter(|named| !bench.dir().join(named.place()).is_file())
        .map(|named| Lost {
            file: named.place(),
            what: named.words,
            why: "it is missing or damaged".to_owned(),
        })
        .collect())
}

/// Makes a record anew from its journal, as far as that can be read.
pub(super) fn from_journal(
    db: &Path,
    files: &Path,
    notes: &Path,
    dir: &Path,
    progress: &mut Progress<'_>,
) -> Result<Restored, BenchError> {
    let temporary = temporary_folder()?;
    let copy = temporary.path().join("copy.db");
    Source::open(db)?.copy_to(&copy, progress)?;
    let copy = Snapshot::open(&copy, db)?;
    let mut restored = Restored {
        folder: dir.to_owned(),
        state: None,
        made_at: None,
        entries: 0,
        entries_since: 0,
        files: 0,
        lost_files: Vec::new(),
        lost_entries: Vec::new(),
    };
    // Where something stands already that was carried in vain.
    let _ = fs::remove_file(Folder::new(dir, Durability::AtTheEnd).database());
    let bench = Bench::make_from_journal(dir, |bench| {
        let mut places = Vec::new();
        for shelf in Shelf::ALL {
            places.extend(kept_on(files, shelf)?.iter().map(|name| place(shelf, name)));
        }
        let named = named_by(&copy.connection);
        places.extend(named.iter().map(shelves::Named::place));
        let lost = &mut restored.lost_files;
        restored.files = carry_files(files, dir, places, &named, progress, lost)?;
        let retold = bench.retell(&copy.connection, db, EntryId::LATEST, progress)?;
        if retold.told == 0 {
            return Err(BenchError::Corrupt {
                db: db.to_owned(),
                why: "not even the first entry of its journal can be read".to_owned(),
            });
        }
        restored.entries = retold.told;
        tell_losses(&copy.connection, 0, &retold, dir, &mut restored)
    })?;
    let came = carry_notes(notes, &Folder::new(dir, Durability::AtTheEnd).notes())?;
    restored.files += came.carried.len() as u64;
    restored.lost_files.extend(came.lost);
    bench.close()?;
    Ok(restored)
}

/// Says what of a journal was not told, and writes down what can still be read of it.
fn tell_losses(
    journal: &Connection,
    after: i64,
    retold: &Retold,
    dir: &Path,
    restored: &mut Restored,
) -> Result<(), BenchError> {
    if retold.is_whole() {
        return Ok(());
    }
    let told = after.saturating_add(i64::try_from(retold.told).unwrap_or(i64::MAX));
    for Gap { first, last } in &retold.gaps {
        restored.lost_entries.push(if first == last {
            format!("entry {first} of the journal is missing or cannot be read")
        } else {
            format!("entries {first} to {last} of the journal are missing or cannot be read")
        });
    }
    if let Some((entry, why)) = &retold.refused {
        restored.lost_entries.push(format!(
            "entry {entry} of the journal cannot be told anew: {why}"
        ));
    }
    let sentences = sentences_after(journal, told);
    if sentences.is_empty() {
        return Ok(());
    }
    restored.lost_entries.push(format!(
        "{} entries after entry {told} were read and not brought back, for they build on what is lost: {NOT_RESTORED} in the new folder says what they were, to be entered again",
        sentences.len()
    ));
    write_whole(dir, NOT_RESTORED, sentences.join("\n").as_bytes())
}

/// What can be read of the entries after one, a line each.
fn sentences_after(journal: &Connection, after: i64) -> Vec<String> {
    let last = last_entry(journal);
    let line = |id: i64| {
        journal
            .prepare_cached("SELECT at_utc, hand, sentence FROM journal WHERE id = ?1")?
            .query_row([id], |row| {
                let (at, hand) = (row.get::<_, String>(0)?, row.get::<_, String>(1)?);
                Ok(format!(
                    "entry {id}, {at}, {hand}: {}",
                    row.get::<_, String>(2)?
                ))
            })
    };
    (after + 1..=last).filter_map(|id| line(id).ok()).collect()
}
