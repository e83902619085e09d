//! The tray that parts lie in while a camera is apart.

use crate::lettering::wrapped;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, at};

/// Width of the sheet: what a page leaves on a tablet held upright.
const WIDTH: f64 = 748.0;
/// From the sheet's edge to the tray's outer edge, and the tray's rim.
const MARGIN: f64 = 2.0;
const RIM: f64 = 5.0;
/// Narrowest and widest cell; a tray of more columns than fit makes the sheet wider.
const LEAST_CELL: f64 = 84.0;
const MOST_CELL: f64 = 180.0;
const LEAST_HEIGHT: f64 = 64.0;
const LETTERS: f64 = 11.5;
const SMALL: f64 = 11.0;
const FIGURES: f64 = 14.0;
const LINE: f64 = 14.0;
const PADDING: f64 = 7.0;
/// Between two pieces of one cell.
const GAP: f64 = 5.0;
/// Lines of words for one piece.
const MOST_LINES: usize = 4;
/// The word beside the mark of a piece in hand.
const IN_HAND: &str = "in hand";
const EMPTY: &str = "empty";

/// A tray with its cells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tray {
    /// What the drawing shows, for a reader that cannot see it.
    pub title: String,
    /// Cells side by side; 0 counts as 1.
    pub columns: usize,
    /// The cells, row by row.
    pub cells: Vec<TrayCell>,
}

/// One cell of a [`Tray`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TrayCell {
    /// What stands on the cell, usually its number.
    pub label: String,
    /// What lies in it.
    pub pieces: Vec<TrayPiece>,
    /// Address that it leads to; drawn only when it begins with `/`, `?` or `#`.
    pub link: Option<String>,
}

/// What lies in a cell.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TrayPiece {
    /// The piece in words, with its count.
    pub words: String,
    /// Taken out of its cell and not yet in its place.
    pub in_hand: bool,
}

/// Draws the tray from above.
///
/// An empty cell is struck through and says so; a piece in hand has a dashed outline, a diamond and the words. Where the last
/// row has fewer cells than columns the rest is hatched.
#[must_use]
pub fn tray(tray: &Tray, sheet: Sheet) -> String {
    let columns = tray.columns.clamp(1, tray.cells.len().max(1));
    let inner = WIDTH - 2.0 * (MARGIN + RIM);
    let cell = (inner / columns as f64).clamp(LEAST_CELL, MOST_CELL);
    let rows: Vec<(&[TrayCell], Vec<Filling>)> = tray
        .cells
        .chunks(columns)
        .map(|row| (row, row.iter().map(|c| Filling::of(c, cell)).collect()))
        .collect();
    let heights: Vec<f64> = rows
        .iter()
        .map(|(_, fillings)| {
            fillings
                .iter()
                .map(|f| f.height)
                .fold(LEAST_HEIGHT, f64::max)
        })
        .collect();
    let start = MARGIN + RIM;
    let floor = Area {
        left: start,
        right: start + cell * columns as f64,
        top: start,
        bottom: start + heights.iter().sum::<f64>().max(LINE),
    };
    let mut drawing = Drawing::of_parts(
        floor.right + start,
        floor.bottom + start,
        &tray.title,
        sheet,
    );
    drawing.rect(&floor.grown(RIM), Tone::Paper, Pen::BOLD);
    drawing.rect(&floor, Tone::Paper, Pen::FINE);
    let mut top = floor.top;
    for ((row, fillings), height) in rows.iter().zip(heights) {
        for (column, (cell_of, filling)) in row.iter().zip(fillings).enumerate() {
            let left = floor.left + column as f64 * cell;
            let area = Area {
                left,
                right: left + cell,
                top,
                bottom: top + height,
            };
            drawing.part(&told(cell_of), cell_of.link.as_deref(), |drawing| {
                draw_cell(drawing, &area, cell_of, filling);
            });
        }
        if row.len() < columns {
            let rest = Area {
                left: floor.left + row.len() as f64 * cell,
                top,
                right: floor.right,
                bottom: top + height,
            };
            drawing.hatch(&rest, 6.0);
        }
        top += height;
    }
    drawing.finish()
}

/// The lines of words in a cell, piece by piece, and the height that they need.
struct Filling {
    pieces: Vec<(Vec<String>, bool)>,
    height: f64,
}

impl Filling {
    fn of(cell: &TrayCell, width: f64) -> Self {
        let room = width - 2.0 * PADDING - 6.0;
        let pieces: Vec<(Vec<String>, bool)> = cell
            .pieces
            .iter()
            .map(|piece| {
                (
                    wrapped(&piece.words, LETTERS, room, MOST_LINES),
                    piece.in_hand,
                )
            })
            .collect();
        let words: f64 = pieces
            .iter()
            .map(|(lines, hand)| piece_height(lines, *hand) + GAP)
            .sum();
        Self {
            pieces,
            height: FIGURES + 2.0 * PADDING + words,
        }
    }
}

fn piece_height(lines: &[String], in_hand: bool) -> f64 {
    (lines.len() + usize::from(in_hand)) as f64 * LINE + if in_hand { 4.0 } else { 0.0 }
}

fn told(cell: &TrayCell) -> String {
    let pieces: Vec<String> = cell
        .pieces
        .iter()
        .map(|piece| {
            if piece.in_hand {
                format!("{}, {IN_HAND}", piece.words)
            } else {
                piece.words.clone()
            }
        })
        .collect();
    if pieces.is_empty() {
        format!("cell {}: {EMPTY}", cell.label)
    } else {
        format!("cell {}: {}", cell.label, pieces.join("; "))
    }
}

fn draw_cell(drawing: &mut Drawing, area: &Area, cell: &TrayCell, filling: &Filling) {
    drawing.rect(area, Tone::Paper, Pen::FINE);
    let label = wrapped(&cell.label, FIGURES, area.width() / 2.0, 1).concat();
    let base = area.top + PADDING + 10.0;
    if filling.pieces.is_empty() {
        drawing.line(
            at(area.left, area.bottom),
            at(area.right, area.top),
            Pen::HAIR,
        );
        drawing.text(
            at(area.right - PADDING, area.bottom - PADDING),
            Anchor::End,
            SMALL,
            EMPTY,
        );
    }
    drawing.text(
        at(area.left + PADDING, base),
        Anchor::Start,
        FIGURES,
        &label,
    );
    let mut top = base + 6.0;
    for (lines, in_hand) in &filling.pieces {
        let height = piece_height(lines, *in_hand);
        let mut y = top + 11.0;
        if *in_hand {
            let outline = Area {
                left: area.left + 4.0,
                right: area.right - 4.0,
                top,
                bottom: top + height,
            };
            drawing.rect(&outline, Tone::Paper, Pen::DASHED);
            draw_hand(drawing, area.left + PADDING + 5.0, y - 4.0);
            let words = at(area.left + PADDING + 15.0, y);
            drawing.text(words, Anchor::Start, SMALL, IN_HAND);
            y += LINE;
        }
        for line in lines {
            drawing.text(at(area.left + PADDING, y), Anchor::Start, LETTERS, line);
            y += LINE;
        }
        top += height + GAP;
    }
}

/// The mark of a piece in hand.
fn draw_hand(drawing: &mut Drawing, x: f64, y: f64) {
    let corners = [
        at(x - 5.0, y),
        at(x, y - 5.0),
        at(x + 5.0, y),
        at(x, y + 5.0),
    ];
    drawing.outline(&corners, Tone::Ink, Pen::FINE);
}
