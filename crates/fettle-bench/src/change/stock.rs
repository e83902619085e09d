//! Drawers, the parts in them, and donors.

use serde::{Deserialize, Serialize};

use crate::{
    ids::{DonorId, DonorPartId, DrawerId, LotId, MovementId, PartId, VisitId},
    money::Money,
    term::Term,
    words::{DonorPartIs, Grade},
};

/// A kind of part that can lie in a drawer.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartOf {
    /// The service notes of the model it belongs to; `None` when it has none.
    #[serde(default)]
    pub notes_id: Option<String>,
    /// The model in words; empty for what fits anything.
    #[serde(default)]
    pub model: String,
    /// The part: one of those notes, or own words.
    pub part: Term,
}

impl PartOf {
    /// The part and its model in words.
    #[must_use]
    pub fn name(&self) -> String {
        if self.model.trim().is_empty() {
            self.part.words.clone()
        } else {
            format!("{}, {}", self.part, self.model.trim())
        }
    }
}

/// A drawer was named, or is called otherwise from now on.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DrawerNamed {
    /// Which; `None` for a new one.
    #[serde(default)]
    pub drawer: Option<DrawerId>,
    /// What stands on its front; no two are called alike.
    pub name: String,
    /// Where it is; may be empty.
    #[serde(default)]
    pub place: String,
}

/// Pieces of a part came into a drawer: a new lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartStored {
    /// Which part.
    pub of: PartOf,
    /// Its grade.
    pub grade: Grade,
    /// How many pieces, from 1.
    pub quantity: u32,
    /// What one piece cost; `None` when that is not known.
    #[serde(default)]
    pub price: Option<Money>,
    /// Where it came from; may be empty.
    #[serde(default)]
    pub source: String,
    /// Into which drawer.
    pub drawer: DrawerId,
    /// How many of the part, of any grade, should always be there; `None` leaves that as it is.
    #[serde(default)]
    pub minimum: Option<u32>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// How many pieces of a part should always be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MinimumSet {
    /// Which part.
    pub part: PartId,
    /// How many, over all grades; `None` when nobody minds.
    #[serde(default)]
    pub minimum: Option<u32>,
}

/// What is written of a lot was corrected; its pieces are corrected by counting.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotCorrected {
    /// Which lot.
    pub lot: LotId,
    /// Its grade.
    pub grade: Grade,
    /// What one piece cost; `None` when that is not known.
    #[serde(default)]
    pub price: Option<Money>,
    /// Where it came from; may be empty.
    #[serde(default)]
    pub source: String,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// Pieces of a lot went into another drawer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotMoved {
    /// Which lot.
    pub lot: LotId,
    /// Into which drawer.
    pub drawer: DrawerId,
    /// How many pieces, which become a lot of their own; `None` for the lot as it is.
    #[serde(default)]
    pub quantity: Option<u32>,
}

/// Pieces were taken from a drawer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartTaken {
    /// From which lot.
    pub lot: LotId,
    /// For which visit; `None` when for something else.
    #[serde(default)]
    pub visit: Option<VisitId>,
    /// How many pieces, from 1; never more than there are.
    pub quantity: u32,
    /// What the owner pays for one piece; `None` when it is not charged.
    #[serde(default)]
    pub price: Option<Money>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// Pieces that were taken came back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartReturned {
    /// Which taking.
    pub taken: MovementId,
    /// How many pieces, from 1; never more than were taken.
    pub quantity: u32,
    /// Into which drawer, when the lot has none because it came straight from a donor.
    #[serde(default)]
    pub drawer: Option<DrawerId>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// What was counted of one lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Counted {
    /// Which lot.
    pub lot: LotId,
    /// How many pieces the record said were there when it was counted.
    pub written: u32,
    /// How many are there.
    pub counted: u32,
}

/// What lies in a drawer was counted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DrawerCounted {
    /// Which drawer.
    pub drawer: DrawerId,
    /// What was counted; lots that were not counted are left out.
    pub counts: Vec<Counted>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// What is known of a donor.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DonorDetails {
    /// Its maker; may be empty.
    #[serde(default)]
    pub maker: String,
    /// Its model.
    pub model: String,
    /// The service notes of its model.
    #[serde(default)]
    pub notes_id: Option<String>,
    /// Its serial number; may be empty.
    #[serde(default)]
    pub serial: String,
    /// The condition it is in; may be empty.
    #[serde(default)]
    pub condition: String,
    /// Where it came from; may be empty.
    #[serde(default)]
    pub source: String,
}

impl DonorDetails {
    /// Maker and model in words.
    #[must_use]
    pub fn name(&self) -> String {
        format!("{} {}", self.maker.trim(), self.model.trim())
            .trim()
            .to_owned()
    }
}

/// A donor's details as they should be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DonorCorrected {
    /// Which donor.
    pub donor: DonorId,
    /// What is known of it.
    pub details: DonorDetails,
}

/// One part as it is on a donor now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnDonor {
    /// Which part.
    pub part: Term,
    /// How many pieces are on it; 0 when it is missing.
    pub quantity: u32,
    /// What state they are in.
    pub state: DonorPartIs,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// What is on a donor was looked at. A part noted again replaces what was noted before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DonorPartsNoted {
    /// Which donor.
    pub donor: DonorId,
    /// The parts looked at.
    pub parts: Vec<OnDonor>,
}

/// Where a part taken from a donor goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SalvagedTo {
    /// Into a drawer.
    Drawer(DrawerId),
    /// Straight to a visit.
    Visit(VisitId),
}

/// Pieces were taken from a donor: a new lot of the grade *salvaged*.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartSalvaged {
    /// Which part of which donor.
    pub from: DonorPartId,
    /// How many pieces, from 1; never more than are on it.
    pub quantity: u32,
    /// Where they go.
    pub to: SalvagedTo,
    /// What the owner of the visit pays for one piece; `None` when it is not charged or goes into a drawer.
    #[serde(default)]
    pub price: Option<Money>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}
