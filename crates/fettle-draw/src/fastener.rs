//! Screws, nuts and rings drawn to scale, for the step at which they come out.

use crate::fastener_form::{Form, FormPart, NutForm, ScrewHead};
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at, number};
use crate::written::signed_off;

const WIDTH: f64 = 300.0;
const HEIGHT: f64 = 176.0;
/// Where the axis of the fastener lies.
const AXIS: f64 = 66.0;
/// Room for the views: between the two, and the greatest extent either way.
const GAP: f64 = 34.0;
const WIDEST: f64 = 250.0;
const TALLEST: f64 = 88.0;
/// CSS pixels to the millimetre: 96 to the inch.
const PX_PER_MM: f64 = 96.0 / 25.4;
/// The enlargements of technical drawing (ISO 5455), the largest first.
const SCALES: [(f64, &str); 8] = [
    (20.0, "20 : 1"),
    (10.0, "10 : 1"),
    (5.0, "5 : 1"),
    (2.0, "2 : 1"),
    (1.0, "1 : 1"),
    (0.5, "1 : 2"),
    (0.2, "1 : 5"),
    (0.1, "1 : 10"),
];
/// What a fastener of unknown size is drawn as; the drawing then says that it is not to scale.
const ASSUMED_THREAD_MM: f64 = 2.0;
/// Sizes beyond these are taken for a slip of the pen and not drawn to scale.
const SIZES_MM: std::ops::RangeInclusive<f64> = 0.2..=120.0;

/// What kind of fastener it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FastenerKind {
    /// A screw with the form of its head.
    Screw(ScrewHead),
    /// A nut with its form.
    Nut(NutForm),
    /// A threaded ring, turned by two notches.
    Ring,
    /// A plain pin.
    Pin,
}

/// Fasteners of one sort at one step.
#[derive(Debug, Clone, PartialEq)]
pub struct Fastener {
    /// What it is.
    pub kind: FastenerKind,
    /// The thread as it is written, `M1.7`; empty when not known. The first number in it is the diameter in mm.
    pub thread: String,
    /// Length in mm: under the head, of a countersunk screw over all. `None` when not known.
    pub length_mm: Option<f64>,
    /// How many.
    pub count: u32,
    /// Whether the thread is left-handed, so that it loosens clockwise.
    pub left_hand: bool,
}

/// The diameter that a written thread names: the first number in it, in mm.
///
/// ```
/// assert_eq!(fettle_draw::thread_diameter_mm("M1.7×0.35"), Some(1.7));
/// assert_eq!(fettle_draw::thread_diameter_mm("fine"), None);
/// ```
#[must_use]
pub fn thread_diameter_mm(thread: &str) -> Option<f64> {
    let from = thread.find(|c: char| c.is_ascii_digit())?;
    let rest = &thread[from..];
    let to = rest
        .find(|c: char| !(c.is_ascii_digit() || c == '.'))
        .unwrap_or(rest.len());
    rest[..to].trim_end_matches('.').parse().ok()
}

/// Draws a fastener from its end and from the side, with its sizes, its count and the way it loosens.
///
/// Head sizes follow the usual proportions of their form (ISO 1207, 2009, 1580, 4017, 4032), since notes give thread
/// and length only. Threads are drawn as ISO 6410-1 shows them. The scale is written beside the drawing.
#[must_use]
pub fn fastener(fastener: &Fastener, sheet: Sheet) -> String {
    let words = words_of(fastener);
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &words.join(", "), sheet);
    let thread_mm = thread_diameter_mm(&fastener.thread).filter(|d| SIZES_MM.contains(d));
    let length_mm = fastener.length_mm.filter(|l| SIZES_MM.contains(l));
    let form = Form::new(
        fastener.kind,
        thread_mm.unwrap_or(ASSUMED_THREAD_MM),
        length_mm,
    );
    let (scale, scale_name) = scale_for(&form);
    let px = scale * PX_PER_MM;

    let left = (WIDTH - form.end_mm() * px - GAP - form.side_mm() * px) / 2.0;
    let centre = at(left + form.end_mm() * px / 2.0, AXIS);
    draw_end(&mut drawing, &form, centre, px);
    if fastener.kind != FastenerKind::Pin {
        draw_turn(
            &mut drawing,
            centre,
            form.end_mm() * px / 2.0 + 7.0,
            fastener.left_hand,
        );
    }
    let side = left + form.end_mm() * px + GAP;
    let axis_end = at(side + form.side_mm() * px + 8.0, AXIS);
    drawing.line(at(side - 8.0, AXIS), axis_end, Pen::CENTRE);
    draw_side(&mut drawing, &form, side, px);
    if let Some(length) = length_mm {
        draw_length(&mut drawing, &form, side, px, length);
    }

    for (line, y) in words.iter().zip([HEIGHT - 24.0, HEIGHT - 8.0]) {
        drawing.text(at(10.0, y), Anchor::Start, 12.0, line);
    }
    let scale_words = if thread_mm.is_some() && (length_mm.is_some() || !form.has_length()) {
        format!("drawn {scale_name}")
    } else {
        "not to scale".to_owned()
    };
    drawing.text(
        at(WIDTH - 10.0, HEIGHT - 24.0),
        Anchor::End,
        10.0,
        &scale_words,
    );
    drawing.finish()
}

