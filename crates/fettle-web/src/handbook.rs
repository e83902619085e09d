//! The handbook: the pages of `docs/`, held in the program, so that they are at the bench where there is no network.

mod pages;
mod text;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};

use self::pages::{CHAPTERS, PICTURES, pages};
use crate::error::PageError;
use crate::layout::Page;
use crate::state::AppState;
use crate::urls;

/// The chapters with their pages.
pub(crate) async fn contents(State(state): State<AppState>) -> Markup {
    let body = html! {
        h1 { "Handbook" }
        p.lead { "How the work is done with this bench book, from the first day on. It lies in the program itself; nothing is fetched." }
        @for chapter in CHAPTERS {
            section {
                h2 { (chapter.name) }
                ul.lines {
                    @for page in chapter.pages {
                        li {
                            a.what href=(urls::handbook(page.name)) { (page.title()) }
                            p.aside { (page.about) }
                        }
                    }
                }
            }
        }
    };
    state.draw(&Page::new("Handbook", body))
}

/// One page.
pub(crate) async fn show(
    State(state): State<AppState>,
    Path(name): Path<String>,
) -> Result<Markup, PageError> {
    let pages: Vec<_> = pages().collect();
    let at = pages.iter().position(|(_, page)| page.name == name);
    let Some((at, (chapter, page))) = at.and_then(|at| Some((at, pages.get(at)?))) else {
        return Err(PageError::of_status(StatusCode::NOT_FOUND));
    };
    let before = at.checked_sub(1).and_then(|at| pages.get(at));
    let after = pages.get(at + 1);
    let body = html! {
        nav.trail.no-print aria-label="Where this is" {
            a href=(urls::HANDBOOK) { "Handbook" } " · " (chapter.name)
        }
        article.handbook { (text::html(page.text)) }
        nav.ways.no-print aria-label="Pages beside this one" {
            @if let Some((_, page)) = before { a rel="prev" href=(urls::handbook(page.name)) { "← " (page.title()) } }
            @if let Some((_, page)) = after { a rel="next" href=(urls::handbook(page.name)) { (page.title()) " →" } }
        }
    };
    Ok(state.draw(&Page::new(page.title(), body)))
}

/// A picture of a page.
pub(crate) async fn picture(Path(name): Path<String>) -> Result<Response, PageError> {
    let (_, bytes) = PICTURES
        .iter()
        .find(|(known, _)| *known == name)
        .ok_or_else(|| PageError::of_status(StatusCode::NOT_FOUND))?;
    let kind = if name.ends_with(".svg") {
        "image/svg+xml"
    } else {
        "image/png"
    };
    let headers = [(CONTENT_TYPE, kind), (CACHE_CONTROL, "max-age=3600")];
    Ok((headers, *bytes).into_response())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    /// Addresses within the program that a text of HTML names.
    fn own_links(html: &str) -> Vec<&str> {
        ["href=\"", "src=\""]
            .iter()
            .flat_map(|mark| html.split(mark).skip(1))
            .filter_map(|rest| rest.split('"').next())
            .filter(|link| link.starts_with('/') || link.starts_with('#'))
            .collect()
    }

    #[test]
    fn every_link_between_pages_leads_to_a_page_and_its_heading() {
        for (_, page) in pages() {
            let drawn = text::html(page.text).into_string();
            for link in own_links(&drawn) {
                let (path, heading) = link.split_once('#').unwrap_or((link, ""));
                if let Some(picture) = path.strip_prefix("/handbook/pictures/") {
                    assert!(
                        PICTURES.iter().any(|(name, _)| *name == picture),
                        "{}: no picture {picture}",
                        page.name
                    );
                } else if let Some(name) = path.strip_prefix("/handbook/") {
                    let other = pages().find(|(_, other)| other.name == name);
                    let (_, other) =
                        other.unwrap_or_else(|| panic!("{}: no page {name}", page.name));
                    let there = text::html(other.text).into_string();
                    let id = format!("id=\"{heading}\"");
                    assert!(
                        heading.is_empty() || there.contains(&id),
                        "{}: no {link}",
                        page.name
                    );
                } else if path.is_empty() {
                    let id = format!("id=\"{heading}\"");
                    assert!(drawn.contains(&id), "{}: no {link}", page.name);
                }
            }
        }
    }

    #[test]
    fn every_picture_is_shown_somewhere() {
        let all: String = pages().map(|(_, page)| page.text).collect();
        for (name, _) in PICTURES {
            assert!(all.contains(&format!("(pictures/{name})")), "{name}");
        }
    }

    #[test]
    fn every_page_has_a_title_and_an_address_of_its_own() {
        let names: BTreeSet<_> = pages().map(|(_, page)| page.name).collect();
        assert_eq!(names.len(), pages().count());
        for (_, page) in pages() {
            assert!(page.title().len() > 2, "{}", page.name);
        }
    }
}
