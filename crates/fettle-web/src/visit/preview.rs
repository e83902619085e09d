//! A paper of the visit looked at before it is kept or printed.

use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use fettle_papers::Pdf;
use maud::{Markup, html};
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};

use super::context::{Asked, Context};
use super::deed::Deed;
use crate::error::{PageError, sentence};
use crate::layout::{Page, Room};
use crate::papers::{From, VisitPaper, kept_title};
use crate::state::{AppState, Desk};
use crate::urls;

/// The address by which a scanner reaches the visit.
fn address(site: &str, context: &Context<'_>) -> String {
    format!("{site}{}", urls::visit(context.visit()))
}

/// Makes the paper that the address names.
fn made<'d>(
    desk: &'d Desk,
    (number, name): &(String, String),
    site: &str,
) -> Result<(Context<'d>, VisitPaper, Pdf), PageError> {
    let context = Context::load(desk, number, Asked::default())?;
    let back = urls::visit_at(context.visit(), Some("papers"), None);
    let paper = VisitPaper::from_name(name).ok_or_else(|| {
        PageError::missing(format!("A visit has no paper “{name}”.")).or(&back, "Go to its papers")
    })?;
    let pdf = paper
        .make(&From::of(&context, address(site, &context)))
        .map_err(|error| {
            PageError::not_understood(format!(
                "{} cannot be made: {}",
                paper.title(),
                sentence(&error)
            ))
            .or(&back, "Go to the visit")
        })?;
    Ok((context, paper, pdf))
}

/// The page with the paper's sheets.
pub(crate) async fn show(
    State(state): State<AppState>,
    Path(named): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Markup, PageError> {
    let site = state.site(&headers);
    let page = state
        .at_bench(move |desk| {
            let (context, paper, pdf) = made(desk, &named, &site)?;
            Ok(page(&context, paper, &pdf, &address(&site, &context)))
        })
        .await?;
    Ok(state.draw(&page))
}

fn page(context: &Context<'_>, paper: VisitPaper, pdf: &Pdf, address: &str) -> Page {
    let visit = context.visit();
    let form = context.form(Deed::Paper);
    let back = urls::visit_at(visit, Some("papers"), None);
    let title = format!("{}, visit {visit}", paper.title());
    let body = html! {
        div.title-row {
            div { h1 { (paper.title()) } p.sub { a href=(back) { "Visit " (visit) } ", " (context.view.line.camera_name) ", " (context.view.line.owner_name) } }
            div.acts { a.button href=(urls::paper_pdf(visit, &paper.name())) { "Open it as PDF, to print" } }
        }
        @if !pdf.warnings.is_empty() {
            ul.findings { @for warning in &pdf.warnings { li { (sentence(&warning.to_string())) } } }
        }
        (context.around(Deed::Paper, &form, &html! {
            input type="hidden" name="paper" value=(paper.name());
            input type="hidden" name="address" value=(address);
            div.acts { button.next { "Keep it with the visit" } span.quiet-text { "What is kept never changes; it can go with a mail." } }
        }))
        div.sheets {
            @for (n, sheet) in pdf.sheets().iter().enumerate() {
                img.sheet-of-paper src={ "data:image/svg+xml;base64," (BASE64_STANDARD.encode(sheet)) } alt={ "Page " (n + 1) " of " (pdf.pages) };
            }
        }
    };
    Page::new(title, body).room(Room::Bench).about("papers")
}

/// The paper as a file.
pub(crate) async fn file(
    State(state): State<AppState>,
    Path(named): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, PageError> {
    let site = state.site(&headers);
    let (name, bytes) = state
        .at_bench(move |desk| {
            let (context, paper, pdf) = made(desk, &named, &site)?;
            let title = kept_title(paper, &context.view, context.today());
            Ok((title, pdf.bytes))
        })
        .await?;
    let name = utf8_percent_encode(&name, NON_ALPHANUMERIC);
    let headers = [
        (CONTENT_TYPE, "application/pdf".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("inline; filename*=UTF-8''{name}.pdf"),
        ),
    ];
    Ok((headers, bytes).into_response())
}
