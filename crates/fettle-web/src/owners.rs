//! Owners: who, what cameras, what passed between us.

use axum::extract::{Path, Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::{BenchError, OwnerCorrected, OwnerDetails, OwnerId, OwnerView};
use maud::{Markup, html};
use serde::Deserialize;

use crate::cameras::Part;
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::recorded::{self, Range};
use crate::state::{AppState, Desk};
use crate::upload::{Takes, Upload};
use crate::{journal, lines, number, urls};

const FORM_ID: &str = "owner";

#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    recorded: Option<String>,
}

pub(crate) async fn list(
    State(state): State<AppState>,
    Query(part): Query<Part>,
) -> Result<Markup, PageError> {
    let owners = state
        .at_bench(move |desk| Ok(desk.bench.owners(part.page())?))
        .await?;
    let body = html! {
        h1 { "Owners" }
        @if owners.lines.is_empty() { p.empty { "No owner is known yet; the first is written down when a camera comes." } }
        @else {
            div.table-wrap { table {
                thead { tr { th { "Owner" } th { "Mail" } th.num { "Here now" } th.num { "Visits" } th { "Last arrival" } } }
                tbody {
                    @for line in &owners.lines {
                        tr {
                            th scope="row" { a href=(urls::owner(line.owner.id)) { (line.owner.details.name) } }
                            td { (line.owner.details.email) }
                            td.num { (line.here) }
                            td.num { (line.visits) }
                            td { @if let Some(date) = line.last_arrived { (number::date(date)) } }
                        }
                    }
                }
            } }
            (lines::pager(urls::OWNERS, owners.page.skip, owners.page.take, owners.total))
        }
    };
    Ok(state.draw(&Page::new("Owners", body).room(Room::Owners)))
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let view = known(desk, &id)?;
            let id = view.owner.id;
            let recorded = asked.recorded.as_deref().and_then(Range::parse);
            let line = recorded::line(desk, recorded, &urls::owner(id))?;
            Ok(page(desk, &view, &Form::fresh(FORM_ID)).recorded(line))
        })
        .await?;
    Ok(state.draw(&page))
}

/// Corrects what is known of an owner.
pub(crate) async fn act(
    State(state): State<AppState>,
    Path(id): Path<String>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let view = known(desk, &id)?;
            let owner = view.owner.id;
            let mut wrong = Wrong::default();
            let details = corrected(&view.owner.details, &sent.fields, &mut wrong);
            if wrong.is_empty() && details == view.owner.details {
                return Ok(Ok(urls::owner(owner)));
            }
            if wrong.is_empty() {
                match desk.apply(vec![OwnerCorrected { owner, details }.into()]) {
                    Ok(applied) => {
                        return Ok(Ok(urls::with_recorded(
                            &urls::owner(owner),
                            Range::of(&applied.entries),
                        )));
                    }
                    Err(BenchError::Rule {
                        kind, field, why, ..
                    }) => wrong.refused(kind, field, &why),
                    Err(error) => return Err(error.into()),
                }
            }
            Ok(Err(page(
                desk,
                &view,
                &Form::returned(FORM_ID, sent.fields, wrong),
            )))
        })
        .await?;
    Ok(match outcome {
        Ok(url) => Redirect::to(&url).into_response(),
        Err(page) => (StatusCode::UNPROCESSABLE_ENTITY, state.draw(&page)).into_response(),
    })
}

/// The details with what the form altered in them.
fn corrected(now: &OwnerDetails, fields: &Fields, wrong: &mut Wrong) -> OwnerDetails {
    let name = wrong.merged(fields, "name", &now.name);
    if name.is_empty() {
        wrong.note("name", "the name is missing");
    }
    OwnerDetails {
        name,
        email: wrong.merged(fields, "email", &now.email),
        phone: wrong.merged(fields, "phone", &now.phone),
        address: wrong.merged(fields, "address", &now.address),
        note: wrong.merged(fields, "note", &now.note),
    }
}

/// The fields of the form and what the record says in each.
fn standing(details: &OwnerDetails) -> [(String, &str); 5] {
    [
        ("name", details.name.as_str()),
        ("email", &details.email),
        ("phone", &details.phone),
        ("address", &details.address),
        ("note", &details.note),
    ]
    .map(|(name, now)| (name.to_owned(), now))
}

/// The owner of this number, as an address or a form gives it.
pub(crate) fn known(desk: &Desk, id: &str) -> Result<OwnerView, PageError> {
    let unknown = || {
        PageError::missing(format!("There is no owner {id} in the record."))
            .or(urls::OWNERS, "Go to the owners")
    };
    let number = id.parse::<i64>().map_err(|_| unknown())?;
    match desk.bench.owner(OwnerId::new(number)) {
        Err(BenchError::Unknown { .. }) => Err(unknown()),
        found => Ok(found?),
    }
}

fn page(desk: &Desk, view: &OwnerView, form: &Form) -> Page {
    let owner = &view.owner;
    let details = &owner.details;
    let form = &form.clone().caught_up(standing(details));
    let body = html! {
        div.title-row {
            h1 { (details.name) }
            div.acts { a.button.first href={ (urls::ARRIVE) "?owner=" (owner.id) } { "A camera of theirs has come" } }
        }
        dl.title-block {
            @if !details.email.is_empty() { div { dt { "Mail" } dd { (details.email) } } }
            @if !details.phone.is_empty() { div { dt { "Telephone" } dd { (details.phone) } } }
            @if !details.address.is_empty() { div { dt { "Address" } dd.words { (details.address) } } }
            @if !details.note.is_empty() { div.wide { dt { "Note" } dd.words { (details.note) } } }
        }
        details.more.no-print open[form.is_returned()] {
            summary { "Correct what is written here" }
            form method="post" id=(FORM_ID) action=(urls::owner(owner.id)) novalidate {
                (form.problems())
                @for (name, now) in standing(details) { (form.was(&name, now)) }
                div.fields {
                    (form.line("name", "Name").holding(&details.name).needed().draw())
                    (form.typed("email", "Mail address", "email").holding(&details.email).draw())
                    (form.typed("phone", "Telephone", "tel").holding(&details.phone).draw())
                    (form.area("address", "Postal address").holding(&details.address).draw())
                    (form.area("note", "Note").holding(&details.note).class("wide").draw())
                }
                div.acts { button.first { "Correct it" } }
            }
        }
        section {
            h2 { "Cameras that came" }
            @if view.visits.is_empty() { p.empty { "None yet." } }
            ul.lines {
                @for line in &view.visits {
                    @let said = html! { "came " (number::date(line.arrived)) };
                    li { (lines::visit(line, &said)) }
                }
            }
        }
        section {
            h2 { "What passed between us" }
            (journal::draw(&view.journal, desk.now.time_zone(), &urls::owner(owner.id)))
        }
    };
    Page::new(details.name.clone(), body).room(Room::Owners)
}
