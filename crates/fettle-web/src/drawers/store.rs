//! Putting parts away: a new lot into a drawer.

use axum::extract::{Query, Request, State};
use axum::response::Response;
use fettle_bench::{Applied, BenchSettings, Grade, Money, PartOf, PartStored, PartView, Term};
use fettle_notes::ServiceNotes;
use maud::{Markup, html};
use serde::Deserialize;

use super::{drawer_of, drawers, grades};
use crate::error::PageError;
use crate::form::{self, Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::recorded::{self, Range};
use crate::state::{AppState, Desk};
use crate::thing::{answer, known, once_field, record_or_draw};
use crate::upload::{Takes, Upload};
use crate::urls;

const FORM_ID: &str = "store";
const LIST: &str = "all-parts";

/// What the address asks: a part to store more of, a drawer to store into.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    part: Option<String>,
    drawer: Option<String>,
    recorded: Option<String>,
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let recorded = asked.recorded.as_deref().and_then(Range::parse);
            let line = recorded::line(desk, recorded, urls::STORE)?;
            Ok(page(desk, &asked, &Form::fresh(FORM_ID))?.recorded(line))
        })
        .await?;
    Ok(state.draw(&page))
}

pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let mut wrong = Wrong::default();
            let settings = desk.bench.settings()?;
            let stored = read(desk, &settings, &sent.fields, &mut wrong);
            let changes = stored.map(Into::into).into_iter().collect();
            let to = |applied: &Applied| {
                let lot = applied.lot().and_then(|lot| desk.bench.lot(lot).ok());
                lot.map_or(urls::DRAWERS.to_owned(), |lot| urls::part(lot.part))
            };
            let again = |fields, wrong| {
                page(
                    desk,
                    &Asked::default(),
                    &Form::returned(FORM_ID, fields, wrong),
                )
            };
            record_or_draw(desk, sent, changes, wrong, to, again)
        })
        .await?;
    Ok(answer(&state, outcome))
}

fn read(
    desk: &Desk,
    settings: &BenchSettings,
    fields: &Fields,
    wrong: &mut Wrong,
) -> Option<PartStored> {
    let name = wrong.needed(fields, "part", "the part");
    let of = part_of(
        desk,
        fields.some("notes"),
        fields.text("model"),
        &name,
        wrong,
    );
    let grade = Grade::from_text(fields.text("grade"));
    if grade.is_none() {
        wrong.note("grade", "choose the part's grade");
    }
    let quantity = wrong.whole(fields, "quantity", "the pieces");
    if fields.text("quantity").is_empty() {
        wrong.note("quantity", "how many pieces is missing");
    }
    let price = wrong.amount(fields, "price", "the price");
    let minimum = whole_from_none(fields, "minimum", "the minimum", wrong);
    let drawer = drawer_of(fields, "drawer", wrong);
    Some(PartStored {
        of: of?,
        grade: grade?,
        quantity: quantity?,
        price: price.map(|amount| Money::new(amount, settings.currency)),
        source: fields.text("source").to_owned(),
        drawer: drawer?,
        minimum,
        note: fields.text("note").to_owned(),
    })
}

/// A whole number from 0 that may be left out.
pub(super) fn whole_from_none(
    fields: &Fields,
    name: &str,
    what: &str,
    wrong: &mut Wrong,
) -> Option<u32> {
    let text = fields.some(name)?;
    let number = text.parse().ok();
    if number.is_none() {
        wrong.note(
            name,
            format!("{what}: “{text}” is not a whole number from 0"),
        );
    }
    number
}

/// The part that was meant: one of the service notes chosen, else own words for the model typed.
fn part_of(
    desk: &Desk,
    notes_id: Option<String>,
    model: &str,
    name: &str,
    wrong: &mut Wrong,
) -> Option<PartOf> {
    let Some(id) = notes_id else {
        return Some(PartOf {
            notes_id: None,
            model: model.to_owned(),
            part: Term::own(name),
        });
    };
    let Some(notes) = desk.bench.notes(&id) else {
        wrong.note(
            "notes",
            format!("there are no service notes “{id}”; choose"),
        );
        return None;
    };
    if !model.is_empty() {
        wrong.note(
            "model",
            "a model is chosen beside it; empty this, or choose “none of these”",
        );
        return None;
    }
    Some(PartOf {
        model: model_name(&notes),
        notes_id: Some(id),
        part: term(&notes, name),
    })
}

