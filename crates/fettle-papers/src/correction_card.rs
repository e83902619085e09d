//! The correction card: what to add to an exposure meter's readings, to cut out and keep with the camera.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::drawn::in_language;
use crate::error::PaperError;
use crate::head::{BenchHead, CameraHead};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset};
use crate::setup::{Setup, Titles};
use crate::words::Words;

const TEMPLATE: Template = Template {
    name: "correction_card.typ",
    text: include_str!("../templates/correction_card.typ"),
};

/// Everything the paper with the card says. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq)]
pub struct CorrectionCard {
    /// The language of its fixed words.
    pub language: Language,
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
    #[serde(flatten)]
    setup: Setup<'a>,
    visit: &'a str,
    camera: String,
    serials: &'a [(String, String)],
    card: String,
    width_mm: f64,
    remarks: &'a [String],
}

/// Makes out the paper: two cards to cut out, and how to use them.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents, as when the card is no SVG.
pub fn correction_card(card: &CorrectionCard, size: PaperSize) -> Result<Pdf, PaperError> {
    let camera = card.camera.name();
    let with = [("visit", card.visit.clone()), ("camera", camera.clone())];
    let words = Words::of(card.language);
    let titles = Titles::of(
        words.fill("card.document", &with),
        &[&words.fill("card.foot", &with)],
    );
    let view = View {
        setup: Setup::new(
            card.language,
            size,
            card.issued,
            &card.bench,
            titles,
            &["card"],
        ),
        visit: &card.visit,
        camera,
        serials: &card.camera.serials,
        card: in_language(card.card_svg.clone(), card.language),
        width_mm: card.width_mm,
        remarks: &card.remarks,
    };
    let ident = format!(
        "correction card, visit {}, {}, {}",
        card.visit, card.issued, card.bench.name
    );
    typeset(TEMPLATE, &view, &ident)
}
