//! Rangefinder: where its images meet against where the lens is sharp.
//!
//! Readings at several taped distances give the extension at which the images meet. Against the extension that the lens wants
//! ([`Lens`](crate::focus::Lens)) they make a line, `e_read = infinity + rate · e_ideal`, with its two settings: infinity and the rate.

mod analyse;
mod curve;
mod finding;
mod least_worst;
mod line;
mod next;
mod options;
mod reading;
mod report;
mod settings;
#[cfg(test)]
mod tests;

pub use analyse::analyse;
pub use finding::Finding;
pub use options::{Adjuster, Options};
pub use reading::{Reading, read};
pub use report::{Base, CurvePoint, NextDistance, Report, Residual, Settings, Turns, Vertical};
