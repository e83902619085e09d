//! Trimming an adjustment: from the trials so far to the next turn.
//!
//! Turning adjuster `j` moves reading `i` by `S_ij` a turn. The notes know `S` roughly, every trial tells more of it,
//! and a play stands between screw and part. [`read`] takes a state from its file, [`advise`] says what to turn next
//! and what to expect.

mod advice;
mod belief;
mod check;
mod choose;
mod error;
mod fault;
mod finding;
mod fit;
mod normal;
mod place;
mod play;
mod reach;
mod read;
mod state;
mod task;

pub use advice::{Advice, advise};
pub use error::{Problem, StateError};
pub use finding::Finding;
pub use read::read;
pub use state::{Adjuster, Effect, Format, Reading, State, Trial};
