//! The tag that is tied to a camera when it has come.

use axum::extract::{Path, State};
use axum::http::HeaderMap;
use maud::{Markup, html};

use super::context::{Asked, Context};
use crate::error::PageError;
use crate::layout::Page;
use crate::state::AppState;
use crate::{code, number, urls};

/// The tag: visit number, camera, owner, and the visit's address to scan.
pub(crate) async fn tag(
    State(state): State<AppState>,
    Path(number): Path<String>,
    headers: HeaderMap,
) -> Result<Markup, PageError> {
    let site = state.site(&headers);
    let page = state
        .at_bench(move |desk| {
            let context = Context::load(desk, &number, Asked::default())?;
            let address = format!("{site}{}", urls::visit(context.visit()));
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
