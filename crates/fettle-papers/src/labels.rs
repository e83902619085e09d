//! Labels for cameras, tray cells and drawers, with a code to scan.

use jiff::civil::Date;
use qrcode::{Color, EcLevel, QrCode};
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::CameraHead;
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{PaperWarning, Pdf, typeset};
use crate::words::Words;

const TEMPLATE: Template = Template {
    name: "labels.typ",
    text: include_str!("../templates/labels.typ"),
};
/// White modules that a reader needs around a code (ISO/IEC 18004).
const QUIET: usize = 4;
/// Labels smaller or larger than this are none, in millimetres.
const SIDE_MM: (f64, f64) = (10.0, 300.0);
/// A sheet with more labels each way is none.
const MOST_EACH_WAY: u32 = 40;

/// Labels to print. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq)]
pub struct Labels {
    /// The language of their fixed words.
    pub language: Language,
    /// Who prints them, for the document's properties.
    pub bench: String,
    /// The day they are printed, for the document's properties.
    pub issued: Date,
    /// The labels, in the order in which they are set.
    pub labels: Vec<Label>,
    /// How they lie on the paper.
    pub layout: LabelLayout,
}

/// One label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Label {
    /// A tag for a camera.
    Camera {
        /// The visit's number.
        visit: String,
        /// The owner's name.
        owner: String,
        /// The camera.
        camera: CameraHead,
        /// The day it arrived.
        arrived: Date,
        /// What the code says, as the visit's address; empty for none.
        code: String,
    },
    /// A cell of the tray.
    Tray {
        /// The visit whose pieces lie in it; may be empty.
        visit: String,
        /// The cell's number.
        cell: String,
        /// What lies in it; may be empty.
        words: String,
        /// What the code says; empty for none.
        code: String,
    },
    /// A drawer of parts.
    Drawer {
        /// The drawer's name.
        name: String,
        /// What lies in it; may be empty.
        words: String,
        /// What the code says; empty for none.
        code: String,
    },
}

/// How labels lie on the paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LabelLayout {
    /// Many on a sheet.
    Sheet {
        /// Where they lie on a bought sheet of labels; `None` for plain paper with lines to cut along, 3 by 7.
        grid: Option<LabelGrid>,
        /// How many places at the beginning of the first sheet are used up.
        taken: u32,
    },
    /// One a page, for a label printer.
    Single {
        /// The label's width in millimetres, from 10 to 300.
        width_mm: f64,
        /// The label's height in millimetres, from 10 to 300.
        height_mm: f64,
    },
}

/// A bought sheet of labels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabelGrid {
    /// Labels side by side, from 1 to 40.
    pub columns: u32,
    /// Labels one under the other, from 1 to 40.
    pub rows: u32,
    /// From the sheet's left edge to the first label, in millimetres.
    pub left_mm: f64,
    /// From the sheet's top edge to the first label, in millimetres.
    pub top_mm: f64,
    /// A label's width in millimetres, from 10 to 300.
    pub width_mm: f64,
    /// A label's height in millimetres, from 10 to 300.
    pub height_mm: f64,
    /// From one label to the next beside it, in millimetres.
    pub gap_x_mm: f64,
    /// From one label to the next under it, in millimetres.
    pub gap_y_mm: f64,
}

impl LabelGrid {
    /// Three by seven on plain paper, to cut apart.
    fn plain(size: PaperSize) -> Self {
        let (width_mm, height_mm) = size.sides_mm();
        let (left_mm, top_mm) = (10.0, 12.0);
        Self {
            columns: 3,
            rows: 7,
            left_mm,
            top_mm,
            width_mm: (width_mm - 2.0 * left_mm) / 3.0,
            height_mm: (height_mm - 2.0 * top_mm) / 7.0,
            gap_x_mm: 0.0,
            gap_y_mm: 0.0,
        }
    }

    /// Every measure within what a sheet can have; what is no number becomes the least.
    fn within_reason(self) -> Self {
        let sound = |mm: f64, (least, most): (f64, f64)| {
            if mm.is_nan() {
                least
            } else {
                mm.clamp(least, most)
            }
        };
        let place = (0.0, SIDE_MM.1);
        Self {
            columns: self.columns.clamp(1, MOST_EACH_WAY),
            rows: self.rows.clamp(1, MOST_EACH_WAY),
            left_mm: sound(self.left_mm, place),
            top_mm: sound(self.top_mm, place),
            width_mm: sound(self.width_mm, SIDE_MM),
            height_mm: sound(self.height_mm, SIDE_MM),
            gap_x_mm: sound(self.gap_x_mm, place),
            gap_y_mm: sound(self.gap_y_mm, place),
        }
    }
}

#[derive(Serialize)]
struct View<'a> {
    paper: Option<&'static str>,
    language: &'static str,
    bench: &'a str,
    document: &'a str,
    year: i16,
    month: i8,
    day: i8,
    grid: Grid,
    cut: bool,
    taken: u32,
    labels: Vec<Told>,
}

#[derive(Serialize)]
struct Grid {
    columns: u32,
    rows: u32,
    left: f64,
    top: f64,
    width: f64,
    height: f64,
    gap_x: f64,
    gap_y: f64,
}

/// A label as the template sets it: a code, the one thing to be read from afar, and lines.
#[derive(Serialize)]
struct Told {
    code: Option<String>,
    above: String,
    large: String,
    lines: Vec<String>,
    small: Vec<String>,
}

