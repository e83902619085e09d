//! A journal told anew as far as it can be read, from a database in whatever state.

use std::path::Path;

use rusqlite::Connection;

use crate::{
    apply,
    error::BenchError,
    files::Folder,
    ids::EntryId,
    read::{Told, journal_after, journal_entry},
    replay::change_of,
    store::Store,
};

use super::step::{Progress, Step};

/// Entries read at a time, and told in one transaction.
const BATCH: u32 = 1_000;

/// Entries that are missing or cannot be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Gap {
    pub(crate) first: i64,
    pub(crate) last: i64,
}

/// How far a journal was told.
#[derive(Debug, Default)]
pub(crate) struct Retold {
    /// Entries told anew.
    pub(crate) told: u64,
    /// Entries that could be read.
    pub(crate) read: u64,
    /// Those that could not.
    pub(crate) gaps: Vec<Gap>,
    /// The first entry that was refused, and why; nothing is told after it, nor after a gap.
    pub(crate) refused: Option<(EntryId, String)>,
}

impl Retold {
    /// Whether all of it was told.
    pub(crate) fn is_whole(&self) -> bool {
        self.gaps.is_empty() && self.refused.is_none()
    }
}

/// Tells the entries after one to another database, group by group, until one is missing, cannot be read or is refused: later ones
/// name what earlier ones made. What follows is still read, for what can be said of it.
pub(crate) fn retell(
    from: &Connection,
    db: &Path,
    after: EntryId,
    into: &Store,
    folder: &Folder,
    progress: &mut Progress<'_>,
) -> Result<Retold, BenchError> {
    let last = last_entry(from);
    let mut retold = Retold::default();
    let mut groups: Vec<Vec<Told>> = Vec::new();
    let mut at = after.get();
    while at < last {
        let upto = at.saturating_add(i64::from(BATCH)).min(last);
        for entry in entries(from, at, upto, &mut retold.gaps) {
            retold.read += 1;
            match groups.last_mut() {
                Some(group)
                    if group
                        .first()
                        .is_some_and(|first| first.group == entry.group) =>
                {
                    group.push(entry);
                }
                _ => groups.push(vec![entry]),
            }
        }
        at = upto;
        if retold.is_whole() {
            // The last group may go on.
            let whole = groups.len().saturating_sub(usize::from(at < last));
            let told = groups.drain(..whole).collect();
            tell(db, into, folder, told, &mut retold)?;
        } else {
            tell_before_gap(db, into, folder, &mut groups, &mut retold)?;
        }
        progress(Step::new(
            "journal",
            u64::try_from(at).unwrap_or(0),
            u64::try_from(last).unwrap_or(0),
        ));
    }
    Ok(retold)
}

/// The number of the last entry, as far as that can be told.
pub(crate) fn last_entry(connection: &Connection) -> i64 {
    [
        "SELECT max(seq) FROM sqlite_sequence WHERE name = 'journal'",
        "SELECT max(id) FROM journal",
    ]
    .iter()
    .filter_map(|sql| {
        let number = connection.query_row(sql, [], |row| row.get::<_, Option<i64>>(0));
        number.ok().flatten()
    })
    .max()
    .unwrap_or(0)
}

/// The entries after `at` up to `upto`; where they cannot be read together, one by one.
fn entries(connection: &Connection, at: i64, upto: i64, gaps: &mut Vec<Gap>) -> Vec<Told> {
    let most = u32::try_from(upto - at).unwrap_or(BATCH);
    let found = journal_after(connection, EntryId::new(at), most)
        .unwrap_or_else(|_| {
            (at + 1..=upto)
                .filter_map(|id| journal_entry(connection, EntryId::new(id)).ok().flatten())
                .collect()
        })
        .into_iter()
        .filter(|told| told.id.get() <= upto);
    let mut next = at + 1;
    let mut read = Vec::new();
    for told in found {
        if told.id.get() > next {
            note_gap(gaps, next, told.id.get() - 1);
        }
        next = told.id.get() + 1;
        read.push(told);
    }
    if next <= upto {
        note_gap(gaps, next, upto);
    }
    read
}

