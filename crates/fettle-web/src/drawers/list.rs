//! The parts that are kept, by what runs short, by drawer or by model; the drawers; and naming one.

use std::collections::HashMap;

use axum::extract::{Query, Request, State};
use axum::response::Response;
use fettle_bench::{
    DrawerId, DrawerLine, DrawerNamed, Grade, PartFilter, PartId, PartLine, PartList, PartOrder,
};
use maud::{Markup, html};
use serde::Deserialize;

use super::{by_grade, drawers, grades, part_link};
use crate::error::PageError;
use crate::form::{Form, Wrong};
use crate::layout::{Page, Room};
use crate::recorded::{self, Range};
use crate::state::{AppState, Desk};
use crate::thing::{answer, once_field, record};
use crate::upload::{Takes, Upload};
use crate::{number, urls};

const FORM_ID: &str = "name-drawer";
/// Parts on one page.
const PARTS: u32 = 60;
/// How many years ahead the list looks.
const A_YEAR: f64 = 1.0;
/// Below this chance a drawer is as likely not to last.
const AS_LIKELY_NOT: f64 = 0.5;
/// Parts that the page of the bench names.
const SHORT: usize = 8;

/// What the address asks of the list.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    q: String,
    #[serde(default)]
    drawer: String,
    #[serde(default)]
    model: String,
    #[serde(default)]
    grade: String,
    #[serde(default)]
    by: String,
    below: Option<String>,
    #[serde(default)]
    skip: u32,
    recorded: Option<String>,
}

impl Asked {
    fn filter(&self, desk: &Desk) -> PartFilter {
        let notes_id = Some(self.model.clone()).filter(|model| !model.is_empty());
        PartFilter {
            drawer: self.drawer.parse().ok().map(DrawerId::new),
            fitting: notes_id
                .as_deref()
                .map(|id| desk.bench.fitting(id))
                .unwrap_or_default(),
            notes_id,
            grade: Grade::from_text(&self.grade),
            below: self.below.is_some(),
            text: self.q.trim().to_owned(),
            order: match self.by.as_str() {
                "model" => PartOrder::Model,
                "drawer" => PartOrder::Drawer,
                _ => PartOrder::Short,
            },
        }
    }

    /// The address of this list from another line on.
    fn url(&self, skip: u32) -> String {
        let mut pairs = vec![
            ("q", self.q.clone()),
            ("drawer", self.drawer.clone()),
            ("model", self.model.clone()),
            ("grade", self.grade.clone()),
            ("by", self.by.clone()),
        ];
        if self.below.is_some() {
            pairs.push(("below", "1".to_owned()));
        }
        if skip > 0 {
            pairs.push(("skip", skip.to_string()));
        }
        urls::asking(urls::DRAWERS, &pairs)
    }

    /// How many conditions narrow the list.
    fn filters(&self) -> usize {
        [&self.q, &self.drawer, &self.model, &self.grade]
            .into_iter()
            .filter(|text| !text.trim().is_empty())
            .count()
            + usize::from(self.below.is_some())
    }
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let recorded = asked.recorded.as_deref().and_then(Range::parse);
            let line = recorded::line(desk, recorded, &asked.url(asked.skip))?;
            Ok(page(desk, &asked, &Form::fresh(FORM_ID))?.recorded(line))
        })
        .await?;
    Ok(state.draw(&page))
}

/// Names a new drawer.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let mut wrong = Wrong::default();
            let named = DrawerNamed {
                drawer: None,
                name: wrong.needed(&sent.fields, "name", "what stands on its front"),
                place: sent.fields.text("place").to_owned(),
            };
            let to = |applied: &fettle_bench::Applied| {
                applied
                    .drawer()
                    .map_or(urls::DRAWERS.to_owned(), urls::drawer)
            };
            match record(desk, &sent, vec![named.into()], &mut wrong, to)? {
                Some(url) => Ok(Ok(url)),
                None => {
                    let form = Form::returned(FORM_ID, sent.fields, wrong);
                    Ok(Err(Box::new(page(desk, &Asked::default(), &form)?)))
                }
            }
        })
        .await?;
    Ok(answer(&state, outcome))
}

