//! Reasoning over the service notes: pure functions from what is known to what follows.
//!
//! - [`cause`]: what is wrong, why, and what to look at next.
//! - [`demand`]: how long a drawer of parts lasts, and what its pieces are worth keeping for.
//! - [`way()`]: the way in to a set of parts and the way back, of least minutes.
//! - [`Strip`]: how far a camera is apart, what can come off next, and what must go back first.
//! - [`disturbed`]: the settings that the way in has upset, in the order in which to prove them.
//! - [`learn_minutes`]: how long work takes, from how long it took; [`take_together`]: several works in one go.
//! - [`learn_success`]: how often a work cures, from the cameras on which it held or not; [`share`]: a share with its interval.
//! - [`learn_effect`]: what a turn of an adjuster does, from the cameras on which it was turned.
//! - [`suggested`]: the signs that a reading of exposure times suggests.

pub mod cause;
pub mod demand;
mod disturbed;
mod effects;
#[cfg(test)]
mod fixture;
mod lots;
mod minutes;
mod shares;
mod strip;
mod suggested;
mod wait;
mod way;

pub use disturbed::{Disturbed, disturbed};
pub use effects::{EffectSeen, LearnedEffect, learn_effect};
pub use minutes::{LearnedMinutes, Taking, learn_minutes, take_together};
pub use shares::{LearnedSuccess, Share, learn_success, share};
pub use strip::{Missing, Strip};
pub use suggested::{Shown, Suggested, suggested};
pub use way::{Leg, NoWay, Way, way};
