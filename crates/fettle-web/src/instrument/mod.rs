//! Instruments whose readings are typed in: meter, register and rangefinder, each on its own page and inside a visit.

pub(crate) mod draw;
pub(crate) mod infinity;
pub(crate) mod light;
pub(crate) mod mesh;
mod meter;
mod rangefinder;
mod register;
mod run;
pub(crate) mod teeth;

use axum::extract::{Request, State};
use axum::response::Response;
use fettle_bench::{BenchError, Phase, ReadingTaken, VisitId};
use fettle_measure::{OptionError, Refused};
use maud::{Markup, html};

pub(crate) use self::meter::Meter;
pub(crate) use self::rangefinder::Rangefinder;
pub(crate) use self::register::Register;
pub(crate) use self::run::{Column, Sent, draw as cells};
use crate::error::{PageError, sentence};
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::state::AppState;
use crate::upload::{Takes, Upload};
use crate::urls;

/// An instrument: what it is asked, what it reads, what it says.
pub(crate) trait Instrument {
    type Options;
    type Report;
    /// What service notes say of it.
    type Limit;

    /// The name of its form.
    const ID: &'static str;
    /// The page's address.
    const URL: &'static str;
    const TITLE: &'static str;
    /// The question that it answers, and how the readings are taken.
    const LEAD: &'static str;
    const COLUMNS: &'static [Column];

    /// What stands at the work: a caution, or nothing.
    fn caution() -> Markup {
        html! {}
    }

    /// The fields for what service notes would say: target, limit, lens.
    fn asked(form: &Form) -> Markup;

    /// Reads [`Instrument::asked`].
    fn read_asked(fields: &Fields, wrong: &mut Wrong) -> Option<Self::Options>;

    /// The fields for what no notes know: what is at hand, how the readings repeat.
    fn at_hand(form: &Form) -> Markup;

    /// Reads [`Instrument::at_hand`] into the options.
    fn read_at_hand(fields: &Fields, options: &mut Self::Options, wrong: &mut Wrong);

    /// Reads the run and judges it.
    fn measure(run: &Sent, options: &Self::Options) -> Result<Self::Report, Refused>;

    /// The form's field for an option of the command line.
    fn field_of(option: &str) -> &'static str;

    /// Options from what the notes say.
    fn options(limit: &Self::Limit) -> Self::Options;

    /// The cells to begin with when it is held to the notes.
    fn holding(limit: &Self::Limit) -> Vec<Vec<String>>;

    /// The reading that a visit keeps of the report, held to the limit of this name.
    fn reading(
        visit: VisitId,
        phase: Phase,
        report: &Self::Report,
        limit: &str,
    ) -> Result<ReadingTaken, BenchError>;

    /// What the report says: figures, chart, findings.
    fn result(report: &Self::Report) -> Markup;
}

/// Measures what a form brought; what is wrong is noted at its fields.
pub(crate) fn measured<I: Instrument>(
    sent: &Upload,
    mut options: I::Options,
    wrong: &mut Wrong,
) -> Option<I::Report> {
    I::read_at_hand(&sent.fields, &mut options, wrong);
    let run = Sent::of(sent, I::COLUMNS, wrong)?;
    if !wrong.is_empty() {
        return None;
    }
    match I::measure(&run, &options) {
        Ok(report) => Some(report),
        Err(Refused::Run(error)) => {
            run.tell(&error, I::COLUMNS, wrong);
            None
        }
        Err(Refused::Option(OptionError { option, reason })) => {
            wrong.note(I::field_of(option), reason);
            None
        }
    }
}

/// The page with its form.
pub(crate) async fn show<I: Instrument>(State(state): State<AppState>) -> Markup {
    state.draw(&page::<I>(&Form::fresh(I::ID), None))
}

/// Measures what was sent; nothing is kept.
pub(crate) async fn act<I: Instrument>(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Tables).await?;
    let mut wrong = sent.wrong.clone();
    let report = I::read_asked(&sent.fields, &mut wrong)
        .and_then(|options| measured::<I>(&sent, options, &mut wrong));
    let failed = !wrong.is_empty();
    let form = Form::returned(I::ID, sent.fields, wrong);
    Ok(state.answer(&page::<I>(&form, report.as_ref()), failed))
}

fn page<I: Instrument>(form: &Form, report: Option<&I::Report>) -> Page {
    let body = html! {
        h1 { (I::TITLE) }
        p.lead { (I::LEAD) }
        (I::caution())
        @if let Some(report) = report { section { h2 { "What the readings say" } (I::result(report)) } }
        section {
            h2 { @if report.is_some() { "The readings once more" } @else { "The readings" } }
            form method="post" id=(form.id()) action=(I::URL) enctype="multipart/form-data" novalidate {
                (form.problems())
                (I::asked(form))
                (I::at_hand(form))
                (cells(form, I::COLUMNS, &[]))
                div.acts { button.first { "Work it out" } }
            }
            p.quiet-text { "Nothing is kept here. To keep a reading, take it at a visit under “Settings and proof”. All " a href=(urls::INSTRUMENTS) { "instruments" } "." }
        }
    };
    Page::new(I::TITLE, body)
        .room(Room::Instruments)
        .about("instruments")
}

/// A table of figures: what it is, and what it comes to.
pub(crate) fn figures(rows: &[(impl AsRef<str>, String)]) -> Markup {
    html! {
        dl.facts { @for (name, figure) in rows { dt { (name.as_ref()) } dd { (figure) } } }
    }
}

/// Findings as sentences; nothing when there are none.
pub(crate) fn findings(findings: impl Iterator<Item = String>) -> Markup {
    let findings: Vec<String> = findings.collect();
    html! {
        @if !findings.is_empty() { ul.findings { @for finding in &findings { li { (sentence(finding)) } } } }
    }
}

/// A number that may be left out, read into its place.
fn optional(wrong: &mut Wrong, fields: &Fields, name: &str, what: &str, into: &mut Option<f64>) {
    if let Some(value) = wrong.number(fields, name, what) {
        *into = Some(value);
    }
}

/// A number that must be given; noted when it is not.
fn needed(wrong: &mut Wrong, fields: &Fields, name: &str, what: &str) -> Option<f64> {
    if fields.text(name).is_empty() {
        wrong.note(name, format!("{what} is missing"));
        return None;
    }
    wrong.number(fields, name, what)
}
