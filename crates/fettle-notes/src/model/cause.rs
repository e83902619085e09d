//! Circumstances, faults, signs and the works that cure.

use serde::Serialize;

use super::id::{CircumstanceId, FaultId, PartId, WorkId};
use super::limit::LimitKind;
use super::pattern::SuggestedBy;
use super::quantity::{Chance, Minutes};
use super::words::words;

/// What made faults likely: damp storage, a fall, long rest, earlier hands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Circumstance {
    /// What it is called.
    pub name: String,
    /// The yes-or-no question that settles it.
    pub question: String,
    /// How often it holds before anything is asked.
    pub chance: Chance,
}

/// What can be wrong.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Fault {
    /// What it is called.
    pub name: String,
    /// Whether it is a cause or the damage that a cause did.
    pub is: FaultKind,
    /// Chance that it is there by itself.
    pub leak: Chance,
    /// What brings it on, each with the chance that it alone does so.
    pub brought_on_by: Vec<Origin>,
    /// Parts concerned.
    pub parts: Vec<PartId>,
    /// Works of which each cures it; at least one.
    pub cured_by: Vec<WorkId>,
    /// Why, in a sentence.
    pub note: Option<String>,
}

words! {
    /// A fault's place in the chain: what broke is rarely the cause.
    FaultKind {
        /// What must be cured, or the damage returns.
        Cause = "cause",
        /// What broke.
        Damage = "damage",
    }
}

/// What brings a fault on, with the chance that it alone does so.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Origin {
    /// A circumstance.
    Circumstance {
        /// Which one.
        id: CircumstanceId,
        /// Chance that it alone brings the fault on.
        chance: Chance,
    },
    /// Another fault.
    Fault {
        /// Which one.
        id: FaultId,
        /// Chance that it alone brings the fault on.
        chance: Chance,
    },
}

impl Origin {
    /// The id as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        match self {
            Self::Circumstance { id, .. } => id.as_str(),
            Self::Fault { id, .. } => id.as_str(),
        }
    }

    /// Chance that it alone brings the fault on.
    #[must_use]
    pub const fn chance(&self) -> Chance {
        match self {
            Self::Circumstance { chance, .. } | Self::Fault { chance, .. } => *chance,
        }
    }
}

/// What can be seen, felt, heard or measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Sign {
    /// The yes-or-no question; yes means that the sign is there.
    pub question: String,
    /// Group heading in looking over.
    pub at: String,
    /// Bench time of the look, without taking anything apart.
    pub minutes: Minutes,
    /// Parts that must be off to look; each has a removal.
    pub needs_apart: Vec<PartId>,
    /// Faults that show it; at least one.
    pub links: Vec<Link>,
    /// Chance of seeing it with none of them.
    pub leak: Chance,
    /// The instrument that answers it; `None` when the mechanic does.
    pub measured: Option<Instrument>,
    /// Patterns over the dial that suggest that it is there; of the shutter's instrument only.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub suggested_by: Vec<SuggestedBy>,
}

/// A fault that shows a sign.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Link {
    /// The fault.
    pub fault: FaultId,
    /// Chance that it alone shows the sign.
    pub chance: Chance,
}

words! {
    /// An instrument of the program.
    Instrument {
        /// Exposure times.
        Shutter = "shutter",
        /// Exposure meter.
        Meter = "meter",
        /// Register.
        Register = "register",
        /// Rangefinder.
        Rangefinder = "rangefinder",
        /// Teeth of racks and gears.
        Teeth = "teeth",
    }
}

impl Instrument {
    /// The kind of limit that the instrument proves.
    #[must_use]
    pub const fn proves(self) -> LimitKind {
        match self {
            Self::Shutter => LimitKind::Shutter,
            Self::Meter => LimitKind::Meter,
            Self::Register => LimitKind::Register,
            Self::Rangefinder => LimitKind::Rangefinder,
            Self::Teeth => LimitKind::Teeth,
        }
    }
}

/// A cure.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Work {
    /// What it is called.
    pub name: String,
    /// Bench time, without taking apart and putting back.
    pub minutes: Minutes,
    /// Parts that must be off; each has a removal.
    pub needs_apart: Vec<PartId>,
    /// Pieces that it uses.
    pub parts: Vec<PartUse>,
    /// Chance that it cures.
    pub success: Chance,
    /// Whether an overhaul does it, whatever is found.
    pub overhaul: bool,
    /// What to beware of.
    pub caution: Option<String>,
}

/// Pieces of one part that a work uses.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct PartUse {
    /// The part.
    pub part: PartId,
    /// How many pieces, from 1.
    pub count: u32,
}
