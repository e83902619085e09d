//! Systems where a new folder is as private as the one that it lies in.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io;
use std::path::Path;

pub(crate) fn make_private_folder(path: &Path) -> io::Result<()> {
    fs::create_dir(path)
}

pub(crate) fn keep_private(_: &Path) -> io::Result<()> {
    Ok(())
}

pub(crate) fn sync_folder(_: &Path) -> io::Result<()> {
    Ok(())
}

pub(crate) fn file_number(_: &Metadata) -> u64 {
    0
}

pub(crate) fn private_file() -> OpenOptions {
    let mut options = File::options();
    options.create(true).truncate(false).write(true);
    options
}
