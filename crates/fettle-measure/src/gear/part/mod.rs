//! A gear or rack to have made: its outline with bore, holes and slots, what to measure it by, and what the shop should know first.
//!
//! Places: on a gear from its centre, the first tooth's middle on the x axis; on a rack `x` from its left end and `y` from the pitch line, below 0 in
//! the body. Openings must lie in the body, clear of the teeth and of one another.

mod dimensions;
mod finding;
mod made;
mod opening;
mod options;
#[cfg(test)]
mod tests;

pub use dimensions::{Dimensions, GearDimensions, Limits, RackDimensions, Span, USUAL_BACKLASH};
pub use finding::Finding;
pub use made::Part;
pub use opening::{Hole, Opening, Shape, Slot};
pub use options::{Form, Options};
