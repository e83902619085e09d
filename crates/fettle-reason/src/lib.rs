//! Reasoning over the service notes: pure functions from what is known to what follows.
//!
//! - [`Strip`]: how far a camera is apart, what can come off next, and what must go back first.
//! - [`disturbed`]: the settings that the way in has upset, in the order in which to prove them.
//! - [`suggested`]: the signs that a reading of exposure times suggests.

mod disturbed;
#[cfg(test)]
mod fixture;
mod strip;
mod suggested;

pub use disturbed::{Disturbed, disturbed};
pub use strip::{Missing, Strip};
pub use suggested::{Shown, Suggested, suggested};
