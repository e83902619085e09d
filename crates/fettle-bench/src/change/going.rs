//! Going home, notes and undo.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::ids::{CameraId, EntryId, OwnerId, VisitId};

/// One thing that came with the camera, ticked off when packing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tick {
    /// What came with it.
    pub item: String,
    /// Whether it is in the parcel.
    pub packed: bool,
}

/// The parcel was packed. Packing again replaces the ticks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Packed {
    /// Which visit.
    pub visit: VisitId,
    /// What came with it, ticked.
    #[serde(default)]
    pub ticks: Vec<Tick>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// The parcel was sent. Possible when the visit is packed, returned unrepaired or home.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sent {
    /// Which visit.
    pub visit: VisitId,
    /// Who carries it; may be empty when the owner fetches it.
    #[serde(default)]
    pub carrier: String,
    /// The tracking number; may be empty.
    #[serde(default)]
    pub tracking: String,
    /// The day.
    pub on: Date,
}

/// What a note is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// A visit.
    Visit(VisitId),
    /// A camera.
    Camera(CameraId),
    /// An owner.
    Owner(OwnerId),
}

/// A note was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoteWritten {
    /// About what.
    pub about: About,
    /// The note.
    pub text: String,
}

/// An earlier entry was undone; undoing an undo restores.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Undo {
    /// The entry to strike.
    pub entry: EntryId,
}
