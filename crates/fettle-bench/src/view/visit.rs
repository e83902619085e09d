//! Everything of one visit.

use std::collections::BTreeMap;

use jiff::Timestamp;
use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    change::{
        ArrivalDetails, BillIssued, CircumstanceKnown, CreditIssued, EarlierHandsNoted,
        FaultRecorded, NoteWritten, Packed, PaperAttached, PartFitted, PaymentReceived,
        PhotoAttached, PieceRemoved, QuoteAnswered, QuoteMade, ReadingTaken, RecordingAttached,
        Sent, SettingProved, ShortfallNoted, SignObserved, TrialMade, WorkDone,
    },
    ids::{
        BillId, EntryId, FaultId, PaperId, PaymentId, PhotoId, PieceId, QuoteId, ReadingId,
        RecordingId,
    },
    journal::Entry,
    money::{Currency, Money, Totals},
    view::{Camera, Hold, Owner, Returned, Taken, VisitLine, Wait},
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
        /// Its lines added up, with the tax on them.
        totals: Totals,
        /// The owner's answer; `None` until it comes. An alternative is declined without words when another is agreed to.
        answer: Option<QuoteAnswered> }
    /// A bill; its id is the number printed on it.
    Bill { BillId, BillIssued,
        /// Its lines added up, with their taxes.
        totals: Totals,
        /// The credit notes on it.
        credits: Vec<Credit>,
        /// What is still to be paid of it: less its credit notes, and less the visit's payments in its currency, which settle the
        /// bills in the order of their numbers.
        open: Decimal }
    /// A credit note; its id is the number printed on it.
    Credit { BillId, CreditIssued,
        /// Its lines added up. Its tax is what the bill's tax falls by, so that credit notes that take back a bill take back its tax
        /// to the last coin.
        totals: Totals }
    /// A payment.
    Payment { PaymentId, PaymentReceived }
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
    /// Quotes: alternatives side by side, and extra work; [`agreed`](Self::agreed) tells which count.
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
    /// All times of being held, ended ones too.
    pub holds: Vec<Hold>,
    /// Bills by their numbers, each with its credit notes.
    pub bills: Vec<Bill>,
    /// Payments, in the order of recording.
    pub payments: Vec<Payment>,
    /// Notes.
    pub notes: Vec<Kept<NoteWritten>>,
    /// The earlier visit under whose guarantee it came back; `None` when it did not.
    pub guarantee: Option<Returned>,
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

    /// What the owner agreed to: the last of the alternatives agreed to, and all extra work agreed to.
    #[must_use]
    pub fn agreed(&self) -> Vec<&Quote> {
        let yes = |quote: &&Quote| quote.answer.as_ref().is_some_and(|answer| answer.agreed);
        let (chosen, extra): (Vec<&Quote>, Vec<&Quote>) = self
            .quotes
            .iter()
            .filter(yes)
            .partition(|quote| quote.what.kind.is_alternative());
        chosen.last().copied().into_iter().chain(extra).collect()
    }

    /// What is owed by currency: bills less credit notes and payments. Below zero when more was paid than is billed so far, as by a
    /// deposit.
    #[must_use]
    pub fn owed(&self) -> Vec<Money> {
        let mut owed: BTreeMap<Currency, Decimal> = BTreeMap::new();
        for bill in &self.bills {
            *owed.entry(bill.what.currency).or_default() += bill.billed();
        }
        for payment in &self.payments {
            let paid = payment.what.amount;
            *owed.entry(paid.currency).or_default() -= paid.amount;
        }
        let money = |(currency, amount)| Money::new(amount, currency);
        owed.into_iter().map(money).collect()
    }

    /// What it waits for now.
    pub fn waiting(&self) -> impl Iterator<Item = &Wait> {
        self.waits.iter().filter(|wait| wait.ended.is_none())
    }
}

impl Bill {
    /// What it comes to with tax, less its credit notes.
    pub(crate) fn billed(&self) -> Decimal {
        let credited: Decimal = self.credits.iter().map(|it| it.totals.gross).sum();
        self.totals.gross - credited
    }
}

/// Says what is open of each bill: payments settle the bills of their currency in the order of their numbers.
pub(crate) fn settle(bills: &mut [Bill], payments: &[Payment]) {
    let mut paid: BTreeMap<Currency, Decimal> = BTreeMap::new();
    for payment in payments {
        let amount = payment.what.amount;
        *paid.entry(amount.currency).or_default() += amount.amount;
    }
    for bill in bills {
        let billed = bill.billed();
        let left = paid.entry(bill.what.currency).or_default();
        let settled = billed.min(*left).max(Decimal::ZERO);
        *left -= settled;
        bill.open = billed - settled;
    }
}
