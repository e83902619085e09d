//! Apart: the way in, one step at a time.

use std::collections::HashSet;

use fettle_bench::{Change, PhotoId, PieceRemoved, Stage, Term};
use fettle_notes::{Hand, PartId, Removal, ServiceNotes};
use fettle_reason::{Missing, NoWay, Strip, Way, way};
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::looked_over::moved;
use super::section::Section;
use super::tray;
use super::way::{in_order, needed, off, strip};
use crate::form::Wrong;
use crate::upload::Upload;
use crate::{drawings, graphs, named, number, urls};

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
        (tray::draw(context, None))
        (own(context))
        @if matches!(context.view.line.stage, Stage::LookedOver | Stage::Quoted | Stage::Agreed) {
            p.quiet-text { "The first piece taken off moves the visit to “apart”." }
        }
    }
}

/// What must come off first: `wind knob, leather, and either top cover, or front plate and hood`.
fn behind(notes: &ServiceNotes, missing: &Missing<'_>) -> String {
    let mut all = named::parts(notes, missing.after.iter().copied());
    if !missing.either.is_empty() {
        let groups: Vec<String> = missing
            .either
            .iter()
            .map(|group| named::parts(notes, group.iter().copied()).replace(", ", " and "))
            .collect();
        let join = if all.is_empty() { "" } else { ", and " };
        all.push_str(&format!("{join}either {}", groups.join(", or ")));
    }
    all
}

/// The parts to reach: those that the address names, else what the work ahead needs.
fn wanted(context: &Context<'_>, notes: &ServiceNotes) -> Vec<PartId> {
    let asked = context.asked.to.as_deref().unwrap_or_default();
    let asked = asked.split(',').map(str::trim);
    let mut parts: Vec<PartId> = asked.filter_map(|id| PartId::new(id).ok()).collect();
    parts.retain(|part| notes.removals.contains(part));
    if parts.is_empty() {
        parts = needed(&context.view, notes);
    }
    parts
}

fn way_in(context: &Context<'_>, notes: &ServiceNotes) -> Markup {
    let off = off(&context.view);
    let wanted = wanted(context, notes);
    let found = way(notes, &wanted, &off);
    let strip = strip(&context.view, notes);
    let free = strip.can_come_off();
    let asked = context.asked.step.as_deref();
    let asked = asked.and_then(|part| notes.removals.entry(part));
    let next = found.as_ref().ok().and_then(|way| way.way_in.first());
    let in_hand = asked
        .filter(|(part, _)| !strip.is_off(part))
        .or_else(|| next.map(|leg| (leg.part, leg.removal)))
        .or_else(|| {
            let nothing_wanted = wanted.is_empty();
            let first = free.first().filter(|_| nothing_wanted)?;
            notes.removals.entry(*first)
        });
    let in_hand_part = in_hand.map(|(part, _)| part);
    html! {
        @if let Some((part, removal)) = in_hand { (step(context, notes, &strip, part, removal)) }
        (reached(context, notes, &wanted, &found, in_hand_part))
        @if context.is_open(Section::Apart) {
            @let on_the_way: Vec<&PartId> = found.iter().flat_map(|way| way.way_in.iter().map(|leg| leg.part)).collect();
            details.more {
                summary { "The order of removal, drawn" }
                div.chart.graph { (graphs::removals(notes, &context.shelves.removals, &strip, &wanted, &on_the_way, |part| Some(urls::step(context.visit(), part.as_str(), context.asked.to.as_deref())))) }
            }
        }
        details.more open[wanted.is_empty()] {
            summary { "All removals, in the order of the service notes" }
            (all(context, notes, &strip, in_hand_part))
        }
    }
}

/// The way of least minutes to what is wanted.
fn reached(
    context: &Context<'_>,
    notes: &ServiceNotes,
    wanted: &[PartId],
    found: &Result<Way<'_>, NoWay>,
    in_hand: Option<&PartId>,
) -> Markup {
    html! {
        section {
            h3 { "The way in" }
            @match found {
                _ if wanted.is_empty() => p.quiet-text { "Nothing recorded so far says what has to come off. Record the fault, quote a work, or choose a part to reach; the shortest way there is then shown." },
                Err(why) => p.error { (why) },
                Ok(way) if way.way_in.is_empty() => p { "The way to " strong { (named::parts(notes, wanted)) } " is open." },
                Ok(way) => {
                    p {
                        "To " strong { (named::parts(notes, wanted)) } ": " (number::count(way.way_in.len(), "removal", "removals")) ", about " (number::minutes(way.minutes))
                        "; turned over " (times(way.turnovers)) ", " (number::count(way.tool_changes as usize, "change of tool", "changes of tool")) "."
                        @if !way.exact { " There are very many alternatives; a shorter way may exist." }
                    }
                    ol.steps {
                        @for (n, leg) in way.way_in.iter().enumerate() {
                            li {
                                span.n { (n + 1) }
                                span {
                                    span.what { (named::part(notes, leg.part)) }
                                    span.aside { " – " (leg.removal.side) " up, " (number::minutes(leg.removal.minutes.to_f64())) @if let Some(tool) = &leg.removal.tool { ", " (tool) } }
                                    @if leg.removal.caution.is_some() { span.aside { " ▲ caution at this step" } }
                                }
                                (take(context, notes, leg.part, in_hand))
                            }
                        }
                    }
                    @if !way.disturbed.is_empty() {
                        p.aside { "To be proved again afterwards: " (named::settings(notes, way.disturbed.iter().map(|it| it.setting))) "." }
                    }
                }
            }
            (choose(context, notes))
        }
    }
}

