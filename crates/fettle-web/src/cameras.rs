//! Cameras: every example that was ever here, and one of them over time.

use axum::extract::{Query, State};
use fettle_bench::{
    BenchError, CameraCorrected, CameraDetails, CameraId, CameraView, Change, Serial,
};
use maud::{Markup, html};
use serde::Deserialize;

use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::state::{AppState, Desk};
use crate::thing::{Forms, NoMore, Thing};
use crate::{drawers, journal, lines, models, number, urls};

/// The form of the page, by its name in the address.
const CORRECT: &str = "correct";
/// Lines of a list on one page.
pub(crate) const LINES: u32 = 100;

/// Which part of a list the address asks for.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Part {
    #[serde(default)]
    pub(crate) skip: u32,
}

impl Part {
    pub(crate) fn page(&self) -> fettle_bench::Page {
        fettle_bench::Page {
            skip: self.skip,
            take: LINES,
        }
    }
}

pub(crate) async fn list(
    State(state): State<AppState>,
    Query(part): Query<Part>,
) -> Result<Markup, PageError> {
    let cameras = state
        .at_bench(move |desk| Ok(desk.bench.cameras(part.page())?))
        .await?;
    let body = html! {
        div.title-row {
            h1 { "Cameras" }
            div.acts { a.button.first href=(urls::ARRIVE) { "A camera has come" } }
        }
        @if cameras.lines.is_empty() { p.empty { "No camera has come yet." } }
        @else {
            div.table-wrap { table {
                thead { tr { th { "Camera" } th { "Serial number" } th { "Last owner" } th { "Last visit" } th.num { "Visits" } } }
                tbody {
                    @for line in &cameras.lines {
                        tr {
                            th scope="row" { a href=(urls::camera(line.camera.id)) { (line.camera.name()) } }
                            td { (line.camera.details.serial()) }
                            td { (line.owner_name.as_deref().unwrap_or_default()) }
                            td { @if let Some(visit) = line.last_visit { a href=(urls::visit(visit)) { (visit) } @if let Some(stage) = line.stage { ", " (stage) } } }
                            td.num { (line.visits) }
                        }
                    }
                }
            } }
            (lines::pager(urls::CAMERAS, cameras.page.skip, cameras.page.take, cameras.total))
        }
    };
    Ok(state.draw(&Page::new("Cameras", body).room(Room::Cameras)))
}

impl Thing for CameraView {
    type Asked = NoMore;

    const NAME: &'static str = "camera";
    const ROOM: (&'static str, &'static str) = (urls::CAMERAS, "Go to the cameras");

    fn read(desk: &Desk, number: i64) -> Result<Self, BenchError> {
        desk.bench.camera(CameraId::new(number))
    }

    fn address(&self) -> String {
        urls::camera(self.camera.id)
    }

    fn asked(
        &self,
        _desk: &Desk,
        deed: &str,
        fields: &Fields,
        wrong: &mut Wrong,
    ) -> Result<Option<Vec<Change>>, PageError> {
        if deed != CORRECT {
            return Ok(None);
        }
        let (camera, now) = (self.camera.id, &self.camera.details);
        let details = corrected(now, fields, wrong);
        let change = (details != *now).then(|| CameraCorrected { camera, details }.into());
        Ok(Some(change.into_iter().collect()))
    }

    fn page(&self, desk: &Desk, returned: &Form, _asked: &NoMore) -> Result<Page, PageError> {
        Ok(page(desk, self, returned))
    }
}

/// The details with what the form altered in them.
fn corrected(now: &CameraDetails, fields: &Fields, wrong: &mut Wrong) -> CameraDetails {
    let standing = standing(now);
    let mut told = standing
        .iter()
        .map(|(name, now)| wrong.merged(fields, name, now));
    let mut next = || told.next().unwrap_or_default();
    let (maker, model, notes_id, note) = (next(), next(), next(), next());
    let mut serials = Vec::new();
    for _ in 0..rows(now) {
        let (number, at) = (next(), next());
        if !number.is_empty() {
            serials.push(Serial { at, number });
        }
    }
    drop(told);
    if model.is_empty() {
        wrong.note("model", "the model’s name is missing");
    }
    CameraDetails {
        maker,
        model,
        notes_id: Some(notes_id).filter(|id| !id.is_empty()),
        serials,
        note,
    }
}

