//! Arrival: what came?

use axum::extract::{Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::{
    ArrivalDetails, BenchError, Camera, CameraDetails, CameraId, Change, Money, OwnerDetails,
    OwnerId, PhotoAttached, Serial, Stage, VisitId, VisitOpened,
};
use maud::{Markup, html};
use serde::Deserialize;

use crate::assets::Asset;
use crate::error::{PageError, sentence};
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::recorded::Range;
use crate::state::{AppState, Desk};
use crate::upload::{Takes, Upload};
use crate::urls;
use crate::visit::date_field;

const FORM_ID: &str = "arrive";
/// Serial numbers that the form has room for: body, taking lens, viewing lens.
const SERIALS: usize = 3;
/// What often comes with a camera; anything else is typed.
const OFTEN_WITH_IT: [&str; 9] = [
    "case",
    "strap",
    "lens cap",
    "lens hood",
    "filter",
    "spool",
    "film in it",
    "box",
    "papers",
];

/// What the address asks: a camera that has come back, or an owner already known.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    camera: Option<i64>,
    owner: Option<i64>,
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let owner = asked.owner.map(OwnerId::new);
            page(
                desk,
                &Form::fresh(FORM_ID),
                asked.camera.map(CameraId::new),
                owner,
                &[],
            )
        })
        .await?;
    Ok(state.draw(&page))
}

pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state.at_bench(move |desk| arrive(desk, sent)).await?;
    Ok(match outcome {
        Ok(url) => Redirect::to(&url).into_response(),
        Err(page) => (StatusCode::UNPROCESSABLE_ENTITY, state.draw(&page)).into_response(),
    })
}

/// Opens the visit; or gives the form back with what is wrong with it.
fn arrive(desk: &Desk, sent: Upload) -> Result<Result<String, Box<Page>>, PageError> {
    let mut wrong = sent.wrong.clone();
    let photos = photographs(desk, &sent, &mut wrong);
    let camera = sent
        .fields
        .text("camera")
        .parse::<i64>()
        .ok()
        .map(CameraId::new);
    let mut changes = read(desk, &sent.fields, camera, &mut wrong)?;
    changes.extend(photos.iter().cloned().map(Change::from));
    if wrong.is_empty() {
        match desk.apply(changes) {
            Ok(applied) => {
                let visit = applied.visit().unwrap_or(VisitId::LATEST);
                let url = urls::with_recorded(&urls::visit(visit), Range::of(&applied.entries));
                return Ok(Ok(url));
            }
            Err(BenchError::Rule { field, why, .. }) => wrong.note(field, sentence(&why)),
            Err(error) => return Err(error.into()),
        }
    }
    let form = Form::returned(FORM_ID, sent.fields, wrong);
    Ok(Err(Box::new(page(desk, &form, camera, None, &photos)?)))
}

/// The photographs sent now, and those that an earlier try has kept already.
fn photographs(desk: &Desk, sent: &Upload, wrong: &mut Wrong) -> Vec<PhotoAttached> {
    let mut photos: Vec<PhotoAttached> = sent
        .fields
        .all("kept")
        .filter_map(|text| serde_json::from_str(text).ok())
        .collect();
    for file in &sent.files {
        match desk
            .bench
            .keep_photo(VisitId::LATEST, Stage::Arrived, "", &file.bytes)
        {
            Ok(Change::PhotoAttached(photo)) => photos.push(photo),
            Ok(_) => {}
            Err(error) => wrong.note("photo", format!("{}: {error}", file.name)),
        }
    }
    photos
}

