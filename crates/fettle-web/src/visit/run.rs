//! A run of readings in a visit: register, rangefinder or meter against a limit of the service notes.

use fettle_bench::{
    Change, ReadingTaken, meter_options, meter_reading, rangefinder_options, rangefinder_reading,
    register_options, register_reading,
};
use fettle_notes::{Limit, LimitId};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::readings;
use crate::form::Wrong;
use crate::instrument::{Instrument, Meter, Rangefinder, Register, cells, measured};
use crate::number;
use crate::upload::Upload;

/// The form that takes a run against one limit; nothing where the limit is of another kind.
pub(crate) fn form(context: &Context<'_>, id: &LimitId, limit: &Limit) -> Markup {
    match limit {
        Limit::Meter(it) => {
            let (from, to) = (it.from_ev.ceil() as i32, it.to_ev.floor() as i32);
            let evs = (from..=to).map(|ev| vec![ev.to_string()]);
            form_of::<Meter>(context, id, limit, &evs.collect::<Vec<_>>())
        }
        Limit::Rangefinder(it) => {
            let at = it.distances_m.iter();
            let at = at.map(|distance| vec![number::plain(*distance)]);
            form_of::<Rangefinder>(context, id, limit, &at.collect::<Vec<_>>())
        }
        Limit::Register(it) => {
            // The middle and four places well inside the gate, the middle twice.
            let [w, h] = it.frame_mm;
            let (w, h) = ((w * 0.4).round(), (h * 0.4).round());
            let places = [(0.0, 0.0), (-w, h), (w, h), (w, -h), (-w, -h), (0.0, 0.0)];
            let places = places.map(|(x, y)| vec![number::plain(x), number::plain(y)]);
            form_of::<Register>(context, id, limit, &places)
        }
        Limit::Shutter(_) | Limit::Reading(_) | Limit::Check(_) => html! {},
    }
}

fn form_of<I: Instrument>(
    context: &Context<'_>,
    id: &LimitId,
    limit: &Limit,
    holding: &[Vec<String>],
) -> Markup {
    let form = context.form_keyed(Deed::Run, id.as_str());
    let fields = html! {
        input type="hidden" name="limit" value=(id);
        p.quiet-text { (I::LEAD) }
        (I::caution())
        (readings::phases(context, &form))
        (cells(&form, I::COLUMNS, holding))
        (I::at_hand(&form))
        div.fields { (form.line("method", "How it was taken").hint("instrument, place").class("wide").draw()) }
        div.acts { button.first { "Work it out and keep it" span.unseen { ": " (limit.name()) } } }
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
    let visit = context.visit();
    let told =
        |error: fettle_bench::BenchError, wrong: &mut Wrong| wrong.note("", error.to_string());
    let taken: Option<ReadingTaken> = match (limit, phase) {
        (Some(Limit::Meter(limit)), Some(phase)) => {
            measured::<Meter>(sent, meter_options(limit), &mut wrong).and_then(|report| {
                meter_reading(visit, phase, &report, Some(id))
                    .map_err(|error| told(error, &mut wrong))
                    .ok()
            })
        }
        (Some(Limit::Rangefinder(limit)), Some(phase)) => {
            let options = rangefinder_options(limit);
            measured::<Rangefinder>(sent, options, &mut wrong).and_then(|report| {
                rangefinder_reading(visit, phase, &report, Some(id))
                    .map_err(|error| told(error, &mut wrong))
                    .ok()
            })
        }
        (Some(Limit::Register(limit)), Some(phase)) => {
            measured::<Register>(sent, register_options(limit), &mut wrong).and_then(|report| {
                register_reading(visit, phase, &report, Some(id))
                    .map_err(|error| told(error, &mut wrong))
                    .ok()
            })
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
