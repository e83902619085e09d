//! The correction card: what to add to an exposure meter's readings, to cut out and keep with the camera.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset};
use crate::proof_sheet::{BenchHead, CameraHead, day_in_words};

const TEMPLATE: Template = Template {
    name: "correction_card.typ",
    text: include_str!("../templates/correction_card.typ"),
};

/// Everything the paper with the card says. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq)]
pub struct CorrectionCard {
    /// Who measured it.
    pub bench: BenchHead,
    /// The visit's number as it stands on the tag.
    pub visit: String,
    /// The camera.
    pub camera: CameraHead,
    /// The day it is made out.
    pub issued: Date,
    /// The card as SVG, to be printed at its natural size.
    pub card_svg: String,
    /// Its width in millimetres.
    pub width_mm: f64,
    /// What should be known of it, one sentence an entry.
    pub remarks: Vec<String>,
}

#[derive(Serialize)]
struct View<'a> {
    paper: &'static str,
    year: i16,
    month: i8,
    day: i8,
    bench: &'a str,
    lines: &'a [String],
    visit: &'a str,
    camera: String,
    serials: &'a [(String, String)],
    issued: String,
    card: &'a str,
    width_mm: f64,
    remarks: &'a [String],
}

/// Makes out the paper: two cards to cut out, and how to use them.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents, as when the card is no SVG.
pub fn correction_card(card: &CorrectionCard, size: PaperSize) -> Result<Pdf, PaperError> {
    let view = View {
        paper: size.name(),
        year: card.issued.year(),
        month: card.issued.month(),
        day: card.issued.day(),
        bench: &card.bench.name,
        lines: &card.bench.lines,
        visit: &card.visit,
        camera: format!("{} {}", card.camera.maker, card.camera.model)
            .trim()
            .to_owned(),
        serials: &card.camera.serials,
        issued: day_in_words(card.issued),
        card: &card.card_svg,
        width_mm: card.width_mm,
        remarks: &card.remarks,
    };
    let ident = format!(
        "correction card, visit {}, {}, {}",
        card.visit, card.issued, card.bench.name
    );
    typeset(TEMPLATE, &view, &ident)
}