fn read(
    desk: &Desk,
    fields: &Fields,
    camera: Option<CameraId>,
    wrong: &mut Wrong,
) -> Result<Vec<Change>, PageError> {
    let mut changes = Vec::new();
    let owner = match fields.some("owner") {
        Some(id) => OwnerId::new(id.parse().unwrap_or(-1)),
        None => {
            let name = wrong.needed(fields, "owner_name", "the owner's name");
            let text = |name: &str| fields.text(name).to_owned();
            let details = OwnerDetails {
                name,
                email: text("owner_email"),
                phone: text("owner_phone"),
                address: text("owner_address"),
                note: String::new(),
            };
            changes.push(Change::OwnerAdded(details));
            OwnerId::LATEST
        }
    };
    let camera = match camera {
        Some(camera) => camera,
        None => {
            changes.push(Change::CameraAdded(camera_details(desk, fields, wrong)));
            CameraId::LATEST
        }
    };
    let declared = wrong.amount(fields, "declared", "the declared value");
    let currency = desk.bench.settings()?.currency;
    let today = desk.now.date();
    let mut came_with: Vec<String> = fields.all("with").map(str::to_owned).collect();
    came_with.extend(
        fields
            .text("with_other")
            .split(',')
            .map(str::trim)
            .filter(|it| !it.is_empty())
            .map(str::to_owned),
    );
    let guarantee_of = match fields.some("guarantee_of").map(|text| text.parse::<i64>()) {
        None => None,
        Some(Ok(visit)) => Some(VisitId::new(visit)),
        Some(Err(_)) => {
            wrong.note("guarantee_of", "write the number of the earlier visit");
            None
        }
    };
    let arrival = ArrivalDetails {
        owner,
        arrived: date_field(fields, wrong, "arrived", Some(today)).unwrap_or(today),
        words: fields.text("words").to_owned(),
        wanted: fields.text("wanted").to_owned(),
        condition: fields.text("condition").to_owned(),
        came_with,
        declared: declared.map(|amount| Money::new(amount, currency)),
        promised: date_field(fields, wrong, "promised", None),
        guarantee_of,
    };
    changes.push(VisitOpened { camera, arrival }.into());
    Ok(changes)
}

