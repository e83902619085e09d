//! The record: cameras, owners, visits, readings, files and the journal, in one folder.
//!
//! A [`Bench`] is that folder. Everything is written through one door, [`Bench::apply`], as a list of [`Change`]s that happen
//! together or not at all; each leaves an entry in the journal. Nothing is erased: [`Undo`] is a change too. Pages and papers
//! read views such as [`BenchToday`] and [`VisitView`].
//!
//! ```
//! use fettle_bench::{Bench, BenchSettings, Currency, Hand, OwnerDetails, Page, Undo};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let dir = tempfile::tempdir()?;
//! # let folder = dir.path().join("bench");
//! let settings = BenchSettings::new("The bench at Saltmere", Currency::new("EUR")?);
//! let (ines, now) = (Hand::new("Ines"), "2026-09-21T09:00:00Z".parse()?);
//! let bench = Bench::create(&folder, settings, &ines, now)?;
//!
//! let owner = OwnerDetails { name: "Marit Halvarsen".into(), ..OwnerDetails::default() };
//! let applied = bench.apply(&ines, now, vec![owner.into()])?;
//! assert_eq!(bench.owners(Page::first(10))?.total, 1);
//!
//! bench.apply(&ines, now, vec![Undo { entry: applied.entries[0] }.into()])?;
//! assert_eq!(bench.owners(Page::first(10))?.total, 0);
//! assert_eq!(bench.journal(Page::first(10))?.lines[0].sentence, "undone: owner added: Marit Halvarsen");
//! # Ok(())
//! # }
//! ```

mod apply;
mod bench;
mod catalogue;
mod chain;
mod change;
mod error;
mod files;
mod ids;
mod index;
mod instrument;
mod journal;
mod keeping;
mod known;
mod lessons;
mod money;
mod out;
mod outlook;
mod quoting;
mod read;
mod reading;
mod replay;
mod shutter;
mod store;
mod sums;
mod taught;
mod term;
mod trim;
mod view;
mod words;

pub use apply::{LINE_MAX_BYTES, PROSE_MAX_BYTES};
pub use bench::Bench;
pub use catalogue::Model;
pub use chain::{bandwidth_in_words, chain_in_words, what_helps};
pub use change::{
    About, ArrivalCorrected, ArrivalDetails, BenchSettings, BillIssued, BillLine, CameraCorrected,
    CameraDetails, Change, CircumstanceKnown, Counted, CreditIssued, DeclaredItem, DonorCorrected,
    DonorDetails, DonorPartsNoted, DrawerCounted, DrawerNamed, EarlierHandsNoted, FaultRecorded,
    HoldEnded, LotCorrected, LotMoved, MinimumSet, NoteWritten, Number, OnDonor, OwnerCorrected,
    OwnerDetails, Packed, PaperAttached, PartFitted, PartOf, PartReturned, PartSalvaged,
    PartStored, PartTaken, PaymentReceived, PhotoAttached, PieceRemoved, PieceReturned,
    QuoteAnswered, QuoteLine, QuoteMade, ReadingRow, ReadingTaken, RecordingAttached, SalvagedTo,
    SendingHeld, Sent, Serial, SettingProved, ShortfallNoted, SignObserved, StageMoved,
    StripOrdered, Tick, TrialMade, TrialReading, Turned, Undo, VisitOpened, WaitingBegun,
    WaitingEnded, WorkDone,
};
pub use error::BenchError;
pub use files::{FileRef, PhotoSize, RECORDING_MAX_BYTES, RecordingDraft, StoredFile, sync_folder};
pub use ids::{
    BillId, CameraId, DonorId, DonorPartId, DrawerId, EntryId, FaultId, HoldId, LotId, MovementId,
    OwnerId, PaperId, PartId, PaymentId, PhotoId, PieceId, QuoteId, ReadingId, RecordingId,
    VisitId, WaitId,
};
pub use index::{Index, KnownLot, KnownVisit};
pub use instrument::{
    InstrumentReport, TeethProof, instrument_report, meter_options, meter_reading,
    rangefinder_options, rangefinder_reading, register_options, register_reading, teeth_options,
    teeth_reading,
};
pub use journal::{Applied, Entry, Hand, Made};
pub use keeping::{
    AsOf, BACKUP_DAYS_MOST, BackedUp, BackupDue, BackupLog, BackupPlan, BackupReminder,
    FailedBackup, Finding, FindingKind, GoodBackup, HowToRestore, Lost, Restored, Step, Verified,
    back_up, backup_due, backup_reminder, note_backup, prepare_backup, restore, verify,
    verify_with,
};
pub use known::known;
pub use lessons::{Lessons, TaughtEffect, lessons};
pub use money::{Currency, Money, NotACurrency, TaxLine, Totals, written};
pub use out::{Cell, KeptFile, Out};
pub use outlook::SERVICE;
pub use quoting::{DraftLine, QuoteDraft};
pub use rust_decimal::Decimal;
pub use shutter::{
    finding_in_words, remarks_in_words, shutter_options, shutter_read_as, shutter_reading,
    shutter_report,
};
pub use store::SCHEMA_VERSION as TABLES_VERSION;
#[cfg(feature = "queries")]
pub use store::queries_of;
pub use term::Term;
pub use trim::{TrimReading, trials_of, trim_readings, trim_state};
pub use view::{
    BackPoint, BenchToday, Bill, CameBack, Camera, CameraLine, CameraView, Credit, DayAhead,
    DaysHome, DonorLine, DonorPart, DonorView, DrawerLine, DrawerView, Fault, FaultShare,
    GoingHome, Hit, HitIn, Hold, Income, Kept, LastCount, Learned, LearnedFilter, Lot, Moved,
    NextStep, Owner, OwnerLine, OwnerView, Page, Paged, Paper, PartFilter, PartLine, PartList,
    PartOrder, PartUsed, PartView, Payment, Photo, Piece, Possible, Quote, QuotePoint, QuotesHeld,
    Reading, Recording, Returned, Taken, Use, VisitFilter, VisitLine, VisitView, Wait,
};
pub use words::{
    DayFor, DonorPartIs, FaultIs, Found, Grade, Instrument, Language, LineFor, Movement, PaperKind,
    PaperSize, Phase, QuoteKind, Seen, Stage, Verdict, WaitFor,
};
