//! The proof sheet: what a camera measured before and after, against its limits, for its owner to keep.

mod correction;
mod of_reports;
mod view;

use fettle_draw::Trace;
use fettle_measure::Verdict;
use jiff::civil::Date;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::{BenchHead, CameraHead};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset};

pub use correction::exposure_correction;

const TEMPLATE: Template = Template {
    name: "proof_sheet.typ",
    text: include_str!("../../templates/proof_sheet.typ"),
};

/// Everything a proof sheet says. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofSheet {
    /// The language of its fixed words.
    pub language: Language,
    /// Who worked on it.
    pub bench: BenchHead,
    /// The visit's number as it stands on the tag.
    pub visit: String,
    /// The owner's name.
    pub owner: String,
    /// The camera.
    pub camera: CameraHead,
    /// The day it arrived; `None` when not known.
    pub arrived: Option<Date>,
    /// The day of the last reading; `None` when nothing was measured.
    pub proved: Option<Date>,
    /// The day the sheet is made out.
    pub issued: Date,
    /// Who answers for it; empty when the signature will tell.
    pub signed_by: String,
    /// What was done, in brief, one piece of work an entry.
    pub done: Vec<String>,
    /// The shutter's marked speeds from slow to fast; empty when they were not measured.
    pub speeds: Vec<SpeedProof>,
    /// Traces to draw, one entry a marked speed.
    pub traces: Vec<TraceProof>,
    /// Readings of the other instruments.
    pub instruments: Vec<InstrumentProof>,
    /// What could not be brought back. Speeds whose verdict is out after the work are added by the sheet itself,
    /// with the correction to use; they need not be repeated here.
    pub not_brought_back: Vec<Shortfall>,
    /// Cautions the owner must know.
    pub cautions: Vec<String>,
    /// How each instrument measured, one entry an instrument; the rule of the verdicts is added.
    pub methods: Vec<String>,
    /// What the instruments remarked of their readings, as `one recording was clipped`.
    pub remarks: Vec<String>,
}

/// One marked speed, before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeedProof {
    /// As engraved, without a unit: `1`, `1/125`.
    pub marked: String,
    /// As it came; `None` when it could not be measured.
    pub before: Option<Exposure>,
    /// As it goes; `None` when it could not be measured.
    pub after: Option<Exposure>,
    /// Greatest error allowed either way, in stops; `None` when nothing is asked.
    pub limit_stops: Option<f64>,
    /// The verdict on the last reading; `None` without a limit.
    pub verdict: Option<Verdict>,
}

/// The exposure at one marked speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// Mean effective time in seconds.
    pub effective_s: f64,
    /// `log2(effective / marked)`: positive is longer.
    pub error_stops: f64,
    /// Expanded uncertainty (k = 2) in stops; `None` when not known.
    pub uncertainty_stops: Option<f64>,
    /// How many releases the mean is of.
    pub releases: u32,
}

/// The traces of one marked speed.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceProof {
    /// As engraved, without a unit.
    pub marked: String,
    /// As it came.
    pub before: Option<Trace>,
    /// As it goes.
    pub after: Option<Trace>,
}

/// The readings of one instrument other than the shutter's.
#[derive(Debug, Clone, PartialEq)]
pub struct InstrumentProof {
    /// What was measured: `Focus register`.
    pub name: String,
    /// One entry a reading.
    pub readings: Vec<ReadingProof>,
    /// What the instrument drew, in the order in which it is shown.
    pub charts: Vec<ChartProof>,
}

/// A chart of an instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChartProof {
    /// The chart as SVG, on white.
    pub svg: String,
    /// What it shows, for a reader that cannot see it.
    pub alt: String,
}

/// One reading, before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingProof {
    /// What was read.
    pub name: String,
    /// Its unit, as written: `mm`, `stops`.
    pub unit: String,
    /// As it came; `None` when not taken.
    pub before: Option<Measured>,
    /// As it goes; `None` when not taken.
    pub after: Option<Measured>,
    /// What it is held to; `None` when nothing is asked.
    pub limit: Option<Limit>,
    /// The verdict on the last reading; `None` without a limit.
    pub verdict: Option<Verdict>,
}

/// A figure with its uncertainty, both in the reading's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The figure.
    pub value: f64,
    /// Expanded uncertainty (k = 2); `None` when not known.
    pub uncertainty: Option<f64>,
}

/// What a reading is held to, in its unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// A target and the greatest deviation either way.
    Within {
        /// The figure wanted.
        target: f64,
        /// The greatest deviation.
        deviation: f64,
    },
    /// Not more than this.
    AtMost(f64),
    /// Not less than this.
    AtLeast(f64),
}

/// Something that could not be brought back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shortfall {
    /// What it is.
    pub what: String,
    /// What the owner can do about it; `None` when nothing helps.
    pub correction: Option<String>,
}

/// Makes out the proof sheet.
///
/// The same sheet on the same size of paper gives the same bytes. Warnings tell of texts the papers' fonts cannot
/// show in full.
///
/// # Errors
///
/// [`PaperError`] when the template does not bear the contents; no text or figure in a sheet should bring it about.
pub fn proof_sheet(sheet: &ProofSheet, size: PaperSize) -> Result<Pdf, PaperError> {
    let view = view::View::new(sheet, size);
    let ident = format!(
        "proof sheet, visit {}, {}, {}",
        sheet.visit, sheet.issued, sheet.bench.name
    );
    typeset(TEMPLATE, &view, &ident)
}
