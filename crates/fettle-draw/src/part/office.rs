//! The drawing office's pen, in millimetres of paper: line types of ISO 128, dimensions with arrows, hatching.

use fettle_measure::gear::Point;

use crate::lettering::width_of;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, escape};

use super::decimal;

/// Height of dimensions' letters.
pub(super) const LETTERS: f64 = 2.8;
const ARROW_LONG: f64 = 2.5;
const ARROW_WIDE: f64 = 0.8;
/// Between a dimension's line and its words.
const ABOVE: f64 = 0.8;
/// How far an extension line stands off the part, and out past its dimension's line.
const OFF: f64 = 0.6;
const PAST: f64 = 1.2;
/// Room that words need between arrows.
const ROOM: f64 = 2.0 * ARROW_LONG + 2.0;
const HATCH: f64 = 2.2;

/// A line's type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Line {
    /// Edges that are seen.
    Wide,
    /// Dimensions, hatching, tables.
    Narrow,
    /// Centre lines and pitch circles.
    Chain,
}

impl Line {
    const fn stroke(self) -> &'static str {
        match self {
            Self::Wide => "stroke-width=\"0.5\" stroke-linejoin=\"round\"",
            Self::Narrow => "stroke-width=\"0.2\"",
            Self::Chain => "stroke-width=\"0.2\" stroke-dasharray=\"5 0.8 0.5 0.8\"",
        }
    }
}

/// One sheet in the making.
pub(super) struct Office {
    body: String,
    ink: &'static str,
}

impl Office {
    pub(super) fn new(sheet: Sheet) -> Self {
        Self {
            body: String::new(),
            ink: sheet.tone(Tone::Ink),
        }
    }

    pub(super) fn into_body(self) -> String {
        self.body
    }

    pub(super) fn path(&mut self, data: &str, line: Line) {
        self.body.push_str(&format!(
            "<path d=\"{data}\" fill=\"none\" stroke=\"{}\" {}/>\n",
            self.ink,
            line.stroke()
        ));
    }

    pub(super) fn line(&mut self, from: Point, to: Point, line: Line) {
        let data = format!("M{}L{}", written(from), written(to));
        self.path(&data, line);
    }

    pub(super) fn rect(&mut self, least: Point, most: Point, line: Line) {
        let [left, top] = least.map(|v| decimal(v, 3));
        let [right, bottom] = most.map(|v| decimal(v, 3));
        self.path(&format!("M{left} {top}H{right}V{bottom}H{left}Z"), line);
    }

    pub(super) fn circle(&mut self, centre: Point, radius: f64, line: Line) {
        let [x, y] = centre;
        let r = decimal(radius, 3);
        let (from, to) = (written([x - radius, y]), written([x + radius, y]));
        self.path(
            &format!("M{from}A{r} {r} 0 0 1 {to}A{r} {r} 0 0 1 {from}Z"),
            line,
        );
    }

    pub(super) fn text(&mut self, place: Point, anchor: Anchor, size: f64, words: &str) {
        self.write(place, anchor, size, words, "");
    }

