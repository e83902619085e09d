//! Documents as PDF through Typst.
//!
//! Each paper is a pure function from a plain struct to the bytes of a PDF/A-2b (ISO 19005-2): fonts are in the
//! program, dates come in with the contents, and equal contents give equal bytes. The papers know nothing of the
//! record; whoever calls fills in the struct. Texts are handed to the templates as data and cannot become markup.
//!
//! Every paper has one template under `templates/`, and all share `templates/house.typ`.
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

mod correction_card;
mod desk;
mod error;
mod figure;
mod fonts;
mod legible;
mod paper_size;
mod part_sheet;
mod pdf;
mod proof_sheet;

pub use correction_card::{CorrectionCard, correction_card};
pub use error::PaperError;
pub use paper_size::PaperSize;
pub use part_sheet::{PartSheet, part_sheet};
pub use pdf::{PaperWarning, Pdf};
pub use proof_sheet::{
    BenchHead, CameraHead, ChartProof, Exposure, InstrumentProof, Limit, Measured, ProofSheet,
    ReadingProof, Shortfall, SpeedProof, TraceProof, exposure_correction, proof_sheet,
};
