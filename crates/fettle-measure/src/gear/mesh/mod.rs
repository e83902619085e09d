//! A pair of teeth in mesh: how far it may be pulled apart.

mod analyse;
mod finding;
mod options;
mod pair;
mod placed;
mod report;

pub use analyse::analyse;
pub use finding::{Finding, Of};
pub use options::{Mate, Options};
pub use placed::{Placed, PlacedPair, placed};
pub use report::Report;
