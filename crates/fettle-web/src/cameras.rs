//! Cameras: every example that was ever here, and one of them over time.

use axum::extract::{Path, Query, State};
use fettle_bench::{BenchError, CameraId, CameraView};
use jiff::tz::TimeZone;
use maud::{Markup, html};
use serde::Deserialize;

use crate::error::PageError;
use crate::layout::{Page, Room};
use crate::state::{AppState, Desk};
use crate::{journal, lines, number, urls};

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

pub(crate) async fn show(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Markup, PageError> {
    let view = state.at_bench(move |desk| known(desk, &id)).await?;
    let zone = state.now().time_zone().clone();
    Ok(state.draw(&page(&view, &zone)))
}

/// The camera of this number, as an address or a form gives it.
pub(crate) fn known(desk: &Desk, id: &str) -> Result<CameraView, PageError> {
    let unknown = || {
        PageError::missing(format!("There is no camera {id} in the record."))
            .or(urls::CAMERAS, "Go to the cameras")
    };
    let number = id.parse::<i64>().map_err(|_| unknown())?;
    match desk.bench.camera(CameraId::new(number)) {
        Err(BenchError::Unknown { .. }) => Err(unknown()),
        found => Ok(found?),
    }
}

fn page(view: &CameraView, zone: &TimeZone) -> Page {
    let camera = &view.camera;
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
            @if let Some(id) = &camera.details.notes_id { div { dt { "Service notes" } dd { a href=(urls::model(id)) { (id) } } } }
            @if !camera.details.note.is_empty() { div.wide { dt { "Note" } dd.words { (camera.details.note) } } }
        }
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
            (journal::draw(&view.journal, zone, &urls::camera(camera.id)))
        }
    };
    Page::new(camera.name(), body).room(Room::Cameras)
}
