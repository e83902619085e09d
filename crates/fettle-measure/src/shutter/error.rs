//! Why a session could not be measured.

/// Why nothing can be said about a session.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ShutterError {
    /// No recording was given.
    #[error("no recording was given: name at least one file")]
    NoRecording,
    /// The recordings hold no shot.
    #[error("{names}: no shot found: {reason}")]
    NoShot {
        /// The recordings.
        names: String,
        /// What was seen instead and what to do.
        reason: String,
    },
    /// The recordings show no sensor uncovered and covered by hand.
    #[error("{names}: no covering and uncovering found: {reason}")]
    NoSteps {
        /// The recordings.
        names: String,
        /// What was seen instead and what to do.
        reason: String,
    },
    /// An option that has no meaning here.
    #[error("{option}: {reason}")]
    Option {
        /// The option as on the command line.
        option: &'static str,
        /// What is wrong and what would be right.
        reason: String,
    },
}
