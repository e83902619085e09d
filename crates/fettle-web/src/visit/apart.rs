//! Apart: the way in, one step at a time.

use std::collections::HashSet;

use fettle_bench::{Change, PhotoId, PieceRemoved, Stage, Term};
use fettle_notes::{Hand, PartId, Removal, ServiceNotes};
use fettle_reason::Missing;
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::looked_over::moved;
use super::section::Section;
use super::way::{in_order, strip};
use crate::form::Wrong;
use crate::upload::Upload;
use crate::{drawings, number, urls};

pub(crate) fn result(context: &Context<'_>) -> String {
    let taken = context.view.pieces.len();
    let out = context.view.tray().count();
    match (taken, out) {
        (0, _) if Section::now(&context.view) == Some(Section::Apart) => {
            "as far as needed and no further".to_owned()
        }
        (0, _) => String::new(),
        (taken, 0) => format!(
            "{} taken off, the tray is empty again",
            number::count(taken, "piece", "pieces")
        ),
        (_, out) => format!("{} in the tray", number::count(out, "piece", "pieces")),
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    html! {
        @if let Some(notes) = context.notes() { (way_in(context, notes)) }
        (own(context))
        @if matches!(context.view.line.stage, Stage::LookedOver | Stage::Quoted | Stage::Agreed) {
            p.quiet-text { "The first piece taken off moves the visit to “apart”." }
        }
    }
}

/// What must come off first: `wind knob, leather, and either top cover, or front plate and hood`.
fn behind(notes: &ServiceNotes, missing: &Missing<'_>) -> String {
    let names = |parts: &[&PartId], join: &str| {
        parts
            .iter()
            .map(|part| name(notes, part))
            .collect::<Vec<_>>()
            .join(join)
    };
    let mut all = names(&missing.after, ", ");
    if !missing.either.is_empty() {
        let groups: Vec<String> = missing
            .either
            .iter()
            .map(|group| names(group, " and "))
            .collect();
        let join = if all.is_empty() { "" } else { ", and " };
        all.push_str(&format!("{join}either {}", groups.join(", or ")));
    }
    all
}

fn name<'a>(notes: &'a ServiceNotes, part: &'a PartId) -> &'a str {
    notes
        .parts
        .get(part)
        .map_or(part.as_str(), |part| part.name.as_str())
}

fn way_in(context: &Context<'_>, notes: &ServiceNotes) -> Markup {
    let strip = strip(&context.view, notes);
    let order = in_order(notes);
    let wanted = context.step.as_deref();
    let free = strip.can_come_off();
    let in_hand = order
        .iter()
        .find(|(part, _)| wanted == Some(part.as_str()) && free.contains(part))
        .or_else(|| order.iter().find(|(part, _)| free.contains(part)));
    html! {
        @if let Some((part, removal)) = in_hand { (step(context, notes, part, removal)) }
        section {
            h3 { "The way in" }
            p.quiet-text { "In the order of the service notes. Take in hand whatever can come off; nothing needs to come off that is not in the way." }
            ol.steps {
                @for (n, (part, _)) in order.iter().enumerate() {
                    li {
                        span.n { (n + 1) }
                        @if strip.is_off(part) { span.off { (name(notes, part)) " – off" } span {} }
                        @else if !free.contains(part) {
                            span { (name(notes, part)) span.aside { " – behind " (behind(notes, &strip.missing_before(part))) } }
                            span {}
                        } @else {
                            span.what { (name(notes, part)) }
                            @if in_hand.is_some_and(|(now, _)| now == part) { span.needs-hand { "in hand" } }
                            @else { a.button href=(urls::step(context.visit(), part.as_str())) { "Take in hand" span.unseen { ": " (name(notes, part)) } } }
                        }
                    }
                }
            }
        }
    }
}

fn step(context: &Context<'_>, notes: &ServiceNotes, part: &PartId, removal: &Removal) -> Markup {
    let form = context.form_keyed(Deed::Removed, part.as_str());
    let cell = next_cell(context).to_string();
    let key = context.is_open(Section::Apart);
    let left = removal
        .fasteners
        .iter()
        .any(|fastener| fastener.handed == Hand::Left);
    html! {
        section.step aria-label="The step in hand" {
            p.step-title { "Take off: " (name(notes, part)) }
            dl.facts {
                @if let Some(known) = notes.parts.get(part) { @if !known.at.is_empty() { dt { "It sits" } dd { (known.at) } } }
                dt { "Side up" } dd { (removal.side) }
                @if let Some(tool) = &removal.tool { dt { "Tool" } dd { (tool) } }
                dt { "Takes about" } dd { (number::minutes(removal.minutes.to_f64())) }
                @if !removal.disturbs.is_empty() {
                    dt { "Disturbs" }
                    dd { (removal.disturbs.iter().map(|id| notes.settings.get(id).map_or(id.as_str(), |setting| setting.name.as_str())).collect::<Vec<_>>().join(", ")) }
                }
            }
            @if left { div.caution { p { strong { "Left-hand thread" } " – it loosens clockwise." } } }
            @if let Some(caution) = &removal.caution { div.caution { p { strong { "Caution" } " – " (caution) } } }
            (drawings::fasteners(removal))
            (context.around_files(Deed::Removed, &form, &html! {
                input type="hidden" name="piece" value=(part);
                div.fields {
                    (form.line("cell", "Tray cell").holding(&cell).class("short").draw())
                    (form.line("note", "Note").draw())
                    div.field.short {
                        label for="removed-photo" { "Photograph" }
                        input type="file" id="removed-photo" name="photo" accept="image/*" capture="environment" data-preview="removed-preview";
                    }
                }
                div.strip #removed-preview {}
                div.acts { button.next.large data-step=[key.then_some("done")] { "Done: it is off" } @if key { span.quiet-text { "The Enter key does the same." } } }
            }))
        }
    }
}

/// The lowest cell of the tray that nothing lies in.
fn next_cell(context: &Context<'_>) -> u32 {
    let taken: HashSet<u32> = context
        .view
        .tray()
        .filter_map(|piece| piece.what.cell)
        .collect();
    (1..).find(|cell| !taken.contains(cell)).unwrap_or(1)
}

fn own(context: &Context<'_>) -> Markup {
    let form = context.form_keyed(Deed::Removed, "");
    let cell = next_cell(context).to_string();
    html! {
        section {
            h3 { @if context.notes().is_some() { "A piece that the notes do not name" } @else { "Take a piece off" } }
            (context.around_files(Deed::Removed, &form, &html! {
                div.fields {
                    (form.line("words", "Piece, in your own words").draw())
                    (form.line("cell", "Tray cell").holding(&cell).class("short").draw())
                    (form.line("note", "Note").class("short").draw())
                }
                div.acts { button { "It is off" } }
            }))
        }
    }
}

pub(crate) fn removed(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = sent.wrong.clone();
    let fields = &sent.fields;
    let piece = match fields.some("piece") {
        Some(id) => match context
            .notes()
            .and_then(|notes| notes.parts.get(id.as_str()))
        {
            Some(part) => Term::known(id, &part.name),
            None => {
                wrong.note("piece", format!("the service notes have no part “{id}”"));
                Term::own(id)
            }
        },
        None => Term::own(wrong.needed(fields, "words", "the piece")),
    };
    let cell = wrong.whole(fields, "cell", "the tray cell");
    let note = fields.text("note").to_owned();
    let mut changes = context.keep_photos(sent, &mut wrong);
    let photo = (!changes.is_empty()).then_some(PhotoId::LATEST);
    if matches!(
        context.view.line.stage,
        Stage::Arrived | Stage::LookedOver | Stage::Quoted | Stage::Agreed
    ) {
        changes.insert(0, moved(context, Stage::Apart));
    }
    changes.push(
        PieceRemoved {
            visit: context.visit(),
            piece,
            cell,
            note,
            photo,
        }
        .into(),
    );
    or_wrong(changes, wrong)
}
