//! The frame of a chart: its two axes, the figures of the upright one, and what both count.

use crate::scale::{Scale, Ticks};
use crate::svg::{Anchor, Area, Drawing, Pen, at};
use crate::written::{signed, signed_off};

/// Size of the letters along an axis.
const LETTERS: f64 = 11.0;

/// Whether figures above zero carry their sign: errors do, readings do not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Signs {
    Both,
    Minus,
}

/// The axes with the figures of the upright one; through zero a line where errors are drawn.
pub(crate) fn draw_axes(
    drawing: &mut Drawing,
    plot: &Area,
    upright: &Scale,
    ticks: &Ticks,
    signs: Signs,
) {
    for &value in ticks.values() {
        let y = upright.place(value);
        drawing.line(at(plot.left - 4.0, y), at(plot.left, y), Pen::FINE);
        let figure = match signs {
            Signs::Both => signed(value, ticks.decimals()),
            Signs::Minus => signed_off(value, ticks.decimals()),
        };
        let place = at(plot.left - 7.0, y + 3.5);
        drawing.text(place, Anchor::End, LETTERS, &figure);
    }
    let corner = at(plot.left, plot.bottom);
    drawing.line(at(plot.left, plot.top), corner, Pen::FINE);
    drawing.line(corner, at(plot.right, plot.bottom), Pen::FINE);
    if signs == Signs::Both {
        let zero = upright.place(0.0);
        drawing.line(at(plot.left, zero), at(plot.right, zero), Pen::FINE);
    }
}

/// A tick below the plot, with its figure unless that is empty.
pub(crate) fn draw_tick(drawing: &mut Drawing, plot: &Area, x: f64, figure: &str) {
    drawing.line(at(x, plot.bottom), at(x, plot.bottom + 4.0), Pen::FINE);
    if !figure.is_empty() {
        let place = at(x, plot.bottom + 16.0);
        drawing.text(place, Anchor::Middle, LETTERS, figure);
    }
}

/// What the axes count: along the upright one, and under the plot at `below`.
pub(crate) fn draw_names(
    drawing: &mut Drawing,
    plot: &Area,
    upward: &str,
    across: &str,
    below: f64,
) {
    let middle = at(13.0, (plot.top + plot.bottom) / 2.0);
    drawing.text_upward(middle, Anchor::Middle, LETTERS, upward);
    let middle = at((plot.left + plot.right) / 2.0, below);
    drawing.text(middle, Anchor::Middle, LETTERS, across);
}
