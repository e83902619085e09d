//! Marks with a shape: for readings on a chart, and for a verdict beside its word.

use crate::sheet::{Sheet, Tone};
use crate::svg::{Area, Drawing, Pen, Point, at};

/// The shape that stands for one series of readings, told apart without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mark {
    /// A circle, empty: as it came.
    OpenCircle,
    /// A square, filled: as it goes.
    FilledSquare,
    /// A triangle, empty: a third series.
    OpenTriangle,
}

impl Mark {
    pub(crate) fn draw(self, drawing: &mut Drawing, centre: Point, radius: f64) {
        let r = radius;
        match self {
            Self::OpenCircle => drawing.circle(centre, r, Tone::Paper, Pen::BOLD),
            Self::FilledSquare => {
                let side = r * 0.9;
                let area = Area {
                    left: centre.x - side,
                    top: centre.y - side,
                    right: centre.x + side,
                    bottom: centre.y + side,
                };
                drawing.rect(&area, Tone::Ink, Pen::FINE);
            }
            Self::OpenTriangle => {
                let corners = [
                    at(centre.x, centre.y - r * 1.1),
                    at(centre.x + r, centre.y + r * 0.8),
                    at(centre.x - r, centre.y + r * 0.8),
                ];
                drawing.outline(&corners, Tone::Paper, Pen::BOLD);
            }
        }
    }
}

/// What a reading's verdict says (ISO 14253-1).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// The whole interval of uncertainty lies inside the limits.
    In,
    /// The whole interval lies outside.
    Out,
    /// The interval straddles a limit.
    Undecided,
}

impl Verdict {
    /// The word written beside the mark.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::In => "in",
            Self::Out => "out",
            Self::Undecided => "undecided",
        }
    }
}

/// A verdict's mark: a reading drawn against its two limits, between them, beyond them, or on one of them.
///
/// It is 22 by 12 CSS pixels and goes beside the word, never instead of it.
#[must_use]
pub fn verdict_mark(verdict: Verdict, sheet: Sheet) -> String {
    let mut drawing = Drawing::new(22.0, 12.0, verdict.word(), sheet);
    for x in [3.0, 13.0] {
        drawing.line(at(x, 1.0), at(x, 11.0), Pen::FINE);
    }
    match verdict {
        Verdict::In => drawing.circle(at(8.0, 6.0), 2.4, Tone::Ink, Pen::FINE),
        Verdict::Out => drawing.circle(at(18.0, 6.0), 2.4, Tone::Ink, Pen::FINE),
        Verdict::Undecided => drawing.circle(at(13.0, 6.0), 2.6, Tone::Paper, Pen::FINE),
    }
    drawing.finish()
}
