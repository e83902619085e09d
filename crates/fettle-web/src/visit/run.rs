//! A run of readings in a visit: register, rangefinder or meter against a limit of the service notes.

use fettle_bench::{Change, Phase, ReadingTaken};
use fettle_notes::{Limit, LimitId};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::readings;
use crate::form::Wrong;
use crate::instrument::{Instrument, Meter, Rangefinder, Register, cells, measured};
use crate::upload::Upload;

/// The form that takes a run against one limit; nothing where the limit is of another kind.
pub(crate) fn form(context: &Context<'_>, id: &LimitId, limit: &Limit) -> Markup {
    let name = limit.name();
    match limit {
        Limit::Meter(limit) => form_of::<Meter>(context, id, name, limit),
        Limit::Rangefinder(limit) => form_of::<Rangefinder>(context, id, name, limit),
        Limit::Register(limit) => form_of::<Register>(context, id, name, limit),
        Limit::Shutter(_) | Limit::Teeth(_) | Limit::Reading(_) | Limit::Check(_) => html! {},
    }
}

fn form_of<I: Instrument>(
    context: &Context<'_>,
    id: &LimitId,
    name: &str,
    limit: &I::Limit,
) -> Markup {
    let form = context.form_keyed(Deed::Run, id.as_str());
    let fields = html! {
        input type="hidden" name="limit" value=(id);
        p.quiet-text { (I::LEAD) }
        (I::caution())
        (readings::phases(context, &form))
        (cells(&form, I::COLUMNS, &I::holding(limit)))
        (I::at_hand(&form))
        div.fields { (form.line("method", "How it was taken").hint("instrument, place").class("wide").draw()) }
        div.acts { button.first { "Work it out and keep it" span.unseen { ": " (name) } } }
    };
    html! {
        details.more open[form.is_returned()] {
            summary { "Take a run of readings" }
            (context.around_files(Deed::Run, &form, &fields))
        }
    }
}

/// The reading that a run comes to.
pub(crate) fn run(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = sent.wrong.clone();
    let id = sent.fields.text("limit");
    let limit = context.notes().and_then(|notes| notes.limits.get(id));
    let phase = readings::phase(&sent.fields, &mut wrong);
    let taken = match (limit, phase) {
        (Some(Limit::Meter(limit)), Some(phase)) => {
            taken::<Meter>(context, sent, phase, id, limit, &mut wrong)
        }
        (Some(Limit::Rangefinder(limit)), Some(phase)) => {
            taken::<Rangefinder>(context, sent, phase, id, limit, &mut wrong)
        }
        (Some(Limit::Register(limit)), Some(phase)) => {
            taken::<Register>(context, sent, phase, id, limit, &mut wrong)
        }
        (Some(_), None) => None,
        _ => {
            wrong.note(
                "",
                format!("the service notes have no limit “{id}” that a run of readings can be held against"),
            );
            None
        }
    };
    match taken {
        Some(taken) if wrong.is_empty() => {
            let method = sent.fields.text("method");
            let method = match (method, taken.method.as_str()) {
                ("", of_run) => of_run.to_owned(),
                (typed, of_run) => format!("{typed}; {of_run}"),
            };
            Ok(vec![ReadingTaken { method, ..taken }.into()])
        }
        _ => Err(wrong),
    }
}

fn taken<I: Instrument>(
    context: &Context<'_>,
    sent: &Upload,
    phase: Phase,
    id: &str,
    limit: &I::Limit,
    wrong: &mut Wrong,
) -> Option<ReadingTaken> {
    let report = measured::<I>(sent, I::options(limit), wrong)?;
    match I::reading(context.visit(), phase, &report, id) {
        Ok(reading) => Some(reading),
        Err(error) => {
            wrong.note("", error.to_string());
            None
        }
    }
}
