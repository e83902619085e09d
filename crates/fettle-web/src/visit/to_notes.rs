//! A fault or a sign in own words, made known to the service notes from the visit.

use fettle_bench::{Change, Fault, FaultIs, FaultRecorded, Kept, SignObserved, Term, Undo};
use fettle_notes::{FaultId, FaultKind, ServiceNotes, WorkId, new_fault, new_sign};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use crate::form::Wrong;
use crate::upload::Upload;

/// Offered with a fault that the notes do not have.
pub(crate) fn offer_fault(context: &Context<'_>, notes: &ServiceNotes, fault: &Fault) -> Markup {
    let form = context.form_keyed(Deed::FaultToNotes, &fault.id.to_string());
    let works = notes.works.iter();
    let works = works
        .map(|(id, work)| (id.to_string(), work.name.clone()))
        .collect();
    html! {
        details.more open[form.is_returned()] {
            summary { "Add it to the service notes" }
            (context.around(Deed::FaultToNotes, &form, &html! {
                input type="hidden" name="fault" value=(fault.id);
                div.fields {
                    (form.choice("cured_by", "Cured by", works).draw())
                    div.acts { button { "Add it to the notes" } }
                }
            }))
        }
    }
}

/// Offered with a sign that the notes do not have.
pub(crate) fn offer_sign(
    context: &Context<'_>,
    notes: &ServiceNotes,
    sign: &Kept<SignObserved>,
) -> Markup {
    let form = context.form_keyed(Deed::SignToNotes, &sign.entry.to_string());
    let faults = notes.faults.iter();
    let faults = faults
        .map(|(id, fault)| (id.to_string(), fault.name.clone()))
        .collect();
    html! {
        details.more open[form.is_returned()] {
            summary { "Add it to the service notes" }
            (context.around(Deed::SignToNotes, &form, &html! {
                input type="hidden" name="sign" value=(sign.entry);
                div.fields {
                    (form.choice("shows", "It speaks for", faults).draw())
                    (form.line("at", "Where it is seen").holding("the whole camera").draw())
                    div.acts { button { "Add it to the notes" } }
                }
            }))
        }
    }
}

/// The notes of the visit's camera, with their name.
fn notes_of<'a>(
    context: &'a Context<'_>,
    wrong: &mut Wrong,
) -> Option<(&'a str, &'a ServiceNotes)> {
    let id = context.view.camera.details.notes_id.as_deref();
    let found = id.zip(context.notes());
    if found.is_none() {
        wrong.note("", "there are no service notes for this model to add to");
    }
    found
}

pub(crate) fn fault(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let wanted = fields.text("fault");
    let faults = context.view.faults.iter();
    let kept = faults
        .rev()
        .find(|fault| fault.id.to_string() == wanted && fault.what.fault.id.is_none());
    let Some((id, notes)) = notes_of(context, &mut wrong) else {
        return Err(wrong);
    };
    let Some(kept) = kept else {
        wrong.note(
            "",
            "this visit has no such fault in own words; reload the page and look again",
        );
        return Err(wrong);
    };
    let work = WorkId::new(fields.text("cured_by"))
        .ok()
        .filter(|work| notes.works.contains(work));
    let Some(work) = work else {
        wrong.note("cured_by", "choose the work that cures it; one that the notes do not have must first be written there");
        return Err(wrong);
    };
    let is = match kept.what.is {
        FaultIs::Cause => FaultKind::Cause,
        FaultIs::Damage => FaultKind::Damage,
    };
    let name = &kept.what.fault.words;
    let Some(added) = new_fault(notes, name, is, &work) else {
        wrong.note(
            "",
            format!("“{name}” has no letter to make an id of; record it in other words first"),
        );
        return Err(wrong);
    };
    extend(context, id, &added.text, wrong)?;
    let recorded = FaultRecorded {
        fault: Term::known(added.id.as_str(), name),
        ..kept.what.clone()
    };
    Ok(vec![Undo { entry: kept.entry }.into(), recorded.into()])
}

pub(crate) fn sign(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let wanted = fields.text("sign");
    let mut signs = context.view.signs.iter();
    let kept = signs.find(|kept| kept.entry.to_string() == wanted && kept.what.sign.id.is_none());
    let Some((id, notes)) = notes_of(context, &mut wrong) else {
        return Err(wrong);
    };
    let Some(kept) = kept else {
        wrong.note(
            "",
            "this visit has no such observation in own words; reload the page and look again",
        );
        return Err(wrong);
    };
    let at = wrong.needed(fields, "at", "where it is seen");
    let shows = FaultId::new(fields.text("shows"))
        .ok()
        .filter(|fault| notes.faults.contains(fault));
    let Some(shows) = shows else {
        wrong.note("shows", "choose the fault that it speaks for; add that fault to the notes first if they do not have it");
        return Err(wrong);
    };
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let question = &kept.what.sign.words;
    let Some(added) = new_sign(notes, question, &at, &shows) else {
        wrong.note(
            "",
            format!("“{question}” has no letter to make an id of; note it in other words first"),
        );
        return Err(wrong);
    };
    extend(context, id, &added.text, wrong)?;
    let observed = SignObserved {
        sign: Term::known(added.id.as_str(), question),
        ..kept.what.clone()
    };
    Ok(vec![Undo { entry: kept.entry }.into(), observed.into()])
}

fn extend(context: &Context<'_>, id: &str, text: &str, mut wrong: Wrong) -> Result<(), Wrong> {
    context.bench.extend_notes(id, text).map_err(|error| {
        wrong.note("", error.to_string());
        wrong
    })
}
