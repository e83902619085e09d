//! Why the demo bench could not be made.

use std::path::PathBuf;

use fettle_bench::BenchError;

/// The demo bench could not be made: what, why, and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DemoError {
    /// The record refused something.
    #[error(transparent)]
    Bench(#[from] BenchError),
    /// A file could not be written.
    #[error("{path} cannot be written: {why}; give a folder of your own on a disk with room", path = .path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system says.
        why: String,
    },
    /// The bench's today lies too near the ends of the calendar, or nothing was asked for.
    #[error(
        "no demo can be made around {0}: three years before it must lie in the calendar, and one camera is the least; set the computer's clock"
    )]
    Date(String),
    /// The notes that come with the program cannot be used.
    #[error(
        "the demo's own service notes cannot be used; this is a mistake in fettle, please report it: {0}"
    )]
    Notes(String),
    /// A photograph could not be drawn.
    #[error("a photograph could not be drawn; this is a mistake in fettle, please report it: {0}")]
    Picture(String),
    /// A recording could not be made.
    #[error("a recording could not be made; this is a mistake in fettle, please report it: {0}")]
    Sound(String),
}
