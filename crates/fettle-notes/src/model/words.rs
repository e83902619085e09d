//! Closed lists of words: one macro gives an enum its spelling in the file.

use std::fmt;

/// An enum whose values are words of the format.
pub(crate) trait Word: Copy + fmt::Display + 'static {
    /// Every value, in the order in which they are told to the reader.
    const ALL: &'static [Self];

    /// The value spelled so, if there is one.
    fn from_word(word: &str) -> Option<Self>;
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
        pub enum $name {
            $($(#[$vdoc])* #[serde(rename = $word)] $variant,)+
        }

        impl $name {
            /// Every value.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The value spelled so; `None` when there is none.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                match word {
                    $($word => Some(Self::$variant),)+
                    _ => None,
                }
            }

            /// The word as the file spells it.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)+
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.as_str())
            }
        }

        impl $crate::model::Word for $name {
            const ALL: &'static [Self] = Self::ALL;

            fn from_word(word: &str) -> Option<Self> {
                Self::from_word(word)
            }
        }
    };
}

pub(crate) use words;