/// Sets the labels; without any, one empty page.
///
/// The same labels on the same paper give the same bytes. Warnings tell of texts the papers' fonts cannot show in full
/// and of codes that hold too much to be drawn. `size` is the sheet's; single labels are as large as they say.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents; nothing in a label should bring it about.
pub fn labels(labels: &Labels, size: PaperSize) -> Result<Pdf, PaperError> {
    let words = Words::of(labels.language);
    let (grid, cut, taken, paper) = match labels.layout {
        LabelLayout::Sheet { grid, taken } => (
            grid.unwrap_or_else(|| LabelGrid::plain(size)),
            grid.is_none(),
            taken,
            Some(size.name()),
        ),
        LabelLayout::Single {
            width_mm,
            height_mm,
        } => {
            let one = LabelGrid {
                columns: 1,
                rows: 1,
                left_mm: 0.0,
                top_mm: 0.0,
                width_mm,
                height_mm,
                gap_x_mm: 0.0,
                gap_y_mm: 0.0,
            };
            (one, false, 0, None)
        }
    };
    let grid = grid.within_reason();
    let mut warnings = Vec::new();
    let told = labels
        .labels
        .iter()
        .map(|label| told(label, labels.language, &mut warnings))
        .collect();
    let view = View {
        paper,
        language: labels.language.code(),
        bench: &labels.bench,
        document: words.say("labels.document"),
        year: labels.issued.year(),
        month: labels.issued.month(),
        day: labels.issued.day(),
        cut,
        taken: taken % (grid.columns * grid.rows),
        grid: Grid {
            columns: grid.columns,
            rows: grid.rows,
            left: grid.left_mm,
            top: grid.top_mm,
            width: grid.width_mm,
            height: grid.height_mm,
            gap_x: grid.gap_x_mm,
            gap_y: grid.gap_y_mm,
        },
        labels: told,
    };
    let ident = format!("labels, {}, {}", labels.issued, labels.bench);
    let mut pdf = typeset(TEMPLATE, &view, &ident)?;
    pdf.warnings.extend(warnings);
    Ok(pdf)
}

fn told(label: &Label, language: Language, warnings: &mut Vec<PaperWarning>) -> Told {
    let words = Words::of(language);
    let (code, above, large, lines, small) = match label {
        Label::Camera {
            visit,
            owner,
            camera,
            arrived,
            code,
        } => {
            let serials = camera.serials.iter();
            let serials: Vec<String> = serials
                .map(|(bearer, number)| format!("{bearer} {number}").trim().to_owned())
                .collect();
            (
                code,
                words.say("house.visit").to_owned(),
                visit.clone(),
                vec![camera.name(), owner.clone()],
                vec![
                    serials.join(", "),
                    words.fill("labels.arrived", &[("on", language.day(*arrived))]),
                ],
            )
        }
        Label::Tray {
            visit,
            cell,
            words: what,
            code,
        } => {
            let of = [("visit", visit.clone())];
            let small = if visit.is_empty() {
                Vec::new()
            } else {
                vec![words.fill("labels.of_visit", &of)]
            };
            let above = words.say("labels.cell").to_owned();
            (code, above, cell.clone(), vec![what.clone()], small)
        }
        Label::Drawer {
            name,
            words: what,
            code,
        } => {
            let above = words.say("labels.drawer").to_owned();
            (code, above, name.clone(), vec![what.clone()], Vec::new())
        }
    };
    let drawn = (!code.is_empty()).then(|| draw(code));
    if let Some(None) = drawn {
        warnings.push(PaperWarning::Code(code.clone()));
    }
    let some = |texts: Vec<String>| texts.into_iter().filter(|it| !it.is_empty()).collect();
    Told {
        code: drawn.flatten(),
        above,
        large,
        lines: some(lines),
        small: some(small),
    }
}

/// The code as a drawing, a unit a module, with its quiet zone; `None` when the text is too long for one.
fn draw(text: &str) -> Option<String> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let width = code.width();
    let modules = code.to_colors();
    let mut path = String::new();
    for (y, row) in modules.chunks(width).enumerate() {
        let mut x = 0;
        // Dark modules side by side are one rectangle, so that no seam shows between them.
        for run in row.chunk_by(|a, b| a == b) {
            if run.first() == Some(&Color::Dark) {
                let (left, top, along) = (x + QUIET, y + QUIET, run.len());
                path.push_str(&format!("M{left} {top}h{along}v1h-{along}z"));
            }
            x += run.len();
        }
    }
    let side = width + 2 * QUIET;
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{side}\" height=\"{side}\" viewBox=\"0 0 {side} {side}\">\
         <path d=\"{path}\" fill=\"#000\"/></svg>"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_that_holds_too_much_is_not_drawn() {
        assert!(draw(&"x".repeat(3000)).is_none());
        assert!(
            draw("http://192.168.0.7:8080/visits/57").is_some_and(|it| it.contains("M4 4h7v1h-7z"))
        );
    }

    #[test]
    fn a_grid_beyond_reason_is_brought_back() {
        let grid = LabelGrid {
            columns: 0,
            rows: 9999,
            left_mm: f64::NAN,
            top_mm: -5.0,
            width_mm: f64::INFINITY,
            height_mm: 0.0,
            gap_x_mm: 1.0,
            gap_y_mm: f64::NEG_INFINITY,
        };
        let sound = LabelGrid {
            columns: 1,
            rows: 40,
            left_mm: 0.0,
            top_mm: 0.0,
            width_mm: 300.0,
            height_mm: 10.0,
            gap_x_mm: 1.0,
            gap_y_mm: 0.0,
        };
        assert_eq!(grid.within_reason(), sound);
    }
}
