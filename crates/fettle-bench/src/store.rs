//! The database: opening it, its connections, and the triggers that watch every write.

mod connection;
#[cfg(feature = "queries")]
mod told;
mod watch;

pub use self::connection::SCHEMA_VERSION;
pub(crate) use self::connection::{
    BUSY_TIMEOUT, Durability, Store, check_version, lay_tables, make,
};
#[cfg(feature = "queries")]
pub use self::told::queries_of;
pub(crate) use self::watch::{TABLES, keys_of, watch};