fn times(count: u32) -> String {
    match count {
        0 => "not at all".to_owned(),
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        count => format!("{count} times"),
    }
}

/// Choosing another part to reach.
fn choose(context: &Context<'_>, notes: &ServiceNotes) -> Markup {
    let asked = context.asked.to.as_deref();
    html! {
        form.row-form method="get" action=(urls::visit(context.visit())) {
            input type="hidden" name="open" value="apart";
            label for="way-to" { "Reach" }
            select #way-to name="to" {
                option value="" { "what the repair needs" }
                @for part in notes.removals.ids() {
                    option value=(part) selected[asked == Some(part.as_str())] { (named::part(notes, part)) }
                }
            }
            button { "Show the way" }
        }
    }
}

fn take(
    context: &Context<'_>,
    notes: &ServiceNotes,
    part: &PartId,
    in_hand: Option<&PartId>,
) -> Markup {
    let to = context.asked.to.as_deref();
    html! {
        @if in_hand == Some(part) { span.needs-hand { "in hand" } }
        @else { a.button.quiet href=(urls::step(context.visit(), part.as_str(), to)) { "Take in hand" span.unseen { ": " (named::part(notes, part)) } } }
    }
}

/// Every removal of the notes; one whose turn has not come can be taken in hand all the same, with a warning at the step.
fn all(
    context: &Context<'_>,
    notes: &ServiceNotes,
    strip: &Strip<'_>,
    in_hand: Option<&PartId>,
) -> Markup {
    html! {
        ol.steps {
            @for (n, (part, _)) in in_order(notes).into_iter().enumerate() {
                @let missing = strip.missing_before(part);
                li {
                    span.n { (n + 1) }
                    @if strip.is_off(part) { span.off { (named::part(notes, part)) " – off" } span {} }
                    @else {
                        span {
                            @if missing.is_empty() { span.what { (named::part(notes, part)) } }
                            @else { (named::part(notes, part)) span.aside { " – behind " (behind(notes, &missing)) } }
                        }
                        (take(context, notes, part, in_hand))
                    }
                }
            }
        }
    }
}

/// What taking this part off before its turn endangers.
fn out_of_order(notes: &ServiceNotes, missing: &Missing<'_>) -> Markup {
    let first: Vec<(&PartId, &Removal)> = missing
        .after
        .iter()
        .chain(missing.either.iter().flatten())
        .copied()
        .filter_map(|part| notes.removals.entry(part))
        .collect();
    html! {
        div.caution {
            p { strong { "Out of its order" } " – by the notes " (behind(notes, missing)) " must be off first. Forcing it can bend or break what it hangs on." }
            @let cautions: Vec<_> = first.iter().filter_map(|(part, removal)| Some((part, removal.caution.as_ref()?))).collect();
            @if !cautions.is_empty() {
                ul { @for (part, caution) in cautions { li { (named::part(notes, part)) ": " (caution) } } }
            }
        }
    }
}

fn step(
    context: &Context<'_>,
    notes: &ServiceNotes,
    strip: &Strip<'_>,
    part: &PartId,
    removal: &Removal,
) -> Markup {
    let form = context.form_keyed(Deed::Removed, part.as_str());
    let cell = next_cell(context).to_string();
    let key = context.is_open(Section::Apart);
    let missing = strip.missing_before(part);
    let left = removal
        .fasteners
        .iter()
        .any(|fastener| fastener.handed == Hand::Left);
    html! {
        section.step aria-label="The step in hand" {
            p.step-title { "Take off: " (named::part(notes, part)) }
            @if !missing.is_empty() { (out_of_order(notes, &missing)) }
            dl.facts {
                @if let Some(known) = notes.parts.get(part) { @if !known.at.is_empty() { dt { "It sits" } dd { (known.at) } } }
                dt { "Side up" } dd { (removal.side) }
                @if let Some(tool) = &removal.tool { dt { "Tool" } dd { (tool) } }
                dt { "Takes about" } dd { (number::minutes(removal.minutes.to_f64())) }
                @if !removal.disturbs.is_empty() {
                    dt { "Disturbs" }
                    dd { (named::settings(notes, &removal.disturbs)) }
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
