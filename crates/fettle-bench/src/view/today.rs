//! What can be done next.

use std::fmt;

use jiff::{Timestamp, civil::Date};
use serde::Serialize;

use crate::{
    change::{BenchSettings, held},
    ids::{CameraId, HoldId, OwnerId, PhotoId, VisitId, WaitId},
    words::{DayFor, Stage, WaitFor},
};

/// A time of waiting.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Wait {
    /// Names it.
    pub id: WaitId,
    /// For what kind of thing.
    pub wait_for: WaitFor,
    /// For what; may be empty.
    pub what: String,
    /// Since when.
    pub since: Timestamp,
    /// When it ended; `None` while it lasts.
    pub ended: Option<Timestamp>,
    /// What came of it; may be empty.
    pub note: String,
}

impl Wait {
    /// What is waited for, in words.
    pub(crate) fn name(wait_for: WaitFor, what: &str) -> String {
        let kind = match wait_for {
            WaitFor::Answer => "the owner's answer",
            WaitFor::Part => "a part",
            WaitFor::Post => "the post",
        };
        if what.is_empty() {
            kind.to_owned()
        } else {
            format!("{kind}: {what}")
        }
    }
}

impl fmt::Display for Wait {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&Self::name(self.wait_for, &self.what))
    }
}

/// A time during which a camera that could go home is held.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Hold {
    /// Names it.
    pub id: HoldId,
    /// Why.
    pub reason: String,
    /// The day to look at it again; `None` when there is none.
    pub look_again: Option<Date>,
    /// Since when.
    pub since: Timestamp,
    /// When it ended; `None` while it lasts.
    pub ended: Option<Timestamp>,
    /// What came of it; may be empty.
    pub note: String,
}

impl Hold {
    /// Whether it is to be looked at again by this day.
    #[must_use]
    pub fn is_due(&self, on: Date) -> bool {
        self.look_again.is_some_and(|day| day <= on)
    }
}

impl fmt::Display for Hold {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&held(&self.reason, self.look_again))
    }
}

/// What a visit asks for next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum NextStep {
    /// Try every function.
    LookOver,
    /// Find the cause and make the quote.
    Quote,
    /// Wait for the owner's answer to the quote.
    Answer,
    /// Note the owner's yes: a quote was agreed to.
    Agree,
    /// The owner said no: return it.
    Return,
    /// Take it apart.
    TakeApart,
    /// Repair it and put it back together.
    PutTogether,
    /// Measure it against its limits.
    Prove,
    /// Pack it.
    Pack,
    /// Send it.
    Send,
    /// Nothing: it is home.
    Nothing,
}

impl fmt::Display for NextStep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::LookOver => "look it over",
            Self::Quote => "find the cause and quote",
            Self::Answer => "wait for the owner's answer",
            Self::Agree => "the owner agreed: note it and begin",
            Self::Return => "the owner said no: return it",
            Self::TakeApart => "take it apart",
            Self::PutTogether => "repair and put it together",
            Self::Prove => "prove it",
            Self::Pack => "pack it",
            Self::Send => "send it",
            Self::Nothing => "nothing: it is home",
        })
    }
}

/// One visit in a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct VisitLine {
    /// Names the visit.
    pub visit: VisitId,
    /// Names the camera.
    pub camera: CameraId,
    /// Maker and model.
    pub camera_name: String,
    /// Its first serial number; empty when it has none.
    pub serial: String,
    /// The id of its service notes.
    pub notes_id: Option<String>,
    /// Names the owner.
    pub owner: OwnerId,
    /// The owner's name.
    pub owner_name: String,
    /// What the owner says is wrong.
    pub words: String,
    /// Where it stands.
    pub stage: Stage,
    /// Since when it stands there.
    pub stage_since: Timestamp,
    /// Whether it goes back, or went back, without having been repaired.
    pub unrepaired: bool,
    /// The day it came.
    pub arrived: Date,
    /// The day promised.
    pub promised: Option<Date>,
    /// The visit under whose guarantee it came back.
    pub guarantee_of: Option<VisitId>,
    /// What it waits for now.
    pub waits: Vec<Wait>,
    /// Why it is held now.
    pub holds: Vec<Hold>,
    /// The last day of the guarantee on its work, counted from the day it was last sent; `None` without guarantee, or before it goes.
    pub guarantee_until: Option<Date>,
    /// What came since it last moved: an answer, a part, the post; `None` when nothing did.
    pub because: Option<String>,
    /// When that came.
    pub because_since: Option<Timestamp>,
    /// How many pieces lie in the tray.
    pub pieces_out: u32,
    /// A photograph to know it by: the first.
    pub cover: Option<PhotoId>,
    /// What it asks for next.
    pub next: NextStep,
}

/// A visit that can go on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Possible {
    /// The visit.
    pub line: VisitLine,
    /// What made it possible since it last moved: an answer, a part or the post came, or it is held and to be looked at again;
    /// `None` when it simply is its turn.
    pub because: Option<String>,
    /// Since when it can go on.
    pub since: Timestamp,
}

/// The page for today. Every visit that is not home stands in exactly one of the first four lists.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BenchToday {
    /// The bench itself.
    pub bench: BenchSettings,
    /// What lies apart or is together and not yet proved, and waits for nothing; longest there first.
    pub apart: Vec<VisitLine>,
    /// What has become possible: newly so first, then by the day promised.
    pub possible: Vec<Possible>,
    /// What waits or is held, longest first.
    pub waiting: Vec<VisitLine>,
    /// What is proved, packed or returned unrepaired and can go home.
    pub ready: Vec<VisitLine>,
    /// Which of the visits above came back under guarantee.
    pub came_back: Vec<VisitId>,
}

/// A day to remember, for a calendar.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DayAhead {
    /// The day.
    pub on: Date,
    /// What for.
    pub what: DayFor,
    /// The visit that it concerns.
    pub line: VisitLine,
    /// Why the camera is held; empty otherwise.
    pub words: String,
}

/// A camera that can go home.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GoingHome {
    /// The visit.
    pub line: VisitLine,
    /// The postal address of the owner.
    pub address: String,
    /// What came with it and must go back.
    pub came_with: Vec<String>,
    /// What the owner says that it is worth.
    pub declared: Option<crate::Money>,
    /// Whether it stands at packed.
    pub packed: bool,
    /// Whether what is in the parcel was ticked off; it can stand at packed without.
    pub ticked_off: bool,
    /// Whether what is in the parcel was declared.
    pub contents_declared: bool,
    /// What the parcel weighs, in grams; `None` before it is packed and weighed.
    pub weight_g: Option<u32>,
    /// Whether cells or batteries are in it; `false` before it is packed.
    pub has_cells: bool,
    /// Why it is held; `None` when nothing holds it.
    pub held: Option<String>,
}
