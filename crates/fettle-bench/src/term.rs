//! A thing named by the service notes or in one's own words.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A sign, fault, part, work, setting or circumstance: the id that the service notes give it, if they do, and the words that a
/// person reads. The words are always stored, so that the record can be read without the notes and after they change.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Term {
    /// The id in the camera's service notes; `None` for own words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// What people read.
    pub words: String,
}

impl Term {
    /// A thing that the service notes know.
    #[must_use]
    pub fn known(id: impl Into<String>, words: impl Into<String>) -> Self {
        Self {
            id: Some(id.into()),
            words: words.into(),
        }
    }

    /// A thing in one's own words.
    #[must_use]
    pub fn own(words: impl Into<String>) -> Self {
        Self {
            id: None,
            words: words.into(),
        }
    }

    /// What tells one term from another within its kind: the id, else the words.
    #[must_use]
    pub fn key(&self) -> &str {
        self.id.as_deref().unwrap_or(&self.words)
    }
}

impl fmt::Display for Term {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.words)
    }
}
