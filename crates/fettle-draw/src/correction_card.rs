//! A meter's correction card, to cut out and carry with the camera.

use fettle_measure::meter::{CardRow, Report};

use crate::lettering::wrapped;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, at};
use crate::written::signed_off;

/// CSS pixels in a millimetre: the card comes out in its true size, 85 × 54 mm.
const PX_PER_MM: f64 = 96.0 / 25.4;
const WIDTH: f64 = CorrectionCard::WIDTH_MM * PX_PER_MM;
const HEIGHT: f64 = CorrectionCard::HEIGHT_MM * PX_PER_MM;
const MARGIN: f64 = 11.0;
/// Where the rows stand.
const ROWS_TOP: f64 = 46.0;
const ROW: f64 = 13.2;
const ROWS_IN_COLUMN: usize = 9;
const MOST_COLUMNS: usize = 5;
/// With more columns than this each row has its figure alone, and the widest uncertainty stands below.
const COLUMNS_WITH_UNCERTAINTY: usize = 3;

/// What stands on a correction card.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CorrectionCard {
    /// The first line, such as `meter correction`.
    pub title: String,
    /// The camera, and the date where wanted.
    pub camera: String,
    /// The rows, rising.
    pub rows: Vec<CardRow>,
    /// Lines below the rows; the first two that fit are drawn.
    pub notes: Vec<String>,
}

impl CorrectionCard {
    /// The card's width.
    pub const WIDTH_MM: f64 = 85.0;
    /// The card's height.
    pub const HEIGHT_MM: f64 = 54.0;

    /// The card of a meter, with where it is right without it, and the knee where it has one.
    #[must_use]
    pub fn of_meter(report: &Report, title: &str, camera: &str) -> Self {
        let limit = signed_off(report.limit_stops, 2);
        let right = match report.usable_from_ev.zip(report.usable_to_ev) {
            Some((from, to)) => format!(
                "within {limit} stops without it from {} to {} EV of light",
                signed_off(from, 1),
                signed_off(to, 1)
            ),
            None => format!("nowhere within {limit} stops without it"),
        };
        let knee = report
            .knee_ev
            .map(|ev| format!("two pieces, knee at {} EV of light", signed_off(ev, 1)));
        Self {
            title: title.to_owned(),
            camera: camera.to_owned(),
            rows: report.card.clone(),
            notes: [Some(right), knee].into_iter().flatten().collect(),
        }
    }
}

/// Draws the card in its true size: for each EV shown the stops to add, with a line to cut along.
#[must_use]
pub fn correction_card(card: &CorrectionCard, sheet: Sheet) -> String {
    let name = format!("{}: {}", card.title, card.camera);
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &name, sheet);
    let edge = Area {
        left: 0.5,
        top: 0.5,
        right: WIDTH - 0.5,
        bottom: HEIGHT - 0.5,
    };
    drawing.rect(&edge, Tone::Paper, Pen::DASHED);
    for (y, size, words) in [(16.0, 11.0, &card.title), (28.0, 9.5, &card.camera)] {
        if let Some(line) = wrapped(words, size, WIDTH - 2.0 * MARGIN, 1).first() {
            drawing.text(at(MARGIN, y), Anchor::Start, size, line);
        }
    }
    drawing.line(at(MARGIN, 33.0), at(WIDTH - MARGIN, 33.0), Pen::BOLD);
    let rows = thinned(&card.rows);
    let columns = rows.len().div_ceil(ROWS_IN_COLUMN).max(1);
    draw_rows(&mut drawing, &rows, columns);
    draw_notes(&mut drawing, card, &rows, columns);
    drawing.finish()
}

