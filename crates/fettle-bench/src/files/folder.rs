//! The folder of a bench: every path in it, and writing a file once.

use std::{
    fs::{self, File},
    io::Write,
    path::{Path, PathBuf},
};

use super::{FileRef, PhotoSize, allow_reading, sync_folder};
use crate::{error::BenchError, store::Durability};

/// Where files of one kind lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shelf {
    Photos,
    Recordings,
    Papers,
}

impl Shelf {
    pub(crate) const ALL: [Self; 3] = [Self::Photos, Self::Recordings, Self::Papers];

    /// The shelf with this name.
    pub(crate) fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|shelf| shelf.name() == name)
    }

    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Photos => "photos",
            Self::Recordings => "recordings",
            Self::Papers => "papers",
        }
    }
}

/// The folder of a bench. It alone knows where things lie.
#[derive(Clone, Debug)]
pub(crate) struct Folder {
    dir: PathBuf,
    durability: Durability,
    files: Files,
}

/// What is asked of a file that a change names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Files {
    /// That it lies on its shelf.
    MustBeThere,
    /// Nothing: a record is told anew whose files are looked at elsewhere, or are lost.
    Believed,
}

impl Folder {
    pub(crate) fn new(dir: &Path, durability: Durability) -> Self {
        Self {
            dir: dir.to_owned(),
            durability,
            files: Files::MustBeThere,
        }
    }

    /// The same folder, where changes are believed what they say of their files.
    pub(crate) fn believing(self) -> Self {
        Self {
            files: Files::Believed,
            ..self
        }
    }

    pub(crate) fn files(&self) -> Files {
        self.files
    }

    pub(crate) fn dir(&self) -> &Path {
        &self.dir
    }

    pub(crate) fn database(&self) -> PathBuf {
        self.dir.join("bench.db")
    }

    /// What was asked of the scheduled backup; it concerns this computer.
    pub(crate) fn backup_settings(&self) -> PathBuf {
        self.dir.join("backup.toml")
    }

    /// How the last backups went; it concerns this computer.
    pub(crate) fn backup_state(&self) -> PathBuf {
        self.dir.join("backup-state.json")
    }

    pub(crate) fn notes(&self) -> PathBuf {
        self.dir.join("notes")
    }

    pub(crate) fn shelf(&self, shelf: Shelf) -> PathBuf {
        self.dir.join(shelf.name())
    }

    pub(crate) fn file(&self, shelf: Shelf, file: &FileRef) -> PathBuf {
        self.shelf(shelf)
            .join(format!("{}.{}", file.hash, file.extension))
    }

    /// A smaller size of a photograph; it can be made again.
    pub(crate) fn smaller(&self, file: &FileRef, size: PhotoSize) -> PathBuf {
        let size = match size {
            PhotoSize::Original => return self.file(Shelf::Photos, file),
            PhotoSize::Display => "display",
            PhotoSize::Thumb => "thumb",
        };
        self.shelf(Shelf::Photos)
            .join(size)
            .join(format!("{}.jpg", file.hash))
    }

    /// Whether a kept file lies here itself. A link in its place is not followed: nothing of ours makes one, and it
    /// may lead anywhere.
    pub(crate) fn lies_here(path: &Path) -> Result<(), BenchError> {
        let told = |error: std::io::Error| BenchError::from_io(path, &error);
        let found = fs::symlink_metadata(path).map_err(told)?;
        if found.is_file() {
            return Ok(());
        }
        Err(told(std::io::Error::other(
            "a link or a folder stands in the place of the file, and is not followed",
        )))
    }

    /// Makes the folder and those in it; what was made is taken away again unless it is [kept](NewFolders::keep).
    pub(crate) fn make(&self) -> Result<NewFolders, BenchError> {
        let photos = self.shelf(Shelf::Photos);
        let mut folders: Vec<PathBuf> = self.dir.ancestors().map(Path::to_owned).collect();
        folders.retain(|folder| !folder.as_os_str().is_empty());
        folders.reverse();
        folders.push(self.notes());
        folders.extend(Shelf::ALL.map(|shelf| self.shelf(shelf)));
        folders.extend([photos.join("display"), photos.join("thumb")]);
        let mut made = NewFolders(Vec::new());
        for folder in folders {
            match fs::create_dir(&folder) {
                Ok(()) => made.0.push(folder),
                Err(_) if folder.is_dir() => {}
                Err(error) => return Err(BenchError::from_io(&folder, &error)),
            }
        }
        Ok(made)
    }

