//! Register: how far the film lies behind the lens's seat, and how squarely.
//!
//! Depths read at points of the gate give a plane by least squares ([`Plane`]); from it follow the error at the middle, the tilt, the
//! worst corner of the frame, and the shims that bring it right. Shims only add: a register that is too long is told so.

mod analyse;
mod finding;
mod options;
mod plane;
mod reading;
mod report;
mod seats;
mod stock;
#[cfg(test)]
mod tests;

pub use analyse::analyse;
pub use finding::Finding;
pub use options::{Options, Place};
pub use plane::Plane;
pub use reading::{Reading, read};
pub use report::{AtFilm, Corner, ReadPoint, Report, SeatShims};
pub use stock::{Shim, Stock, StockError};
