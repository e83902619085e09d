//! Teeth from a photograph: how worn each tooth of a rack or gear is.
//!
//! The part lies before a bright ground and is black. Its outline is found to a part of a pixel (`border`) against light levels of the place
//! (`levels`); a first look (`look`) counts the teeth; a mapping with turn, perspective and the lens's bending (`frame`) lays them over one
//! another; the form that they share (`form`) is what each is held against (`tooth`, `measured`); `told` puts it into millimetres and words.

mod analyse;
mod border;
mod compare;
mod error;
mod finding;
mod form;
mod frame;
mod levels;
mod look;
mod measured;
mod options;
mod report;
#[cfg(test)]
mod tests;
mod told;
mod tooth;

pub use analyse::analyse;
pub use compare::{Comparison, ToothChange, compare};
pub use error::TeethError;
pub use finding::Finding;
pub use options::{Kind, Options, Scale};
pub use report::{Counts, LimitFrom, Report, Side, Tooth, TracePoint, Verdict};
