//! The exposure meter against known light.

use fettle_bench::{BenchError, Phase, ReadingTaken, VisitId, meter_options, meter_reading};
use fettle_draw::{Sheet, meter_chart};
use fettle_measure::Refused;
use fettle_measure::meter::{self, CardRow, Options, Report, analyse, read};
use fettle_measure::run::RunError;
use fettle_notes::MeterLimit;
use maud::{Markup, PreEscaped, html};

use super::run::{Column, Sent};
use super::{Instrument, figures, findings};
use crate::form::{Fields, Form, Wrong};
use crate::number;
use crate::shutter::verdict;
use crate::urls;

/// What a meter shows against what the light is.
pub(crate) struct Meter;

impl Instrument for Meter {
    type Options = Options;
    type Report = Report;
    type Limit = MeterLimit;

    const ID: &'static str = "meter";
    const URL: &'static str = urls::METER;
    const TITLE: &'static str = "Exposure meter";
    const LEAD: &'static str = "How far is the meter off over its range, and what can be done about it? Read it at eight known lights or more, from dim to bright, \
                                and give a light cell a minute in each.";
    const COLUMNS: &'static [Column] = &[
        Column {
            name: "true_ev",
            heading: "The light is",
            unit: "EV at ISO 100",
        },
        Column {
            name: "indicated_ev",
            heading: "The meter shows",
            unit: "EV at ISO 100",
        },
    ];

    fn caution() -> Markup {
        html! {
            div.caution { p { strong { "Caution" } " – old light cells hold selenium or cadmium, old button cells mercury: do not file, scrape or burn them, wash hands, and dispose of them as local rules ask." } }
        }
    }

    fn asked(form: &Form) -> Markup {
        html! {
            fieldset.group {
                legend { "What it is held to" }
                div.fields {
                    (form.line("limit", "May be off by").unit("stops").hint("empty: 0.5").class("third").draw())
                    (form.line("click", "The scale clicks in").unit("stops").hint("empty: it can be set anywhere").class("third").draw())
                }
            }
        }
    }

    fn read_asked(fields: &Fields, wrong: &mut Wrong) -> Option<Options> {
        let mut options = Options::default();
        if let Some(limit) = wrong.number(fields, "limit", "how far it may be off") {
            options = told(wrong, "limit", options, options.with_limit(limit));
        }
        if let Some(click) = wrong.number(fields, "click", "the click of the scale") {
            options = told(wrong, "click", options, options.with_click(click));
        }
        Some(options)
    }

    fn at_hand(form: &Form) -> Markup {
        html! {
            fieldset.group {
                legend { "The reading" }
                div.fields {
                    (form.line("resolution", "Read to").unit("stops").hint("step between readings; empty: as seen from them").class("third").draw())
                }
                p.quiet-text { "No exposure values at hand? " a href=(urls::LIGHT) { "Work them out" } " from luminance, illuminance or a reference meter." }
            }
        }
    }

    fn read_at_hand(fields: &Fields, options: &mut Options, wrong: &mut Wrong) {
        if let Some(step) = wrong.number(fields, "resolution", "the step of the readings") {
            *options = told(wrong, "resolution", *options, options.with_resolution(step));
        }
    }

    fn measure(run: &Sent, options: &Options) -> Result<Report, Refused> {
        let read = read(&run.bytes).map_err(|error| Refused::Run(run.told_on_page(&error)));
        let mut readings = read?;
        for reading in &mut readings {
            reading.line = run.on_page(reading.line);
        }
        analyse(&readings, options)
            .map_err(|error| Refused::Run(RunError::whole(error.to_string())))
    }

    fn field_of(_option: &str) -> &'static str {
        ""
    }

    fn options(limit: &MeterLimit) -> Options {
        meter_options(limit)
    }

    fn holding(limit: &MeterLimit) -> Vec<Vec<String>> {
        let (from, to) = (limit.from_ev.ceil() as i32, limit.to_ev.floor() as i32);
        (from..=to).map(|ev| vec![ev.to_string()]).collect()
    }

    fn reading(
        visit: VisitId,
        phase: Phase,
        report: &Report,
        limit: &str,
    ) -> Result<ReadingTaken, BenchError> {
        meter_reading(visit, phase, report, Some(limit))
    }

    fn result(report: &Report) -> Markup {
        let (class, word) = verdict(Some(report.verdict));
        let (was_class, was) = verdict(Some(report.verdict_before));
        let mut rows = vec![(
            "Error in the middle",
            format!(
                "{} at EV {}",
                number::deviation(report.offset_stops, report.offset_stops_u, "stops"),
                number::figure(report.centre_ev, None, "")
            ),
        )];
        if let Some(slope) = report.slope_stops_per_ev {
            rows.push((
                "Slope",
                number::deviation(slope, report.slope_stops_per_ev_u, "stops for each EV"),
            ));
        }
        if let Some(bend) = report.curvature {
            rows.push((
                "Curvature",
                number::deviation(bend, report.curvature_u, "stops for each EV squared"),
            ));
        }
        if let Some(knee) = report.knee_ev {
            rows.push((
                "Knee",
                format!("at EV {}", number::figure(knee, report.knee_ev_u, "")),
            ));
        }
        rows.push((
            "Worst error as found",
            number::figure(report.worst_before_stops, None, "stops"),
        ));
        rows.push((
            "Set the scale by",
            format!(
                "{} on every reading",
                number::deviation(report.shift_stops, None, "stops")
            ),
        ));
        rows.push((
            "Worst error then",
            number::figure(report.worst_after_stops, None, "stops"),
        ));
        if let (Some(from), Some(to)) = (report.usable_from_ev, report.usable_to_ev) {
            rows.push(("Inside then", format!("from EV {from:.1} to EV {to:.1}")));
        }
        html! {
            p {
                "Against ± " (number::figure(report.limit_stops, None, "stops")) ": as found " span class={ "verdict " (was_class) } { (was) }
                "; after the setting " span class={ "verdict " (class) } { (word) } "."
            }
            (figures(&rows))
            (findings(report.findings.iter().map(meter::Finding::describe)))
            div.chart { (PreEscaped(meter_chart(report, Sheet::Inherit))) }
            (card(report))
        }
    }
}

fn told<E: std::fmt::Display>(
    wrong: &mut Wrong,
    field: &str,
    was: Options,
    now: Result<Options, E>,
) -> Options {
    now.unwrap_or_else(|error| {
        wrong.note(field, error.to_string());
        was
    })
}

/// The correction card as a table.
fn card(report: &Report) -> Markup {
    html! {
        @if !report.card.is_empty() {
            div.table-wrap { table.slim {
                caption { "Correction card, for the meter after its setting" @if report.card_piecewise { "; it follows two straight pieces" } }
                thead { tr { th.num { "It shows, EV" } th.num { "Add, stops" } } }
                tbody { @for row in &report.card { tr { th.num scope="row" { (number::figure(row.indicated_ev, None, "")) } td.num { (add(row)) } } } }
            } }
        }
    }
}

fn add(row: &CardRow) -> String {
    number::stops_off(row.add_stops, row.add_stops_u)
}
