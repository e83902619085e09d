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

/// What the system says, in plain words and without its number.
pub(super) fn in_words(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        std::io::ErrorKind::PermissionDenied => "this user may not read it".to_owned(),
        _ => {
            let text = error.to_string();
            let bare = text.split(" (os error").next().unwrap_or_default();
            let mut letters = bare.chars();
            letters.next().map_or_else(String::new, |first| {
                first.to_lowercase().chain(letters).collect()
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_system_s_numbers_and_capitals_are_left_out() {
        for number in 1..130 {
            let told = in_words(&std::io::Error::from_raw_os_error(number));
            assert!(!told.contains("os error"), "{told}");
            assert!(!told.starts_with(char::is_uppercase), "{told}");
        }
    }
}
