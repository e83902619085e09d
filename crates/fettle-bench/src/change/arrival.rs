//! The bench itself, owners, cameras, arrival, stages and waiting.

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::{
    ids::{CameraId, OwnerId, VisitId, WaitId},
    money::{Currency, Money},
    words::{Language, PaperSize, QuoteKind, Stage, WaitFor},
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
    /// What the tax on sales is called.
    #[serde(default = "usual_tax", skip_serializing_if = "is_usual_tax")]
    pub tax_name: String,
    /// The tax on what is sold, in percent from 0 to 100; `None` when the bench charges none.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub tax_percent: Option<Decimal>,
    /// The number under which the bench is taxed; may be empty.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub tax_number: String,
    /// What is asked for when a quote is agreed to, in percent of it; `None` when nothing is.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub deposit_percent: Option<Decimal>,
    /// Amounts reckoned from minutes are rounded up to a multiple of this; `None` for the currency's smallest coin.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub round_to: Option<Decimal>,
    /// How many days a quote stands; `None` when it has no end.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub quote_days: Option<u32>,
    /// How many days a repair is guaranteed from the day it was sent; `None` without guarantee.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub guarantee_repair_days: Option<u32>,
    /// The same for an overhaul.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub guarantee_overhaul_days: Option<u32>,
    /// How to pay, in lines; may be empty.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub payment: String,
    /// Within how many days of the bill; `None` when the bill says no day.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub pay_days: Option<u32>,
    /// The country it works in, by its two letters of ISO 3166-1; may be empty.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub country: String,
    /// The language of its papers, where an owner has no other.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub language: Language,
    /// The paper in its printer.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub paper_size: PaperSize,
}

fn usual_tax() -> String {
    "VAT".to_owned()
}

fn is_usual_tax(name: &str) -> bool {
    name == usual_tax()
}

impl BenchSettings {
    /// How many days work of this kind is guaranteed; `None` without guarantee.
    #[must_use]
    pub const fn guarantee_days(&self, kind: QuoteKind) -> Option<u32> {
        match kind {
            QuoteKind::Repair | QuoteKind::Extra => self.guarantee_repair_days,
            QuoteKind::Overhaul => self.guarantee_overhaul_days,
            QuoteKind::ReturnUnrepaired => None,
        }
    }

    /// A bench of which only the name and the currency are settled.
    #[must_use]
    pub fn new(name: impl Into<String>, currency: Currency) -> Self {
        Self {
            name: name.into(),
            place: String::new(),
            address: String::new(),
            contact: String::new(),
            currency,
            hourly_rate: None,
            tax_name: usual_tax(),
            tax_percent: None,
            tax_number: String::new(),
            deposit_percent: None,
            round_to: None,
            quote_days: None,
            guarantee_repair_days: None,
            guarantee_overhaul_days: None,
            payment: String::new(),
            pay_days: None,
            country: String::new(),
            language: Language::default(),
            paper_size: PaperSize::default(),
        }
    }
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
    /// The language of papers and letters; `None` for the bench's own.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub language: Option<Language>,
    /// The country, by its two letters of ISO 3166-1; empty for the bench's own.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub country: String,
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
