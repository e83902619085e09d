//! The files of a bench: where they lie and what they are called.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

/// A kept file: named by its content, written once, never changed.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileRef {
    /// BLAKE3 of its bytes, 64 hexadecimal digits.
    pub hash: String,
    /// The ending of its name, without the dot.
    pub extension: String,
    /// How long it is.
    pub bytes: u64,
}

/// How large a photograph is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PhotoSize {
    /// As it was given.
    Original,
    /// For a page: the longer side at most 1600 pixels, upright.
    Display,
    /// For a list: the longer side at most 320 pixels, upright.
    Thumb,
}

/// A file to hand out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredFile {
    /// Where it lies.
    pub path: PathBuf,
    /// Its media type, such as `image/jpeg`.
    pub media_type: &'static str,
}
