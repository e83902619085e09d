//! Finding anything by what is typed or scanned.

use axum::extract::{Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::{BenchError, DrawerId, Hit, HitIn, VisitId};
use maud::{Markup, html};
use serde::Deserialize;

use crate::error::PageError;
use crate::layout::Page;
use crate::number;
use crate::state::{AppState, Desk};
use crate::urls;

/// Most things found on one page.
const MOST: u32 = 60;

#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    q: String,
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
) -> Result<Response, PageError> {
    let text = asked.q.trim().to_owned();
    if let Some(scanned) = scanned(&text) {
        let known = state
            .at_bench(move |desk| match scanned.known(desk) {
                Ok(()) => Ok(true),
                Err(BenchError::Unknown { .. }) => Ok(false),
                Err(error) => Err(error.into()),
            })
            .await?;
        if known {
            return Ok(Redirect::to(&scanned.url()).into_response());
        }
    }
    let wanted = text.clone();
    let hits = if wanted.is_empty() {
        Vec::new()
    } else {
        state
            .at_bench(move |desk| Ok(desk.bench.find(&wanted, MOST)?))
            .await?
    };
    Ok(state.draw(&page(&text, &hits)).into_response())
}

/// What a printed code leads to: the tag of a visit, the label of a drawer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Scanned {
    Visit(VisitId),
    Drawer(DrawerId),
}

impl Scanned {
    fn known(self, desk: &Desk) -> Result<(), BenchError> {
        match self {
            Self::Visit(visit) => desk.bench.visit(visit).map(drop),
            Self::Drawer(drawer) => desk.bench.drawer(drawer).map(drop),
        }
    }

    fn url(self) -> String {
        match self {
            Self::Visit(visit) => urls::visit(visit),
            Self::Drawer(drawer) => urls::drawer(drawer),
        }
    }
}

/// What the address leads to that a scanner types into the box.
fn scanned(text: &str) -> Option<Scanned> {
    let path = text.strip_prefix("http://")?.split_once('/')?.1;
    let (kind, number) = path.split_once('/')?;
    let number = number.parse().ok()?;
    match kind {
        "visits" => Some(Scanned::Visit(VisitId::new(number))),
        "drawers" => Some(Scanned::Drawer(DrawerId::new(number))),
        _ => None,
    }
}

fn page(text: &str, hits: &[Hit]) -> Page {
    let body = html! {
        h1 { @if text.is_empty() { "Find anything" } @else { "Found for “" (text) "”" } }
        @if text.is_empty() {
            p.lead { "Type a serial number, an owner, a visit's number, a model, a part, a drawer or any words of a note into the box above. Scanning a tag goes straight to its visit, scanning a drawer's label to the drawer." }
        } @else if hits.is_empty() {
            p.lead { "Nothing. Try fewer letters or another word: a serial number's last digits, the owner's name, a word from a note." }
        } @else {
            p.sub { (number::count(hits.len(), "place", "places")) @if hits.len() >= MOST as usize { " or more; add a word to narrow it" } }
            ul.lines { @for hit in hits { li { (row(hit)) } } }
        }
    };
    Page::new(
        if text.is_empty() {
            "Find".to_owned()
        } else {
            format!("Found for {text}")
        },
        body,
    )
    .query(text)
}

fn row(hit: &Hit) -> Markup {
    let (url, place) = match &hit.place {
        HitIn::Visit(id) => (urls::visit(*id), format!("visit {id}")),
        HitIn::Camera(id) => (urls::camera(*id), "camera".to_owned()),
        HitIn::Owner(id) => (urls::owner(*id), "owner".to_owned()),
        HitIn::Part(id) => (urls::part(*id), "part".to_owned()),
        HitIn::Drawer(id) => (urls::drawer(*id), "drawer".to_owned()),
        HitIn::Donor(id) => (urls::donor(*id), format!("donor {id}")),
        HitIn::Notes(id) => (urls::model(id), "service notes".to_owned()),
    };
    html! {
        a.what href=(url) { (hit.title) }
        span.aside { " – " (place) @if hit.matched != place { ", " (hit.matched) } }
        p { (marked(&hit.excerpt)) }
    }
}

/// The excerpt with its matches, which stand between U+2068 and U+2069, marked.
fn marked(excerpt: &str) -> Markup {
    let mut pieces = excerpt.split('\u{2068}');
    html! {
        (pieces.next().unwrap_or_default())
        @for piece in pieces {
            @match piece.split_once('\u{2069}') {
                Some((hit, rest)) => { mark { (hit) } (rest) }
                None => { (piece) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scanned_code_names_its_visit_or_drawer() {
        assert_eq!(
            scanned("http://127.0.0.1:7700/visits/61"),
            Some(Scanned::Visit(VisitId::new(61)))
        );
        assert_eq!(
            scanned("http://127.0.0.1:7700/drawers/4"),
            Some(Scanned::Drawer(DrawerId::new(4)))
        );
        for other in [
            "61",
            "http://127.0.0.1/visits/",
            "http://127.0.0.1/visits/6/tag",
            "visits/6",
        ] {
            assert_eq!(scanned(other), None, "{other}");
        }
    }

    #[test]
    fn matches_are_marked_and_the_rest_is_escaped() {
        let html = marked("a <b> \u{2068}pawl\u{2069} &c").into_string();
        assert_eq!(html, "a &lt;b&gt; <mark>pawl</mark> &amp;c");
        assert_eq!(marked("\u{2068}open").into_string(), "open");
    }
}
