//! Donors: bodies kept for their parts, and taking one in.

use axum::extract::{Query, Request, State};
use axum::response::Response;
use fettle_bench::{
    Applied, Change, DonorDetails, DonorId, DonorPartIs, DonorPartsNoted, OnDonor, Term,
};
use fettle_notes::ServiceNotes;
use maud::{Markup, html};

use super::store::models;
use crate::error::PageError;
use crate::form::{Form, Wrong};
use crate::layout::{Page, Room};
use crate::state::{AppState, Desk};
use crate::thing::{Recorded, answer, once_field, record_or_draw, show_page};
use crate::upload::{Takes, Upload};
use crate::{number, urls};

const FORM_ID: &str = "donor";

pub(crate) async fn list(
    State(state): State<AppState>,
    Query(recorded): Query<Recorded>,
) -> Result<Markup, PageError> {
    show_page(&state, recorded, urls::DONORS, |desk| {
        page(desk, &Form::fresh(FORM_ID))
    })
    .await
}

/// Takes a donor in.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let mut wrong = Wrong::default();
            let changes = read(desk, &sent, &mut wrong);
            let to =
                |applied: &Applied| applied.donor().map_or(urls::DONORS.to_owned(), urls::donor);
            let again = |fields, wrong| page(desk, &Form::returned(FORM_ID, fields, wrong));
            record_or_draw(desk, sent, changes, wrong, to, again)
        })
        .await?;
    Ok(answer(&state, outcome))
}

fn read(desk: &Desk, sent: &Upload, wrong: &mut Wrong) -> Vec<Change> {
    let fields = &sent.fields;
    let notes_id = fields.some("notes");
    let notes = notes_id.as_deref().and_then(|id| desk.bench.notes(id));
    if notes_id.is_some() && notes.is_none() {
        wrong.note("notes", "there are no such service notes; choose");
    }
    let (maker, model) = match &notes {
        Some(notes) => (notes.model.maker.clone(), notes.model.name.clone()),
        None => (
            fields.text("maker").to_owned(),
            wrong.needed(fields, "model", "the model"),
        ),
    };
    let details = DonorDetails {
        maker,
        model,
        notes_id,
        serial: fields.text("serial").to_owned(),
        condition: fields.text("condition").to_owned(),
        source: fields.text("source").to_owned(),
    };
    let mut changes = vec![details.into()];
    if let Some(notes) = notes.filter(|_| fields.ticked("whole")) {
        changes.push(everything_on_it(&notes).into());
    }
    changes
}

/// Every part of the notes, none of them looked at yet.
fn everything_on_it(notes: &ServiceNotes) -> DonorPartsNoted {
    let on = |(id, part): (&fettle_notes::PartId, &fettle_notes::Part)| OnDonor {
        part: Term::known(id.as_str(), &part.name),
        quantity: part.count,
        state: DonorPartIs::NotLooked,
        note: String::new(),
    };
    DonorPartsNoted {
        donor: DonorId::LATEST,
        parts: notes.parts.iter().map(on).collect(),
    }
}

fn page(desk: &Desk, form: &Form) -> Result<Page, PageError> {
    let donors = desk.bench.donors()?;
    let body = html! {
        div.title-row {
            div {
                h1 { "Donors" }
                p.sub { "Bodies kept for their parts" }
            }
            div.acts { a.button href=(urls::DRAWERS) { "Drawers" } }
        }
        (form.problems())
        @if donors.is_empty() { p.empty { "None is kept yet." } }
        @else {
            div.table-wrap { table {
                thead { tr { th { "Donor" } th { "Serial number" } th { "Condition" } th.num { "Parts on it" } th.num { "Pieces taken" } } }
                tbody { @for donor in &donors { tr {
                    th scope="row" { a href=(urls::donor(donor.id)) { (donor.details.name()) } span.aside { ", donor " (donor.id) } }
                    td { (donor.details.serial) }
                    td { (donor.details.condition) }
                    td.num { (donor.parts) }
                    td.num { (donor.taken) }
                } } }
            } }
            p.aside { (number::count(donors.len(), "body", "bodies")) }
        }
        section.no-print {
            h2 { "Take a donor in" }
            form method="post" id=(FORM_ID) action=(urls::DONORS) novalidate {
                (once_field(desk, form))
                div.fields {
                    (form.choice("notes", "Of which model", models(desk, "none of these")).draw())
                    (form.line("maker", "Another maker").hint("when none of these").class("short").draw())
                    (form.line("model", "Another model").hint("when none of these").class("short").draw())
                    (form.line("serial", "Serial number").hint("may be left empty").draw())
                    (form.line("source", "Where it came from").draw())
                    (form.area("condition", "Condition that one can see").class("wide").draw())
                }
                (form.tick("whole", "1", "Nothing is missing as far as one sees: write down every part of its notes, to be looked at later", true))
                div.acts { button.next { "Take it in" } }
            }
        }
    };
    Ok(Page::new("Donors", body)
        .room(Room::Drawers)
        .about("drawers"))
}
