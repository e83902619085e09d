//! Home: what came with it is ticked off, the parcel packed and sent.

use fettle_bench::{Change, Packed, Sent, Stage, Tick};
use maud::{Markup, html};

use super::context::{Context, date_field, or_wrong};
use super::deed::Deed;
use super::looked_over::{go_aside, moved};
use super::section::Section;
use crate::form::Wrong;
use crate::number;
use crate::upload::Upload;

pub(crate) fn result(context: &Context<'_>) -> String {
    let view = &context.view;
    if let Some(sent) = view.sent.last().filter(|_| view.line.stage == Stage::Home) {
        let by = if sent.what.carrier.is_empty() {
            "fetched".to_owned()
        } else {
            format!("by {}", sent.what.carrier)
        };
        return format!("{by} on {}", number::date(sent.what.on));
    }
    match view.line.stage {
        Stage::Home => "home".to_owned(),
        Stage::Packed => "packed; not sent yet".to_owned(),
        Stage::ReturnedUnrepaired => "goes back without having been repaired".to_owned(),
        _ => String::new(),
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let stage = context.view.line.stage;
    html! {
        @if let Some(packed) = &context.view.packed {
            section {
                h3 { "In the parcel" }
                ul.lines {
                    @for tick in &packed.what.ticks {
                        li { (tick.item) ": " @if tick.packed { "packed" } @else { strong { "not in the parcel" } } }
                    }
                }
                @if !packed.what.note.is_empty() { p.words { (packed.what.note) } }
                (context.undo_kept(packed, Section::Home))
            }
        }
        @if stage != Stage::Home { (pack_form(context)) }
        @for sent in &context.view.sent {
            p {
                @if sent.what.carrier.is_empty() { "Fetched by its owner" } @else { "Sent by " strong { (sent.what.carrier) } }
                " on " (number::date(sent.what.on))
                @if !sent.what.tracking.is_empty() { ", tracking number " span.mono { (sent.what.tracking) } }
                "."
            }
        }
        @if matches!(stage, Stage::Packed | Stage::ReturnedUnrepaired) { (send_form(context)) }
        @if stage == Stage::Home && context.view.sent.is_empty() { (send_form(context)) }
        @if stage == Stage::Quoted || stage == Stage::LookedOver {
            div { p.quiet-text { "When the owner does not want it repaired:" } (go_aside(context, Stage::ReturnedUnrepaired, "Return it unrepaired")) }
        }
    }
}

fn pack_form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Packed);
    let already = |item: &str| {
        context.view.packed.as_ref().is_some_and(|packed| {
            packed
                .what
                .ticks
                .iter()
                .any(|tick| tick.packed && tick.item == item)
        })
    };
    html! {
        section {
            h3 { "Pack it" }
            (context.around(Deed::Packed, &form, &html! {
                p.quiet-text { "Tick what came with it as it goes into the parcel." }
                div.ticks {
                    @for item in &context.view.arrival.came_with { (form.tick("item", item, item, already(item))) }
                    @if context.view.arrival.came_with.is_empty() { span.quiet-text { "Nothing came with it but the camera." } }
                }
                div.fields { (form.line("note", "Note").hint("what else is in the parcel, how it is padded").class("wide").draw()) }
                div.acts { button.next { "It is packed" } }
            }))
        }
    }
}

pub(crate) fn packed(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let ticked: Vec<&str> = sent.fields.all("item").collect();
    let ticks = context
        .view
        .arrival
        .came_with
        .iter()
        .map(|item| Tick {
            item: item.clone(),
            packed: ticked.contains(&item.trim()),
        })
        .collect();
    let note = sent.fields.text("note").to_owned();
    let mut changes: Vec<Change> = vec![
        Packed {
            ticks,
            note,
            ..Packed::new(context.visit())
        }
        .into(),
    ];
    if context.view.line.stage == Stage::Proved {
        changes.push(moved(context, Stage::Packed));
    }
    Ok(changes)
}

fn send_form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Sent);
    let today = context.today().to_string();
    html! {
        section {
            h3 { "Send it" }
            (context.around(Deed::Sent, &form, &html! {
                div.fields {
                    (form.line("carrier", "Carrier").hint("empty when the owner fetches it").class("third").draw())
                    (form.line("tracking", "Tracking number").class("third").draw())
                    (form.typed("on", "Day", "date").holding(&today).class("third").draw())
                }
                div.acts { button.next { "It is on its way home" } }
            }))
        }
    }
}

pub(crate) fn sent(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let Some(on) = date_field(fields, &mut wrong, "on", Some(context.today())) else {
        return Err(wrong);
    };
    let (carrier, tracking) = (
        fields.text("carrier").to_owned(),
        fields.text("tracking").to_owned(),
    );
    let mut changes = vec![
        Sent {
            visit: context.visit(),
            carrier,
            tracking,
            on,
            guarantee_days: None,
        }
        .into(),
    ];
    if context.view.line.stage != Stage::Home {
        changes.push(moved(context, Stage::Home));
    }
    or_wrong(changes, wrong)
}
