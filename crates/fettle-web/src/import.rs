//! Taking in what was kept elsewhere: a table or contacts, its columns, what is wrong with it, and what it brings.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_moving::{
    DateOrder, DecimalSign, Kind, Known, Map, NotBrought, Plan, Problem, Reading, Table, Terms,
    bring, offer, plan, rehearse,
};
use maud::{Markup, html};
use serde::Deserialize;

use crate::error::{PageError, sentence};
use crate::form::{Fields, Form, Wrong};
use crate::layout::Page;
use crate::state::{AppState, Desk};
use crate::upload::{Takes, Upload};
use crate::{number, urls};

const ID: &str = "import";
/// Files that are being looked at, at most; the oldest is forgotten.
const MOST_FILES: usize = 4;
/// Problems and known rows that the page lists.
const LISTED: usize = 100;

/// Files that were sent and are being looked at, so that nobody sends them twice.
#[derive(Debug, Default)]
pub(crate) struct Looked(Mutex<VecDeque<(String, Arc<[u8]>)>>);

impl Looked {
    fn keep(&self, token: String, bytes: Vec<u8>) {
        let mut files = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        files.truncate(MOST_FILES - 1);
        files.push_front((token, bytes.into()));
    }

    fn get(&self, token: &str) -> Option<Arc<[u8]>> {
        let files = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let found = files.iter().find(|(known, _)| known == token);
        found.map(|(_, bytes)| Arc::clone(bytes))
    }
}

#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    /// How many rows were just taken in.
    brought: Option<usize>,
}

pub(crate) async fn show(State(state): State<AppState>, Query(asked): Query<Asked>) -> Markup {
    state.draw(&first(&Form::fresh(ID), asked.brought))
}

pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Contacts).await?;
    let outcome = state.at_bench(move |desk| Ok(taken(desk, sent))).await?;
    Ok(match outcome {
        Ok(url) => Redirect::to(&url).into_response(),
        Err((status, page)) => (status, state.draw(&page)).into_response(),
    })
}

/// Where to go when all was taken in, else the page to look at.
type Outcome = Result<String, (StatusCode, Box<Page>)>;

fn taken(desk: &Desk, sent: Upload) -> Outcome {
    let mut wrong = sent.wrong.clone();
    let fields = sent.fields;
    let again = |fields: Fields, wrong: Wrong| {
        let form = Form::returned(ID, fields, wrong);
        Err((
            StatusCode::UNPROCESSABLE_ENTITY,
            Box::new(first(&form, None)),
        ))
    };
    let (token, bytes) = match sent.files.into_iter().next() {
        Some(file) => {
            let token = desk.once.token();
            desk.looked.keep(token.clone(), file.bytes);
            let bytes = desk.looked.get(&token);
            (token, bytes)
        }
        None => {
            let token = fields.text("file").to_owned();
            let bytes = desk.looked.get(&token);
            (token, bytes)
        }
    };
    let Some(bytes) = bytes else {
        let what = if token.is_empty() {
            "choose a file"
        } else {
            "the file is no longer at hand; send it again"
        };
        wrong.note("table", what);
        return again(fields, wrong);
    };
    let kind: Kind = match fields.text("kind").parse() {
        Ok(kind) => kind,
        Err(_) => {
            wrong.note("kind", "say what the file holds");
            return again(fields, wrong);
        }
    };
    let table = match Table::any(&bytes, &Reading::default()) {
        Ok(table) => table,
        Err(problems) => {
            for problem in problems.iter().take(LISTED) {
                wrong.note("table", problem.to_string());
            }
            return again(fields, wrong);
        }
    };
    let map = mapped(kind, &table, &fields, &mut wrong);
    let mut terms = Terms::strict(desk.now.date());
    terms.habits.dates = match fields.text("dates") {
        "dmy" => Some(DateOrder::Dmy),
        "mdy" => Some(DateOrder::Mdy),
        _ => None,
    };
    terms.habits.decimal = match fields.text("decimal") {
        "comma" => Some(DecimalSign::Comma),
        "point" => Some(DecimalSign::Point),
        _ => None,
    };
    look(
        desk,
        &Sheet {
            table,
            map,
            terms,
            token,
        },
        fields,
        wrong,
    )
}

/// A file with its columns brought to fields.
struct Sheet {
    table: Table,
    map: Map,
    terms: Terms,
    token: String,
}

impl Sheet {
    /// The form's fields as the map has them now.
    fn fields(&self, sent: &Fields) -> Fields {
        let sources = self.map.kind.fields().iter().flat_map(|field| {
            let heading = self.map.heading(field.name).unwrap_or_default();
            let value = self.map.value(field.name).unwrap_or_default();
            [
                (format!("map.{}", field.name), heading.to_owned()),
                (format!("set.{}", field.name), value.to_owned()),
            ]
        });
        let habits = ["dates", "decimal"].map(|name| (name.to_owned(), sent.text(name).to_owned()));
        Fields::new(sources.chain(habits).collect())
    }