/// Maker and name of the model.
pub(super) fn model_name(notes: &ServiceNotes) -> String {
    format!("{} {}", notes.model.maker, notes.model.name)
        .trim()
        .to_owned()
}

/// The notes' own part of that name or id, else own words.
pub(super) fn term(notes: &ServiceNotes, text: &str) -> Term {
    let known = notes
        .parts
        .iter()
        .find(|(id, part)| id.as_str() == text || part.name.eq_ignore_ascii_case(text));
    match known {
        Some((id, part)) => Term::known(id.as_str(), &part.name),
        None => Term::own(text),
    }
}

/// The models with service notes, to choose from.
pub(crate) fn models(desk: &Desk, none: &str) -> Vec<(String, String)> {
    let mut models = vec![(String::new(), none.to_owned())];
    models.extend(desk.bench.models().iter().filter_map(|model| {
        let notes = model.notes.as_ref()?;
        Some((model.id.clone(), model_name(notes)))
    }));
    models
}

fn page(desk: &Desk, asked: &Asked, form: &Form) -> Result<Page, PageError> {
    let settings = desk.bench.settings()?;
    let more = match asked.part.as_deref() {
        Some(id) => Some(known::<PartView>(desk, id)?),
        None => None,
    };
    let of = more.as_ref().map(|view| &view.line.of);
    let notes = of.and_then(|of| of.notes_id.as_deref()).unwrap_or_default();
    let model = of
        .filter(|of| of.notes_id.is_none())
        .map_or("", |of| of.model.as_str());
    let name = of.map_or("", |of| of.part.words.as_str());
    let drawers = drawers(desk)?;
    let first = more
        .as_ref()
        .and_then(|view| view.line.drawers.first())
        .map(|(id, _)| id.to_string());
    let drawer = asked.drawer.clone().or(first).unwrap_or_default();
    let mut places = vec![(String::new(), "choose".to_owned())];
    places.extend(drawers.iter().cloned());
    let mut kinds = vec![(String::new(), "choose".to_owned())];
    kinds.extend(grades());
    let models_known = desk.bench.models();
    let names: Vec<&str> = models_known
        .iter()
        .filter_map(|model| model.notes.as_ref())
        .flat_map(|notes| notes.parts.iter())
        .map(|(_, part)| part.name.as_str())
        .collect();
    let body = html! {
        h1 { "Put parts away" }
        (form.problems())
        @if drawers.is_empty() {
            p.lead { "There is no drawer yet. " a href=(urls::DRAWERS) { "Name one first" } ", then come back." }
        } @else {
            form method="post" id=(FORM_ID) action=(urls::STORE) novalidate {
                (once_field(desk, form))
                (form::offers(LIST, names))
                fieldset {
                    legend { "Which part?" }
                    div.fields {
                        (form.choice("notes", "Of which model", models(desk, "none of these")).holding(notes).draw())
                        (form.line("model", "Another model").hint("when it is none of these; empty for what fits anything").holding(model).draw())
                        (form.line("part", "Part").hint("from the service notes, or your own words").offering(LIST).holding(name).needed().draw())
                        (form.choice("grade", "Grade", kinds).needed().draw())
                    }
                }
                fieldset {
                    legend { "How many, from where, into which drawer?" }
                    div.fields {
                        (form.line("quantity", "Pieces").class("short").needed().draw())
                        (form.choice("drawer", "Drawer", places).holding(&drawer).class("short").needed().draw())
                        (form.line("price", "One cost").unit(settings.currency.as_str()).hint("empty when not known").class("short").draw())
                        (form.line("minimum", "Minimum").hint("never fewer than").class("short").draw())
                        (form.line("source", "Where they came from").draw())
                        (form.line("note", "Note").draw())
                    }
                }
                div.acts { button.next { "Put them away" } }
            }
        }
    };
    Ok(Page::new("Put parts away", body)
        .room(Room::Drawers)
        .about("drawers"))
}
