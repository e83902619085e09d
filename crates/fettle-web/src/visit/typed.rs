//! Readings that are typed in.

use fettle_bench::{Instrument, Phase, ReadingRow, ReadingTaken, Verdict};
use fettle_measure::{Marked, Seconds, Series};
use fettle_notes::{DialMark, DialSeries, Limit, LimitId, ShutterLimit};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::readings;
use crate::form::{Fields, Form, Wrong};
use crate::number;

/// A figure asked for: what it is of, and what it is held against.
struct Asked {
    name: String,
    against: Against,
}

/// What a typed figure is held against.
enum Against {
    /// The figure should be `target`, within `limit`, in `unit`.
    Target {
        unit: String,
        target: f64,
        limit: f64,
    },
    /// The figure is itself the deviation, at most `limit` in `unit`.
    Zero { unit: &'static str, limit: f64 },
    /// The figure is an exposure time in milliseconds.
    Exposure {
        nominal: Seconds,
        limit_stops: Option<f64>,
    },
}

impl Against {
    /// The unit in which the figure and its uncertainty are typed.
    fn unit(&self) -> &str {
        match self {
            Self::Target { unit, .. } => unit,
            Self::Zero { unit, .. } => unit,
            Self::Exposure { .. } => "ms",
        }
    }
}

fn asked(limit: &Limit) -> Vec<Asked> {
    let one = |name: &str, unit: &str, target: f64, limit: f64| {
        let against = Against::Target {
            unit: unit.to_owned(),
            target,
            limit,
        };
        vec![Asked {
            name: name.to_owned(),
            against,
        }]
    };
    match limit {
        Limit::Register(it) => one(&it.name, "mm", it.target_mm, it.limit_mm),
        Limit::Reading(it) => one(&it.name, &it.unit, it.target, it.limit),
        Limit::Rangefinder(it) => {
            let at = |&distance: &f64| Asked {
                name: number::figure(distance, None, "m"),
                against: Against::Zero {
                    unit: "depths",
                    limit: it.limit_depths,
                },
            };
            it.distances_m.iter().map(at).collect()
        }
        Limit::Meter(it) => {
            let (from, to) = (it.from_ev.ceil() as i32, it.to_ev.floor() as i32);
            let at = |ev: i32| Asked {
                name: format!("EV {ev}"),
                against: Against::Zero {
                    unit: "stops",
                    limit: it.limit_stops,
                },
            };
            (from..=to).map(at).collect()
        }
        Limit::Shutter(it) => it
            .marks
            .iter()
            .filter_map(|&dial| exposure_asked(it, dial))
            .collect(),
        Limit::Teeth(it) => vec![Asked {
            name: "the most worn tooth".to_owned(),
            against: Against::Zero {
                unit: "mm",
                limit: it.wear_mm,
            },
        }],
        Limit::Check(_) => Vec::new(),
    }
}

fn exposure_asked(limit: &ShutterLimit, dial: DialMark) -> Option<Asked> {
    let mark = Marked::fraction(dial.numerator(), dial.denominator())?;
    let series = match limit.series {
        DialSeries::Marked => Series::Marked,
        DialSeries::Geometric => Series::Geometric,
    };
    Some(Asked {
        name: mark.to_string(),
        against: Against::Exposure {
            nominal: mark.nominal(series),
            limit_stops: limit.tolerance_stops(dial),
        },
    })
}

pub(crate) fn form(context: &Context<'_>, id: &LimitId, limit: &Limit) -> Markup {
    let form = context.form_keyed(Deed::Reading, id.as_str());
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
            summary { @if matches!(limit, Limit::Shutter(_)) { "Type in times measured elsewhere" } @else { "Record a reading" } }
            @if !asked.is_empty() { p.quiet-text { "A reading without an uncertainty is kept but not judged." } }
            (context.around(Deed::Reading, &form, &fields))
        }
    }
}

fn asked_row(form: &Form, i: usize, row: &Asked) -> Markup {
    let should = match &row.against {
        Against::Target {
            unit,
            target,
            limit,
        } => format!(
            "{} ± {}",
            number::figure(*target, None, ""),
            number::figure(*limit, None, unit)
        ),
        Against::Zero { unit, limit } => {
            format!("off by at most {}", number::figure(*limit, None, unit))
        }
        Against::Exposure {
            nominal,
            limit_stops: Some(limit),
        } => format!(
            "{}, off by at most {}",
            number::exposure(nominal.to_s(), None),
            number::figure(*limit, None, "stops")
        ),
        Against::Exposure { nominal, .. } => number::exposure(nominal.to_s(), None),
    };
    let unit = row.against.unit();
    html! {
        tr {
            th scope="row" { (row.name) }
            td { (should) }
            td { (form.cell(&format!("value.{i}"), &format!("{}: reading in {unit}", row.name), "", None)) " " (unit) }
            td { (form.cell(&format!("u.{i}"), &format!("{}: uncertainty in {unit}", row.name), "", None)) " " (unit) }
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
    let name = row.name.as_str();
    let field = format!("value.{i}");
    let value = wrong.number(fields, &field, name)?;
    let u_field = format!("u.{i}");
    let uncertainty = wrong.number(fields, &u_field, &format!("uncertainty of {name}"));
    if uncertainty.is_some_and(|u| u < 0.0) {
        wrong.note(
            u_field,
            format!("the uncertainty of {name} is negative; write how far off it may be, from 0"),
        );
    }
    match &row.against {
        Against::Target {
            unit,
            target,
            limit,
        } => Some(ReadingRow::of_value(
            name,
            unit,
            value,
            uncertainty,
            *target,
            *limit,
        )),
        Against::Zero { unit, limit } => Some(ReadingRow::of_deviation(
            name,
            unit,
            value,
            uncertainty,
            *limit,
        )),
        Against::Exposure {
            nominal,
            limit_stops,
        } => {
            let uncertainty_s = uncertainty.map(|ms| Seconds::ms(ms).to_s());
            let time = Seconds::ms(value).to_s();
            let row =
                ReadingRow::of_exposure(name, time, uncertainty_s, nominal.to_s(), *limit_stops);
            if row.is_none() {
                wrong.note(field, format!("the time at {name} must be more than 0"));
            }
            row
        }
    }
}

fn instrument(limit: &Limit) -> Instrument {
    match limit {
        Limit::Shutter(_) => Instrument::Shutter,
        Limit::Register(_) => Instrument::Register,
        Limit::Rangefinder(_) => Instrument::Rangefinder,
        Limit::Meter(_) => Instrument::Meter,
        Limit::Teeth(_) => Instrument::Teeth,
        Limit::Reading(_) | Limit::Check(_) => Instrument::Other,
    }
}