fn camera_details(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> CameraDetails {
    let notes_id = fields.some("notes");
    let notes = notes_id.as_deref().and_then(|id| desk.bench.notes(id));
    let (maker, model) = match notes {
        Some(notes) => (notes.model.maker.clone(), notes.model.name.clone()),
        None => (
            fields.text("maker").to_owned(),
            wrong.needed(fields, "model", "the model, from the list or typed,"),
        ),
    };
    let serials = (0..SERIALS).filter_map(|i| {
        let number = fields.some(&format!("serial.{i}.number"))?;
        Some(Serial {
            at: fields.text(&format!("serial.{i}.at")).to_owned(),
            number,
        })
    });
    CameraDetails {
        maker,
        model,
        notes_id,
        serials: serials.collect(),
        note: String::new(),
    }
}

fn page(
    desk: &Desk,
    form: &Form,
    camera: Option<CameraId>,
    owner: Option<OwnerId>,
    photos: &[PhotoAttached],
) -> Result<Page, PageError> {
    let known = match camera {
        Some(id) => Some(desk.bench.camera(id)?),
        None => None,
    };
    let owner = owner.or_else(|| known.as_ref()?.visits.first().map(|line| line.owner));
    let settings = desk.bench.settings()?;
    let today = desk.now.date().to_string();
    let body = html! {
        h1 { "What came?" }
        form method="post" id=(FORM_ID) action=(urls::ARRIVE) enctype="multipart/form-data" novalidate {
            (form.problems())
            fieldset {
                legend { "Whose is it?" }
                (owner_fields(desk, form, owner)?)
            }
            fieldset {
                legend { "Which camera?" }
                @if let Some(known) = &known { (known_camera(form, &known.camera)) }
                @else { (camera_fields(desk, form)) }
            }
            fieldset {
                legend { "What came with it?" }
                div.ticks { @for item in OFTEN_WITH_IT { (form.tick("with", item, item, false)) } }
                (form.line("with_other", "Anything else").hint("parted by commas").draw())
            }
            fieldset {
                legend { "What is wrong, what is wanted?" }
                div.fields {
                    (form.area("words", "In the owner's words").draw())
                    (form.area("wanted", "What is wanted").draw())
                    (form.area("condition", "Condition that one can see").hint("dents, corrosion, glass, earlier repairs").class("wide").draw())
                    (form.line("declared", "Declared value").unit(settings.currency.as_str()).class("third").draw())
                    (form.typed("arrived", "Came on", "date").holding(&today).class("third").draw())
                    (form.typed("promised", "Promised for", "date").class("third").draw())
                }
            }
            fieldset {
                legend { "Photographs, before anything is touched" }
                div.fields {
                    div.field {
                        label for="arrive-photo" { "From files" }
                        p.hint { "Several at once, at most 40 MB each." }
                        input type="file" id="arrive-photo" name="photo" accept="image/*" multiple data-preview="arrive-preview";
                    }
                    div.field {
                        label for="arrive-camera-photo" { "From the tablet's camera" }
                        p.hint { "One now; more can be added to the visit." }
                        input type="file" id="arrive-camera-photo" name="photo" accept="image/*" capture="environment" data-preview="arrive-camera-preview";
                    }
                }
                div.strip #arrive-camera-preview {}
                div.strip #arrive-preview {}
                @if !photos.is_empty() {
                    p { (crate::number::count(photos.len(), "photograph is kept", "photographs are kept")) " from before; there is no need to choose them again." }
                    @for photo in photos { input type="hidden" name="kept" value=(serde_json::to_string(photo).unwrap_or_default()); }
                }
            }
            div.acts { button.next { "Open the visit" } span.quiet-text { "Then print its receipt and tag." } }
        }
    };
    Ok(Page::new("Arrival", body)
        .room(Room::Bench)
        .script(Asset::Photos))
}

fn owner_fields(desk: &Desk, form: &Form, owner: Option<OwnerId>) -> Result<Markup, PageError> {
    let mut owners = vec![(String::new(), "a new owner, written below".to_owned())];
    for line in desk.bench.owners(fettle_bench::Page::first(500))?.lines {
        let details = &line.owner.details;
        let name = if details.email.is_empty() {
            details.name.clone()
        } else {
            format!("{} – {}", details.name, details.email)
        };
        owners.push((line.owner.id.to_string(), name));
    }
    let chosen = owner.map(|owner| owner.to_string()).unwrap_or_default();
    Ok(html! {
        div.fields {
            (form.choice("owner", "Owner", owners).holding(&chosen).class("wide").draw())
            (form.line("owner_name", "Name of a new owner").draw())
            (form.typed("owner_email", "Mail address", "email").draw())
            (form.typed("owner_phone", "Telephone", "tel").draw())
            (form.area("owner_address", "Postal address").draw())
        }
    })
}

fn known_camera(form: &Form, camera: &Camera) -> Markup {
    html! {
        input type="hidden" name="camera" value=(camera.id);
        p { "It has been here before: " a href=(urls::camera(camera.id)) { strong { (camera.name()) } " " (camera.details.serial()) } "." }
        (form.line("guarantee_of", "It comes back under the guarantee of visit").hint("the number of the earlier visit, or empty").class("short").draw())
    }
}

fn camera_fields(desk: &Desk, form: &Form) -> Markup {
    let mut models = vec![(String::new(), "another model, written below".to_owned())];
    models.extend(desk.bench.models().into_iter().filter_map(|model| {
        let notes = model.notes?;
        Some((
            model.id,
            format!("{} {}", notes.model.maker, notes.model.name),
        ))
    }));
    html! {
        div.fields {
            (form.choice("notes", "Model with service notes", models).class("wide").draw())
            (form.line("maker", "Maker of another model").draw())
            (form.line("model", "Name of another model").draw())
        }
        div.table-wrap { table {
            thead { tr { th { "Serial number" } th { "Where it stands" } } }
            tbody {
                @for i in 0..SERIALS {
                    @let at = ["body", "taking lens", ""].get(i).copied().unwrap_or_default();
                    tr {
                        td { (form.cell(&format!("serial.{i}.number"), &format!("Serial number {}", i + 1), "", None)) }
                        td { (form.cell(&format!("serial.{i}.at"), &format!("Where serial number {} stands", i + 1), at, None)) }
                    }
                }
            }
        } }
    }
}
