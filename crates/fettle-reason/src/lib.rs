//! Reasoning over the service notes: pure functions from what is known to what follows.
//!
//! - [`Strip`]: how far a camera is apart, what can come off next, and what must go back first.
//! - [`disturbed`]: the settings that the way in has upset, in the order in which to prove them.

mod disturbed;
#[cfg(test)]
mod fixture;
mod strip;

pub use disturbed::{Disturbed, disturbed};
pub use strip::{Missing, Strip};
