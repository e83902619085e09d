//! Why a bench could not be written out or read back.

use std::{
    fmt, io,
    path::{Path, PathBuf},
};

use fettle_bench::BenchError;

/// Something that kept a bench from being written out or read back. Nothing is left behind.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MovingError {
    /// The record could not be read or written.
    #[error(transparent)]
    Bench(#[from] BenchError),
    /// The place for what is made cannot be used.
    #[error("{} {why}: give the name of a new folder", path.display())]
    Place {
        /// The place.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// A file of the bench is not what its name says.
    #[error(
        "{} is not what its name says: it was damaged; put it back from a backup, for an export without it would not be whole",
        path.display()
    )]
    Kept {
        /// The file.
        path: PathBuf,
    },
    /// The folder holds no export.
    #[error(
        "{} holds no export: it has no manifest.json; give the folder that `fettle export` made",
        path.display()
    )]
    NotAnExport {
        /// The folder.
        path: PathBuf,
    },
    /// A newer program wrote the export.
    #[error("{} is of the format `{format}`, which this program does not know: use the newer program", path.display())]
    Newer {
        /// The manifest.
        path: PathBuf,
        /// The format.
        format: String,
    },
    /// The export is damaged.
    #[error("the export is damaged and nothing was taken in:\n{}", lines(.0))]
    Damaged(Vec<Damage>),
    /// A file could not be read or written.
    #[error("{}: {why}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system says.
        why: String,
    },
}

/// One thing that is wrong with an export.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damage {
    /// The file, within the export.
    pub file: String,
    /// Its line; `None` when it is about the whole file.
    pub line: Option<u64>,
    /// What is wrong.
    pub why: String,
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        write!(f, ": {}", self.why)
    }
}

fn lines(damages: &[Damage]) -> String {
    let lines: Vec<String> = damages.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

impl MovingError {
    /// Translates a system error of a file.
    pub(crate) fn io(path: &Path, error: &io::Error) -> Self {
        let bench = BenchError::from_system(path, error);
        match bench {
            BenchError::File { path, why } => Self::File { path, why },
            other => Self::Bench(other),
        }
    }
}
