//! What differs from system to system: who may read a file, and by what it is known.

#[cfg(not(unix))]
mod portable;
#[cfg(unix)]
mod unix;

#[cfg(not(unix))]
pub(crate) use self::portable::{
    file_number, keep_private, make_private_folder, private_file, sync_folder,
};
#[cfg(unix)]
pub(crate) use self::unix::{
    file_number, keep_private, make_private_folder, private_file, sync_folder,
};
