//! Arrival: what came?

use axum::extract::{Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::{
    ArrivalDetails, CameraDetails, CameraId, CameraView, Change, FileRef, Money, OwnerDetails,
    OwnerId, OwnerView, PhotoAttached, Serial, Stage, VisitId, VisitOpened,
};
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Deserialize;

use crate::assets::Asset;
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::recorded::Range;
use crate::state::{AppState, Desk};
use crate::thing::known;
use crate::upload::{Takes, Upload};
use crate::visit::date_field;
use crate::{number, once, urls};

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
    camera: Option<String>,
    owner: Option<String>,
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let camera = match asked.camera.as_deref() {
                Some(id) => Some(known::<CameraView>(desk, id)?),
                None => None,
            };
            let owner = match asked.owner.as_deref() {
                Some(id) => Some(known::<OwnerView>(desk, id)?.owner.id),
                None => None,
            };
            page(desk, &Form::fresh(FORM_ID), camera.as_ref(), owner, &[])
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
    let key = once::key(&sent);
    let photos = photographs(desk, &sent, &mut wrong);
    let camera = asked_for(
        sent.fields.some("camera"),
        |id| known::<CameraView>(desk, id),
        |text| {
            wrong.note(
                "",
                format!("“{text}” is no camera of the record; begin at its page"),
            );
        },
    )?;
    let owner = asked_for(
        sent.fields.some("owner"),
        |id| known::<OwnerView>(desk, id),
        |text| {
            wrong.note(
                "owner",
                format!("“{text}” is no owner of the record; choose one"),
            );
        },
    )?
    .map(|view| view.owner.id);
    let known = camera.as_ref().map(|view| view.camera.id);
    let mut changes = read(desk, &sent.fields, known, owner, &mut wrong)?;
    changes.extend(photos.iter().cloned().map(Change::from));
    if wrong.is_empty() {
        let opened = desk.once.take(key, || {
            let applied = desk.apply(changes)?;
            let visit = applied.visit().unwrap_or(VisitId::LATEST);
            Ok(urls::with_recorded(
                &urls::visit(visit),
                Range::of(&applied.entries),
            ))
        });
        match opened {
            Ok(url) => return Ok(Ok(url)),
            Err(error) => wrong.not_recorded(error)?,
        }
    }
    let form = Form::returned(FORM_ID, sent.fields, wrong);
    let page = page(desk, &form, camera.as_ref(), owner, &photos)?;
    Ok(Err(Box::new(page)))
}

/// What a form names by its number; `unknown` is told of a number that names nothing.
fn asked_for<T>(
    id: Option<String>,
    find: impl FnOnce(&str) -> Result<T, PageError>,
    unknown: impl FnOnce(&str),
) -> Result<Option<T>, PageError> {
    let Some(id) = id else { return Ok(None) };
    match find(&id) {
        Ok(found) => Ok(Some(found)),
        Err(error) if error.status == StatusCode::NOT_FOUND => {
            unknown(&id);
            Ok(None)
        }
        Err(error) => Err(error),
    }
}

