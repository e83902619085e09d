//! What a recording of sound adds to a report: clicks, and pairs of them that are proposed.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::{Decibels, Seconds};

/// One click of a recording of sound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Click {
    /// The release it is taken to belong to; `None` when it belongs to none.
    pub release: Option<u32>,
    /// The recording's name.
    pub recording: String,
    /// Its onset, on the file's own clock.
    pub at_s: Seconds,
    /// Its loudest millisecond above 1.2 kHz, rms against full scale.
    pub level_db: Decibels,
    /// What it can be, likeliest first.
    pub could_be: Vec<ClickOf>,
}

/// What can make a click.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClickOf {
    /// The shutter opens.
    Opening,
    /// The shutter closes.
    Closing,
    /// The mirror arrives at the top, before opening.
    MirrorUp,
    /// The mirror comes down, after closing.
    MirrorDown,
    /// Nothing of the release: a knock, an echo, cocking.
    Other,
}

impl fmt::Display for ClickOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Opening => "opening",
            Self::Closing => "closing",
            Self::MirrorUp => "mirror-up",
            Self::MirrorDown => "mirror-down",
            Self::Other => "other",
        })
    }
}

/// Two clicks that can be opening and closing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// The click that would be the opening, on the file's own clock.
    pub from_s: Seconds,
    /// The click that would be the closing.
    pub to_s: Seconds,
    /// The time between, the recorder's clock error taken off.
    pub between_s: Seconds,
    /// Its expanded uncertainty as an exposure, k = 2.
    pub uncertainty_s: Seconds,
}
