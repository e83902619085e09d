//! Put back: the reverse of the way in, with lubricant and alignment; the tray must come out empty.

use fettle_bench::{Change, Piece, PieceId, PieceReturned, Stage};
use fettle_notes::{Removal, ServiceNotes};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::looked_over::go_on;
use super::section::Section;
use super::tray;
use super::way::{back_in_order, shut_in, strip};
use crate::form::Wrong;
use crate::upload::Upload;
use crate::{drawings, named, number, urls};

pub(crate) fn result(context: &Context<'_>) -> String {
    let back = context
        .view
        .pieces
        .iter()
        .filter(|piece| piece.returned.is_some())
        .count();
    let out = context.view.tray().count();
    match (back, out) {
        (0, 0) => String::new(),
        (_, 0) => "the tray came out empty".to_owned(),
        (_, out) => format!(
            "{} still in the tray",
            number::count(out, "piece", "pieces")
        ),
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let order = back_in_order(&context.view, context.notes());
    let asked = context.asked.step.as_deref();
    let next = order
        .iter()
        .find(|piece| asked == Some(piece.id.to_string().as_str()))
        .or(order.first());
    html! {
        @if let Some(next) = next {
            @let others: Vec<&Piece> = order.iter().copied().filter(|piece| piece.id != next.id).collect();
            (step(context, next))
            (tray::draw(context, Some(next)))
            @if !others.is_empty() {
                section {
                    h3 { "Then" }
                    ol.steps {
                        @for (n, piece) in others.iter().enumerate() {
                            @let shut = shut_in_names(context, piece);
                            li {
                                span.n { (n + 2) }
                                span {
                                    (piece.what.piece) @if let Some(cell) = piece.what.cell { span.aside { " – cell " (cell) } }
                                    @if !shut.is_empty() { span.aside { " – after " (shut) } }
                                }
                                a.button.quiet href=(urls::back(context.visit(), piece.id)) { "Take in hand" span.unseen { ": " (piece.what.piece) } }
                            }
                        }
                    }
                }
            }
        } @else if context.view.pieces.is_empty() {
            p.empty { "Nothing was taken off." }
        } @else {
            p { "The tray is empty: " (number::count(context.view.pieces.len(), "piece", "pieces")) " came off and went back." }
        }
        @if context.view.line.stage == Stage::Apart {
            @if order.is_empty() { (go_on(context, Stage::Together, "Together: go on to the proof")) }
            @else { p.quiet-text { "The visit moves on when the tray is empty." } }
        }
    }
}

/// What a piece would shut in if it went back now.
fn shut_in_names(context: &Context<'_>, piece: &Piece) -> String {
    context.notes().map_or_else(String::new, |notes| {
        named::parts(notes, shut_in(&strip(&context.view, notes), piece))
    })
}

fn removal<'a>(notes: Option<&'a ServiceNotes>, piece: &Piece) -> Option<&'a Removal> {
    notes?.removals.get(piece.what.piece.id.as_deref()?)
}

fn step(context: &Context<'_>, piece: &Piece) -> Markup {
    let form = context.form(Deed::Returned);
    let removal = removal(context.notes(), piece);
    let key = context.is_open(Section::PutBack);
    let shut = shut_in_names(context, piece);
    html! {
        section.step aria-label="The step in hand" {
            p.step-title { "Put back: " (piece.what.piece) }
            @if !shut.is_empty() {
                div.caution { p { strong { "Out of its order" } " – it would shut in " (shut) ", still in the tray: that goes back first, or this comes off again." } }
            }
            dl.facts {
                @if let Some(cell) = piece.what.cell { dt { "From tray cell" } dd { (cell) } }
                @if !piece.what.note.is_empty() { dt { "Noted when it came off" } dd { (piece.what.note) } }
                @if let Some(removal) = removal {
                    dt { "Side up" } dd { (removal.side) }
                    @if let Some(tool) = &removal.tool { dt { "Tool" } dd { (tool) } }
                    @if let Some(lubricant) = &removal.back.lubricant { dt { "Lubricate" } dd { (lubricant) } }
                    @if let Some(align) = &removal.back.align { dt { "Align" } dd { (align) } }
                }
            }
            @if let Some(removal) = removal {
                @if let Some(caution) = &removal.back.caution { div.caution { p { strong { "Caution" } " – " (caution) } } }
                @if let Some(caution) = &removal.caution { div.caution { p { strong { "Caution" } " from the way in – " (caution) } } }
                (drawings::fasteners(removal))
            }
            (context.around(Deed::Returned, &form, &html! {
                input type="hidden" name="piece" value=(piece.id);
                (form.line("note", "Note").draw())
                div.acts { button.next.large data-step=[key.then_some("done")] { "Done: it is back" } @if key { span.quiet-text { "The Enter key does the same." } } }
            }))
        }
    }
}

pub(crate) fn returned(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let Ok(piece) = sent.fields.text("piece").parse::<i64>() else {
        wrong.note("", "the form does not say which piece went back");
        return Err(wrong);
    };
    let note = sent.fields.text("note").to_owned();
    Ok(vec![
        PieceReturned {
            visit: context.visit(),
            piece: PieceId::new(piece),
            note,
        }
        .into(),
    ])
}
