//! What differs from system to system: who may read a file, and when a folder's names are on the disk.

#[cfg(not(unix))]
mod portable;
#[cfg(unix)]
mod unix;

#[cfg(not(unix))]
pub(crate) use self::portable::allow_reading;
#[cfg(not(unix))]
pub use self::portable::sync_folder;
#[cfg(unix)]
pub(crate) use self::unix::allow_reading;
#[cfg(unix)]
pub use self::unix::sync_folder;
