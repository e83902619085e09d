//! Going home, notes and undo.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::{
    ids::{CameraId, EntryId, HoldId, OwnerId, VisitId},
    money::Money,
};

/// One thing that came with the camera, ticked off when packing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tick {
    /// What came with it.
    pub item: String,
    /// Whether it is in the parcel.
    pub packed: bool,
}

/// One line of a declaration of contents.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DeclaredItem {
    /// What it is, in plain words.
    pub what: String,
    /// How many, from 1.
    pub quantity: u32,
    /// What all of them are worth.
    pub value: Money,
    /// What all of them weigh, in grams; `None` when not weighed.
    #[serde(default)]
    pub weight_g: Option<u32>,
    /// The heading of the Harmonized System: 4 to 10 digits, 9006 for photographic cameras.
    #[serde(default = "cameras")]
    pub hs: String,
    /// The country it was made in, by its two letters of ISO 3166-1; may be empty.
    #[serde(default)]
    pub origin: String,
}

fn cameras() -> String {
    "9006".to_owned()
}

/// The parcel was packed. Packing again replaces the ticks and what was declared.
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
    /// What the parcel weighs, in grams; `None` when not weighed.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub weight_g: Option<u32>,
    /// Whether cells or batteries are in it.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub has_cells: bool,
    /// What is declared of its contents; may be empty.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub declared: Vec<DeclaredItem>,
}

impl Packed {
    /// A parcel of which nothing is said yet.
    #[must_use]
    pub const fn new(visit: VisitId) -> Self {
        Self {
            visit,
            ticks: Vec::new(),
            note: String::new(),
            weight_g: None,
            has_cells: false,
            declared: Vec::new(),
        }
    }
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
    /// How many days from then on the work is guaranteed; `None` without guarantee.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub guarantee_days: Option<u32>,
}

/// A camera that could go home is held.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SendingHeld {
    /// Which visit.
    pub visit: VisitId,
    /// Why.
    pub reason: String,
    /// The day to look at it again; `None` when there is none.
    #[serde(default)]
    pub look_again: Option<Date>,
}

/// A camera is no longer held.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoldEnded {
    /// Which visit.
    pub visit: VisitId,
    /// Which hold.
    pub hold: HoldId,
    /// What came of it; may be empty.
    #[serde(default)]
    pub note: String,
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
