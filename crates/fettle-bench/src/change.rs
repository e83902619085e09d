//! What can happen on a bench: every kind of change that the journal knows.

mod arrival;
mod attach;
mod bill;
mod finding;
mod going;
mod sentence;
mod stock;
mod work;

use serde::{Deserialize, Serialize};

pub use self::{
    arrival::{
        ArrivalCorrected, ArrivalDetails, BenchSettings, CameraCorrected, CameraDetails,
        OwnerCorrected, OwnerDetails, Serial, StageMoved, VisitOpened, WaitingBegun, WaitingEnded,
    },
    attach::{PaperAttached, PhotoAttached, RecordingAttached},
    bill::{BillIssued, BillLine, CreditIssued, PaymentReceived},
    finding::{
        CircumstanceKnown, EarlierHandsNoted, FaultRecorded, Number, QuoteAnswered, QuoteLine,
        QuoteMade, SignObserved, StripOrdered,
    },
    going::{About, DeclaredItem, HoldEnded, NoteWritten, Packed, SendingHeld, Sent, Tick, Undo},
    stock::{
        Counted, DonorCorrected, DonorDetails, DonorPartsNoted, DrawerCounted, DrawerNamed,
        LotCorrected, LotMoved, MinimumSet, OnDonor, PartOf, PartReturned, PartSalvaged,
        PartStored, PartTaken, SalvagedTo,
    },
    work::{
        PartFitted, PieceRemoved, PieceReturned, ReadingRow, ReadingTaken, SettingProved,
        ShortfallNoted, TrialMade, TrialReading, Turned, WorkDone,
    },
};
pub(crate) use self::{
    bill::taxed,
    sentence::{for_visit, held, minimum_told, noted, with},
};

/// Fields that came later are not written where they say nothing, so that an older entry replayed reads as it was written.
pub(crate) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

macro_rules! changes {
    ($($(#[$doc:meta])* $variant:ident($payload:ty) = $kind:literal,)*) => {
        /// One thing that happened. In JSON an object with its `kind` beside its fields.
        #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
        #[serde(tag = "kind")]
        pub enum Change {
            $($(#[$doc])* #[serde(rename = $kind)] $variant($payload),)*
        }

        impl Change {
            /// Every kind, as written in the journal.
            pub const KINDS: &'static [&'static str] = &[$($kind,)*];

            /// The kind, as written in the journal.
            #[must_use]
            pub const fn kind(&self) -> &'static str {
                match self { $(Self::$variant(_) => $kind,)* }
            }
        }

        $(impl From<$payload> for Change {
            fn from(change: $payload) -> Self {
                Self::$variant(change)
            }
        })*
    };
}

changes! {
    /// The bench's own name, place and terms were settled.
    BenchSettled(BenchSettings) = "bench-settled",
    /// An owner was added.
    OwnerAdded(OwnerDetails) = "owner-added",
    /// What is known of an owner was corrected.
    OwnerCorrected(OwnerCorrected) = "owner-corrected",
    /// A camera was added.
    CameraAdded(CameraDetails) = "camera-added",
    /// What is known of a camera was corrected.
    CameraCorrected(CameraCorrected) = "camera-corrected",
    /// A camera arrived.
    VisitOpened(VisitOpened) = "visit-opened",
    /// What was written at arrival was corrected.
    ArrivalCorrected(ArrivalCorrected) = "arrival-corrected",
    /// A visit moved to another stage.
    StageMoved(StageMoved) = "stage-moved",
    /// A visit began to wait.
    WaitingBegun(WaitingBegun) = "waiting-begun",
    /// What a visit waited for came.
    WaitingEnded(WaitingEnded) = "waiting-ended",
    /// A sign was looked for.
    SignObserved(SignObserved) = "sign-observed",
    /// A circumstance became known.
    CircumstanceKnown(CircumstanceKnown) = "circumstance-known",
    /// Traces of earlier hands were seen.
    EarlierHandsNoted(EarlierHandsNoted) = "earlier-hands-noted",
    /// A fault was found, suspected or ruled out.
    FaultRecorded(FaultRecorded) = "fault-recorded",
    /// A quote was made.
    QuoteMade(QuoteMade) = "quote-made",
    /// The owner answered a quote.
    QuoteAnswered(QuoteAnswered) = "quote-answered",
    /// The owner ordered a full strip, or no longer wants it.
    StripOrdered(StripOrdered) = "strip-ordered",
    /// A piece came off.
    PieceRemoved(PieceRemoved) = "piece-removed",
    /// A piece went back on.
    PieceReturned(PieceReturned) = "piece-returned",
    /// Work was done.
    WorkDone(WorkDone) = "work-done",
    /// A part was fitted.
    PartFitted(PartFitted) = "part-fitted",
    /// A reading was taken.
    ReadingTaken(ReadingTaken) = "reading-taken",
    /// A setting was proved.
    SettingProved(SettingProved) = "setting-proved",
    /// An adjustment was tried.
    TrialMade(TrialMade) = "trial-made",
    /// Something could not be brought back.
    ShortfallNoted(ShortfallNoted) = "shortfall-noted",
    /// A photograph was attached.
    PhotoAttached(PhotoAttached) = "photo-attached",
    /// A recording was attached.
    RecordingAttached(RecordingAttached) = "recording-attached",
    /// A paper was attached.
    PaperAttached(PaperAttached) = "paper-attached",
    /// The parcel was packed.
    Packed(Packed) = "packed",
    /// The parcel was sent.
    Sent(Sent) = "sent",
    /// A camera that could go home is held.
    SendingHeld(SendingHeld) = "sending-held",
    /// A camera is no longer held.
    HoldEnded(HoldEnded) = "hold-ended",
    /// A bill was issued.
    BillIssued(BillIssued) = "bill-issued",
    /// A credit note was issued.
    CreditIssued(CreditIssued) = "credit-issued",
    /// Money came, or was paid back.
    PaymentReceived(PaymentReceived) = "payment-received",
    /// A note was written.
    NoteWritten(NoteWritten) = "note-written",
    /// A drawer was named, or is called otherwise from now on.
    DrawerNamed(DrawerNamed) = "drawer-named",
    /// Pieces of a part came into a drawer.
    PartStored(PartStored) = "part-stored",
    /// How many pieces of a part should always be there was settled.
    MinimumSet(MinimumSet) = "minimum-set",
    /// What is written of a lot was corrected.
    LotCorrected(LotCorrected) = "lot-corrected",
    /// Pieces went into another drawer.
    LotMoved(LotMoved) = "lot-moved",
    /// Pieces were taken from a drawer.
    PartTaken(PartTaken) = "part-taken",
    /// Pieces that were taken came back.
    PartReturned(PartReturned) = "part-returned",
    /// What lies in a drawer was counted.
    DrawerCounted(DrawerCounted) = "drawer-counted",
    /// A donor was registered.
    DonorRegistered(DonorDetails) = "donor-registered",
    /// What is known of a donor was corrected.
    DonorCorrected(DonorCorrected) = "donor-corrected",
    /// What is on a donor was looked at.
    DonorPartsNoted(DonorPartsNoted) = "donor-parts-noted",
    /// Pieces were taken from a donor.
    PartSalvaged(PartSalvaged) = "part-salvaged",
    /// An earlier entry was undone.
    Undo(Undo) = "undo",
}
