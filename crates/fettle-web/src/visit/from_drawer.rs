//! Parts taken from a drawer for this visit, and brought back.

use std::collections::HashSet;

use fettle_bench::{Change, Found, Kept, Lot, LotId, Money, PartFitted, PartTaken, Taken};
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::section::Section;
use crate::drawers::{back, lot_in_words};
use crate::form::Wrong;
use crate::upload::Upload;
use crate::urls;

/// What can be done with a part that was fitted: bring it back when it came from a drawer, and undo.
pub(super) fn acts(context: &Context<'_>, kept: &Kept<PartFitted>) -> Markup {
    let taken = context.view.taken.iter().find(|it| it.entry == kept.entry);
    html! {
        div.row-acts {
            @if let Some(taken) = taken { (back_form(context, taken)) }
            (context.undo_kept(kept, Section::Repaired))
        }
    }
}

fn back_form(context: &Context<'_>, taken: &Taken) -> Markup {
    let id = taken.id.to_string();
    let form = context.form_keyed(Deed::BringBack, &id);
    let pieces = taken.quantity.to_string();
    let drawers = match &taken.drawer {
        Some(_) => Vec::new(),
        None => context.bench.drawers().unwrap_or_default(),
    };
    context.around(
        Deed::BringBack,
        &form,
        &html! {
            input type="hidden" name="taken" value=(id);
            @if taken.quantity > 1 { (form.cell("quantity", "Pieces to bring back", &pieces, None)) }
            @if taken.drawer.is_none() {
                select name="drawer" aria-label="Drawer to bring it to" {
                    option value="" { "which drawer" }
                    @for drawer in &drawers { option value=(drawer.id) { (drawer.name) } }
                }
            }
            button { "Bring back" @if let Some((_, drawer)) = &taken.drawer { " to " (drawer) } }
            (form.error("quantity")) (form.error("drawer"))
        },
    )
}

pub(super) fn draw(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Take);
    let lots = context
        .bench
        .lots_for(&context.view.camera.details)
        .unwrap_or_default();
    let visit = context.visit();
    html! {
        section {
            h3 { "From a drawer" }
            @if lots.is_empty() {
                p.empty { "No drawer holds a part for this camera. " a href=(urls::DRAWERS) { "Look in all drawers" } }
            } @else {
                (context.around(Deed::Take, &form, &html! {
                    div.fields {
                        (form.choice("lot", "Part", choices(context, &lots)).needed().draw())
                        (form.line("quantity", "Pieces").holding("1").class("short").draw())
                        (form.line("price", "Charged for one").unit(context.settings.currency.as_str()).hint("empty when not").class("short").draw())
                        (form.line("note", "Note").draw())
                    }
                    div.acts {
                        button.first { "Take for visit " (visit) }
                        a href=(urls::DONORS) { "Take one off a donor" }
                    }
                }))
            }
        }
    }
}

/// The lots to choose from: what the works advised for the faults found use comes first.
fn choices(context: &Context<'_>, lots: &[Lot]) -> Vec<(String, String)> {
    let wanted = wanted(context);
    let own = context.view.camera.details.notes_id.as_deref();
    let is_wanted = |lot: &Lot| {
        let id = lot.of.part.id.as_deref();
        id.is_some_and(|id| wanted.contains(id))
    };
    let (first, rest): (Vec<&Lot>, Vec<&Lot>) = lots.iter().partition(|lot| is_wanted(lot));
    let mut choices = vec![(String::new(), "choose".to_owned())];
    choices.extend(first.iter().chain(&rest).map(|lot| {
        let other = lot.of.notes_id.as_deref().is_some_and(|id| Some(id) != own);
        let of = if other {
            format!(" of the {}, which fits", lot.of.model)
        } else {
            String::new()
        };
        let words = format!("{}{of}: {}", lot.of.part, lot_in_words(lot));
        (lot.id.to_string(), words)
    }));
    choices
}

/// The parts that the works use which cure the faults found.
fn wanted(context: &Context<'_>) -> HashSet<String> {
    let Some(notes) = context.notes() else {
        return HashSet::new();
    };
    let faults = context.view.faults.iter();
    faults
        .filter(|fault| fault.what.found == Found::Found)
        .filter_map(|fault| notes.faults.get(fault.what.fault.id.as_deref()?))
        .flat_map(|fault| &fault.cured_by)
        .filter_map(|work| notes.works.get(work.as_str()))
        .flat_map(|work| &work.parts)
        .map(|used| used.part.as_str().to_owned())
        .collect()
}

pub(super) fn take(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let lot = fields.text("lot").parse().ok().map(LotId::new);
    let quantity = wrong.whole(fields, "quantity", "the pieces").unwrap_or(1);
    let price = wrong.amount(fields, "price", "the price");
    let Some(lot) = lot else {
        wrong.note("lot", "choose the part");
        return Err(wrong);
    };
    let taken = PartTaken {
        lot,
        visit: Some(context.visit()),
        quantity,
        price: price.map(|amount| Money::new(amount, context.settings.currency)),
        note: fields.text("note").to_owned(),
    };
    or_wrong(vec![taken.into()], wrong)
}

pub(super) fn bring_back(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let taken = sent.fields.text("taken");
    let here = context
        .view
        .taken
        .iter()
        .any(|it| it.id.to_string() == taken);
    if !here {
        wrong.note(
            "",
            "this was brought back already, or was not taken for this visit",
        );
    }
    let change = back(&sent.fields, &mut wrong);
    or_wrong(change.into_iter().collect(), wrong)
}
