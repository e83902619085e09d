//! Photographs, recordings and papers.

use serde::{Deserialize, Serialize};

use crate::{
    files::FileRef,
    ids::VisitId,
    words::{PaperKind, Stage},
};

/// A photograph was attached.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PhotoAttached {
    /// To which visit.
    pub visit: VisitId,
    /// The file as it was given.
    pub file: FileRef,
    /// Width as displayed, in pixels.
    pub width_px: u32,
    /// Height as displayed, in pixels.
    pub height_px: u32,
    /// What it shows; may be empty.
    #[serde(default)]
    pub caption: String,
    /// The stage at which it was taken.
    pub stage: Stage,
}

/// A recording was attached.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecordingAttached {
    /// To which visit.
    pub visit: VisitId,
    /// The file as it was given.
    pub file: FileRef,
    /// What it is of; may be empty.
    #[serde(default)]
    pub caption: String,
    /// The stage at which it was made.
    pub stage: Stage,
}

/// A paper was attached.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PaperAttached {
    /// To which visit.
    pub visit: VisitId,
    /// The file as it was given.
    pub file: FileRef,
    /// What it is.
    pub paper: PaperKind,
    /// Its title; may be empty.
    #[serde(default)]
    pub title: String,
}