/// The rows that the card has room for: every one, or every second, or every fourth, always those at whole EV.
fn thinned(rows: &[CardRow]) -> Vec<CardRow> {
    let drawable = |r: &&CardRow| r.indicated_ev.is_finite() && r.add_stops.is_finite();
    let mut rows: Vec<CardRow> = rows.iter().filter(drawable).copied().collect();
    let mut step = 1.0;
    while rows.len() > ROWS_IN_COLUMN * MOST_COLUMNS && step < 1e3 {
        rows.retain(|r| (r.indicated_ev / step - (r.indicated_ev / step).round()).abs() < 1e-6);
        step *= 2.0;
    }
    rows
}

fn draw_rows(drawing: &mut Drawing, rows: &[CardRow], columns: usize) {
    if rows.is_empty() {
        let words = "no correction can be told";
        drawing.text(at(MARGIN, ROWS_TOP + ROW), Anchor::Start, 9.5, words);
        return;
    }
    let wide = (WIDTH - 2.0 * MARGIN) / columns as f64;
    let long = rows.len().div_ceil(columns);
    let halves = rows.iter().any(|r| r.indicated_ev.fract().abs() > 1e-6);
    for (n, column) in rows.chunks(long).enumerate() {
        let left = MARGIN + n as f64 * wide;
        let shown = at(left + 27.0, 42.0);
        drawing.text(shown, Anchor::End, 7.5, "shows");
        drawing.text(at(left + 62.0, 42.0), Anchor::End, 7.5, "add");
        if n > 0 {
            let x = left - 2.0;
            let bottom = ROWS_TOP + ROW * long as f64 + 2.0;
            drawing.line(at(x, 37.0), at(x, bottom), Pen::HAIR);
        }
        for (i, row) in column.iter().enumerate() {
            let y = ROWS_TOP + ROW * (i as f64 + 0.75);
            let ev = signed_off(row.indicated_ev, usize::from(halves));
            drawing.text(at(left + 27.0, y), Anchor::End, 10.0, &ev);
            let add = added(row.add_stops);
            drawing.text(at(left + 62.0, y), Anchor::End, 10.0, &add);
            let u = row.add_stops_u.filter(|u| u.is_finite());
            if let (Some(u), true) = (u, columns <= COLUMNS_WITH_UNCERTAINTY) {
                let words = format!("± {}", signed_off(rounded_up(u), 1));
                drawing.text(at(left + 66.0, y), Anchor::Start, 8.0, &words);
            }
        }
    }
}

/// Stops to add to a tenth, with their sign.
fn added(stops: f64) -> String {
    let figure = signed_off(stops, 1);
    if figure.starts_with('−') || figure == "0.0" {
        figure
    } else {
        format!("+{figure}")
    }
}

/// An uncertainty to a tenth, never told smaller than it is, nor as none.
fn rounded_up(u: f64) -> f64 {
    ((u * 10.0 - 1e-9).ceil() / 10.0).max(0.1)
}

/// What the signs mean, what is uncertain, and the card's own notes, from the bottom up.
fn draw_notes(drawing: &mut Drawing, card: &CorrectionCard, rows: &[CardRow], columns: usize) {
    let mut lines = Vec::new();
    if !rows.is_empty() {
        let widest = rows
            .iter()
            .filter_map(|r| r.add_stops_u.filter(|u| u.is_finite()))
            .reduce(f64::max)
            .filter(|_| columns > COLUMNS_WITH_UNCERTAINTY);
        let within = widest
            .map(|u| format!(", ± {} or less", signed_off(rounded_up(u), 1)))
            .unwrap_or_default();
        lines.push(format!(
            "EV the meter shows; stops to add: + open up, − stop down{within}"
        ));
    }
    lines.extend(card.notes.iter().take(2).cloned());
    let first = HEIGHT - 8.0 - 9.0 * (lines.len().saturating_sub(1)) as f64;
    for (i, words) in lines.iter().enumerate() {
        if let Some(line) = wrapped(words, 7.0, WIDTH - 2.0 * MARGIN, 1).first() {
            let place = at(MARGIN, first + 9.0 * i as f64);
            drawing.text(place, Anchor::Start, 7.0, line);
        }
    }
}
