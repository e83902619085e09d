//! Carrying files from one folder into another: whole, on the disk, and read back.

use std::{
    fs::{self, File},
    io::{self, Read, Write},
    path::{Path, PathBuf},
};

use serde::Serialize;

use super::{
    place::{Hashed, UNFINISHED, leads_below},
    shelves::{self, hash_of},
};
use crate::{
    error::{BenchError, in_words},
    files::sync_folder,
};

/// How deep folders beside service notes may lie.
const DEPTH: usize = 16;

/// A file that could not be carried.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Lost {
    /// Its name in the folder.
    pub file: String,
    /// What it was.
    pub what: String,
    /// Why.
    pub why: String,
}

impl Lost {
    /// Service notes that could not be carried.
    pub(crate) fn note(name: &str, why: impl Into<String>) -> Self {
        Self {
            file: format!("notes/{name}"),
            what: "service notes, or a file beside them".to_owned(),
            why: why.into(),
        }
    }
}

/// What stood in the way of carrying a file: its own damage, or the place it should go to.
#[derive(Debug)]
pub(crate) enum Hindrance {
    /// The file is gone, cannot be read or is not what its name says; others can still be carried.
    Source(String),
    /// Nothing can be written there.
    Target(BenchError),
}

/// Carries a file that must have this hash, when one is given; gives its hash and length. At the end it lies at its place, on the disk
/// and as it was read back from there, or nothing of it does.
pub(crate) fn carry(
    from: &Path,
    to: &Path,
    hash: Option<&str>,
) -> Result<(String, u64), Hindrance> {
    let name = to.file_name().unwrap_or_default().to_string_lossy();
    let part = to.with_file_name(format!("{UNFINISHED}{name}"));
    let carried = carry_part(from, &part, hash).and_then(|carried| {
        let named = fs::rename(&part, to);
        named.map_err(|error| Hindrance::Target(BenchError::from_io(to, &error)))?;
        Ok(carried)
    });
    if carried.is_err() {
        // The first error is the one to tell; what is left is taken away when the next backup begins.
        let _ = fs::remove_file(&part);
    }
    carried
}

fn carry_part(from: &Path, part: &Path, hash: Option<&str>) -> Result<(String, u64), Hindrance> {
    let source = |error: &io::Error| Hindrance::Source(in_words(error));
    let target = |error: io::Error| Hindrance::Target(BenchError::from_io(part, &error));
    let read = File::open(from).map_err(|error| source(&error))?;
    let mut written = File::create(part).map_err(target)?;
    let mut tee = Tee {
        from: read,
        to: &mut written,
        refused: None,
    };
    let carried = hash_of(&mut tee);
    if let Some(error) = tee.refused.take() {
        return Err(target(error));
    }
    let (found, bytes) = carried.map_err(|error| source(&error))?;
    if hash.is_some_and(|hash| hash != found) {
        return Err(Hindrance::Source("it is not what its name says".to_owned()));
    }
    written.sync_all().map_err(target)?;
    drop(written);
    let back = File::open(part).and_then(hash_of).map_err(target)?;
    if back.0 != found {
        return Err(Hindrance::Target(BenchError::File {
            path: part.to_owned(),
            why:
                "the disk does not give back what was written to it: do not trust it, take another"
                    .to_owned(),
        }));
    }
    Ok((found, bytes))
}

/// Reads from one file and writes what was read to another.
struct Tee<'t> {
    from: File,
    to: &'t mut File,
    /// Why it could not be written.
    refused: Option<io::Error>,
}

impl Read for Tee<'_> {
    fn read(&mut self, block: &mut [u8]) -> io::Result<usize> {
        let length = self.from.read(block)?;
        if let Err(error) = self.to.write_all(block.get(..length).unwrap_or_default()) {
            self.refused = Some(error);
            return Ok(0);
        }
        Ok(length)
    }
}

