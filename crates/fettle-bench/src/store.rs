//! The database: opening it, its connections, and the triggers that watch every write.

mod connection;
mod watch;

pub use self::connection::SCHEMA_VERSION;
pub(crate) use self::connection::{
    BUSY_TIMEOUT, Durability, Store, check_version, lay_tables, make,
};
pub(crate) use self::watch::{TABLES, watch};
