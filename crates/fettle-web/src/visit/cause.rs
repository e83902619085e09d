//! Cause: what was found, what was ruled out; damage and what brought it on apart and linked.

use fettle_bench::{Change, Fault, FaultId, FaultIs, FaultRecorded, Found};
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::guarantee;
use super::likely;
use super::section::Section;
use super::term::Of;
use super::to_notes;
use crate::form::Wrong;
use crate::upload::Upload;

pub(crate) fn result(context: &Context<'_>) -> String {
    let found: Vec<_> = context
        .view
        .faults
        .iter()
        .filter(|fault| fault.what.found == Found::Found)
        .map(|fault| fault.what.fault.words.as_str())
        .collect();
    if !found.is_empty() {
        found.join("; ")
    } else if Section::now(&context.view) == Some(Section::Cause) {
        "what broke, and what made it break?".to_owned()
    } else {
        String::new()
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    html! {
        @if let Some(returned) = &context.view.guarantee { (guarantee::compared(returned)) }
        @if let Some(notes) = &context.notes { (likely::draw(context, notes)) }
        @else { p.quiet-text { "There are no service notes for this model, so nothing can be weighed. Record what you find." } }
        @for (found, title) in [(Found::Found, "Found"), (Found::Suspected, "Suspected"), (Found::RuledOut, "Ruled out")] {
            @let faults: Vec<_> = context.view.faults.iter().filter(|fault| fault.what.found == found).collect();
            @if !faults.is_empty() {
                section {
                    h3 { (title) }
                    ul.lines { @for fault in faults { li { (row(context, fault)) } } }
                }
            }
        }
        (form(context))
    }
}

fn row(context: &Context<'_>, fault: &Fault) -> Markup {
    let cause = fault
        .what
        .because_of
        .and_then(|id| context.view.faults.iter().find(|other| other.id == id));
    html! {
        div.row {
            span {
                span.what { (fault.what.fault) }
                " – " (fault.what.is)
                @if let Some(cause) = cause { ", brought on by " strong { (cause.what.fault) } }
                @if !fault.what.note.is_empty() { div.aside { (fault.what.note) } }
            }
            (context.undo(fault.entry, Section::Cause))
        }
        @if let Some(notes) = context.notes().filter(|_| fault.what.fault.id.is_none()) {
            (to_notes::offer_fault(context, notes, fault))
        }
    }
}

fn form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Fault);
    let mut because = vec![(String::new(), "not known, or nothing".to_owned())];
    because.extend(
        context
            .view
            .faults
            .iter()
            .map(|fault| (fault.id.to_string(), fault.what.fault.words.clone())),
    );
    html! {
        section {
            h3 { "Record a fault" }
            p.quiet-text { "The part that broke is rarely the cause. Record damage and cause each on its own, and link them." }
            (context.around(Deed::Fault, &form, &html! {
                div.fields {
                    (form.line("fault", "Fault").hint("from the service notes, or your own words").offering(Of::Fault.list()).needed().class("wide").draw())
                    (form.choice("is", "It is", vec![
                        (String::new(), "as the notes say, else damage".to_owned()),
                        (FaultIs::Damage.as_str().to_owned(), "damage: what broke".to_owned()),
                        (FaultIs::Cause.as_str().to_owned(), "a cause: what made it break".to_owned()),
                    ]).class("third").draw())
                    (form.choice("found", "How sure", vec![
                        (Found::Found.as_str().to_owned(), "found: seen".to_owned()),
                        (Found::Suspected.as_str().to_owned(), "suspected".to_owned()),
                        (Found::RuledOut.as_str().to_owned(), "ruled out: looked for, not there".to_owned()),
                    ]).class("third").draw())
                    (form.choice("because_of", "Brought on by", because).class("third").draw())
                    (form.line("note", "Note").class("wide").draw())
                }
                div.acts { button.first { "Record the fault" } }
            }))
        }
    }
}

pub(crate) fn fault(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let text = wrong.needed(fields, "fault", "the fault");
    let fault = Of::Fault.term(context.notes(), &text);
    let noted = context
        .notes()
        .zip(fault.id.as_deref())
        .and_then(|(notes, id)| notes.faults.get(id))
        .map(|fault| likely::is_of(fault.is));
    let is = FaultIs::from_text(fields.text("is"))
        .or(noted)
        .unwrap_or(FaultIs::Damage);
    let found = Found::from_text(fields.text("found")).unwrap_or(Found::Found);
    let because_of = match fields.some("because_of").map(|text| text.parse::<i64>()) {
        None => None,
        Some(Ok(id)) => Some(FaultId::new(id)),
        Some(Err(_)) => {
            wrong.note("because_of", "choose the fault from the list");
            None
        }
    };
    let note = fields.text("note").to_owned();
    let recorded = FaultRecorded {
        visit: context.visit(),
        fault,
        is,
        found,
        because_of,
        note,
    };
    or_wrong(vec![recorded.into()], wrong)
}
