//! Systems with modes and inodes.

use std::fs::{self, DirBuilder, File, Metadata, OpenOptions, Permissions};
use std::io;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt, PermissionsExt};
use std::path::Path;

/// Owner alone.
const PRIVATE: u32 = 0o700;

pub(crate) fn make_private_folder(path: &Path) -> io::Result<()> {
    DirBuilder::new().mode(PRIVATE).create(path)
}

/// Closes a folder to others when it is open to them.
pub(crate) fn keep_private(path: &Path) -> io::Result<()> {
    if fs::metadata(path)?.permissions().mode() & 0o077 == 0 {
        return Ok(());
    }
    fs::set_permissions(path, Permissions::from_mode(PRIVATE))
}

pub(crate) fn sync_folder(path: &Path) -> io::Result<()> {
    File::open(path)?.sync_all()
}

pub(crate) fn file_number(found: &Metadata) -> u64 {
    found.ino()
}

/// How a file for its owner alone is opened to be written, and made when it is not there.
pub(crate) fn private_file() -> OpenOptions {
    let mut options = File::options();
    options.create(true).truncate(false).write(true).mode(0o600);
    options
}
