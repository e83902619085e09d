//! Everything of one visit.

use jiff::Timestamp;
use serde::Serialize;

use crate::{
    change::{
        ArrivalDetails, CircumstanceKnown, EarlierHandsNoted, FaultRecorded, NoteWritten, Packed,
        PaperAttached, PartFitted, PhotoAttached, PieceRemoved, QuoteAnswered, QuoteMade,
        ReadingTaken, RecordingAttached, Sent, SettingProved, ShortfallNoted, SignObserved,
        TrialMade, WorkDone,
    },
    ids::{EntryId, FaultId, PaperId, PhotoId, PieceId, QuoteId, ReadingId, RecordingId},
    journal::Entry,
    view::{Camera, Owner, Taken, VisitLine, Wait},
};

/// Something recorded, with the entry that last said it: the one to undo.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Kept<T> {
    /// The entry.
    pub entry: EntryId,
    /// When it was recorded.
    pub at: Timestamp,
    /// What was recorded.
    pub what: T,
}

macro_rules! kept {
    ($($(#[$doc:meta])* $name:ident { $id:ty, $what:ty $(, $(#[$edoc:meta])* $extra:ident: $extra_ty:ty)* })*) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Serialize)]
        pub struct $name {
            /// Names it.
            pub id: $id,
            /// The entry that last said it: the one to undo.
            pub entry: EntryId,
            /// When it was recorded.
            pub at: Timestamp,
            /// What was recorded.
            pub what: $what,
            $($(#[$edoc])* pub $extra: $extra_ty,)*
        }
    )*};
}

kept! {
    /// A fault.
    Fault { FaultId, FaultRecorded }
    /// A quote.
    Quote { QuoteId, QuoteMade,
        /// The owner's answer; `None` until it comes.
        answer: Option<QuoteAnswered> }
    /// A piece taken off.
    Piece { PieceId, PieceRemoved,
        /// When it went back on; `None` while it lies in the tray.
        returned: Option<Timestamp>,
        /// The note of its way back; may be empty.
        returned_note: String }
    /// A reading.
    Reading { ReadingId, ReadingTaken }
    /// A photograph.
    Photo { PhotoId, PhotoAttached }
    /// A recording.
    Recording { RecordingId, RecordingAttached }
    /// A paper.
    Paper { PaperId, PaperAttached }
}

/// Everything of one visit, for every stage, in the order of recording.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VisitView {
    /// The visit in a line.
    pub line: VisitLine,
    /// The camera.
    pub camera: Camera,
    /// Who it goes back to.
    pub owner: Owner,
    /// What was written at arrival.
    pub arrival: ArrivalDetails,
    /// All times of waiting, ended ones too.
    pub waits: Vec<Wait>,
    /// Signs looked for.
    pub signs: Vec<Kept<SignObserved>>,
    /// Circumstances known.
    pub circumstances: Vec<Kept<CircumstanceKnown>>,
    /// Traces of earlier hands.
    pub earlier_hands: Vec<Kept<EarlierHandsNoted>>,
    /// Faults found, suspected or ruled out.
    pub faults: Vec<Fault>,
    /// Quotes; the last counts.
    pub quotes: Vec<Quote>,
    /// Whether the owner ordered a full strip, so that openings cost nothing.
    pub full_strip: bool,
    /// Pieces taken off, those put back too, in the order of the way in.
    pub pieces: Vec<Piece>,
    /// Work done.
    pub works: Vec<Kept<WorkDone>>,
    /// Parts fitted: those written by hand and those taken from a drawer or a donor, less what came back.
    pub parts: Vec<Kept<PartFitted>>,
    /// What of them was taken from a drawer or a donor.
    pub taken: Vec<Taken>,
    /// Readings.
    pub readings: Vec<Reading>,
    /// Settings proved.
    pub settings: Vec<Kept<SettingProved>>,
    /// Trials of settings, in the order they were made.
    pub trials: Vec<Kept<TrialMade>>,
    /// What could not be brought back.
    pub shortfalls: Vec<Kept<ShortfallNoted>>,
    /// Photographs.
    pub photos: Vec<Photo>,
    /// Recordings.
    pub recordings: Vec<Recording>,
    /// Papers.
    pub papers: Vec<Paper>,
    /// The parcel; `None` until it is packed.
    pub packed: Option<Kept<Packed>>,
    /// How it was sent, latest last.
    pub sent: Vec<Kept<Sent>>,
    /// Notes.
    pub notes: Vec<Kept<NoteWritten>>,
    /// The journal of this visit, newest first.
    pub journal: Vec<Entry>,
}

impl VisitView {
    /// The pieces that lie in the tray, in the order of the way back: last off, first on.
    pub fn tray(&self) -> impl Iterator<Item = &Piece> {
        self.pieces
            .iter()
            .rev()
            .filter(|piece| piece.returned.is_none())
    }

    /// What it waits for now.
    pub fn waiting(&self) -> impl Iterator<Item = &Wait> {
        self.waits.iter().filter(|wait| wait.ended.is_none())
    }
}
