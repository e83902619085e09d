//! The shelves of kept files: what lies there, what the record names, and work on many of them at once.

use std::{
    fs::{self, File},
    io::{self, Read},
    path::Path,
    sync::{
        atomic::{AtomicUsize, Ordering},
        mpsc,
    },
    thread,
};

use rusqlite::Connection;

use crate::{
    error::BenchError,
    files::{FileRef, Shelf},
};

/// Bytes read at a time.
const BLOCK: usize = 256 << 10;
/// Most files that are worked on at once: more make a disk no faster.
const AT_ONCE: usize = 8;

/// The files on a shelf that are named by their content, without looking at any; none where there is no such shelf.
pub(crate) fn kept_on(dir: &Path, shelf: Shelf) -> Result<Vec<String>, BenchError> {
    let folder = dir.join(shelf.name());
    let told = |error: io::Error| BenchError::from_io(&folder, &error);
    let entries = match fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(told(error)),
    };
    let mut names = Vec::new();
    for entry in entries {
        let name = entry.map_err(told)?.file_name();
        if let Some(name) = name.to_str().filter(|name| hash_in(name).is_some()) {
            names.push(name.to_owned());
        }
    }
    names.sort_unstable();
    Ok(names)
}

/// The hash in the name of a kept file; `None` when it is no such name.
pub(crate) fn hash_in(name: &str) -> Option<&str> {
    let (hash, extension) = name.split_once('.')?;
    let file = FileRef {
        hash: hash.to_owned(),
        extension: extension.to_owned(),
        bytes: 0,
    };
    file.check().is_ok().then_some(hash)
}

/// The hash of what can be read, and how long that is.
pub(crate) fn hash_of(mut from: impl Read) -> io::Result<(String, u64)> {
    let mut hasher = blake3::Hasher::new();
    let mut block = vec![0; BLOCK];
    let mut bytes = 0;
    loop {
        match from.read(&mut block) {
            Ok(0) => break,
            Ok(length) => {
                hasher.update(block.get(..length).unwrap_or_default());
                bytes += length as u64;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok((hasher.finalize().to_hex().to_string(), bytes))
}

/// Whether a file holds what its name says, and how long it is.
pub(crate) fn is_whole(path: &Path, hash: &str) -> io::Result<Option<u64>> {
    let (found, bytes) = hash_of(File::open(path)?)?;
    Ok((found == hash).then_some(bytes))
}

/// Does work on many things at once; what each came to is given to `done` in the order in which it is.
pub(crate) fn at_once<T: Sync, R: Send>(
    things: &[T],
    work: impl Fn(&T) -> R + Sync,
    mut done: impl FnMut(&T, R),
) {
    let hands = thread::available_parallelism().map_or(2, |hands| hands.get() * 2);
    let next = AtomicUsize::new(0);
    let (sender, results) = mpsc::channel();
    thread::scope(|scope| {
        for _ in 0..hands.min(AT_ONCE).min(things.len()) {
            let (sender, next, work) = (sender.clone(), &next, &work);
            scope.spawn(move || {
                while let Some(thing) = things.get(next.fetch_add(1, Ordering::Relaxed)) {
                    if sender.send((thing, work(thing))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(sender);
        for (thing, result) in results {
            done(thing, result);
        }
    });
}

/// A file that the record names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Named {
    pub(crate) shelf: Shelf,
    /// `HASH.EXTENSION`.
    pub(crate) name: String,
    /// What it is to people.
    pub(crate) words: String,
}

impl Named {
    /// A file by its name within the folder; `None` when that is not one of a kept file.
    pub(crate) fn at(place: &str, words: String) -> Option<Self> {
        let (shelf, name) = place.split_once('/')?;
        hash_in(name)?;
        Some(Self {
            shelf: Shelf::named(shelf)?,
            name: name.to_owned(),
            words,
        })
    }

    /// Its name within the folder.
    pub(crate) fn place(&self) -> String {
        place(self.shelf, &self.name)
    }
}

/// The name of a kept file within the folder.
pub(crate) fn place(shelf: Shelf, name: &str) -> String {
    format!("{}/{name}", shelf.name())
}

/// Every file that the tables name, and every one that only the journal does since its entry was struck; as far as they can be read.
pub(crate) fn named_by(connection: &Connection) -> Vec<Named> {
    let mut named = Vec::new();
    for (shelf, sql) in [
        (
            Shelf::Photos,
            "SELECT hash || '.' || extension, 'photograph ' || id || ' of visit ' || visit_id, caption FROM photo",
        ),
        (
            Shelf::Recordings,
            "SELECT hash || '.' || extension, 'recording ' || id || ' of visit ' || visit_id, caption FROM recording",
        ),
        (
            Shelf::Papers,
            "SELECT hash || '.' || extension, 'paper ' || id || ' of visit ' || visit_id, title FROM paper",
        ),
    ] {
        gather(connection, shelf, sql, &mut named);
    }
    for (shelf, kind) in [
        (Shelf::Photos, "photo-attached"),
        (Shelf::Recordings, "recording-attached"),
        (Shelf::Papers, "paper-attached"),
    ] {
        let sql = format!(
            "SELECT j.change_json ->> '$.file.hash' || '.' || (j.change_json ->> '$.file.extension'), \
             'a file of entry ' || j.id || ', which was undone', '' \
             FROM struck s JOIN journal j ON j.id = s.id WHERE j.kind = '{kind}'"
        );
        gather(connection, shelf, &sql, &mut named);
    }
    named
}

fn gather(connection: &Connection, shelf: Shelf, sql: &str, named: &mut Vec<Named>) {
    let Ok(mut statement) = connection.prepare(sql) else {
        return;
    };
    let Ok(mut rows) = statement.query([]) else {
        return;
    };
    // A page that cannot be read ends it; that the database is damaged is told elsewhere.
    while let Ok(Some(row)) = rows.next() {
        let (Ok(name), Ok(what), Ok(title)) = (
            row.get::<_, String>(0),
            row.get::<_, String>(1),
            row.get::<_, String>(2),
        ) else {
            continue;
        };
        if hash_in(&name).is_none() {
            continue;
        }
        let words = if title.is_empty() {
            what
        } else {
            format!("{what} (“{title}”)")
        };
        named.push(Named { shelf, name, words });
    }
}
