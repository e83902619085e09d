//! The tray: where everything lies, since when, and what in it does not agree.

use std::collections::BTreeMap;

use fettle_bench::Piece;
use jiff::Timestamp;
use maud::{Markup, html};

use super::context::Context;
use crate::{graphs, number, urls};

/// A pause from which on it is said where the work stopped.
const PAUSE_HOURS: f64 = 20.0;

/// The tray drawn, with what lies in it and the piece in hand; nothing when it is empty.
pub(crate) fn draw(context: &Context<'_>, in_hand: Option<&Piece>) -> Markup {
    let mut pieces: Vec<&Piece> = context.view.tray().collect();
    pieces.sort_by_key(|piece| (piece.what.cell.unwrap_or(u32::MAX), piece.at));
    html! {
        @if !pieces.is_empty() {
            section {
                h3 { "The tray" }
                (paused(context))
                (doubles(&pieces))
                div.chart.graph { (graphs::tray(&pieces, in_hand)) }
                details.more {
                    summary { "What lies in it, with notes and photographs" }
                    ul.lines { @for piece in &pieces { li { (line(piece)) } } }
                }
            }
        }
    }
}

fn line(piece: &Piece) -> Markup {
    html! {
        div.row {
            span {
                span.what { (piece.what.piece) }
                @if let Some(cell) = piece.what.cell { span.aside { " – cell " (cell) } } @else { span.aside { " – not in a cell" } }
                @if !piece.what.note.is_empty() { div.aside { (piece.what.note) } }
            }
            @if let Some(photo) = piece.what.photo { a href=(urls::photo(photo, "display")) { "Photograph" span.unseen { " of: " (piece.what.piece) } } }
        }
    }
}

/// After a longer pause: when work on it stopped, and with what.
fn paused(context: &Context<'_>) -> Markup {
    let came_off = context.view.pieces.iter().map(|it| (it.at, it, false));
    let went_back = context
        .view
        .pieces
        .iter()
        .filter_map(|it| Some((it.returned?, it, true)));
    let last = came_off.chain(went_back).max_by_key(|(at, ..)| *at);
    let Some((at, piece, back)) = last else {
        return html! {};
    };
    let hours = context.now.timestamp().duration_since(at).as_secs_f64() / 3600.0;
    html! {
        @if hours > PAUSE_HOURS {
            p {
                "Work stopped on " (day(context, at)) ": last, " strong { (piece.what.piece) } (if back { " went back." } else { " came off" })
                @if !back { @if let Some(cell) = piece.what.cell { " and was laid in cell " (cell) } "." }
            }
        }
    }
}

fn day(context: &Context<'_>, at: Timestamp) -> String {
    number::date(at.to_zoned_datetime(context.now.time_zone().clone()).date())
}

/// Cells that hold more than one piece, and pieces that lie in the tray twice.
fn doubles(pieces: &[&Piece]) -> Markup {
    let mut cells: BTreeMap<u32, Vec<&str>> = BTreeMap::new();
    let mut names: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for piece in pieces {
        let words = piece.what.piece.words.as_str();
        if let Some(cell) = piece.what.cell {
            cells.entry(cell).or_default().push(words);
        }
        let place = piece
            .what
            .cell
            .map_or_else(|| "no cell".to_owned(), |cell| format!("cell {cell}"));
        names.entry(piece.what.piece.key()).or_default().push(place);
    }
    let name = |key: &str| {
        let piece = pieces.iter().find(|piece| piece.what.piece.key() == key);
        piece.map_or_else(|| key.to_owned(), |piece| piece.what.piece.words.clone())
    };
    html! {
        @for (cell, held) in cells.iter().filter(|(_, held)| held.len() > 1) {
            p.needs-hand { "Cell " (cell) " holds " (held.len()) ": " (held.join(", ")) ". Keep them apart, or they are mixed up on the way back." }
        }
        @for (key, places) in names.iter().filter(|(_, places)| places.len() > 1) {
            p.needs-hand { (name(key)) " lies in the tray " (places.len()) " times (" (places.join(", ")) "). Undo the entry that is wrong, or give each its own words." }
        }
    }
}
