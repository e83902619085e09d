//! The journal: what happened, in order, never altered.

use std::fmt;

use jiff::Timestamp;
use serde::Serialize;

use crate::{
    apply::{Refusal, check_line},
    ids::{
        BillId, CameraId, DonorId, DrawerId, EntryId, FaultId, HoldId, LotId, MovementId, OwnerId,
        PaperId, PaymentId, PhotoId, PieceId, QuoteId, ReadingId, RecordingId, VisitId, WaitId,
    },
};

/// Who wrote: a bench-hand's name.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(transparent)]
pub struct Hand(String);

impl Hand {
    /// The bench-hand with this name; white space around it is dropped.
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self(name.trim().to_owned())
    }

    /// The bench-hand with this name, when the journal would take it.
    ///
    /// # Errors
    /// When the name is empty, longer than 500 bytes or not on one line: why, and the way out.
    pub fn checked(name: &str) -> Result<Self, String> {
        let hand = Self::new(name);
        match check_line("hand", hand.as_str(), true) {
            Ok(()) => Ok(hand),
            Err(Refusal::Rule { why, .. }) => Err(why),
            Err(_) => Err("cannot be kept: write it otherwise".to_owned()),
        }
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Hand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// One entry of the journal, as a page shows it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Entry {
    /// Names it; entries count up.
    pub id: EntryId,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub hand: Hand,
    /// The first entry of those written together with it.
    pub group: EntryId,
    /// The kind of change.
    pub kind: String,
    /// What happened, in a sentence.
    pub sentence: String,
    /// The visit it concerns.
    pub visit: Option<VisitId>,
    /// The camera it concerns.
    pub camera: Option<CameraId>,
    /// The owner it concerns.
    pub owner: Option<OwnerId>,
    /// The entry that struck it; `None` while it stands.
    pub struck_by: Option<EntryId>,
    /// The entry that it strikes, when it is an undo.
    pub undoes: Option<EntryId>,
}

/// What one [`apply`](crate::Bench::apply) made.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Applied {
    /// One entry a change, in their order.
    pub entries: Vec<EntryId>,
    /// What each change made, in their order.
    pub made: Vec<Made>,
}

/// What a change made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Made {
    /// Nothing new: something was corrected or moved.
    Nothing,
    /// An owner.
    Owner(OwnerId),
    /// A camera.
    Camera(CameraId),
    /// A visit.
    Visit(VisitId),
    /// A time of waiting.
    Wait(WaitId),
    /// A fault, new or said again.
    Fault(FaultId),
    /// A quote.
    Quote(QuoteId),
    /// A bill or a credit note.
    Bill(BillId),
    /// A payment.
    Payment(PaymentId),
    /// A time of being held.
    Hold(HoldId),
    /// A piece taken off.
    Piece(PieceId),
    /// A reading.
    Reading(ReadingId),
    /// A photograph.
    Photo(PhotoId),
    /// A recording.
    Recording(RecordingId),
    /// A paper.
    Paper(PaperId),
    /// A drawer.
    Drawer(DrawerId),
    /// A lot of parts.
    Lot(LotId),
    /// Pieces taken.
    Taken(MovementId),
    /// A donor.
    Donor(DonorId),
}

macro_rules! last_made {
    ($($(#[$doc:meta])* $name:ident: $variant:ident($id:ty),)*) => {
        impl Applied {
            $($(#[$doc])*
            #[must_use]
            pub fn $name(&self) -> Option<$id> {
                self.made.iter().rev().find_map(|made| match made {
                    Made::$variant(id) => Some(*id),
                    _ => None,
                })
            })*
        }
    };
}

last_made! {
    /// The owner made last.
    owner: Owner(OwnerId),
    /// The camera made last.
    camera: Camera(CameraId),
    /// The visit made last.
    visit: Visit(VisitId),
    /// The wait made last.
    wait: Wait(WaitId),
    /// The fault recorded last.
    fault: Fault(FaultId),
    /// The quote made last.
    quote: Quote(QuoteId),
    /// The bill or credit note issued last.
    bill: Bill(BillId),
    /// The payment noted last.
    payment: Payment(PaymentId),
    /// The hold begun last.
    hold: Hold(HoldId),
    /// The piece taken off last.
    piece: Piece(PieceId),
    /// The reading taken last.
    reading: Reading(ReadingId),
    /// The photograph attached last.
    photo: Photo(PhotoId),
    /// The recording attached last.
    recording: Recording(RecordingId),
    /// The paper attached last.
    paper: Paper(PaperId),
    /// The drawer named last.
    drawer: Drawer(DrawerId),
    /// The lot stored last.
    lot: Lot(LotId),
    /// The taking made last.
    taken: Taken(MovementId),
    /// The donor registered last.
    donor: Donor(DonorId),
}