    /// How the file is read, as one text: what the hand looked at is what comes in.
    fn reading(&self, sent: &Fields) -> String {
        let told = self
            .map
            .kind
            .fields()
            .iter()
            .flat_map(|field| [self.map.heading(field.name), self.map.value(field.name)]);
        let habits = ["dates", "decimal"].map(|name| Some(sent.text(name)));
        serde_json::Value::from_iter(told.chain(habits)).to_string()
    }
}

/// A field's name as a label.
fn label(name: &str) -> String {
    let mut name = name.replace('-', " ");
    if let Some(first) = name.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    name
}

/// The map as offered, with what the form changed in it.
fn mapped(kind: Kind, table: &Table, fields: &Fields, wrong: &mut Wrong) -> Map {
    let mut map = offer(kind, &table.headings);
    if !fields.ticked("mapped") {
        return map;
    }
    for field in kind.fields() {
        let name = format!("map.{}", field.name);
        let heading = fields.some(&name);
        if heading.as_deref() != map.heading(field.name)
            && let Err(error) = map.set(field.name, heading.as_deref())
        {
            wrong.note(name, error);
        }
        let name = format!("set.{}", field.name);
        if let Some(value) = fields.some(&name)
            && let Err(error) = map.set_value(field.name, &value)
        {
            wrong.note(name, error);
        }
    }
    map
}

/// What the file would bring, or brings.
fn look(desk: &Desk, sheet: &Sheet, fields: Fields, mut wrong: Wrong) -> Outcome {
    let failed = |error: &dyn std::fmt::Display, wrong: &mut Wrong| {
        wrong.note("", error.to_string());
    };
    let known = match Known::read(&desk.bench) {
        Ok(known) => known,
        Err(error) => {
            failed(&error, &mut wrong);
            let form = Form::returned(ID, fields, wrong);
            return Err((
                StatusCode::SERVICE_UNAVAILABLE,
                Box::new(first(&form, None)),
            ));
        }
    };
    let mut plan = plan(&sheet.table, &sheet.map, &known, &sheet.terms);
    let at = desk.now.timestamp();
    if plan.problems.is_empty() && wrong.is_empty() {
        let asked = fields.text("act") == "bring";
        let wants = asked && fields.text("looked") == sheet.reading(&fields);
        if asked && !wants {
            wrong.note(
                "",
                "the columns were changed since you looked: see below what would come in now",
            );
        }
        let done = if wants {
            bring(&desk.bench, &desk.hand, at, &plan, &mut |_| ())
        } else {
            rehearse(&desk.bench, &desk.hand, at, &plan, &mut |_| ())
        };
        match done {
            Ok(_) if wants => return Ok(format!("{}?brought={}", urls::IMPORT, plan.new_rows())),
            Ok(_) => {}
            Err(NotBrought::Problems(problems)) => plan.problems = problems,
            Err(error) => failed(&error, &mut wrong),
        }
    }
    let is_wrong = !wrong.is_empty();
    let reading = sheet.reading(&fields);
    let form = Form::returned(ID, sheet.fields(&fields), wrong);
    let status = if is_wrong {
        StatusCode::UNPROCESSABLE_ENTITY
    } else {
        StatusCode::OK
    };
    Err((status, Box::new(second(&form, sheet, &reading, &plan))))
}

/// The page that asks for a file.
fn first(form: &Form, brought: Option<usize>) -> Page {
    let kinds = [
        ("owners", "owners, or contacts"),
        ("cameras", "cameras"),
        ("visits", "past visits"),
        ("parts", "parts in drawers"),
    ];
    let kinds = kinds.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let body = html! {
        h1 { "Take in" }
        p.lead { "What was kept elsewhere: a table (CSV) of owners, cameras, past visits or parts, or contacts as vCard. You see what it would bring before anything is written, and it comes in whole or not at all." }
        @if let Some(brought) = brought { div.recorded role="status" { p { span.word { "Recorded:" } " " (number::count(brought, "row was", "rows were")) " taken in; the journal tells each." } } }
        (form.problems())
        form method="post" id=(ID) action=(urls::IMPORT) enctype="multipart/form-data" novalidate {
            div.fields {
                (form.choice("kind", "The file holds", kinds.to_vec()).class("third").draw())
                div.field {
                    label for=(form.field_id("table")) { "File" }
                    p.hint { "CSV or vCard, at most 8 MB; larger ones with " span.mono { "fettle import" } }
                    input type="file" id=(form.field_id("table")) name="table" accept=".csv,.txt,.tsv,.vcf,text/csv,text/vcard";
                    (form.error("table"))
                }
            }
            div.acts { button.first { "Look at it" } }
        }
        p.quiet-text { "Owners and cameras first: visits name them. The whole bench is written out and read back with " span.mono { "fettle export" } " and " span.mono { "fettle import --export" } "." }
    };
    Page::new("Take in", body).about("import")
}

