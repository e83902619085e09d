//! Moving in and out: many changes at once, the record told whole, and a bench made from a journal.

use std::{fs, path::Path};

use jiff::Timestamp;

use super::Bench;
use crate::{
    apply,
    change::Change,
    error::BenchError,
    files::{FileRef, Shelf, check_note_name},
    index::Index,
    journal::{Applied, Hand},
    out::{KeptFile, Out},
    read,
};

impl Bench {
    /// Applies many groups of changes in one transaction: all of them, or none when `tell` gives an error. `tell` is given what
    /// [`apply`](Self::apply) does, for one group at a time; later groups may use the ids that earlier ones made.
    ///
    /// # Errors
    /// As for [`apply`](Self::apply), and what `tell` gives. Nothing is changed then.
    pub fn apply_together<T, E: From<BenchError>>(
        &self,
        tell: impl FnOnce(
            &mut (dyn FnMut(&Hand, Timestamp, Vec<Change>) -> Result<Applied, BenchError> + '_),
        ) -> Result<T, E>,
    ) -> Result<T, E> {
        apply::apply_together(&self.store, &self.folder, tell)
    }

    /// All owners, cameras, visits, drawers and lots, in short.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn index(&self) -> Result<Index, BenchError> {
        self.read(read::index)
    }

    /// Tells the whole record as it stands at one moment: every table but the caches row by row, then the journal entry by entry.
    ///
    /// # Errors
    /// When the database cannot be read, and what `tell` gives, which ends it.
    pub fn tell_out<E: From<BenchError>>(
        &self,
        mut tell: impl FnMut(Out<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut refused = None;
        self.read(|connection| {
            read::out(connection, &mut |out| match tell(out) {
                Ok(()) => true,
                Err(error) => {
                    refused = Some(error);
                    false
                }
            })
        })?;
        refused.map_or(Ok(()), Err)
    }

    /// The kept photographs, recordings and papers, and the files of service notes, by name. What can be made again, such as smaller
    /// photographs, is left out.
    ///
    /// # Errors
    /// When a folder cannot be read.
    pub fn kept_files(&self) -> Result<Vec<KeptFile>, BenchError> {
        let mut files = Vec::new();
        let mut folders: Vec<_> = Shelf::ALL.map(|shelf| self.folder.shelf(shelf)).to_vec();
        folders.push(self.folder.notes());
        for folder in folders.iter().filter(|folder| folder.is_dir()) {
            let told = |error: std::io::Error| BenchError::from_io(folder, &error);
            let shelf = folder.file_name().unwrap_or_default().to_string_lossy();
            for entry in fs::read_dir(folder).map_err(told)? {
                let entry = entry.map_err(told)?;
                let name = entry.file_name().to_string_lossy().into_owned();
                if name.starts_with('.') || !entry.path().is_file() {
                    continue;
                }
                files.push(KeptFile {
                    name: format!("{shelf}/{name}"),
                    path: entry.path(),
                });
            }
        }
        files.sort();
        Ok(files)
    }

    /// Makes a bench from a journal that stands elsewhere: `fill` puts its files in with [`put_file`](Self::put_file) and applies its
    /// groups in their order, the first of which settles the bench.
    ///
    /// # Errors
    /// As for [`make`](Self::make).
    pub fn make_from_journal<E: From<BenchError>>(
        dir: &Path,
        fill: impl FnOnce(&Self) -> Result<(), E>,
    ) -> Result<Self, E> {
        Self::make_with(dir, fill)
    }

    /// Puts a file into the folder by the name that [`kept_files`](Self::kept_files) gives it.
    ///
    /// # Errors
    /// When the name is not that of a file of a bench, or does not fit the content, or it cannot be written.
    pub fn put_file(&self, name: &str, bytes: &[u8]) -> Result<(), BenchError> {
        let refused = |why: &str| BenchError::File {
            path: name.into(),
            why: why.to_owned(),
        };
        let (place, file) = name
            .split_once('/')
            .ok_or_else(|| refused("lies in no folder of a bench"))?;
        if Some(place) == self.folder.notes().file_name().and_then(|it| it.to_str()) {
            check_note_name(file).map_err(refused)?;
            return self
                .folder
                .write_once(&self.folder.notes().join(file), bytes);
        }
        let shelf = Shelf::named(place).ok_or_else(|| refused("lies in no folder of a bench"))?;
        let (_, extension) = file
            .split_once('.')
            .ok_or_else(|| refused("has no ending"))?;
        let kept = FileRef::of(bytes, extension);
        if kept.check().is_err() || format!("{}.{}", kept.hash, kept.extension) != file {
            return Err(refused("is not named after its content"));
        }
        self.folder.keep(shelf, bytes, extension).map(drop)
    }
}
