//! Systems with modes, where a folder is a file that can be synced.

use std::fs::{File, Permissions};
use std::io;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

/// Temporary files are private; what is kept can be read like the rest of the folder.
pub(crate) fn allow_reading(file: &File) -> io::Result<()> {
    file.set_permissions(Permissions::from_mode(0o644))
}

/// Waits until the names in a folder are on the disk, where the system has a way to ask for it.
///
/// # Errors
/// When the folder cannot be opened, or the disk fails.
pub fn sync_folder(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}
