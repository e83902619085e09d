//! A folder beside its place, until it is whole.

use std::{
    ffi::OsString,
    fs::{self, File, TryLockError},
    io::{self, ErrorKind},
    path::{Path, PathBuf},
};

use crate::{
    error::BenchError,
    files::sync_folder,
    keeping::{carry::sync_below, place::refused},
};

/// A folder beside the one that is made, until that is whole.
pub(super) struct Beside {
    pub(super) dir: PathBuf,
    _lock: File,
}

impl Beside {
    pub(super) fn make(to: &Path) -> Result<Self, BenchError> {
        let told = |error: io::Error| BenchError::from_io(to, &error);
        match fs::read_dir(to) {
            Ok(mut entries) => {
                if entries.next().is_some() {
                    let why = "is there already and not empty: give a new folder for the bench"
                        .to_owned();
                    return Err(refused(to, why));
                }
            }
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => return Err(told(error)),
        }
        let name = to.file_name().ok_or_else(|| {
            refused(
                to,
                "does not name a folder that can be made: give a new one by its name".to_owned(),
            )
        })?;
        let mut hidden = OsString::from(".");
        hidden.push(name);
        hidden.push(".restoring");
        let dir = to.with_file_name(hidden);
        let lock = dir.with_extension("lock");
        let file = File::create(&lock).map_err(|error| {
            match error.kind() {
            ErrorKind::NotFound => refused(
                to,
                "cannot be made, for the folder that it should lie in is not there: make that first"
                    .to_owned(),
            ),
            _ => BenchError::from_io(&lock, &error),
        }
        })?;
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            let why = "is being restored to just now by another program: wait until that is done"
                .to_owned();
            return Err(refused(to, why));
        }
        let beside = Self { dir, _lock: file };
        match fs::remove_dir_all(&beside.dir) {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                return Err(BenchError::from_io(&beside.dir, &error));
            }
            _ => {}
        }
        fs::create_dir(&beside.dir).map_err(|error| BenchError::from_io(&beside.dir, &error))?;
        Ok(beside)
    }

    /// It is whole and gets its name.
    pub(super) fn name(self, to: &Path) -> Result<(), BenchError> {
        let told = |error: io::Error| BenchError::from_io(to, &error);
        sync_below(&self.dir).map_err(told)?;
        // An empty folder may stand at the place; renaming onto it is not possible everywhere.
        let _ = fs::remove_dir(to);
        fs::rename(&self.dir, to).map_err(told)?;
        let parent = to.parent().filter(|parent| !parent.as_os_str().is_empty());
        sync_folder(parent.unwrap_or(Path::new("."))).map_err(told)
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        // Nothing is there any more when it got its name.
        let _ = fs::remove_dir_all(&self.dir);
        let _ = fs::remove_file(self.dir.with_extension("lock"));
    }
}