/// The count and sizes, then the way it loosens.
fn words_of(fastener: &Fastener) -> Vec<String> {
    let mut size = String::new();
    if !fastener.thread.is_empty() {
        size.push_str(&fastener.thread);
    }
    if let Some(length) = fastener.length_mm.filter(|l| l.is_finite()) {
        let length = format!("{} mm", number(length.clamp(-1e6, 1e6)));
        size = if size.is_empty() {
            length
        } else {
            format!("{size} × {length}")
        };
    }
    let noun = fastener.kind.noun(fastener.count);
    let first = if size.is_empty() {
        format!("{} {noun}", fastener.count)
    } else {
        format!("{} {noun}, {size}", fastener.count)
    };
    let turn = match (fastener.kind, fastener.left_hand) {
        (FastenerKind::Pin, _) => return vec![first],
        (_, false) => "loosens anticlockwise",
        (_, true) => "left-hand thread: loosens clockwise",
    };
    vec![first, turn.to_owned()]
}

impl FastenerKind {
    fn noun(self, count: u32) -> &'static str {
        let one = count == 1;
        match self {
            Self::Screw(head) => head.noun(one),
            Self::Nut(form) => form.noun(one),
            Self::Ring if one => "threaded ring",
            Self::Ring => "threaded rings",
            Self::Pin if one => "pin",
            Self::Pin => "pins",
        }
    }
}

fn scale_for(form: &Form) -> (f64, &'static str) {
    SCALES
        .into_iter()
        .find(|(scale, _)| {
            let px = scale * PX_PER_MM;
            (form.end_mm() + form.side_mm()) * px + GAP <= WIDEST && form.end_mm() * px <= TALLEST
        })
        .unwrap_or(SCALES[SCALES.len() - 1])
}

fn draw_end(drawing: &mut Drawing, form: &Form, centre: Point, px: f64) {
    for part in form.end_view() {
        draw_part(drawing, &part, centre, px);
    }
}

fn draw_side(drawing: &mut Drawing, form: &Form, left: f64, px: f64) {
    for part in form.side_view() {
        draw_part(drawing, &part, at(left, AXIS), px);
    }
}

fn draw_part(drawing: &mut Drawing, part: &FormPart, origin: Point, px: f64) {
    let place = |p: &Point| at(origin.x + p.x * px, origin.y + p.y * px);
    match part {
        FormPart::Outline(points) => {
            let points: Vec<Point> = points.iter().map(place).collect();
            drawing.outline(&points, Tone::Paper, Pen::BOLD);
        }
        FormPart::Thin(points) => {
            let points: Vec<Point> = points.iter().map(place).collect();
            drawing.polyline(&points, Pen::FINE);
        }
        FormPart::Circle(centre, radius) => {
            drawing.circle(place(centre), radius * px, Tone::Paper, Pen::BOLD);
        }
        FormPart::Hole(centre, radius) => {
            drawing.circle(place(centre), radius * px, Tone::Ink, Pen::FINE);
        }
    }
}

/// An arc with an arrow: the way the fastener loosens, seen from its head.
fn draw_turn(drawing: &mut Drawing, centre: Point, radius: f64, clockwise: bool) {
    let way = if clockwise { 1.0 } else { -1.0 };
    let on = |degrees: f64, r: f64| {
        let angle = (-90.0 + way * degrees).to_radians();
        at(centre.x + r * angle.cos(), centre.y + r * angle.sin())
    };
    let arc: Vec<Point> = (0..=20)
        .map(|i| on(-55.0 + 5.0 * f64::from(i), radius))
        .collect();
    drawing.polyline(&arc, Pen::FINE);
    let head = [
        on(58.0, radius),
        on(42.0, radius - 3.5),
        on(42.0, radius + 3.5),
    ];
    drawing.outline(&head, Tone::Ink, Pen::FINE);
}

fn draw_length(drawing: &mut Drawing, form: &Form, side: f64, px: f64, length: f64) {
    let from = side + form.length_from_mm() * px;
    let to = side + form.side_mm() * px;
    let y = AXIS + form.end_mm() * px / 2.0 + 12.0;
    let measured = Area {
        left: from,
        right: to,
        top: AXIS,
        bottom: y,
    };
    for x in [measured.left, measured.right] {
        drawing.line(at(x, y - 8.0), at(x, y + 4.0), Pen::HAIR);
        drawing.line(at(x - 2.5, y + 2.5), at(x + 2.5, y - 2.5), Pen::FINE);
    }
    drawing.line(at(from, y), at(to, y), Pen::FINE);
    let figure = signed_off(length, crate::written::shortest_decimals(length, 2));
    let middle = at(f64::midpoint(from, to), y + 13.0);
    drawing.text(middle, Anchor::Middle, 11.0, &figure);
}
