//! Gears and racks: their teeth as exact curves, what a pair does when it is pulled apart, and what gear a worn one was.
//!
//! - [`Wheel`] and [`Rack`]: standard teeth, with the root that the cutter leaves; their [`Outline`] is exact and can be sampled.
//! - [`mesh::analyse`]: backlash, contact ratio, and how much play of a bearing the drive bears.
//! - [`part::Options::part`]: a gear or rack to have made, with its bore, holes and slots, and what to measure it by.
//! - [`identify::analyse`]: module, pressure angle and profile shift from a caliper's readings.
//!
//! All of it is for involute teeth; instrument gearing is not always involute, which the findings say where it matters.

mod curve;
pub mod identify;
pub mod mesh;
mod outline;
pub mod part;
mod rack;
#[cfg(test)]
mod swept;
#[cfg(test)]
mod tests;
mod wheel;

pub use curve::{Curve, Outline, Point};
pub use outline::RELIEVED_FROM;
pub use rack::Rack;
pub use wheel::{ADDENDUM, Cutter, DEDENDUM, Wheel, involute};
