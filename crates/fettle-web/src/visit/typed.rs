//! Readings that are typed in: everything but exposure times.

use fettle_bench::{Instrument, Phase, ReadingRow, ReadingTaken, Verdict};
use fettle_measure::Verdict as Decided;
use fettle_notes::{Limit, LimitId};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::readings;
use crate::form::{Fields, Form, Wrong};
use crate::number;

/// A figure asked for: what it is of, its unit, what it should be, and how far it may be off.
struct Asked {
    name: String,
    unit: String,
    /// `None` when the figure typed is itself the deviation.
    target: Option<f64>,
    limit: f64,
}

fn asked(limit: &Limit) -> Vec<Asked> {
    let one = |name: &str, unit: &str, target: f64, limit: f64| {
        vec![Asked {
            name: name.to_owned(),
            unit: unit.to_owned(),
            target: Some(target),
            limit,
        }]
    };
    match limit {
        Limit::Register(it) => one(&it.name, "mm", it.target_mm, it.limit_mm),
        Limit::Reading(it) => one(&it.name, &it.unit, it.target, it.limit),
        Limit::Rangefinder(it) => {
            let at = |&distance: &f64| Asked {
                name: number::figure(distance, None, "m"),
                unit: "depths".to_owned(),
                target: None,
                limit: it.limit_depths,
            };
            it.distances_m.iter().map(at).collect()
        }
        Limit::Meter(it) => {
            let (from, to) = (it.from_ev.ceil() as i32, it.to_ev.floor() as i32);
            let at = |ev: i32| Asked {
                name: format!("EV {ev}"),
                unit: "stops".to_owned(),
                target: None,
                limit: it.limit_stops,
            };
            (from..=to).map(at).collect()
        }
        Limit::Shutter(_) | Limit::Check(_) => Vec::new(),
    }
}

pub(crate) fn form(context: &Context<'_>, id: &LimitId, limit: &Limit) -> Markup {
    let form = context.form_keyed(Deed::Reading, "limit", id.as_str());
    let asked = asked(limit);
    let fields = html! {
        input type="hidden" name="limit" value=(id);
        (readings::phases(context, &form))
        @if let Limit::Check(check) = limit {
            p { (check.question) }
            div.ticks { (form.radio("check", "yes", "yes", "")) (form.radio("check", "no", "no", "")) }
        } @else {
            div.table-wrap { table {
                thead { tr { th { "Of" } th { "Should be" } th { "Reading" } th { "Uncertainty (k = 2)" } } }
                tbody { @for (i, row) in asked.iter().enumerate() { (asked_row(&form, i, row)) } }
            } }
        }
        div.fields { (form.line("method", "How it was taken").hint("instrument, place").class("wide").draw()) }
        div.acts { button { "Record the reading" span.unseen { ": " (limit.name()) } } }
    };
    html! {
        details.more open[form.is_returned()] {
            summary { "Record a reading" }
            (context.around(Deed::Reading, &form, &fields))
        }
    }
}

fn asked_row(form: &Form, i: usize, row: &Asked) -> Markup {
    let should = match row.target {
        Some(target) => format!(
            "{} ± {}",
            number::figure(target, None, ""),
            number::figure(row.limit, None, &row.unit)
        ),
        None => format!(
            "off by at most {}",
            number::figure(row.limit, None, &row.unit)
        ),
    };
    html! {
        tr {
            th scope="row" { (row.name) }
            td { (should) }
            td { (form.cell(&format!("value.{i}"), &format!("{}: reading in {}", row.name, row.unit), "", None)) }
            td { (form.cell(&format!("u.{i}"), &format!("{}: uncertainty in {}", row.name, row.unit), "", None)) }
        }
    }
}

pub(crate) fn reading(context: &Context<'_>, fields: &Fields) -> Result<ReadingTaken, Wrong> {
    let mut wrong = Wrong::default();
    let id = fields.text("limit");
    let Some(limit) = context.notes().and_then(|notes| notes.limits.get(id)) else {
        wrong.note("", format!("the service notes have no limit “{id}”"));
        return Err(wrong);
    };
    let phase = readings::phase(fields, &mut wrong);
    let rows = if let Limit::Check(check) = limit {
        check_row(fields, &mut wrong, &check.question)
    } else {
        let asked = asked(limit);
        asked
            .iter()
            .enumerate()
            .filter_map(|(i, row)| figure_row(fields, &mut wrong, i, row))
            .collect()
    };
    if rows.is_empty() && wrong.is_empty() {
        wrong.note("value.0", "write at least one reading");
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    Ok(ReadingTaken {
        visit: context.visit(),
        phase: phase.unwrap_or(Phase::After),
        instrument: instrument(limit),
        limit_id: Some(id.to_owned()),
        rows,
        findings: Vec::new(),
        recording: None,
        method: fields.text("method").to_owned(),
        detail: None,
    })
}

fn check_row(fields: &Fields, wrong: &mut Wrong, question: &str) -> Vec<ReadingRow> {
    let verdict = match fields.text("check") {
        "yes" => Verdict::In,
        "no" => Verdict::Out,
        _ => {
            wrong.note("check", "answer the question with yes or no");
            return Vec::new();
        }
    };
    vec![ReadingRow {
        name: question.to_owned(),
        verdict: Some(verdict),
        ..ReadingRow::default()
    }]
}

fn figure_row(fields: &Fields, wrong: &mut Wrong, i: usize, row: &Asked) -> Option<ReadingRow> {
    let value = wrong.number(fields, &format!("value.{i}"), &row.name)?;
    let uncertainty = wrong.number(
        fields,
        &format!("u.{i}"),
        &format!("uncertainty of {}", row.name),
    );
    let error = value - row.target.unwrap_or(0.0);
    let verdict = match Decided::of(error, uncertainty.unwrap_or(0.0), row.limit) {
        Decided::In => Verdict::In,
        Decided::Out => Verdict::Out,
        Decided::Undecided => Verdict::Undecided,
    };
    Some(ReadingRow {
        name: row.name.clone(),
        unit: row.unit.clone(),
        nominal: row.target,
        value: row.target.map(|_| value),
        error: Some(error),
        error_unit: row.unit.clone(),
        uncertainty,
        limit: Some(row.limit),
        verdict: Some(verdict),
    })
}

fn instrument(limit: &Limit) -> Instrument {
    match limit {
        Limit::Shutter(_) => Instrument::Shutter,
        Limit::Register(_) => Instrument::Register,
        Limit::Rangefinder(_) => Instrument::Rangefinder,
        Limit::Meter(_) => Instrument::Meter,
        Limit::Reading(_) | Limit::Check(_) => Instrument::Other,
    }
}