/// What carrying the service notes came to.
pub(crate) struct Notes {
    pub(crate) carried: Vec<Hashed>,
    /// What could not be read.
    pub(crate) lost: Vec<Lost>,
}

/// Carries the service notes and what lies beside them, but for what is hidden.
pub(crate) fn carry_notes(from: &Path, to: &Path) -> Result<Notes, BenchError> {
    let mut names = Vec::new();
    let mut lost = Vec::new();
    if from.is_dir() {
        below(from, "", DEPTH, &mut names, &mut lost);
    }
    names.sort_unstable();
    let mut carried = Vec::new();
    fs::create_dir_all(to).map_err(|error| BenchError::from_io(to, &error))?;
    for name in names {
        match carry_below(from, to, &name, None) {
            Ok(file) => carried.push(file),
            Err(Hindrance::Source(why)) => lost.push(Lost::note(&name, why)),
            Err(Hindrance::Target(error)) => return Err(error),
        }
    }
    sync_below(to).map_err(|error| BenchError::from_io(to, &error))?;
    Ok(Notes { carried, lost })
}

/// Carries a file by its name below a folder, making the folders that it lies in.
pub(crate) fn carry_below(
    from: &Path,
    to: &Path,
    name: &str,
    hash: Option<&str>,
) -> Result<Hashed, Hindrance> {
    if !leads_below(name) {
        return Err(Hindrance::Source(
            "its name leads out of its folder".to_owned(),
        ));
    }
    let path = to.join(name);
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)
            .map_err(|error| Hindrance::Target(BenchError::from_io(folder, &error)))?;
    }
    let (blake3, bytes) = carry(&from.join(name), &path, hash)?;
    Ok(Hashed {
        name: name.to_owned(),
        bytes,
        blake3,
    })
}

fn below(folder: &Path, prefix: &str, depth: usize, names: &mut Vec<String>, lost: &mut Vec<Lost>) {
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) => {
            lost.push(Lost::note(prefix, in_words(&error)));
            return;
        }
    };
    for entry in entries.map_while(Result::ok) {
        let file = entry.file_name();
        let Some(file) = file.to_str() else {
            lost.push(Lost::note(
                &format!("{prefix}{}", file.to_string_lossy()),
                "its name is not UTF-8: name it anew",
            ));
            continue;
        };
        if file.starts_with('.') {
            continue;
        }
        let name = format!("{prefix}{file}");
        // A link to a file is carried as what it leads to; one to a folder could lead round in a circle.
        let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if is_folder && depth > 0 {
            below(&entry.path(), &format!("{name}/"), depth - 1, names, lost);
        } else if entry.path().is_file() {
            names.push(name);
        }
    }
}

/// Brings the names in a folder and all below it to the disk.
pub(crate) fn sync_below(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            sync_below(&entry.path())?;
        }
    }
    sync_folder(folder)
}

/// A kept file to carry: from where, to where, its name.
pub(crate) struct Kept {
    pub(crate) from: PathBuf,
    pub(crate) to: PathBuf,
    pub(crate) place: String,
}

impl Kept {
    /// Carries it. One that lies there already is taken as it is, unless it is to be looked at and found wanting.
    pub(crate) fn carry(&self, look: bool) -> Result<Carried, Hindrance> {
        let name = self.place.rsplit('/').next().unwrap_or_default();
        let hash = shelves::hash_in(name).unwrap_or_default();
        let mut mended = false;
        if look && self.to.exists() {
            if shelves::is_whole(&self.to, hash).is_ok_and(|whole| whole.is_some()) {
                return Ok(Carried::There);
            }
            mended = true;
        }
        let (_, bytes) = carry(&self.from, &self.to, Some(hash))?;
        Ok(if mended {
            Carried::Mended(bytes)
        } else {
            Carried::New(bytes)
        })
    }
}

/// What carrying a file came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Carried {
    There,
    New(u64),
    Mended(u64),
}
