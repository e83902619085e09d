//! What a way of working costs, on cameras drawn from the network.
//!
//! [`cameras`] draws cameras as the network says they come in; a [`Workshop`] works on each by one [`Working`] until its rule says
//! stop, and reckons the minutes. All ways of working hold the same beliefs, exact ones as [`diagnose`](super::diagnose) has them, and
//! stop when no further work pays as the chances stand; they differ in what comes next. The same seed gives the same cameras.

mod camera;
mod workshop;

pub use camera::{Camera, cameras, off_by_a_factor};
pub use workshop::{Visit, Working, Workshop};
