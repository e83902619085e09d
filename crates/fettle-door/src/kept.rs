//! A value kept in a file of the door, shared with other programs that keep the same bench.

use std::fs::{self, File, Metadata, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::error::DoorError;
use crate::system;

/// No file of the door is longer: what is longer is none of its.
const MOST_BYTES: u64 = 4 << 20;

/// The folder `door` of a bench: made when something is first kept there, for its owner alone.
#[derive(Clone, Debug)]
pub(crate) struct Folder(PathBuf);

impl Folder {
    pub(crate) fn of_bench(bench: &Path) -> Self {
        Self(bench.join("door"))
    }

    pub(crate) fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    fn make(&self) -> Result<(), DoorError> {
        if no_link(&self.0)?.is_none() {
            let made = system::make_private_folder(&self.0);
            // Another program may have made it meanwhile.
            if let Err(error) = made
                && !self.0.is_dir()
            {
                return Err(DoorError::file("make", &self.0, &error));
            }
        }
        system::keep_private(&self.0)
            .map_err(|error| DoorError::file("close to others", &self.0, &error))
    }

    /// Reads a file; `None` when it is not there.
    pub(crate) fn read(&self, path: &Path) -> Result<Option<Vec<u8>>, DoorError> {
        no_link(&self.0)?;
        let Some(found) = no_link(path)? else {
            return Ok(None);
        };
        if !found.is_file() || found.len() > MOST_BYTES {
            let error = io::Error::other("it is no file of the door");
            return Err(DoorError::file("read", path, &error));
        }
        match fs::read(path) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(DoorError::file("read", path, &error)),
        }
    }

    /// Writes a file so that it is there whole or as it was before; only its owner can read it.
    pub(crate) fn write(&self, path: &Path, bytes: &[u8]) -> Result<(), DoorError> {
        self.make()?;
        no_link(path)?;
        let told = |error: io::Error| DoorError::file("write", path, &error);
        // Temporary files are made for their owner alone, and keep that when they get their name.
        let mut temporary = tempfile::Builder::new()
            .prefix(".writing-")
            .tempfile_in(&self.0)
            .map_err(told)?;
        temporary.write_all(bytes).map_err(told)?;
        temporary.as_file().sync_all().map_err(told)?;
        temporary.persist(path).map_err(|error| told(error.error))?;
        system::sync_folder(&self.0).map_err(told)
    }

    /// Keeps other programs from changing the door until the file is dropped.
    pub(crate) fn lock(&self) -> Result<File, DoorError> {
        self.make()?;
        let path = self.file("lock");
        no_link(&path)?;
        let told = |error: io::Error| DoorError::file("lock", &path, &error);
        let file = system::private_file().open(&path).map_err(told)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => file.lock().map_err(told)?,
            // A disk without locks is used by one program at a time.
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {}
            Err(TryLockError::Error(error)) => return Err(told(error)),
        }
        Ok(file)
    }
}

/// What stands at a path, which must not be a link; `None` when nothing does.
fn no_link(path: &Path) -> Result<Option<Metadata>, DoorError> {
    match fs::symlink_metadata(path) {
        Ok(found) if found.is_symlink() => Err(DoorError::Link(path.to_owned())),
        Ok(found) => Ok(Some(found)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(DoorError::file("read", path, &error)),
    }
}

/// A value in a file: read again when another program has changed it.
#[derive(Debug)]
pub(crate) struct Kept<T> {
    folder: Folder,
    path: PathBuf,
    /// What has to be done anew when the file is lost.
    remedy: &'static str,
    held: Mutex<Option<(Seen, Arc<T>)>>,
}

/// By what a changed file is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Seen {
    modified: Option<SystemTime>,
    bytes: u64,
    number: u64,
}

impl Seen {
    fn of(found: Option<&Metadata>) -> Self {
        Self {
            modified: found.and_then(|found| found.modified().ok()),
            bytes: found.map_or(0, Metadata::len),
            number: found.map_or(0, system::file_number),
        }
    }
}

impl<T: Clone + Default + Serialize + DeserializeOwned> Kept<T> {
    pub(crate) fn new(folder: &Folder, name: &str, remedy: &'static str) -> Self {
        Self {
            folder: folder.clone(),
            path: folder.file(name),
            remedy,
            held: Mutex::new(None),
        }
    }

    /// The value as it stands now.
    pub(crate) fn read(&self) -> Result<Arc<T>, DoorError> {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        self.fresh(&mut held)
    }

