//! Documents as PDF through Typst, and what carries them: drafts of mail, calendar files.
//!
//! Each paper is a pure function from a plain struct to the bytes of a PDF/A-2b (ISO 19005-2): fonts are in the
//! program, dates come in with the contents, and equal contents give equal bytes. The papers know nothing of the
//! record; whoever calls fills in the struct. Texts are handed to the templates as data and cannot become markup.
//!
//! Every paper has one template under `templates/`, and all share `templates/house.typ`. Their fixed words stand in the
//! translation files under `words/`, one a language; what the record holds is set as it stands.
//!
//! ```no_run
//! use fettle_papers::{PaperSize, ProofSheet, proof_sheet};
//!
//! fn keep(sheet: &ProofSheet) -> Result<(), Box<dyn std::error::Error>> {
//!     let pdf = proof_sheet(sheet, PaperSize::A4)?;
//!     std::fs::write("proof sheet.pdf", &pdf.bytes)?;
//!     Ok(())
//! }
//! ```

mod arrival_receipt;
mod bill;
mod calendar;
mod correction_card;
mod declaration;
mod desk;
mod drawn;
mod error;
mod figure;
mod findings_report;
mod fonts;
mod head;
mod labels;
mod language;
mod legible;
mod mail;
mod mail_words;
mod packing_list;
mod paper_size;
mod part_sheet;
mod pdf;
mod photograph;
mod proof_sheet;
mod quote_paper;
mod setup;
mod words;

pub use arrival_receipt::{ArrivalReceipt, arrival_receipt};
pub use bill::{BillKind, BillPaper, BillPaperLine, PaidLine, bill};
pub use calendar::{Event, calendar};
pub use correction_card::{CorrectionCard, correction_card};
pub use declaration::{
    ContentsDeclaration, DeclaredContent, DeclaredParty, SendingCategory, contents_declaration,
};
pub use error::PaperError;
pub use findings_report::{
    FaultIs, FaultTold, FindingsReport, PartTold, SignLooked, SignSeen, findings_report,
};
pub use head::{Amount, BenchHead, CameraHead, OwnerHead};
pub use labels::{Label, LabelGrid, LabelLayout, Labels, labels};
pub use language::Language;
pub use mail::{Attachment, Draft, MailAddress, mail_draft};
pub use mail_words::{EventKind, MailFacts, MailStage, MailWords, event_title, mail_words};
pub use packing_list::{PackedCamera, PackedItem, PackingList, packing_list};
pub use paper_size::PaperSize;
pub use part_sheet::{PartSheet, part_sheet};
pub use pdf::{PaperWarning, Pdf};
pub use photograph::Photograph;
pub use proof_sheet::{
    ChartProof, Exposure, InstrumentProof, Limit, Measured, ProofSheet, ReadingProof, Shortfall,
    SpeedProof, TraceProof, exposure_correction, proof_sheet,
};
pub use quote_paper::{
    AgreedQuote, PartGrade, QuoteAlternative, QuoteKind, QuoteLine, QuotePaper, TaxLine,
    quote_paper,
};
