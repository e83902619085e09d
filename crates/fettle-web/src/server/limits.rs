//! How long and how much one connection may take of the server.

use std::time::Duration;

/// How long and how much one connection may take of the server, so that slow or many clients cannot hold it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Connections at once. When there are as many, the one that has waited longest without asking makes room.
    pub connections: usize,
    /// Connections at once from one address.
    pub of_one_address: usize,
    /// How long a connection may take until the header of its next request is there whole; also how long it may wait idle.
    pub header: Duration,
    /// How long the handshake of TLS may take.
    pub handshake: Duration,
    /// How long an answer may stand still because the other side takes nothing of it.
    pub stall: Duration,
    /// How long a body may come as slowly as it likes.
    pub body_grace: Duration,
    /// How fast a body must come after that, on average.
    pub body_bytes_per_second: u32,
}

impl Limits {
    /// Most headers of a request.
    pub(super) const HEADERS: usize = 64;
    /// Most bytes of a request's head: its first line and headers.
    pub(super) const HEAD_BYTES: usize = 16 * 1024;
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: 256,
            of_one_address: 64,
            header: Duration::from_secs(15),
            handshake: Duration::from_secs(10),
            stall: Duration::from_secs(30),
            body_grace: Duration::from_secs(10),
            // A tenth of what the slowest usable wireless network carries.
            body_bytes_per_second: 16 * 1024,
        }
    }
}