/// The page that shows what a file would bring.
fn second(form: &Form, sheet: &Sheet, reading: &str, plan: &Plan) -> Page {
    let new = plan.new_rows();
    let ready = plan.problems.is_empty() && new > 0;
    let orders = [
        ("", "year first, or clear"),
        ("dmy", "day, month, year"),
        ("mdy", "month, day, year"),
    ];
    let orders = orders.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let signs = [
        ("", "12.50 or 12,50"),
        ("point", "12.50, and 1,200 is twelve hundred"),
        ("comma", "12,50, and 1.200 is twelve hundred"),
    ];
    let signs = signs.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let body = html! {
        h1 { "Take in " (plan.kind) }
        (form.problems())
        p.lead {
            (number::count(plan.rows, "row", "rows")) ": "
            strong { (number::count(new, "would come in", "would come in")) } ", "
            (plan.same.len()) " known already, "
            @if plan.problems.is_empty() { "nothing wrong." } @else { span.needs-hand { (number::count(plan.problems.len(), "problem", "problems")) } "." }
        }
        @for remark in &plan.remarks { p.quiet-text { (sentence(remark)) } }
        @if !plan.problems.is_empty() { (problems(&plan.problems)) }
        form method="post" id=(ID) action=(urls::IMPORT) novalidate {
            input type="hidden" name="file" value=(sheet.token);
            input type="hidden" name="kind" value=(plan.kind);
            input type="hidden" name="mapped" value="yes";
            input type="hidden" name="looked" value=(reading);
            details.more open[!ready] {
                summary { "Which column holds what" }
                div.fields {
                    @for field in plan.kind.fields() {
                        (form.choice(&format!("map.{}", field.name), &label(field.name), headings(&sheet.table))
                            .holding(sheet.map.heading(field.name).unwrap_or_default()).hint(field.about).class("third").draw())
                    }
                    (form.choice("dates", "Days are written", orders.to_vec()).class("third").draw())
                    (form.choice("decimal", "Numbers are written", signs.to_vec()).class("third").draw())
                }
                details.more open[sheet.map.kind.fields().iter().any(|field| sheet.map.value(field.name).is_some())] {
                    summary { "One value for every row" }
                    div.fields {
                        @for field in plan.kind.fields() {
                            (form.line(&format!("set.{}", field.name), &label(field.name)).holding(sheet.map.value(field.name).unwrap_or_default()).class("third").draw())
                        }
                    }
                }
                @if !sheet.map.unused.is_empty() { p.quiet-text { "Nothing is taken from: " (sheet.map.unused.join(", ")) "." } }
            }
            div.acts {
                button.first name="act" value="look" { "Look again" }
                @if ready { button.next name="act" value="bring" { "Take in " (number::count(new, "row", "rows")) } }
                a.button href=(urls::IMPORT) { "Another file" }
            }
        }
        @if !plan.same.is_empty() {
            details.more {
                summary { (number::count(plan.same.len(), "row is", "rows are")) " known already" }
                ul.lines { @for same in plan.same.iter().take(LISTED) { li {
                    "row " (same.row) ": " (same.known_as)
                    @if !same.differs.is_empty() { span.aside { " – differs in " (same.differs.join(", ")) "; what was known stays" } }
                } } }
            }
        }
    };
    Page::new(format!("Take in {}", plan.kind), body).about("import")
}

fn headings(table: &Table) -> Vec<(String, String)> {
    let mut all = vec![(String::new(), "no column".to_owned())];
    let named = table.headings.iter().map(|it| (it.clone(), it.clone()));
    all.extend(named);
    all
}

fn problems(problems: &[Problem]) -> Markup {
    html! {
        div.table-wrap { table {
            caption { "What is wrong" @if problems.len() > LISTED { ": the first " (LISTED) " of " (problems.len()) } }
            thead { tr { th.num { "Row" } th { "Column" } th { "There stands" } th { "Why not" } th { "What to do" } } }
            tbody { @for it in problems.iter().take(LISTED) { tr {
                td.num { @if let Some(row) = it.row { (row) } }
                td { (it.column.as_deref().unwrap_or_default()) }
                td { (it.value) }
                td { (it.why) }
                td { (it.remedy) }
            } } }
        } }
    }
}
