//! The database: opening it, its connections, and the triggers that watch every write.

mod connection;
mod watch;

pub use self::connection::SCHEMA_VERSION;
#[cfg(test)]
pub(crate) use self::connection::lay_tables;
pub(crate) use self::connection::{Durability, Store, make};
pub(crate) use self::watch::{TABLES, watch};
