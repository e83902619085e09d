//! Names by which tables refer to one another.

use std::borrow::Borrow;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Longest id, in characters.
pub(crate) const ID_MAX: usize = 40;

/// What an id is, in words for a message.
pub(crate) const ID_RULE: &str =
    "an id: lower-case words of a-z and 0-9 joined by `-`, at most 40 characters";

/// Why a text is not what its type asks for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is not {wanted}")]
pub struct TextError {
    text: String,
    wanted: &'static str,
}

impl TextError {
    pub(crate) fn new(text: &str, wanted: &'static str) -> Self {
        Self {
            text: text.chars().take(80).collect(),
            wanted,
        }
    }
}

/// Whether a text follows the rule for ids.
pub(crate) fn is_id(text: &str) -> bool {
    let word = |w: &str| {
        !w.is_empty()
            && w.bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
    };
    text.len() <= ID_MAX && text.split('-').all(word)
}

/// An id of one kind.
pub(crate) trait Id:
    Clone + Eq + Ord + std::hash::Hash + Borrow<str> + fmt::Display
{
    /// Takes the text as an id when it follows the rule.
    fn from_text(text: &str) -> Option<Self>;
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)+) => {$(
        $(#[$doc])*
        ///
        /// Lower-case words of `a-z` and `0-9` joined by `-`, at most 40 characters.
        #[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        #[serde(into = "String", try_from = "String")]
        pub struct $name(String);

        impl $name {
            /// Takes a text as an id.
            ///
            /// # Errors
            /// When the text is not lower-case words of `a-z` and `0-9` joined by `-`, or is longer than 40 characters.
            pub fn new(text: &str) -> Result<Self, TextError> {
                if is_id(text) { Ok(Self(text.to_owned())) } else { Err(TextError::new(text, ID_RULE)) }
            }

            /// The id as text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl Id for $name {
            fn from_text(text: &str) -> Option<Self> {
                is_id(text).then(|| Self(text.to_owned()))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&self.0)
            }
        }

        impl FromStr for $name {
            type Err = TextError;

            fn from_str(text: &str) -> Result<Self, TextError> {
                Self::new(text)
            }
        }

        impl TryFrom<String> for $name {
            type Error = TextError;

            fn try_from(text: String) -> Result<Self, TextError> {
                Self::new(&text)
            }
        }

        impl From<$name> for String {
            fn from(id: $name) -> Self {
                id.0
            }
        }

        impl Borrow<str> for $name {
            fn borrow(&self) -> &str {
                &self.0
            }
        }

        impl AsRef<str> for $name {
            fn as_ref(&self) -> &str {
                &self.0
            }
        }
    )+};
}

ids! {
    /// Names a camera model, and the file of its notes.
    ModelId;
    /// Names a part, and its removal.
    PartId;
    /// Names a circumstance.
    CircumstanceId;
    /// Names a fault.
    FaultId;
    /// Names a sign.
    SignId;
    /// Names a work.
    WorkId;
    /// Names a setting.
    SettingId;
    /// Names a limit.
    LimitId;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_lower_case_words_joined_by_single_hyphens() {
        for good in ["a", "wind-pawl", "corran-66", "66", "a-1-b"] {
            assert!(PartId::new(good).is_ok(), "{good}");
        }
        for bad in [
            "",
            "-",
            "a-",
            "-a",
            "a--b",
            "Wind",
            "wind_pawl",
            "wind pawl",
            "é",
        ] {
            assert!(PartId::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn an_id_has_at_most_forty_characters() {
        assert!(FaultId::new(&"a".repeat(40)).is_ok());
        assert!(FaultId::new(&"a".repeat(41)).is_err());
    }
}