    fn fresh(&self, held: &mut Option<(Seen, Arc<T>)>) -> Result<Arc<T>, DoorError> {
        let seen = Seen::of(no_link(&self.path)?.as_ref());
        if let Some((before, value)) = held
            && *before == seen
        {
            return Ok(Arc::clone(value));
        }
        let value = Arc::new(self.load()?);
        *held = Some((seen, Arc::clone(&value)));
        Ok(value)
    }

    fn load(&self) -> Result<T, DoorError> {
        let Some(bytes) = self.folder.read(&self.path)? else {
            return Ok(T::default());
        };
        serde_json::from_slice(&bytes).map_err(|error| DoorError::Damaged {
            path: self.path.clone(),
            why: error.to_string(),
            remedy: self.remedy,
        })
    }

    /// Changes the value; others wait meanwhile. Nothing is written when `change` fails or changes nothing.
    pub(crate) fn change<R>(
        &self,
        change: impl FnOnce(&mut T) -> Result<R, DoorError>,
    ) -> Result<R, DoorError>
    where
        T: PartialEq,
    {
        let _lock = self.folder.lock()?;
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        // Read anew whatever the file looks like: two changes within one tick of the disk's clock look alike.
        let before = self.load()?;
        let mut value = before.clone();
        let result = change(&mut value)?;
        if value != before {
            let bytes = serde_json::to_vec_pretty(&value)
                .map_err(|error| DoorError::file("write", &self.path, &io::Error::other(error)))?;
            self.folder.write(&self.path, &bytes)?;
        }
        let seen = Seen::of(no_link(&self.path)?.as_ref());
        *held = Some((seen, Arc::new(value)));
        Ok(result)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(dir: &Path) -> Kept<Vec<String>> {
        Kept::new(&Folder::of_bench(dir), "words.json", "and say them again")
    }

    #[test]
    fn a_change_of_another_program_is_seen() {
        let dir = tempfile::tempdir().unwrap();
        let (one, other) = (kept(dir.path()), kept(dir.path()));
        assert!(one.read().unwrap().is_empty());
        let add = |to: &Kept<Vec<String>>, word: &str| {
            to.change(|words| {
                words.push(word.to_owned());
                Ok(())
            })
            .unwrap();
        };
        add(&one, "a");
        add(&other, "b");
        add(&one, "c");
        assert_eq!(*other.read().unwrap(), ["a", "b", "c"]);
        assert_eq!(*one.read().unwrap(), ["a", "b", "c"]);
    }

    #[test]
    fn reading_makes_no_folder() {
        let dir = tempfile::tempdir().unwrap();
        kept(dir.path()).read().unwrap();
        assert!(!dir.path().join("door").exists());
    }

    #[test]
    fn a_damaged_file_is_named_and_left_alone() {
        let dir = tempfile::tempdir().unwrap();
        let kept = kept(dir.path());
        kept.change(|words| {
            words.push("a".to_owned());
            Ok(())
        })
        .unwrap();
        let path = dir.path().join("door/words.json");
        fs::write(&path, b"{").unwrap();
        let told = kept.read().unwrap_err().to_string();
        assert!(
            told.contains("words.json is damaged") && told.contains("say them again"),
            "{told}"
        );
        assert!(kept.change(|_| Ok(())).is_err());
        assert_eq!(fs::read(&path).unwrap(), b"{");
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_can_read_it_and_links_are_refused() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let dir = tempfile::tempdir().unwrap();
        let kept = kept(dir.path());
        let say = |word: &str| {
            kept.change(|words| {
                words.push(word.to_owned());
                Ok(())
            })
        };
        say("a").unwrap();
        let door = dir.path().join("door");
        let file = door.join("words.json");
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!((mode(&door), mode(&file)), (0o700, 0o600));
        // A folder that somebody opened to others is closed again.
        fs::set_permissions(&door, fs::Permissions::from_mode(0o755)).unwrap();
        say("b").unwrap();
        assert_eq!(mode(&door), 0o700);

        let elsewhere = dir.path().join("elsewhere.json");
        fs::rename(&file, &elsewhere).unwrap();
        symlink(&elsewhere, &file).unwrap();
        assert!(matches!(kept.read(), Err(DoorError::Link(_))));
        assert!(matches!(say("c"), Err(DoorError::Link(_))));
        fs::remove_file(&file).unwrap();
        fs::rename(&door, dir.path().join("real")).unwrap();
        symlink(dir.path().join("real"), &door).unwrap();
        assert!(matches!(say("d"), Err(DoorError::Link(_))));
    }
}
