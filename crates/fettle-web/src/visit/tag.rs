//! What is printed when a camera has come: a receipt for its owner and a tag for the camera.

use axum::extract::{Path, State};
use axum::http::HeaderMap;
use maud::{Markup, html};

use super::context::{Asked, Context};
use crate::error::PageError;
use crate::layout::Page;
use crate::state::AppState;
use crate::{code, number, urls};

/// The receipt: what came, in what state, what is wanted.
pub(crate) async fn receipt(
    State(state): State<AppState>,
    Path(number): Path<String>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let context = Context::load(desk, &number, Asked::default())?;
            Ok(receipt_page(&context))
        })
        .await?;
    Ok(state.draw(&page))
}

fn receipt_page(context: &Context<'_>) -> Page {
    let view = &context.view;
    let arrival = &view.arrival;
    let owner = &view.owner.details;
    let bench = &context.settings;
    let body = html! {
        (back(context))
        div.title-row {
            div { h1 { "Receipt" } p.sub { "Visit " (view.line.visit) ", " (number::date(arrival.arrived)) } }
            div { strong { (bench.name) } div.words.aside { (bench.address) } div.words.aside { (bench.contact) } }
        }
        dl.facts {
            dt { "For" } dd { (owner.name) div.words { (owner.address) } }
            dt { "Camera" } dd { (view.line.camera_name) }
            dt { "Serial numbers" }
            dd {
                @if view.camera.details.serials.is_empty() { "none noted" }
                @for serial in &view.camera.details.serials { div { (serial.number) @if !serial.at.is_empty() { ", " (serial.at) } } }
            }
            dt { "Came with it" } dd { @if arrival.came_with.is_empty() { "nothing" } @else { (arrival.came_with.join(", ")) } }
            @if !arrival.condition.is_empty() { dt { "Condition" } dd.words { (arrival.condition) } }
            @if !arrival.words.is_empty() { dt { "You say" } dd.words { (arrival.words) } }
            @if !arrival.wanted.is_empty() { dt { "You want" } dd.words { (arrival.wanted) } }
            @if let Some(declared) = &arrival.declared { dt { "Declared value" } dd { (declared) } }
            @if let Some(promised) = arrival.promised { dt { "Promised for" } dd { (number::date(promised)) } }
            dt { "Photographs taken" } dd { (view.photos.len()) }
        }
        p.signed { "Received for " (bench.name) }
    };
    Page::new(format!("Receipt, visit {}", view.line.visit), body).bare()
}

/// The tag: visit number, camera, owner, and the visit's address to scan.
pub(crate) async fn tag(
    State(state): State<AppState>,
    Path(number): Path<String>,
    headers: HeaderMap,
) -> Result<Markup, PageError> {
    let host = code::host(&headers);
    let page = state
        .at_bench(move |desk| {
            let context = Context::load(desk, &number, Asked::default())?;
            let address = format!("http://{host}{}", urls::visit(context.visit()));
            tag_page(&context, &address)
        })
        .await?;
    Ok(state.draw(&page))
}

fn tag_page(context: &Context<'_>, address: &str) -> Result<Page, PageError> {
    let line = &context.view.line;
    let body = html! {
        (back(context))
        h1.no-print { "Tag" }
        div.tag {
            (code::draw(address)?)
            div {
                div.number { (line.visit) }
                p { strong { (line.camera_name) } @if !line.serial.is_empty() { br; (line.serial) } }
                p { (line.owner_name) }
                p { "came " (number::date(line.arrived)) }
            }
        }
    };
    Ok(Page::new(format!("Tag, visit {}", line.visit), body).bare())
}

fn back(context: &Context<'_>) -> Markup {
    html! {
        p.no-print { a href=(urls::visit(context.visit())) { "Back to visit " (context.visit()) } " – print this page from the browser." }
    }
}
