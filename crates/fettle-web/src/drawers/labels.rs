//! A sheet of labels for the drawers, each with the drawer's address to scan.

use axum::extract::{Query, State};
use axum::http::HeaderMap;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use fettle_bench::{DrawerLine, DrawerView};
use fettle_papers::{Label, LabelLayout, Labels};
use maud::{Markup, html};
use serde::Deserialize;

use crate::error::PageError;
use crate::layout::Page;
use crate::state::{AppState, Desk};
use crate::thing::known;
use crate::{code, papers, urls};

/// What the address asks: one drawer; all when it names none.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    drawer: Option<String>,
    /// Present when the file has one label a page.
    single: Option<String>,
}

/// A usual label of label printers.
const WIDTH_MM: f64 = 62.0;
const HEIGHT_MM: f64 = 29.0;

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Result<Markup, PageError> {
    let site = state.site(&headers);
    let page = state
        .at_bench(move |desk| page(&asked_for(desk, &asked)?, &asked, &site))
        .await?;
    Ok(state.draw(&page))
}

/// The drawers asked for: one, or all.
fn asked_for(desk: &Desk, asked: &Asked) -> Result<Vec<DrawerLine>, PageError> {
    Ok(match &asked.drawer {
        Some(id) => vec![known::<DrawerView>(desk, id)?.line],
        None => desk.bench.drawers()?,
    })
}

/// The same labels as a file: on sheets, or one a page for a label printer.
pub(crate) async fn pdf(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Result<Response, PageError> {
    let site = state.site(&headers);
    let bytes = state
        .at_bench(move |desk| {
            let settings = desk.bench.settings()?;
            let label = |drawer: DrawerLine| Label::Drawer {
                code: address(&drawer, &site),
                name: drawer.name,
                words: drawer.place,
            };
            let layout = if asked.single.is_some() {
                LabelLayout::Single {
                    width_mm: WIDTH_MM,
                    height_mm: HEIGHT_MM,
                }
            } else {
                LabelLayout::Sheet {
                    grid: None,
                    taken: 0,
                }
            };
            let sheet = Labels {
                language: papers::language(settings.language),
                bench: settings.name,
                issued: desk.now.date(),
                labels: asked_for(desk, &asked)?.into_iter().map(label).collect(),
                layout,
            };
            let from = (sheet, papers::size(settings.paper_size));
            let pdf = desk.shelves.labels.get(from, |(sheet, size)| {
                let pdf = fettle_papers::labels(sheet, *size);
                pdf.map(|pdf| pdf.bytes.into())
                    .map_err(|error| error.to_string())
            });
            pdf.map_err(|error| PageError::fault(&error))
        })
        .await?;
    let headers = [
        (CONTENT_TYPE, "application/pdf"),
        (CONTENT_DISPOSITION, "inline; filename=\"drawers.pdf\""),
    ];
    Ok((headers, bytes.to_vec()).into_response())
}

/// A drawer's page as a scanner reaches it.
fn address(drawer: &DrawerLine, site: &str) -> String {
    format!("{site}{}", urls::drawer(drawer.id))
}

fn page(drawers: &[DrawerLine], asked: &Asked, site: &str) -> Result<Page, PageError> {
    let labels: Result<Vec<Markup>, PageError> =
        drawers.iter().map(|drawer| label(drawer, site)).collect();
    let of: Vec<(&str, String)> = asked
        .drawer
        .iter()
        .map(|id| ("drawer", id.clone()))
        .collect();
    let mut single = of.clone();
    single.push(("single", "1".to_owned()));
    let body = html! {
        p.no-print {
            a href=(urls::DRAWERS) { "Back to the drawers" }
            " – print this page from the browser, at its true size: each label is 62 mm by 29 mm, with a line to cut along. Or as PDF: "
            a href=(urls::asking(urls::LABELS_PDF, &of)) { "on sheets" } ", "
            a href=(urls::asking(urls::LABELS_PDF, &single)) { "one a page" } " for a label printer."
        }
        h1.no-print { "Labels" }
        div.labels { @for label in labels? { (label) } }
    };
    Ok(Page::new("Labels of the drawers", body).bare())
}

fn label(drawer: &DrawerLine, site: &str) -> Result<Markup, PageError> {
    let address = address(drawer, site);
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
