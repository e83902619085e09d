//! A visit: where this camera stands, and what is next.
//!
//! The page runs down the work in its order. Each stretch has a file that draws it and reads its
//! forms; `deed` names what the forms do.

mod apart;
mod arrived;
mod billing;
mod cause;
mod context;
mod deed;
mod from_drawer;
mod going;
mod guarantee;
mod head;
mod likely;
mod looked_over;
mod mail;
mod papers;
pub(crate) mod preview;
mod proof;
mod put_back;
mod quote;
mod readings;
mod repaired;
mod run;
mod section;
mod sheet;
mod shutter_reading;
mod standing;
mod suggested;
mod tag;
mod teeth;
mod term;
mod to_notes;
mod tray;
mod trial;
mod typed;
mod way;

use axum::extract::{Path, Query, Request, State};
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::VisitFilter;
use maud::Markup;

use self::context::Asked;
use self::deed::Deed;
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::once;
use crate::recorded::{self, Range};
use crate::shutter;
use crate::state::{AppState, Desk};
use crate::upload::Upload;
use crate::urls;

pub(crate) use self::context::{Context, date_field};
pub(crate) use self::going::{cells_caution, guarantee_days};
pub(crate) use self::likely::Show;
pub(crate) use self::tag::tag;
pub(crate) use self::way::in_order;

/// The page of a visit.
pub(crate) async fn show(
    State(state): State<AppState>,
    Path(number): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let recorded = asked.recorded.as_deref().and_then(Range::parse);
            let context = Context::load(desk, &number, asked)?;
            let back_to = urls::visit(context.view.line.visit);
            let line = recorded::line(desk, recorded, &back_to)?;
            Ok(sheet::page(&context).recorded(line))
        })
        .await?;
    Ok(state.draw(&page))
}

/// Takes what a form of the page sent.
pub(crate) async fn act(
    State(state): State<AppState>,
    Path((number, deed)): Path<(String, String)>,
    request: Request,
) -> Result<Response, PageError> {
    let deed = Deed::from_name(&deed).ok_or_else(|| {
        PageError::missing("A visit has no such form.")
            .or(format!("/visits/{number}"), "Go to the visit")
    })?;
    let sent = Upload::of_request(request, deed.takes()).await?;
    let outcome = state
        .at_bench(move |desk| record(desk, &number, deed, sent))
        .await?;
    Ok(match outcome {
        Outcome::Recorded(url) => Redirect::to(&url).into_response(),
        Outcome::Returned(page) => (
            axum::http::StatusCode::UNPROCESSABLE_ENTITY,
            state.draw(&page),
        )
            .into_response(),
    })
}

enum Outcome {
    /// Go and see it there.
    Recorded(String),
    /// The page with the form as it came, and what is wrong with it.
    Returned(Box<crate::layout::Page>),
}

fn record(desk: &Desk, number: &str, deed: Deed, sent: Upload) -> Result<Outcome, PageError> {
    let mut context = Context::load(desk, number, Asked::default())?;
    let wrong = match deed.changes(&context, &sent) {
        Ok(changes) if changes.is_empty() => {
            return Ok(Outcome::Recorded(urls::visit_at(
                context.view.line.visit,
                deed.section().map(section::Section::id),
                None,
            )));
        }
        Ok(changes) => match desk.once.take(once::key(&sent), || {
            let applied = desk.apply(changes)?;
            let range = Range::of(&applied.entries);
            let open = deed.section().map(section::Section::id);
            let url = urls::visit_at(context.view.line.visit, open, range);
            Ok(match deed.place(&sent.fields) {
                Some(place) => urls::at_place(&url, &place),
                None => url,
            })
        }) {
            Ok(url) => return Ok(Outcome::Recorded(url)),
            Err(error) => {
                let mut wrong = Wrong::default();
                wrong.not_recorded(error)?;
                wrong
            }
        },
        Err(wrong) => wrong,
    };
    context.asked.step = sent.fields.some("piece");
    let id = deed.form_id(&sent.fields);
    context.returned = Some(Form::returned(id, sent.fields, wrong));
    context.open = deed.section();
    Ok(Outcome::Returned(Box::new(sheet::page(&context))))
}

/// The dial that the form of a visit's shutter names.
pub(crate) fn dial(
    desk: &Desk,
    number: &str,
    fields: &Fields,
    wrong: &mut Wrong,
) -> Option<shutter::Dial> {
    match Context::load(desk, number, Asked::default()) {
        Ok(context) => shutter_reading::dial(&context, fields, wrong),
        Err(error) => {
            wrong.note("", error.text);
            None
        }
    }
}

/// What to say when there is no visit of this number: which is the newest.
fn unknown(desk: &Desk, number: &str) -> PageError {
    let first = fettle_bench::Page::first(1);
    let newest = match desk.bench.visits(&VisitFilter::default(), first) {
        Ok(visits) => visits.lines.into_iter().next(),
        Err(error) => return error.into(),
    };
    match newest {
        Some(line) => {
            let newest = line.visit;
            PageError::missing(format!(
                "Visit {number} does not exist; the newest is {newest}."
            ))
            .or(urls::visit(newest), format!("Go to visit {newest}"))
        }
        None => PageError::missing(format!(
            "Visit {number} does not exist; no camera has arrived yet."
        ))
        .or(urls::ARRIVE, "A camera has come"),
    }
}
