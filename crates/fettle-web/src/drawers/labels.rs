//! A sheet of labels for the drawers, each with the drawer's address to scan.

use axum::extract::{Query, State};
use axum::http::HeaderMap;
use fettle_bench::{DrawerLine, DrawerView};
use maud::{Markup, html};
use serde::Deserialize;

use crate::code;
use crate::error::PageError;
use crate::layout::Page;
use crate::state::AppState;
use crate::thing::known;
use crate::urls;

/// What the address asks: one drawer; all when it names none.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    drawer: Option<String>,
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Result<Markup, PageError> {
    let host = code::host(&headers);
    let page = state
        .at_bench(move |desk| {
            let drawers = match &asked.drawer {
                Some(id) => vec![known::<DrawerView>(desk, id)?.line],
                None => desk.bench.drawers()?,
            };
            page(&drawers, &host)
        })
        .await?;
    Ok(state.draw(&page))
}

fn page(drawers: &[DrawerLine], host: &str) -> Result<Page, PageError> {
    let labels: Result<Vec<Markup>, PageError> =
        drawers.iter().map(|drawer| label(drawer, host)).collect();
    let body = html! {
        p.no-print {
            a href=(urls::DRAWERS) { "Back to the drawers" }
            " – print this page from the browser, at its true size: each label is 62 mm by 29 mm, with a line to cut along."
        }
        h1.no-print { "Labels" }
        div.labels { @for label in labels? { (label) } }
    };
    Ok(Page::new("Labels of the drawers", body).bare())
}

fn label(drawer: &DrawerLine, host: &str) -> Result<Markup, PageError> {
    let address = format!("http://{host}{}", urls::drawer(drawer.id));
    Ok(html! {
        div.label-drawer {
            (code::draw(&address)?)
            div {
                div.name { (drawer.name) }
                @if !drawer.place.is_empty() { div.place { (drawer.place) } }
            }
        }
    })
}
