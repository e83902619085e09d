//! The sheet that goes with a part to be made: its drawing, true to scale on paper.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::pdf::{Pdf, typeset};

const TEMPLATE: Template = Template {
    name: "part_sheet.typ",
    text: include_str!("../templates/part_sheet.typ"),
};

/// The drawing, whole with frame and title corner, and what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct PartSheet {
    /// What is drawn, for the document's title and for those who hear it read.
    pub title: String,
    /// Who drew it.
    pub bench: String,
    /// The day it is made out.
    pub issued: Date,
    /// The drawing as SVG.
    pub svg: String,
    /// Its width on paper in millimetres.
    pub width_mm: f64,
    /// Its height on paper in millimetres.
    pub height_mm: f64,
}

#[derive(Serialize)]
struct View<'a> {
    title: &'a str,
    bench: &'a str,
    year: i16,
    month: i8,
    day: i8,
    svg: &'a str,
    width_mm: f64,
    height_mm: f64,
}

/// Makes out the sheet: one page of the drawing's own size, so that nothing is scaled.
///
/// # Errors
/// [`PaperError`] when the drawing is no SVG.
pub fn part_sheet(sheet: &PartSheet) -> Result<Pdf, PaperError> {
    let view = View {
        title: &sheet.title,
        bench: &sheet.bench,
        year: sheet.issued.year(),
        month: sheet.issued.month(),
        day: sheet.issued.day(),
        svg: &sheet.svg,
        width_mm: sheet.width_mm,
        height_mm: sheet.height_mm,
    };
    let ident = format!("{}, {}, {}", sheet.title, sheet.issued, sheet.bench);
    typeset(TEMPLATE, &view, &ident)
}
