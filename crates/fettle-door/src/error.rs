//! Why something at the door could not be done.

use std::io;
use std::path::{Path, PathBuf};

/// Why something at the door could not be done: what, where, why and what to do.
#[derive(Debug, thiserror::Error)]
pub enum DoorError {
    /// A file or folder of the door cannot be used.
    #[error("cannot {doing} {}: {why}; check the disk and who may read and write there", path.display())]
    File {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
        /// The system's reason.
        why: String,
    },
    /// A file of the door does not hold what it should.
    #[error("{} is damaged: {why}; move it away, {remedy}", path.display())]
    Damaged {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
        /// What has to be done anew without it.
        remedy: &'static str,
    },
    /// A link stands where a file or folder of the door should be.
    #[error("{} is a link, and secrets are not kept behind links: put a folder or file of its own there", .0.display())]
    Link(PathBuf),
    /// The system gives no randomness.
    #[error(
        "the system gives no randomness ({0}), and without it nothing can be kept secret: start the program again"
    )]
    Chance(String),
    /// A passphrase that is not taken.
    #[error("the passphrase {0}")]
    Passphrase(&'static str),
    /// A bench-hand that is there already.
    #[error("{0} is a bench-hand already: change the passphrase, or give another name")]
    Taken(String),
    /// A bench-hand that is not there.
    #[error("there is no bench-hand {0}: `fettle hands list` tells who is there")]
    Unknown(String),
    /// Too many bench-hands.
    #[error("a bench has {0} bench-hands at most: remove one first")]
    TooMany(usize),
    /// The certificate cannot be made.
    #[error("no certificate can be made: {0}; check this computer's name and clock")]
    Certificate(String),
}

impl DoorError {
    pub(crate) fn file(doing: &'static str, path: &Path, error: &io::Error) -> Self {
        let text = error.to_string();
        let why = text
            .split(" (os error")
            .next()
            .unwrap_or(&text)
            .to_lowercase();
        Self::File {
            doing,
            path: path.to_owned(),
            why,
        }
    }
}
