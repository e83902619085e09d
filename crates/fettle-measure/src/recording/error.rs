//! Why a file is no recording.

/// Why a file cannot be read as a recording: where, why and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{name}: {place}: {reason}; {remedy}")]
pub struct RecordingError {
    name: String,
    place: String,
    reason: String,
    remedy: String,
}

impl RecordingError {
    pub(crate) fn new(
        name: &str,
        place: impl Into<String>,
        reason: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            name: name.to_owned(),
            place: place.into(),
            reason: reason.into(),
            remedy: remedy.into(),
        }
    }

    /// The file's name as given.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The place in the file: a byte, or a line and column.
    #[must_use]
    pub fn place(&self) -> &str {
        &self.place
    }

    /// What is wrong there.
    #[must_use]
    pub fn reason(&self) -> &str {
        &self.reason
    }

    /// What to do.
    #[must_use]
    pub fn remedy(&self) -> &str {
        &self.remedy
    }
}