/// Serial numbers that the form has room for.
fn rows(details: &CameraDetails) -> usize {
    details.serials.len() + 2
}

/// The fields of the form and what the record says in each.
fn standing(details: &CameraDetails) -> Vec<(String, &str)> {
    let mut fields = vec![
        ("maker".to_owned(), details.maker.as_str()),
        ("model".to_owned(), details.model.as_str()),
        (
            "notes".to_owned(),
            details.notes_id.as_deref().unwrap_or_default(),
        ),
        ("note".to_owned(), details.note.as_str()),
    ];
    for i in 0..rows(details) {
        let serial = details.serials.get(i);
        let (number, at) = serial.map_or(("", ""), |it| (&it.number, &it.at));
        fields.push((format!("serial.{i}.number"), number));
        fields.push((format!("serial.{i}.at"), at));
    }
    fields
}

fn page(desk: &Desk, view: &CameraView, returned: &Form) -> Page {
    let camera = &view.camera;
    let deed = |deed: &str| urls::camera_deed(camera.id, deed);
    let forms = Forms {
        desk,
        returned,
        deed: &deed,
    };
    let here = view.visits.first().filter(|line| line.stage.is_here());
    let body = html! {
        div.title-row {
            h1 { (camera.name()) " " span.serial { (camera.details.serial()) } }
            div.acts {
                @if let Some(line) = here { a.button.first href=(urls::visit(line.visit)) { "Go to visit " (line.visit) } }
                @else { a.button.first href={ (urls::ARRIVE) "?camera=" (camera.id) } { "It has come back" } }
            }
        }
        dl.title-block {
            @for serial in &camera.details.serials {
                div { dt { "Serial number" @if !serial.at.is_empty() { ", " (serial.at) } } dd { (serial.number) } }
            }
            (models::named(&desk.bench, camera.details.notes_id.as_deref()))
            @if !camera.details.note.is_empty() { div.wide { dt { "Note" } dd.words { (camera.details.note) } } }
        }
        (correct_form(&forms, &camera.details))
        section {
            h2 { "Visits" }
            ul.lines {
                @for line in &view.visits {
                    @let said = html! { "came " (number::date(line.arrived)) };
                    li { (lines::visit(line, &said)) @if !line.words.is_empty() { p.aside { "“" (line.words) "”" } } }
                }
            }
        }
        section {
            h2 { "Journal" }
            (journal::draw(&view.journal, desk.now.time_zone(), &urls::camera(camera.id)))
        }
    };
    Page::new(camera.name(), body).room(Room::Cameras)
}

fn correct_form(forms: &Forms<'_>, details: &CameraDetails) -> Markup {
    let standing = standing(details);
    let form = forms.named(CORRECT).caught_up(standing.clone());
    let models = drawers::models(forms.desk, "no service notes");
    html! {
        details.more.no-print open[form.is_returned()] {
            summary { "Correct what is written here" }
            (forms.around(&form, CORRECT, &html! {
                (form.problems())
                @for (name, now) in &standing { (form.was(name, now)) }
                div.fields {
                    (form.line("maker", "Maker").holding(&details.maker).draw())
                    (form.line("model", "Model").holding(&details.model).needed().draw())
                    (form.choice("notes", "Service notes", models).holding(details.notes_id.as_deref().unwrap_or_default()).draw())
                    (form.area("note", "Note").holding(&details.note).class("wide").draw())
                }
                div.table-wrap { table {
                    thead { tr { th { "Serial number" } th { "Where it stands" } } }
                    tbody {
                        @for i in 0..rows(details) {
                            @let (number, at) = details.serials.get(i).map_or(("", ""), |it| (&it.number, &it.at));
                            tr {
                                td { (form.cell(&format!("serial.{i}.number"), &format!("Serial number {}", i + 1), number, None)) }
                                td { (form.cell(&format!("serial.{i}.at"), &format!("Where serial number {} stands", i + 1), at, None)) }
                            }
                        }
                    }
                } }
                div.acts { button.first { "Correct it" } }
            }))
        }
    }
}
