//! Readings as tables: before and after beside each other, against their limits.

use fettle_bench::{Instrument, Phase, Reading, ReadingRow};
use fettle_draw::Sheet;
use fettle_notes::LimitId;
use maud::{Markup, PreEscaped, html};

use super::context::Context;
use super::section::Section;
use super::{shutter_reading, teeth};
use crate::error::sentence;
use crate::form::{Fields, Form, Wrong};
use crate::{drawings, number, urls, words};

/// The choice between a reading as it came and one after the work.
pub(crate) fn phases(context: &Context<'_>, form: &Form) -> Markup {
    let before = context.view.pieces.is_empty() && context.view.works.is_empty();
    let otherwise = if before { Phase::Before } else { Phase::After };
    html! {
        div.ticks {
            (form.radio("phase", Phase::Before.as_str(), "before the work", otherwise.as_str()))
            (form.radio("phase", Phase::After.as_str(), "after the work", otherwise.as_str()))
        }
    }
}

/// What [`phases`] was answered with.
pub(crate) fn phase(fields: &Fields, wrong: &mut Wrong) -> Option<Phase> {
    let phase = Phase::from_text(fields.text("phase"));
    if phase.is_none() {
        wrong.note(
            "phase",
            "say whether the reading is from before or after the work",
        );
    }
    phase
}

/// The id of the section with the readings against a limit; without one, of those against none.
pub(crate) fn place(limit: Option<&str>) -> String {
    limit.map_or_else(|| "limit".to_owned(), |id| format!("limit-{id}"))
}

/// The last reading of each phase against one limit.
pub(crate) fn against(context: &Context<'_>, id: &LimitId) -> Markup {
    let of = |phase: Phase| {
        context.view.readings.iter().rev().find(|reading| {
            reading.what.phase == phase && reading.what.limit_id.as_deref() == Some(id.as_str())
        })
    };
    pair(context, of(Phase::Before), of(Phase::After))
}

/// Readings that are held against no limit of the notes.
pub(crate) fn without_limit(context: &Context<'_>) -> Markup {
    let known = |id: &str| {
        context
            .notes()
            .is_some_and(|notes| notes.limits.get(id).is_some())
    };
    let free = |phase: Phase| {
        let is_free = |reading: &&Reading| {
            reading.what.phase == phase && !reading.what.limit_id.as_deref().is_some_and(known)
        };
        context.view.readings.iter().rev().find(is_free)
    };
    let (before, after) = (free(Phase::Before), free(Phase::After));
    html! {
        @if before.is_some() || after.is_some() {
            section id=(place(None)) { h3 { "Other readings" } (pair(context, before, after)) }
        }
    }
}

fn pair(context: &Context<'_>, before: Option<&Reading>, after: Option<&Reading>) -> Markup {
    let Some(first) = before.or(after) else {
        return html! { p.empty { "No reading yet." } };
    };
    html! {
        (table(before, after))
        @if first.what.instrument == Instrument::Shutter { (shutter_reading::charts(before, after)) }
        @if first.what.instrument == Instrument::Teeth {
            @for reading in [before, after].into_iter().flatten() { (teeth::drawn(context, reading)) }
        } @else {
            @for (phase, reading) in [("Before", before), ("After", after)] { (charts(phase, reading)) }
        }
        @for reading in [before, after].into_iter().flatten() { (footnote(context, reading)) }
    }
}

/// What an instrument drew of a reading.
fn charts(phase: &str, reading: Option<&Reading>) -> Markup {
    let drawn = reading.map(|reading| drawings::of_instrument(&reading.what, Sheet::Inherit));
    html! {
        @match drawn {
            None | Some(Ok(None)) => {},
            Some(Ok(Some(chart))) => div.chart { h4 { (phase) } (PreEscaped(chart.svg)) },
            Some(Err(error)) => p.quiet-text { (sentence(&error.to_string())) },
        }
    }
}

