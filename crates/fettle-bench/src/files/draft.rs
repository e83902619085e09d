//! A recording that is being written into the folder while it is made.

use std::{
    fs::{self, File},
    io::{Seek, SeekFrom, Write},
    path::Path,
};

use tempfile::NamedTempFile;

use super::{
    FileRef, RECORDING_MAX_BYTES, allow_reading,
    folder::{Folder, Shelf},
    in_megabytes, sync_folder,
};
use crate::error::BenchError;

/// A recording being written. Dropped before it is kept, it leaves nothing behind.
#[derive(Debug)]
pub struct RecordingDraft {
    file: NamedTempFile,
    extension: String,
    bytes: u64,
}

impl RecordingDraft {
    /// Begins a file on the shelf for recordings.
    pub(crate) fn begin(folder: &Folder, extension: &str) -> Result<Self, BenchError> {
        let shelf = folder.shelf(Shelf::Recordings);
        let told = |error: std::io::Error| BenchError::from_io(&shelf, &error);
        let file = tempfile::Builder::new()
            .prefix(".recording-")
            .tempfile_in(&shelf)
            .map_err(told)?;
        Ok(Self {
            file,
            extension: extension.to_owned(),
            bytes: 0,
        })
    }

    /// How long it is by now.
    #[must_use]
    pub const fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Adds bytes at the end.
    ///
    /// # Errors
    /// When it would become longer than a recording may be, or cannot be written.
    pub fn append(&mut self, bytes: &[u8]) -> Result<(), BenchError> {
        let size = self.bytes.saturating_add(bytes.len() as u64);
        if size > RECORDING_MAX_BYTES as u64 {
            return Err(BenchError::TooLarge {
                what: "recording",
                size: in_megabytes(usize::try_from(size).unwrap_or(usize::MAX)),
                most: in_megabytes(RECORDING_MAX_BYTES),
            });
        }
        let written = self.file.as_file_mut().write_all(bytes);
        written.map_err(|error| self.told(&error))?;
        self.bytes = size;
        Ok(())
    }

    /// Writes over its beginning, where a header gives lengths that are known only later.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn write_over_start(&mut self, bytes: &[u8]) -> Result<(), BenchError> {
        let file = self.file.as_file_mut();
        let written = file
            .seek(SeekFrom::Start(0))
            .and_then(|_| file.write_all(bytes))
            .and_then(|()| file.seek(SeekFrom::End(0)));
        let end = written.map_err(|error| self.told(&error))?;
        self.bytes = end;
        Ok(())
    }

    /// Opens what is written by now for reading.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn read(&self) -> Result<File, BenchError> {
        File::open(self.file.path()).map_err(|error| self.told(&error))
    }

    /// Gives it the name of its content; the draft may go on or be dropped after that.
    pub(crate) fn keep(&self, folder: &Folder) -> Result<FileRef, BenchError> {
        let told = |error: std::io::Error| self.told(&error);
        let mut hasher = blake3::Hasher::new();
        let bytes = std::io::copy(&mut self.read()?, &mut hasher).map_err(told)?;
        let file = FileRef {
            hash: hasher.finalize().to_hex().to_string(),
            extension: self.extension.clone(),
            bytes,
        };
        let path = folder.file(Shelf::Recordings, &file);
        if fs::metadata(&path).is_ok_and(|found| found.len() == bytes) {
            return Ok(file);
        }
        allow_reading(self.file.as_file()).map_err(told)?;
        self.file.as_file().sync_all().map_err(told)?;
        self.name(&path).map_err(told)?;
        sync_folder(&folder.shelf(Shelf::Recordings)).map_err(told)?;
        Ok(file)
    }

    /// A second name for the same file, or a copy where the disk knows no second names.
    fn name(&self, path: &Path) -> std::io::Result<()> {
        if fs::hard_link(self.file.path(), path).is_ok() {
            return Ok(());
        }
        let part = path.with_extension("part");
        fs::copy(self.file.path(), &part)?;
        File::open(&part)?.sync_all()?;
        fs::rename(&part, path)
    }

    fn told(&self, error: &std::io::Error) -> BenchError {
        BenchError::from_io(self.file.path(), error)
    }
}
