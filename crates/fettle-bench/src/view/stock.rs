//! Drawers, parts, lots and donors.

use std::collections::BTreeMap;

use jiff::{Timestamp, civil::Date};
use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    change::{DonorDetails, OnDonor, PartFitted, PartOf},
    ids::{DonorId, DonorPartId, DrawerId, EntryId, LotId, MovementId, PartId, VisitId},
    journal::Entry,
    money::Money,
    view::Page,
    words::{Grade, Movement},
};

/// A drawer in a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DrawerLine {
    /// Names it.
    pub id: DrawerId,
    /// What stands on its front.
    pub name: String,
    /// Where it is; may be empty.
    pub place: String,
    /// How many kinds of part lie in it.
    pub parts: u32,
    /// How many pieces.
    pub pieces: u32,
}

/// In which order parts are listed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PartOrder {
    /// Those below their minimum first, then those that last least at the use so far.
    #[default]
    Short,
    /// By model, then by name.
    Model,
    /// By the first drawer that has them, then by name; those in no drawer last.
    Drawer,
}

/// Which parts to list; every condition given must hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PartFilter {
    /// Only what lies in this drawer.
    pub drawer: Option<DrawerId>,
    /// Only parts of these service notes, those of other models that fit it included where `fitting` names them.
    pub notes_id: Option<String>,
    /// Parts of other models, each with its notes and its id, that are listed with those of `notes_id`.
    pub fitting: Vec<(String, String)>,
    /// Only with pieces of this grade.
    pub grade: Option<Grade>,
    /// Only fewer than the minimum.
    pub below: bool,
    /// Only with these words in its name or its model.
    pub text: String,
    /// In which order.
    pub order: PartOrder,
}

/// One kind of part in a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartLine {
    /// Names it.
    pub id: PartId,
    /// Which part.
    pub of: PartOf,
    /// How many should always be there.
    pub minimum: Option<u32>,
    /// Since when it is kept.
    pub since: Timestamp,
    /// How many pieces are there, over all grades.
    pub quantity: u32,
    /// How many of each grade; grades of which there is none are left out.
    pub by_grade: BTreeMap<Grade, u32>,
    /// How many pieces were taken in all and not brought back.
    pub used: u32,
    /// The drawers with pieces of it, by name.
    pub drawers: Vec<(DrawerId, String)>,
}

impl PartLine {
    /// Whether fewer are there than should be.
    #[must_use]
    pub fn is_below(&self) -> bool {
        self.minimum.is_some_and(|minimum| self.quantity < minimum)
    }
}

/// Parts that a filter leaves.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartList {
    /// The lines asked for.
    pub lines: Vec<PartLine>,
    /// The part of the list asked for.
    pub page: Page,
    /// How many lines the whole list has.
    pub total: u32,
    /// How many of them are below their minimum.
    pub below: u32,
    /// How many pieces lie in all of them.
    pub pieces: u64,
}

/// One use of a part: pieces taken and not brought back, for one visit together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Use {
    /// The day on which the first was taken, in UTC.
    pub on: Date,
    /// How many pieces.
    pub quantity: u32,
}

/// A part of the same model, from whose use others are judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct LikePart {
    pub(crate) id: PartId,
    /// Since when it is kept, in UTC.
    pub(crate) since: Date,
}

/// A lot: pieces of one part that came together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Lot {
    /// Names it.
    pub id: LotId,
    /// Which kind of part.
    pub part: PartId,
    /// Which part.
    pub of: PartOf,
    /// Its grade.
    pub grade: Grade,
    /// Where it lies; `None` when it came straight from a donor to a visit.
    pub drawer: Option<(DrawerId, String)>,
    /// The donor that it came from.
    pub donor: Option<DonorId>,
    /// How many pieces are there.
    pub quantity: u32,
    /// What one piece cost.
    pub price: Option<Money>,
    /// Where it came from; may be empty.
    pub source: String,
    /// A note; may be empty.
    pub note: String,
    /// Since when it is there.
    pub at: Timestamp,
    /// When it was last counted; `None` when it never was.
    pub counted: Option<LastCount>,
}