fn table(before: Option<&Reading>, after: Option<&Reading>) -> Markup {
    let rows =
        |reading: Option<&Reading>| reading.map(|it| it.what.rows.clone()).unwrap_or_default();
    let (before_rows, after_rows) = (rows(before), rows(after));
    let mut names: Vec<&str> = Vec::new();
    for row in before_rows.iter().chain(&after_rows) {
        if !names.contains(&row.name.as_str()) {
            names.push(&row.name);
        }
    }
    let in_stops = before_rows
        .iter()
        .chain(&after_rows)
        .all(|row| error_unit(row) == "stops");
    let all = || before_rows.iter().chain(&after_rows);
    // Where only deviations were read, columns for the figures would stand empty.
    let should = all().any(|row| row.nominal.is_some());
    let valued = all().any(|row| row.value.is_some());
    let stops = if in_stops { ", stops" } else { "" };
    let off = |phase: &str| {
        if valued {
            format!("Off by{stops}")
        } else {
            format!("{phase}, off by{stops}")
        }
    };
    let phases = [(before, "Before"), (after, "After")];
    let phases = phases
        .into_iter()
        .filter_map(|(reading, phase)| reading.map(|_| phase));
    let of_before = |name: &str| before_rows.iter().find(|row| row.name == name);
    let of_after = |name: &str| after_rows.iter().find(|row| row.name == name);
    html! {
        div.table-wrap { table {
            thead { tr {
                th { "Of" } @if should { th.num { "Should be" } }
                @for phase in phases { @if valued { th.num { (phase) } } th.num { (off(phase)) } }
                th.num { "Allowed" } th { "Verdict" }
            } }
            tbody {
                @for name in names {
                    @let (b, a) = (of_before(name), of_after(name));
                    @if let Some(last) = a.or(b) {
                        tr {
                            th scope="row" { (name) }
                            @if should { td.num { (value(last.nominal, &last.unit)) } }
                            @for (is, row) in [(before.is_some(), b), (after.is_some(), a)] {
                                @if is {
                                    @if valued { td.num { (row.map(|row| value(row.value, &row.unit)).unwrap_or_default()) } }
                                    td.num { (row.map(off_by).unwrap_or_default()) }
                                }
                            }
                            td.num { (allowed(last)) }
                            td { (verdict(last)) }
                        }
                    }
                }
            }
        } }
    }
}

fn error_unit(row: &ReadingRow) -> &str {
    if row.error_unit.is_empty() {
        &row.unit
    } else {
        &row.error_unit
    }
}

fn value(value: Option<f64>, unit: &str) -> String {
    match value {
        None => String::new(),
        Some(seconds) if unit == "s" => number::exposure(seconds, None),
        Some(value) => number::figure(value, None, unit),
    }
}

fn off_by(row: &ReadingRow) -> String {
    let Some(error) = row.error else {
        return String::new();
    };
    match error_unit(row) {
        "stops" => number::stops_off(error, row.uncertainty),
        unit => number::deviation(error, row.uncertainty, unit),
    }
}

fn allowed(row: &ReadingRow) -> String {
    match (row.limit, error_unit(row)) {
        (None, _) => String::new(),
        (Some(limit), "stops") => format!("± {limit:.2}"),
        (Some(limit), unit) => format!("± {}", number::figure(limit, None, unit)),
    }
}

fn verdict(row: &ReadingRow) -> Markup {
    let (class, word) = words::verdict(row.verdict);
    html! { span class={ "verdict " (class) } { (word) } }
}

fn footnote(context: &Context<'_>, reading: &Reading) -> Markup {
    let what = &reading.what;
    html! {
        div.row-note {
            p.aside {
                (match what.phase { Phase::Before => "Before", Phase::After => "After" })
                ": taken " (number::moment(&reading.at.to_zoned_datetime(context.now.time_zone().clone())))
                @if !what.method.is_empty() { ", " (what.method) }
                @if let Some(recording) = what.recording { ", " a href=(urls::recording(recording)) { "its recording" } }
                ". Uncertainties are expanded, k = 2."
            }
            @if !what.findings.is_empty() {
                ul.findings { @for finding in &what.findings { li { (sentence(finding)) } } }
            }
            (context.undo_called(reading.entry, Section::Proof, "Take this reading back"))
            @if what.instrument == Instrument::Shutter { div.shots-of { (shutter_reading::shots(context, reading)) } }
        }
    }
}
