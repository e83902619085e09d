//! One file of an export while it is written: counted and hashed as it goes.

use std::{
    fs::{self, File},
    io::{self, BufWriter, Write},
    path::{Path, PathBuf},
};

use super::manifest::FileNote;
use crate::error::MovingError;

pub(crate) struct Part {
    name: String,
    path: PathBuf,
    file: BufWriter<File>,
    hasher: blake3::Hasher,
    bytes: u64,
}

impl Part {
    pub(crate) fn create(folder: &Path, name: &str) -> Result<Self, MovingError> {
        let path = folder.join(name);
        let told = |error: io::Error| MovingError::io(&path, &error);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(told)?;
        }
        let file = File::create_new(&path).map_err(told)?;
        Ok(Self {
            name: name.to_owned(),
            file: BufWriter::with_capacity(1 << 16, file),
            path,
            hasher: blake3::Hasher::new(),
            bytes: 0,
        })
    }

    /// Writes what is given.
    pub(crate) fn put(&mut self, text: &str) -> Result<(), MovingError> {
        let written = self.write_all(text.as_bytes());
        written.map_err(|error| MovingError::io(&self.path, &error))
    }

    /// Brings it to the disk and gives what the manifest says of it.
    pub(crate) fn end(mut self) -> Result<FileNote, MovingError> {
        let synced = self
            .file
            .flush()
            .and_then(|()| self.file.get_ref().sync_all());
        synced.map_err(|error| MovingError::io(&self.path, &error))?;
        Ok(FileNote {
            name: self.name,
            bytes: self.bytes,
            blake3: self.hasher.finalize().to_hex().to_string(),
        })
    }
}

impl Write for Part {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.write(bytes)?;
        self.hasher.update(bytes.get(..written).unwrap_or_default());
        self.bytes += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}
