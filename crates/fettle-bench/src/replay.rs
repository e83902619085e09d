//! Replaying a journal into an empty bench.

use std::{fs, path::Path};

use crate::{
    change::Change,
    error::BenchError,
    files::{Folder, Shelf},
    ids::EntryId,
    journal::Hand,
    read::{Told, journal_after},
    store::Store,
};

/// Entries read at a time.
const BATCH: u32 = 500;

/// The change of an entry. Every entry was read back before it was written, so one that is JSON and cannot be read is of a kind or
/// has a field that only a newer version knows.
pub(crate) fn change_of(db: &Path, entry: EntryId, json: &str) -> Result<Change, BenchError> {
    serde_json::from_str::<Change>(json).map_err(|error| {
        let kind = serde_json::from_str::<serde_json::Value>(json)
            .ok()
            .and_then(|value| value.get("kind")?.as_str().map(str::to_owned));
        match kind {
            Some(kind) if !Change::KINDS.contains(&kind.as_str()) => {
                let why = format!("`{kind}` is a kind of change that is not known here");
                BenchError::NewerChange { entry, why }
            }
            Some(kind) => {
                let why = format!("a `{kind}` that cannot be read here: {error}");
                BenchError::NewerChange { entry, why }
            }
            None => BenchError::Corrupt {
                db: db.to_owned(),
                why: format!("entry {entry} of the journal cannot be read: {error}"),
            },
        }
    })
}

/// Gives the journal's entries to `apply` in their order, those written together together.
pub(crate) fn replay(
    from: &Store,
    mut apply: impl FnMut(&Hand, jiff::Timestamp, Vec<Change>) -> Result<(), BenchError>,
) -> Result<(), BenchError> {
    let mut group: Vec<Told> = Vec::new();
    let mut flush = |group: &mut Vec<Told>| -> Result<(), BenchError> {
        let Some(first) = group.first() else {
            return Ok(());
        };
        let (hand, at) = (first.hand.clone(), first.at);
        let changes = group
            .drain(..)
            .map(|told| change_of(from.path(), told.id, &told.change))
            .collect::<Result<_, _>>()?;
        apply(&hand, at, changes)
    };
    let mut last = EntryId::LATEST;
    loop {
        let batch = from.read(|connection| journal_after(connection, last, BATCH))?;
        let Some(end) = batch.last() else {
            return flush(&mut group);
        };
        last = end.id;
        for told in batch {
            if group.first().is_some_and(|first| first.group != told.group) {
                flush(&mut group)?;
            }
            group.push(told);
        }
    }
}

/// Copies every kept file into another bench's folder; smaller sizes of photographs are made again there.
pub(crate) fn copy_files(from: &Folder, into: &Folder) -> Result<(), BenchError> {
    for shelf in Shelf::ALL {
        let (here, there) = (from.shelf(shelf), into.shelf(shelf));
        if here.is_dir() {
            copy_folder(&here, into, &there)?;
        }
    }
    Ok(())
}

fn copy_folder(from: &Path, into: &Folder, shelf: &Path) -> Result<(), BenchError> {
    let told = |error: std::io::Error| BenchError::from_io(from, &error);
    for entry in fs::read_dir(from).map_err(told)? {
        let entry = entry.map_err(told)?;
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        if hidden || !entry.file_type().map_err(told)?.is_file() {
            continue;
        }
        let path = entry.path();
        let bytes = fs::read(&path).map_err(|error| BenchError::from_io(&path, &error))?;
        into.write_once(&shelf.join(entry.file_name()), &bytes)?;
    }
    Ok(())
}