/// The last count of a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct LastCount {
    /// When.
    pub at: Timestamp,
    /// How many pieces were counted.
    pub pieces: u32,
    /// How many more than written: negative when some were missing.
    pub difference: i64,
}

/// A movement of pieces as it happened.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Moved {
    /// Names it.
    pub id: MovementId,
    /// The entry that told it: the one to undo.
    pub entry: EntryId,
    /// When.
    pub at: Timestamp,
    /// Of which lot.
    pub lot: LotId,
    /// The lot's grade.
    pub grade: Grade,
    /// The lot's drawer now, by name; empty without one.
    pub drawer: String,
    /// What it was.
    pub movement: Movement,
    /// What it did to the lot: negative when pieces went.
    pub pieces: i64,
    /// The visit that they went to or came from.
    pub visit: Option<VisitId>,
    /// How many were counted, when it was a count.
    pub counted: Option<u32>,
    /// A note; may be empty.
    pub note: String,
}

/// Pieces taken for a visit and not all brought back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Taken {
    /// Names the taking.
    pub id: MovementId,
    /// The entry that told it: the one to undo.
    pub entry: EntryId,
    /// When.
    pub at: Timestamp,
    /// From which lot.
    pub lot: LotId,
    /// Which kind of part.
    pub part: PartId,
    /// Which part.
    pub of: PartOf,
    /// Its grade.
    pub grade: Grade,
    /// The drawer that it goes back to; `None` when it came straight from a donor.
    pub drawer: Option<(DrawerId, String)>,
    /// How many pieces are out.
    pub quantity: u32,
    /// What the owner pays for one piece.
    pub price: Option<Money>,
    /// A note; may be empty.
    pub note: String,
}

impl Taken {
    /// The same as a part fitted at this visit.
    pub(crate) fn as_fitted(&self, visit: VisitId) -> PartFitted {
        let all = |each: Money| {
            let amount = each.amount.checked_mul(Decimal::from(self.quantity))?;
            Some(Money::new(amount, each.currency))
        };
        PartFitted {
            visit,
            part: self.of.part.clone(),
            grade: self.grade,
            quantity: self.quantity,
            price: self.price.and_then(all),
            note: self.note.clone(),
        }
    }
}

/// One kind of part: its lots, what happened with it, and its use.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartView {
    /// The part in a line.
    pub line: PartLine,
    /// Its lots that hold something, in the order they came; those that hold nothing are left out.
    pub lots: Vec<Lot>,
    /// Its movements, newest first: at most 500.
    pub moved: Vec<Moved>,
    /// Pieces taken for something else than a visit and not brought back, newest first.
    pub out: Vec<Taken>,
    /// Its use since it is kept, oldest first.
    pub uses: Vec<Use>,
    /// Donors that still have it.
    pub on_donors: Vec<(DonorLine, DonorPart)>,
    /// What was written in the journal of it alone, newest first: at most 500 entries.
    pub journal: Vec<Entry>,
}

/// A drawer and what lies in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DrawerView {
    /// The drawer in a line.
    pub line: DrawerLine,
    /// The lots in it, by part; empty lots that were there last are left out.
    pub lots: Vec<Lot>,
    /// What concerns it, newest first: at most 500 entries.
    pub journal: Vec<Entry>,
}

/// A donor in a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DonorLine {
    /// Names it.
    pub id: DonorId,
    /// What is known of it.
    pub details: DonorDetails,
    /// Since when it is here.
    pub at: Timestamp,
    /// How many kinds of part are still on it, spoiled ones left out.
    pub parts: u32,
    /// How many pieces were taken from it.
    pub taken: u32,
}

/// A part as it is on a donor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DonorPart {
    /// Names it.
    pub id: DonorPartId,
    /// What is still on it.
    pub on: OnDonor,
    /// How many pieces were taken.
    pub taken: u32,
}

/// A donor, what is still on it and what was taken.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DonorView {
    /// The donor in a line.
    pub line: DonorLine,
    /// Its parts as noted, in that order.
    pub parts: Vec<DonorPart>,
    /// What concerns it, newest first: at most 500 entries.
    pub journal: Vec<Entry>,
}
