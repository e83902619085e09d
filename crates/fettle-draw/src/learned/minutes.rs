//! Minutes that visits took against what was quoted for them.

use super::{LETTERS, WIDTH};
use crate::frame::{draw_names, draw_tick};
use crate::mark::Mark;
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::svg::{Anchor, Area, Drawing, Pen, at};

const HEIGHT: f64 = 380.0;
const PLOT: Area = Area {
    left: 62.0,
    right: WIDTH - 18.0,
    top: 34.0,
    bottom: HEIGHT - 48.0,
};
/// Minutes lettered along the axes: a logarithmic scale, for minutes of work are log-normal.
const LETTERED: [f64; 13] = [
    1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 240.0, 480.0, 960.0, 1920.0, 3840.0,
];

/// One visit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct QuotedMinutes {
    /// The likely figure quoted.
    pub likely: f64,
    /// The figure that was to do nine times in ten.
    pub nine_in_ten: f64,
    /// What it took.
    pub took: f64,
}

impl QuotedMinutes {
    fn is_drawable(&self) -> bool {
        [self.likely, self.nine_in_ten, self.took]
            .iter()
            .all(|it| it.is_finite() && *it > 0.0)
    }

    fn held(&self) -> bool {
        self.took <= self.nine_in_ten
    }
}

/// Draws each visit over its likely figure: a mark where it ended, a hairline up to the figure that was to do nine times in ten. Open marks ended above it.
#[must_use]
pub fn minutes_chart(visits: &[QuotedMinutes], sheet: Sheet) -> String {
    let visits: Vec<QuotedMinutes> = visits
        .iter()
        .copied()
        .filter(QuotedMinutes::is_drawable)
        .collect();
    let figures = || {
        visits
            .iter()
            .flat_map(|it| [it.likely, it.nine_in_ten, it.took])
    };
    let low = figures().fold(f64::INFINITY, f64::min).min(1e6);
    let high = figures().fold(0.0, f64::max).max(low);
    let (low, high) = ((0.8 * low).ln(), (1.25 * high).ln());
    let across = Scale::new(low, high, PLOT.left, PLOT.right);
    let upright = Scale::new(low, high, PLOT.bottom, PLOT.top);
    let title = "minutes that visits took, over the minutes quoted as likely";
    let mut drawing = Drawing::new(WIDTH, HEIGHT, title, sheet);
    draw_frame(&mut drawing, &across, &upright);
    let even = |end: f64| at(across.place(end), upright.place(end));
    drawing.line(even(low), even(high), Pen::CENTRE.wide(0.8));
    for visit in &visits {
        let x = across.place(visit.likely.ln());
        let nine = upright.place(visit.nine_in_ten.ln());
        drawing.line(
            at(x, upright.place(visit.likely.ln())),
            at(x, nine),
            Pen::HAIR,
        );
        drawing.line(at(x - 3.0, nine), at(x + 3.0, nine), Pen::HAIR.wide(0.9));
    }
    for visit in &visits {
        let place = at(
            across.place(visit.likely.ln()),
            upright.place(visit.took.ln()),
        );
        mark_of(visit.held()).draw(&mut drawing, place, 3.4);
    }
    draw_key(&mut drawing);
    drawing.finish()
}

const fn mark_of(held: bool) -> Mark {
    if held {
        Mark::FilledSquare
    } else {
        Mark::OpenCircle
    }
}

fn draw_frame(drawing: &mut Drawing, across: &Scale, upright: &Scale) {
    for minutes in LETTERED {
        let (place, figure) = (minutes.ln(), format!("{minutes}"));
        if across.contains(place) {
            draw_tick(drawing, &PLOT, across.place(place), &figure);
        }
        if upright.contains(place) {
            let y = upright.place(place);
            drawing.line(at(PLOT.left - 4.0, y), at(PLOT.left, y), Pen::FINE);
            let place = at(PLOT.left - 7.0, y + 3.5);
            drawing.text(place, Anchor::End, LETTERS, &figure);
        }
    }
    let corner = at(PLOT.left, PLOT.bottom);
    drawing.line(at(PLOT.left, PLOT.top), corner, Pen::FINE);
    drawing.line(corner, at(PLOT.right, PLOT.bottom), Pen::FINE);
    draw_names(
        drawing,
        &PLOT,
        "minutes taken",
        "minutes quoted as likely",
        HEIGHT - 8.0,
    );
}

fn draw_key(drawing: &mut Drawing) {
    let y = 14.0;
    let words = [
        (
            PLOT.left,
            "held the figure for nine times in ten",
            Some(true),
        ),
        (PLOT.left + 236.0, "took longer", Some(false)),
        (PLOT.left + 330.0, "from likely to nine times in ten", None),
    ];
    for (x, words, held) in words {
        match held {
            Some(held) => mark_of(held).draw(drawing, at(x + 4.0, y), 3.4),
            None => {
                drawing.line(at(x + 4.0, y - 7.0), at(x + 4.0, y + 7.0), Pen::HAIR);
                drawing.line(
                    at(x + 1.0, y - 7.0),
                    at(x + 7.0, y - 7.0),
                    Pen::HAIR.wide(0.9),
                );
            }
        }
        drawing.text(at(x + 14.0, y + 4.0), Anchor::Start, LETTERS, words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn broken_and_empty_figures_are_left_out() {
        let bad = QuotedMinutes {
            likely: f64::NAN,
            nine_in_ten: -1.0,
            took: 0.0,
        };
        for visits in [&[][..], &[bad]] {
            let svg = minutes_chart(visits, Sheet::Light);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
            roxmltree::Document::parse(&svg).unwrap();
        }
    }

    #[test]
    fn what_took_longer_than_nine_in_ten_has_an_open_mark() {
        let visit = |took| QuotedMinutes {
            likely: 60.0,
            nine_in_ten: 100.0,
            took,
        };
        let count = |took| {
            minutes_chart(&[visit(took)], Sheet::Light)
                .matches("<circle")
                .count()
        };
        assert_eq!(count(150.0), count(90.0) + 1);
    }
}