fn page(desk: &Desk, asked: &Asked, form: &Form) -> Result<Page, PageError> {
    let part_of_list = fettle_bench::Page {
        skip: asked.skip,
        take: PARTS,
    };
    let filter = asked.filter(desk);
    let list = desk
        .bench
        .parts(&filter, part_of_list, desk.now.timestamp())?;
    let lasting = desk.bench.lasting(&list.lines, desk.now.date(), A_YEAR)?;
    let drawers = desk.bench.drawers()?;
    let body = html! {
        div.title-row {
            div {
                h1 { "Drawers" }
                p.sub { (summary(&list, &drawers, asked)) }
            }
            div.acts {
                a.button.first href=(urls::STORE) { "Put parts away" }
                a.button href=(urls::DONORS) { "Donors" }
            }
        }
        @if form.is_returned() { (form.problems()) }
        @if list.total > 0 || asked.filters() > 0 { (narrow(desk, asked)?) }
        @if list.lines.is_empty() {
            p.empty {
                @if asked.filters() > 0 { "No part is like that. Leave something out of what is asked for." }
                @else { "Nothing is kept yet. Name a drawer, then put parts away into it." }
            }
        } @else {
            (table(&list.lines, &lasting, filter.order))
            (pager(asked, &list))
        }
        (drawer_list(desk, &drawers, form))
    };
    Ok(Page::new("Drawers", body)
        .room(Room::Drawers)
        .about("drawers"))
}

fn summary(list: &PartList, drawers: &[DrawerLine], asked: &Asked) -> Markup {
    let pieces = usize::try_from(list.pieces).unwrap_or(usize::MAX);
    html! {
        (number::count(pieces, "piece", "pieces")) " of " (number::count(list.total as usize, "part", "parts"))
        @if asked.filters() == 0 { " in " (number::count(drawers.len(), "drawer", "drawers")) }
        @if list.below > 0 {
            "; " a href=(Asked { below: Some("1".to_owned()), ..asked.clone() }.url(0)) { (list.below) " below the minimum" }
        }
    }
}

/// What narrows the list, sent as an address.
fn narrow(desk: &Desk, asked: &Asked) -> Result<Markup, PageError> {
    let any = |what: &str| (String::new(), what.to_owned());
    let mut models = vec![any("any model")];
    models.extend(desk.bench.models().iter().filter_map(|model| {
        let notes = model.notes.as_ref()?;
        let name = format!("{} {}", notes.model.maker, notes.model.name);
        Some((model.id.clone(), name))
    }));
    let mut places = vec![any("any drawer")];
    places.extend(drawers(desk)?);
    let mut kinds = vec![any("any grade")];
    kinds.extend(grades());
    let orders = [
        ("", "short first"),
        ("drawer", "by drawer"),
        ("model", "by model"),
    ]
    .map(|(value, label)| (value.to_owned(), label.to_owned()))
    .to_vec();
    let form = Form::fresh("narrow");
    Ok(html! {
        form.no-print method="get" action=(urls::DRAWERS) aria-label="Narrow the list" {
            div.fields.narrow {
                (form.line("q", "Words in its name").holding(&asked.q).class("third").draw())
                (form.choice("model", "Fits", models).holding(&asked.model).class("third").draw())
                (form.choice("drawer", "Lies in", places).holding(&asked.drawer).class("third").draw())
                (form.choice("grade", "Grade", kinds).holding(&asked.grade).class("short").draw())
                (form.choice("by", "Order", orders).holding(&asked.by).class("short").draw())
                div.acts {
                    (form.tick("below", "1", "Only below the minimum", asked.below.is_some()))
                    button { "Show" }
                    @if asked.filters() > 0 { a href=(urls::DRAWERS) { "Show all" } }
                }
            }
        }
    })
}

fn table(lines: &[PartLine], lasting: &HashMap<PartId, f64>, order: PartOrder) -> Markup {
    let group = |line: &PartLine| match order {
        PartOrder::Short => String::new(),
        PartOrder::Model => match line.of.model.as_str() {
            "" => "of no model".to_owned(),
            model => model.to_owned(),
        },
        PartOrder::Drawer => line.drawers.first().map_or_else(
            || "none left".to_owned(),
            |(_, name)| format!("drawer {name}"),
        ),
    };
    let groups = lines.chunk_by(|a, b| group(a) == group(b));
    html! {
        div.table-wrap { table.stock {
            thead { tr {
                th { "Part" } th.num { "There" } th.num { "Minimum" } th.num { "Lasts a year" } th { "By grade" } th { "Drawer" }
            } }
            @for lines in groups {
                tbody {
                    @if let Some(first) = lines.first() && order != PartOrder::Short {
                        tr.group-head { th colspan="6" scope="rowgroup" { (group(first)) } }
                    }
                    @for line in lines { (row(line, lasting.get(&line.id).copied())) }
                }
            }
        } }
    }
}