/// The photographs sent now, and those that an earlier try has kept already.
fn photographs(desk: &Desk, sent: &Upload, wrong: &mut Wrong) -> Vec<PhotoAttached> {
    let mut photos = Vec::new();
    for text in sent.fields.all("kept") {
        let kept = serde_json::from_str::<FileRef>(text).ok().and_then(|file| {
            desk.bench
                .photo_kept(VisitId::LATEST, Stage::Arrived, "", &file)
                .ok()
        });
        match kept {
            Some(Change::PhotoAttached(photo)) => photos.push(photo),
            _ => wrong.note(
                "photo",
                "a photograph kept from before is gone; choose it again",
            ),
        }
    }
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
    owner: Option<OwnerId>,
    wrong: &mut Wrong,
) -> Result<Vec<Change>, PageError> {
    let mut changes = Vec::new();
    let owner = match owner {
        Some(owner) => {
            let typed = ["owner_name", "owner_email", "owner_phone", "owner_address"];
            contradicts(
                fields,
                wrong,
                &typed,
                "an owner is chosen above; clear this, or choose “a new owner”",
            );
            owner
        }
        None => {
            // A number that names nobody was told of already; a name would not put it right.
            let name = match fields.some("owner") {
                Some(_) => fields.text("owner_name").to_owned(),
                None => wrong.needed(fields, "owner_name", "the owner's name"),
            };
            let text = |name: &str| fields.text(name).to_owned();
            let details = OwnerDetails {
                name,
                email: text("owner_email"),
                phone: text("owner_phone"),
                address: text("owner_address"),
                ..OwnerDetails::default()
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

/// Notes at each field that was filled in what it contradicts.
fn contradicts(fields: &Fields, wrong: &mut Wrong, names: &[&str], text: &str) {
    for name in names {
        if fields.some(name).is_some() {
            wrong.note(*name, text);
        }
    }
}

fn camera_details(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> CameraDetails {
    let notes_id = fields.some("notes");
    let notes = notes_id.as_deref().and_then(|id| desk.bench.notes(id));
    let (maker, model) = match (notes, &notes_id) {
        (Some(notes), _) => {
            contradicts(
                fields,
                wrong,
                &["maker", "model"],
                "a model is chosen above; clear this, or choose “another model”",
            );
            (notes.model.maker.clone(), notes.model.name.clone())
        }
        (None, Some(id)) => {
            wrong.note(
                "notes",
                format!("there are no service notes “{id}”; choose the model from the list"),
            );
            (String::new(), String::new())
        }
        (None, None) => (
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
    known: Option<&CameraView>,
    owner: Option<OwnerId>,
    photos: &[PhotoAttached],
) -> Result<Page, PageError> {
    let owner = owner.or_else(|| known?.visits.first().map(|line| line.owner));
    let settings = desk.bench.settings()?;
    let today = desk.now.date().to_string();
    let body = html! {
        h1 { "What came?" }
        form method="post" id=(FORM_ID) action=(urls::ARRIVE) enctype="multipart/form-data" novalidate {
            (form.problems())
            input type="hidden" name="once" value=(form.value("once", &desk.once.token()));
            fieldset {
                legend { "Whose is it?" }
                (owner_fields(desk, form, owner)?)
            }
            fieldset {
                legend { "Which camera?" }
                @if let Some(known) = known { (known_camera(form, known, desk.now.date())) }
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
                    p { (number::count(photos.len(), "photograph is kept", "photographs are kept")) " from before; there is no need to choose them again." }
                    @for photo in photos { input type="hidden" name="kept" value=(serde_json::to_string(&photo.file).unwrap_or_default()); }
                }
            }
            div.acts { button.next { "Open the visit" } span.quiet-text { "Then print its receipt and tag." } }
        }
    };
    Ok(Page::new("Arrival", body)
        .room(Room::Bench)
        .about("first-day")
        .script(Asset::Photos))
}

fn owner_fields(desk: &Desk, form: &Form, owner: Option<OwnerId>) -> Result<Markup, PageError> {
    let label = |details: &OwnerDetails| {
        if details.email.is_empty() {
            details.name.clone()
        } else {
            format!("{} – {}", details.name, details.email)
        }
    };
    let mut owners = vec![(String::new(), "a new owner, written below".to_owned())];
    let lines = desk.bench.owners(fettle_bench::Page::first(500))?.lines;
    if let Some(asked) = owner.filter(|&id| lines.iter().all(|line| line.owner.id != id)) {
        let asked = desk.bench.owner(asked)?.owner;
        owners.push((asked.id.to_string(), label(&asked.details)));
    }
    owners.extend(
        lines
            .iter()
            .map(|line| (line.owner.id.to_string(), label(&line.owner.details))),
    );
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

fn known_camera(form: &Form, known: &CameraView, today: Date) -> Markup {
    let camera = &known.camera;
    let guaranteed = known
        .visits
        .iter()
        .find(|line| line.guarantee_until.is_some_and(|until| until >= today));
    let earlier = guaranteed.map_or_else(String::new, |line| line.visit.to_string());
    html! {
        input type="hidden" name="camera" value=(camera.id);
        p { "It has been here before: " a href=(urls::camera(camera.id)) { strong { (camera.name()) } " " (camera.details.serial()) } "." }
        (form.line("guarantee_of", "It comes back under the guarantee of visit").holding(&earlier).hint("the number of the earlier visit; empty when it comes for something else").class("short").draw())
        @if let Some((line, until)) = guaranteed.and_then(|line| Some((line, line.guarantee_until?))) {
            p.quiet-text { "The work of visit " (line.visit) " is guaranteed until " (number::date(until)) "." }
        }
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
