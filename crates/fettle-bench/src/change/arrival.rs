//! The bench itself, owners, cameras, arrival, stages and waiting.

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::{
    ids::{CameraId, OwnerId, VisitId, WaitId},
    money::{Currency, Money},
    words::{Stage, WaitFor},
};

/// The bench's own name, place and terms, as they stand on its papers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BenchSettings {
    /// Its name.
    pub name: String,
    /// The town.
    #[serde(default)]
    pub place: String,
    /// The postal address, in lines; may be empty.
    #[serde(default)]
    pub address: String,
    /// How to reach it: mail, telephone; may be empty.
    #[serde(default)]
    pub contact: String,
    /// What it reckons in.
    pub currency: Currency,
    /// The price of an hour's work in that currency; `None` when it is not settled.
    #[serde(default)]
    pub hourly_rate: Option<Decimal>,
}

/// What is known of an owner.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnerDetails {
    /// The name; never empty.
    pub name: String,
    /// Mail address; may be empty.
    #[serde(default)]
    pub email: String,
    /// Telephone; may be empty.
    #[serde(default)]
    pub phone: String,
    /// Postal address, in lines; may be empty.
    #[serde(default)]
    pub address: String,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// An owner's details as they should be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnerCorrected {
    /// Whose.
    pub owner: OwnerId,
    /// All details anew.
    pub details: OwnerDetails,
}

/// A serial number and where it stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Serial {
    /// Where it is engraved: `body`, `taking lens`; may be empty.
    #[serde(default)]
    pub at: String,
    /// The number as engraved; never empty.
    pub number: String,
}

/// What is known of a camera.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CameraDetails {
    /// Who made it; may be empty.
    #[serde(default)]
    pub maker: String,
    /// What it is called; never empty.
    pub model: String,
    /// The model id of its service notes; `None` when there are none.
    #[serde(default)]
    pub notes_id: Option<String>,
    /// Its serial numbers.
    #[serde(default)]
    pub serials: Vec<Serial>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// A camera's details as they should be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CameraCorrected {
    /// Which.
    pub camera: CameraId,
    /// All details anew.
    pub details: CameraDetails,
}

/// What is written when a camera arrives.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ArrivalDetails {
    /// Who it goes back to.
    pub owner: OwnerId,
    /// The day it came.
    pub arrived: Date,
    /// What the owner says is wrong, in their words; may be empty.
    #[serde(default)]
    pub words: String,
    /// What is wanted; may be empty.
    #[serde(default)]
    pub wanted: String,
    /// Visible condition; may be empty.
    #[serde(default)]
    pub condition: String,
    /// What came with it: case, cap, strap.
    #[serde(default)]
    pub came_with: Vec<String>,
    /// What the owner says that it is worth.
    #[serde(default)]
    pub declared: Option<Money>,
    /// The day promised.
    #[serde(default)]
    pub promised: Option<Date>,
    /// The visit under whose guarantee it came back.
    #[serde(default)]
    pub guarantee_of: Option<VisitId>,
}

/// A camera arrived.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VisitOpened {
    /// Which camera.
    pub camera: CameraId,
    /// What was written.
    pub arrival: ArrivalDetails,
}

/// What was written at arrival, as it should be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ArrivalCorrected {
    /// Which visit.
    pub visit: VisitId,
    /// All of it anew.
    pub arrival: ArrivalDetails,
}

/// A visit moved to another stage; [`Stage::why_not`] states the rule.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageMoved {
    /// Which visit.
    pub visit: VisitId,
    /// Where it stands now.
    pub to: Stage,
    /// Why; may be empty.
    #[serde(default)]
    pub note: String,
}

/// A visit began to wait.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WaitingBegun {
    /// Which visit.
    pub visit: VisitId,
    /// For what kind of thing.
    pub wait_for: WaitFor,
    /// For what; may be empty.
    #[serde(default)]
    pub what: String,
}

/// What a visit waited for came, or is no longer waited for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WaitingEnded {
    /// Which visit.
    pub visit: VisitId,
    /// Which wait.
    pub wait: WaitId,
    /// What came of it; may be empty.
    #[serde(default)]
    pub note: String,
}