    /// Keeps bytes on a shelf under the name of their content; a file already there is left as it is.
    pub(crate) fn keep(
        &self,
        shelf: Shelf,
        bytes: &[u8],
        extension: &str,
    ) -> Result<FileRef, BenchError> {
        let file = FileRef::of(bytes, extension);
        let path = self.file(shelf, &file);
        // A file torn by a power cut can be as long as a whole one.
        if fs::metadata(&path).is_ok_and(|found| found.len() == file.bytes)
            && fs::read(&path).is_ok_and(|found| found == bytes)
        {
            return Ok(file);
        }
        self.write_once(&path, bytes)?;
        Ok(file)
    }

    /// Writes a file so that it is there whole or not at all, whatever happens: a temporary file, its bytes on the disk, its name,
    /// the folder on the disk.
    pub(crate) fn write_once(&self, path: &Path, bytes: &[u8]) -> Result<(), BenchError> {
        let told = |error: std::io::Error| BenchError::from_io(path, &error);
        let folder = path.parent().unwrap_or(&self.dir);
        let at_once = self.durability == Durability::EachChange;
        fs::create_dir_all(folder).map_err(told)?;
        let mut temporary = tempfile::Builder::new()
            .prefix(".keeping-")
            .tempfile_in(folder)
            .map_err(told)?;
        temporary.write_all(bytes).map_err(told)?;
        if at_once {
            temporary.as_file().sync_all().map_err(told)?;
        }
        allow_reading(temporary.as_file()).map_err(told)?;
        temporary.persist(path).map_err(|error| told(error.error))?;
        if at_once && let Err(error) = sync_folder(folder) {
            // Not acknowledged, so not kept; the first error is the one to tell.
            let _ = fs::remove_file(path);
            return Err(told(error));
        }
        Ok(())
    }

    /// Brings every kept file to the disk, after a bench was filled without doing so.
    pub(crate) fn sync_files(&self) -> Result<(), BenchError> {
        let mut folders: Vec<PathBuf> = Shelf::ALL.map(|shelf| self.shelf(shelf)).to_vec();
        while let Some(folder) = folders.pop() {
            let told = |error: std::io::Error| BenchError::from_io(&folder, &error);
            for entry in fs::read_dir(&folder).map_err(told)? {
                let path = entry.map_err(told)?.path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    let synced = File::open(&path).and_then(|file| file.sync_all());
                    synced.map_err(|error| BenchError::from_io(&path, &error))?;
                }
            }
            sync_folder(&folder).map_err(told)?;
        }
        Ok(())
    }
}

/// Folders made for a bench that is not there yet. Dropping them takes away those that are still empty.
#[derive(Debug)]
#[must_use]
pub(crate) struct NewFolders(Vec<PathBuf>);

impl NewFolders {
    /// The bench is there; its folders stay.
    pub(crate) fn keep(mut self) {
        self.0.clear();
    }
}

impl Drop for NewFolders {
    fn drop(&mut self) {
        for folder in self.0.iter().rev() {
            // One that is not empty holds what somebody may want, and stays.
            let _ = fs::remove_dir(folder);
        }
    }
}

/// The media type of a file by its ending.
pub(crate) fn media_type(extension: &str) -> &'static str {
    match extension {
        "jpg" | "jpeg" => "image/jpeg",
        "png" => "image/png",
        "webp" => "image/webp",
        "svg" => "image/svg+xml",
        "pdf" => "application/pdf",
        "wav" => "audio/wav",
        "flac" => "audio/flac",
        "ogg" | "oga" => "audio/ogg",
        "mp3" => "audio/mpeg",
        "aif" | "aiff" => "audio/aiff",
        "eml" => "message/rfc822",
        "csv" => "text/csv; charset=utf-8",
        "txt" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}