fn note_gap(gaps: &mut Vec<Gap>, first: i64, last: i64) {
    match gaps.last_mut() {
        Some(gap) if gap.last + 1 == first => gap.last = last,
        _ => gaps.push(Gap { first, last }),
    }
}

/// Tells what stands before the first gap; a group that the gap tore is not told.
fn tell_before_gap(
    db: &Path,
    into: &Store,
    folder: &Folder,
    groups: &mut Vec<Vec<Told>>,
    retold: &mut Retold,
) -> Result<(), BenchError> {
    let first = retold.gaps.first().map_or(i64::MAX, |gap| gap.first);
    let mut before: Vec<Vec<Told>> = groups
        .drain(..)
        .filter(|group| group.iter().all(|told| told.id.get() < first))
        .collect();
    if before
        .last()
        .and_then(|group| group.last())
        .is_some_and(|told| told.id.get() + 1 == first)
    {
        // Whether the entries that are lost belonged to it cannot be known, unless what follows says that it does not.
        before.pop();
    }
    tell(db, into, folder, before, retold)
}

/// Tells groups in one transaction; where one is refused, those before it.
fn tell(
    db: &Path,
    into: &Store,
    folder: &Folder,
    groups: Vec<Vec<Told>>,
    retold: &mut Retold,
) -> Result<(), BenchError> {
    if retold.refused.is_some() || groups.is_empty() {
        return Ok(());
    }
    match tell_together(db, into, folder, &groups) {
        Ok(()) => {
            retold.told += groups.iter().map(|group| group.len() as u64).sum::<u64>();
            Ok(())
        }
        Err(Ended::Refused { .. }) if groups.len() > 1 => {
            for group in groups {
                tell(db, into, folder, vec![group], retold)?;
            }
            Ok(())
        }
        Err(Ended::Refused { entry, why }) => {
            retold.refused = Some((entry, why));
            Ok(())
        }
        Err(Ended::Bench(error)) => Err(error),
    }
}

/// Why a group was not told.
enum Ended {
    Refused { entry: EntryId, why: String },
    Bench(BenchError),
}

impl From<BenchError> for Ended {
    fn from(error: BenchError) -> Self {
        Self::Bench(error)
    }
}

fn tell_together(
    db: &Path,
    into: &Store,
    folder: &Folder,
    groups: &[Vec<Told>],
) -> Result<(), Ended> {
    apply::apply_together(into, folder, |apply| {
        for group in groups {
            tell_one(db, group, apply)?;
        }
        Ok(())
    })
}

fn tell_one(db: &Path, group: &[Told], apply: &mut apply::ApplyOne<'_>) -> Result<(), Ended> {
    let Some(first) = group.first() else {
        return Ok(());
    };
    let refused = |entry: EntryId, error: BenchError| match error {
        error @ (BenchError::Rule { .. }
        | BenchError::Unknown { .. }
        | BenchError::InTheWay { .. }
        | BenchError::NewerChange { .. }
        | BenchError::Database { .. }
        | BenchError::Corrupt { .. }) => Ended::Refused {
            entry,
            why: error.to_string(),
        },
        other => Ended::Bench(other),
    };
    let mut changes = Vec::with_capacity(group.len());
    for told in group {
        changes
            .push(change_of(db, told.id, &told.change).map_err(|error| refused(told.id, error))?);
    }
    let applied = apply(&first.hand, first.at, changes).map_err(|error| {
        let index = match &error {
            BenchError::Rule { index, .. } => *index,
            _ => 0,
        };
        refused(group.get(index).map_or(first.id, |told| told.id), error)
    })?;
    let same = applied.entries.iter().eq(group.iter().map(|told| &told.id));
    if same {
        Ok(())
    } else {
        let why = "is not the entry that follows the one before it".to_owned();
        Err(Ended::Refused {
            entry: first.id,
            why,
        })
    }
}
