//! What gear it was: module, pressure angle and profile shift from a caliper's readings.
//!
//! Tip diameter `m (z + 2) + 2 x m`; span over k teeth `m cos α (π (k - 0.5) + z inv α) + 2 x m sin α`; length of n pitches of a rack
//! `n π m`. For a given α all are straight in `m` and `x m`, so these are fitted, and α is profiled: its interval holds where `χ²` rises by no more than
//! 3.84. The tips are taken for standard and whole.

mod analyse;
mod finding;
mod options;
mod profile;
mod report;
#[cfg(test)]
mod tests;

pub use analyse::{IdentifyError, analyse};
pub use finding::{Count, Finding};
pub use options::{Options, Over};
pub use report::{Report, Usual};
