//! One drawer: what lies in it, counting it, and what it is called.

use axum::extract::{Path, Query, Request, State};
use axum::response::Response;
use fettle_bench::{BenchError, DrawerId, DrawerNamed, DrawerView};
use maud::{Markup, html};
use serde::Deserialize;

use super::{answer, count, once_field, record};
use crate::error::PageError;
use crate::form::{Form, Wrong};
use crate::layout::{Page, Room};
use crate::recorded::{self, Range};
use crate::state::{AppState, Desk};
use crate::upload::{Takes, Upload};
use crate::{journal, number, urls};

const NAME: &str = "name";

#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    recorded: Option<String>,
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let view = known(desk, &id)?;
            let recorded = asked.recorded.as_deref().and_then(Range::parse);
            let line = recorded::line(desk, recorded, &urls::drawer(view.line.id))?;
            Ok(page(desk, &view, &Form::default()).recorded(line))
        })
        .await?;
    Ok(state.draw(&page))
}

/// Takes a count, or another name.
pub(crate) async fn act(
    State(state): State<AppState>,
    Path((id, deed)): Path<(String, String)>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let view = known(desk, &id)?;
            let drawer = view.line.id;
            let mut wrong = Wrong::default();
            let change = match deed.as_str() {
                count::NAME => count::read(&view, &sent.fields, &mut wrong).map(Into::into),
                NAME => {
                    let line = &view.line;
                    let name = wrong.merged(&sent.fields, "name", &line.name);
                    let place = wrong.merged(&sent.fields, "place", &line.place);
                    (name != line.name || place != line.place).then(|| {
                        DrawerNamed {
                            drawer: Some(drawer),
                            name,
                            place,
                        }
                        .into()
                    })
                }
                _ => {
                    return Err(PageError::missing("A drawer has no such form.")
                        .or(urls::drawer(drawer), "Go to the drawer"));
                }
            };
            if wrong.is_empty() && change.is_none() {
                return Ok(Ok(urls::drawer(drawer)));
            }
            let changes = change.into_iter().collect();
            match record(desk, &sent, changes, &mut wrong, |_| urls::drawer(drawer))? {
                Some(url) => Ok(Ok(url)),
                None => {
                    let form = Form::returned(deed, sent.fields, wrong);
                    // Drawn from the record as it stands after what was refused.
                    let view = known(desk, &id)?;
                    Ok(Err(Box::new(page(desk, &view, &form))))
                }
            }
        })
        .await?;
    Ok(answer(&state, outcome))
}

/// The drawer of this number, as an address gives it.
pub(super) fn known(desk: &Desk, id: &str) -> Result<DrawerView, PageError> {
    let unknown = || {
        PageError::missing(format!("There is no drawer {id} in the record."))
            .or(urls::DRAWERS, "Go to the drawers")
    };
    let number = id.parse::<i64>().map_err(|_| unknown())?;
    match desk.bench.drawer(DrawerId::new(number)) {
        Err(BenchError::Unknown { .. }) => Err(unknown()),
        found => Ok(found?),
    }
}

fn page(desk: &Desk, view: &DrawerView, returned: &Form) -> Page {
    let line = &view.line;
    let fresh = |id: &str| {
        if returned.id() == id {
            returned.clone()
        } else {
            Form::fresh(id)
        }
    };
    let counting = fresh(count::NAME);
    let naming = fresh(NAME).caught_up([
        ("name".to_owned(), line.name.as_str()),
        ("place".to_owned(), line.place.as_str()),
    ]);
    let body = html! {
        div.title-row {
            div {
                h1 { "Drawer " (line.name) }
                p.sub {
                    @if !line.place.is_empty() { (line.place) "; " }
                    (number::count(line.pieces as usize, "piece", "pieces")) " of " (number::count(line.parts as usize, "part", "parts"))
                }
            }
            div.acts {
                a.button.first href={ (urls::STORE) "?drawer=" (line.id) } { "Put parts away" }
                a.button href={ (urls::LABELS) "?drawer=" (line.id) } { "Its label" }
            }
        }
        (returned.problems())
        section {
            h2 { "What lies in it" }
            (count::draw(desk, view, &counting))
        }
        details.more.no-print open[naming.is_returned()] {
            summary { "Call it otherwise" }
            form method="post" id=(NAME) action=(urls::drawer_deed(line.id, NAME)) novalidate {
                (once_field(desk, &naming))
                (naming.was("name", &line.name)) (naming.was("place", &line.place))
                div.fields {
                    (naming.line("name", "What stands on its front").holding(&line.name).needed().draw())
                    (naming.line("place", "Where it is").holding(&line.place).draw())
                }
                div.acts { button.first { "Call it so" } }
            }
        }
        section {
            h2 { "Journal" }
            (journal::draw(&view.journal, desk.now.time_zone(), &urls::drawer(line.id)))
        }
    };
    Page::new(format!("Drawer {}", line.name), body).room(Room::Drawers)
}