fn row(line: &PartLine, lasts: Option<f64>) -> Markup {
    html! {
        tr {
            th scope="row" { (part_link(line.id, &line.of)) }
            td.num { (line.quantity) }
            td.num {
                @if let Some(minimum) = line.minimum {
                    @if line.is_below() { span.needs-hand { (minimum) span.unseen { ", fewer are there" } } } @else { (minimum) }
                } @else { span.quiet-text { "–" } }
            }
            td.num { @if let Some(lasts) = lasts { (chance(lasts)) } }
            td { (by_grade(line)) }
            td {
                @for (n, (id, name)) in line.drawers.iter().enumerate() {
                    @if n > 0 { ", " } a href=(urls::drawer(*id)) { (name) }
                }
            }
        }
    }
}

/// The chance that a drawer lasts, with its hand when it is as likely not to.
pub(super) fn chance(lasts: f64) -> Markup {
    html! {
        @if lasts < AS_LIKELY_NOT { span.needs-hand { (number::chance(lasts)) } } @else { (number::chance(lasts)) }
    }
}

fn pager(asked: &Asked, list: &PartList) -> Markup {
    let (skip, take) = (list.page.skip, list.page.take);
    let before = skip.checked_sub(take).or((skip > 0).then_some(0));
    let after = skip.checked_add(take).filter(|next| *next < list.total);
    html! {
        @if before.is_some() || after.is_some() {
            nav.ways aria-label="Parts of the list" {
                @if let Some(before) = before { a href=(asked.url(before)) { "Those before" } }
                @if let Some(after) = after { a href=(asked.url(after)) { "Those after" } }
                span.aside { (skip + 1) " to " (after.unwrap_or(list.total)) " of " (list.total) }
            }
        }
    }
}

fn drawer_list(desk: &Desk, drawers: &[DrawerLine], form: &Form) -> Markup {
    html! {
        section #all-drawers {
            h2 { "All drawers" }
            @if drawers.is_empty() { p.empty { "No drawer has a name yet." } }
            @else {
                div.table-wrap { table.slim {
                    thead { tr { th { "Drawer" } th { "Where" } th.num { "Parts" } th.num { "Pieces" } } }
                    tbody { @for drawer in drawers { tr {
                        th scope="row" { a href=(urls::drawer(drawer.id)) { (drawer.name) } }
                        td { (drawer.place) }
                        td.num { (drawer.parts) }
                        td.num { (drawer.pieces) }
                    } } }
                } }
                p.no-print { a href=(urls::LABELS) { "Labels to print for all drawers" } }
            }
            details.more.no-print open[form.is_returned() || drawers.is_empty()] {
                summary { "Name a new drawer" }
                form method="post" id=(FORM_ID) action=(urls::DRAWERS) novalidate {
                    (once_field(desk, form))
                    div.fields {
                        (form.line("name", "What stands on its front").hint("A1, springs, shutter left").needed().draw())
                        (form.line("place", "Where it is").hint("may be left empty").draw())
                    }
                    div.acts { button.first { "Name the drawer" } }
                }
            }
        }
    }
}

/// What the page of the bench says of parts that run short: below their minimum, or as likely as not used up within a year; nothing
/// when none does.
pub(crate) fn short(desk: &Desk) -> Result<Markup, PageError> {
    let first = fettle_bench::Page::first(PARTS);
    let list = desk
        .bench
        .parts(&PartFilter::default(), first, desk.now.timestamp())?;
    let lasting = desk.bench.lasting(&list.lines, desk.now.date(), A_YEAR)?;
    let lasts = |line: &PartLine| lasting.get(&line.id).copied();
    let short: Vec<&PartLine> = list
        .lines
        .iter()
        .filter(|line| line.is_below() || lasts(line).is_some_and(|chance| chance < AS_LIKELY_NOT))
        .collect();
    let more = short.len().saturating_sub(SHORT);
    Ok(html! {
        @if !short.is_empty() {
            section {
                h2 { "Drawers that will not last" }
                ul.lines {
                    @for line in short.iter().take(SHORT) {
                        li { div.row {
                            span { (part_link(line.id, &line.of)) }
                            span {
                                span.needs-hand { (line.quantity) " left" }
                                span.aside {
                                    @if let Some(minimum) = line.minimum { ", minimum " (minimum) }
                                    @if let Some(lasts) = lasts(line) { ", lasts a year: " (number::chance(lasts)) }
                                }
                            }
                        } }
                    }
                }
                p { a href=(urls::DRAWERS) { @if more > 0 { (more) " more in the drawers" } @else { "All that is in the drawers" } } }
            }
        }
    })
}
