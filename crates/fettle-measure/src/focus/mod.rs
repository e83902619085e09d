//! Focus: where a lens images what, how deep the sharpness reaches, and how far to turn.
//!
//! Lengths are millimetres, distances run from the film plane to the subject unless said otherwise, and a far subject
//! is `f64::INFINITY`. What [`register`](crate::register) and [`rangefinder`](crate::rangefinder) share stands here.

mod depth;
pub(crate) mod distance;
mod infinity;
mod lens;
mod screw;

pub use depth::Depth;
pub use infinity::Infinity;
pub use lens::Lens;
pub use screw::FocusScrew;
