//! Marks with a shape: for readings on a chart, and for a verdict beside its word.

use fettle_measure::Verdict;

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

/// The word written beside a verdict's mark.
#[must_use]
pub const fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::In => "in",
        Verdict::Out => "out",
        Verdict::Undecided => "undecided",
    }
}

/// A verdict's mark: a reading drawn against its two limits, between them, beyond them, or on one of them.
///
/// It is 24 by 12 CSS pixels and goes beside the word, never instead of it.
#[must_use]
pub fn verdict_mark(verdict: Verdict, sheet: Sheet) -> String {
    let mut drawing = Drawing::new(24.0, 12.0, verdict_word(verdict), sheet);
    for x in [6.0, 16.0] {
        drawing.line(at(x, 1.0), at(x, 11.0), Pen::FINE);
    }
    match verdict {
        Verdict::In => drawing.circle(at(11.0, 6.0), 2.4, Tone::Ink, Pen::FINE),
        Verdict::Out => drawing.circle(at(20.0, 6.0), 2.4, Tone::Ink, Pen::FINE),
        Verdict::Undecided => drawing.circle(at(16.0, 6.0), 2.6, Tone::Paper, Pen::FINE),
    }
    drawing.finish()
}