    fn write(&mut self, [x, y]: Point, anchor: Anchor, size: f64, words: &str, extra: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        self.body.push_str(&format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\"{extra}>{}</text>\n",
            decimal(x, 3),
            decimal(y, 3),
            decimal(size, 2),
            escape(words)
        ));
    }

    /// Slanting lines over a rectangle.
    pub(super) fn hatch(&mut self, [left, top]: Point, [right, bottom]: Point) {
        let mut data = String::new();
        if !(right > left && bottom > top) {
            return;
        }
        // A sheet has room for a few hundred lines, however broken the figures.
        let (first, last) = ((left + top) / HATCH, (right + bottom) / HATCH);
        for n in 1..=((last - first).min(400.0) as u32) {
            let sum = (first.floor() + f64::from(n)) * HATCH;
            let (x0, x1) = ((sum - bottom).max(left), (sum - top).min(right));
            if x1 > x0 {
                data.push_str(&format!(
                    "M{}L{}",
                    written([x0, sum - x0]),
                    written([x1, sum - x1])
                ));
            }
        }
        if !data.is_empty() {
            self.path(&data, Line::Narrow);
        }
    }

    /// A dimension from left to right: of two places, on a level.
    pub(super) fn across(&mut self, a: Point, b: Point, level: f64, words: &str) {
        for [x, y] in [a, b] {
            let side = (level - y).signum();
            self.line([x, y + side * OFF], [x, level + side * PAST], Line::Narrow);
        }
        let (left, right) = (a[0].min(b[0]), a[0].max(b[0]));
        let width = width_of(words, LETTERS);
        let inside = right - left >= ROOM;
        self.arrows([left, level], [right, level], inside);
        let fits = right - left >= width + 1.0;
        let place = if fits {
            [f64::midpoint(left, right), level - ABOVE]
        } else {
            [right + ARROW_LONG + 1.5, level - ABOVE]
        };
        let anchor = if fits { Anchor::Middle } else { Anchor::Start };
        self.text(place, anchor, LETTERS, words);
        if !fits {
            self.line(
                [right, level],
                [right + ARROW_LONG + 1.0 + width, level],
                Line::Narrow,
            );
        }
    }

    /// A dimension up and down: of two places, beside them; its words read upwards.
    pub(super) fn upright(&mut self, a: Point, b: Point, aside: f64, words: &str) {
        for [x, y] in [a, b] {
            let side = (aside - x).signum();
            self.line([x + side * OFF, y], [aside + side * PAST, y], Line::Narrow);
        }
        let (top, bottom) = (a[1].min(b[1]), a[1].max(b[1]));
        let width = width_of(words, LETTERS);
        let inside = bottom - top >= ROOM;
        self.arrows([aside, top], [aside, bottom], inside);
        let fits = bottom - top >= width + 1.0;
        let (place, anchor) = if fits {
            ([aside - ABOVE, f64::midpoint(top, bottom)], Anchor::Middle)
        } else {
            ([aside - ABOVE, top - ARROW_LONG - 1.5], Anchor::Start)
        };
        let turn = format!(
            " transform=\"rotate(-90 {} {})\"",
            decimal(place[0], 3),
            decimal(place[1], 3)
        );
        self.write(place, anchor, LETTERS, words, &turn);
        if !fits {
            self.line(
                [aside, top],
                [aside, top - ARROW_LONG - 1.0 - width],
                Line::Narrow,
            );
        }
    }

    /// A dimension's line with its arrows between the ends, or outside where there is no room.
    fn arrows(&mut self, from: Point, to: Point, inside: bool) {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let long = dx.hypot(dy);
        if long <= 0.0 {
            return;
        }
        let (dx, dy) = (dx / long, dy / long);
        let out = if inside { 0.0 } else { ARROW_LONG + 1.5 };
        self.line(
            [from[0] - out * dx, from[1] - out * dy],
            [to[0] + out * dx, to[1] + out * dy],
            Line::Narrow,
        );
        let way = if inside { 1.0 } else { -1.0 };
        self.arrow(from, [way * dx, way * dy]);
        self.arrow(to, [-way * dx, -way * dy]);
    }

    /// An arrow whose point stands at `tip`, its shaft that way.
    pub(super) fn arrow(&mut self, tip: Point, [dx, dy]: Point) {
        let base = [tip[0] + ARROW_LONG * dx, tip[1] + ARROW_LONG * dy];
        let half = ARROW_WIDE / 2.0;
        self.body.push_str(&format!(
            "<path d=\"M{}L{}L{}Z\" fill=\"{}\"/>\n",
            written(tip),
            written([base[0] - half * dy, base[1] + half * dx]),
            written([base[0] + half * dy, base[1] - half * dx]),
            self.ink
        ));
    }
}

fn written([x, y]: Point) -> String {
    format!("{} {}", decimal(x, 3), decimal(y, 3))
}
