//! Models: what do I know of this model?

use std::sync::Arc;

use axum::extract::{Path, Query, State};
use fettle_bench::{Bench, Lessons, Model, VisitFilter, VisitLine};
use fettle_notes::{Limit, ServiceNotes};
use fettle_reason::Strip;
use maud::{Markup, PreEscaped, html};
use serde::Deserialize;

use crate::error::PageError;
use crate::kept::{Same, Shelves};
use crate::layout::{Page, Room};
use crate::state::AppState;
use crate::{graphs, learned, lines, named, number, taught, urls, words};

/// Past visits that the page of a model shows.
const VISITS: u32 = 30;

pub(crate) async fn list(State(state): State<AppState>) -> Result<Markup, PageError> {
    let (models, dir) = state
        .at_bench(|desk| Ok((desk.bench.models(), desk.bench.dir().join("notes"))))
        .await?;
    let body = html! {
        h1 { "Models" }
        @if models.is_empty() {
            p.lead { "There are no service notes yet. They are TOML files, one a model, in the folder " span.mono { (dir.display()) } "." }
        }
        ul.lines {
            @for model in &models {
                li {
                    @match &model.notes {
                        Some(notes) => {
                            a.what href=(urls::model(&model.id)) { (notes.model.maker) " " (notes.model.name) }
                            span.aside { " – " (notes.model.kind) ", " (notes.model.years) }
                            p.aside {
                                (number::count(notes.removals.len(), "removal", "removals")) ", "
                                (number::count(notes.faults.len(), "fault", "faults")) ", "
                                (number::count(notes.signs.len(), "sign", "signs")) ", "
                                (number::count(notes.settings.len(), "setting", "settings"))
                            }
                        }
                        None => {
                            a.what href=(urls::model(&model.id)) { (model.id) }
                            span.error { " – cannot be used: " (number::count(model.problems.len(), "problem", "problems")) }
                        }
                    }
                }
            }
        }
    };
    Ok(state.draw(
        &Page::new("Models", body)
            .room(Room::Models)
            .about("writing-notes"),
    ))
}

/// What the address asks of the page beside the model.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    /// The circumstance, fault or sign around which the network is drawn.
    of: Option<String>,
}

/// The row of a title block for the service notes that a thing names: a link only where it leads to something.
pub(crate) fn named(bench: &Bench, id: Option<&str>) -> Markup {
    html! {
        @if let Some(id) = id {
            div {
                dt { "Service notes" }
                dd { @if bench.has_notes(id) { a href=(urls::model(id)) { (id) } } @else { (id) span.aside { " – not in the folder" } } }
            }
        }
    }
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let model = desk
                .bench
                .models()
                .into_iter()
                .find(|model| model.id == id)
                .ok_or_else(|| {
                    PageError::missing(format!("There are no service notes “{id}”."))
                        .or(urls::MODELS, "Go to the models")
                })?;
            let filter = VisitFilter {
                notes_id: Some(id),
                ..VisitFilter::default()
            };
            let lessons = desk.bench.lessons(&model.id)?;
            let visits = desk
                .bench
                .visits(&filter, fettle_bench::Page::first(VISITS))?;
            let adds_up = learned::of_model(desk, &model.id)?;
            let past = Past {
                shelves: &desk.shelves,
                lessons: lessons.as_ref(),
                adds_up: &adds_up,
                visits: &visits.lines,
                total: visits.total,
            };
            Ok(page(&model, &past, asked.of.as_deref()))
        })
        .await?;
    Ok(state.draw(&page))
}

/// What the record says of a model.
struct Past<'a> {
    shelves: &'a Shelves,
    lessons: Option<&'a Arc<Lessons>>,
    /// What its finished visits add up to.
    adds_up: &'a Markup,
    /// The newest visits, of `total`.
    visits: &'a [VisitLine],
    total: u32,
}

fn page(model: &Model, past: &Past<'_>, of: Option<&str>) -> Page {
    let Past {
        shelves,
        lessons,
        adds_up,
        visits,
        total,
    } = *past;
    let title = model.notes.as_ref().map_or_else(
        || model.id.clone(),
        |notes| format!("{} {}", notes.model.maker, notes.model.name),
    );
    let body = html! {
        h1 { (title) }
        @if !model.problems.is_empty() {
            div.problems {
                p { strong { @if model.notes.is_some() { "Doubtful in the notes:" } @else { "These notes cannot be used until this is put right:" } } }
                ul { @for problem in &model.problems { li { pre { (problem) } } } }
            }
        }
        p.aside { "The notes are the file " span.mono { (model.path.display()) } "; change it with any editor and it is read again." }
        @if let Some(notes) = &model.notes {
            (kept_reading(shelves, notes, of))
            @match lessons {
                Some(lessons) => (kept_taught(shelves, notes, lessons)),
                None => p.aside #taught { "What its finished visits taught is being reckoned just now; look at this page again in a minute." },
            }
            (adds_up)
        }
        section {
            h2 { "Past visits" }
            @if visits.is_empty() { p.empty { "None of this model has come yet." } }
            ul.lines {
                @for line in visits {
                    @let said = html! { "came " (number::date(line.arrived)) };
                    li { (lines::visit(line, &said)) }
                }
            }
            @if total as usize > visits.len() { p.aside { "The newest " (visits.len()) " of " (total) "." } }
        }
    };
    Page::new(title, body)
        .room(Room::Models)
        .about("writing-notes")
}

/// The reading of these notes hangs on them and on what is asked for alone.
fn kept_reading(shelves: &Shelves, notes: &Arc<ServiceNotes>, of: Option<&str>) -> Markup {
    let from = (Same(Arc::clone(notes)), of.map(str::to_owned));
    let drawn = shelves
        .readings
        .get(from, |_| reading(shelves, notes, of).into_string().into());
    PreEscaped(drawn.to_string())
}

fn kept_taught(shelves: &Shelves, notes: &Arc<ServiceNotes>, lessons: &Arc<Lessons>) -> Markup {
    let from = (Same(Arc::clone(notes)), Same(Arc::clone(lessons)));
    let drawn = shelves
        .taught
        .get(from, |_| taught::draw(notes, lessons).into_string().into());
    PreEscaped(drawn.to_string())
}

fn reading(shelves: &Shelves, notes: &ServiceNotes, of: Option<&str>) -> Markup {
    html! {
        (head(notes))
        nav.ways aria-label="On this page" {
            a href="#removal" { "Order of removal" } a href="#causes" { "Causes" } a href="#signs" { "Signs" }
            a href="#works" { "Works" } a href="#settings" { "Settings" } a href="#limits" { "Limits" } a href="#parts" { "Parts" } a href="#taught" { "What visits taught" }
        }
        (removals(shelves, notes))
        (causes(notes, of))
        (signs(notes))
        (works(notes))
        (settings(notes))
        (limits(notes))
        (parts_table(notes))
    }
}

fn head(notes: &ServiceNotes) -> Markup {
    let model = &notes.model;
    html! {
        dl.title-block {
            div { dt { "Kind" } dd { (model.kind) } }
            div { dt { "Made" } dd { (model.years) } }
            div { dt { "Picture" } dd { (number::figure(model.frame_mm[0], None, "")) " × " (number::figure(model.frame_mm[1], None, "mm")) } }
            div { dt { "Shutter" } dd { (model.shutter) } }
            @if let Some(lens) = &model.lens { div { dt { "Lens" } dd { (lens) } } }
            @if let Some(weight) = model.weight_g { div { dt { "Weight" } dd { (number::figure(weight, None, "g")) } } }
            div { dt { "Serial numbers" } dd { (model.serial_at) } }
            div { dt { "Notes by" } dd { (model.author) ", " (model.revised) } }
            div.wide { dt { "Before starting" } dd.words { (model.summary) } }
        }
        (words::cautions(&model.cautions))
        @if !model.owner_cautions.is_empty() {
            h2 { "What the owner is told" }
            ul { @for caution in &model.owner_cautions { li { (caution) } } }
        }
    }
}

fn removals(shelves: &Shelves, notes: &ServiceNotes) -> Markup {
    html! {
        section #removal {
            h2 { "Order of removal" }
            details.more {
                summary { "Drawn as a graph" }
                div.chart.graph { (graphs::removals(notes, &shelves.removals, &Strip::new(notes, []), &[], &[], |_| None)) }
            }
            ol.steps.removals {
                @for (n, (id, removal)) in crate::visit::in_order(notes).into_iter().enumerate() {
                    li {
                        span.n { (n + 1) }
                        div {
                            span.what { (named::part(notes, id)) }
                            span.aside { " – " (removal.side) ", " (number::minutes(removal.minutes.to_f64())) @if let Some(tool) = &removal.tool { ", " (tool) } }
                            @if !removal.after.is_empty() { div.aside { "after " (named::parts(notes, &removal.after)) } }
                            @if !removal.either.is_empty() { div.aside { "and after either " (removal.either.iter().map(|group| named::parts(notes, group)).collect::<Vec<_>>().join("; or ")) } }
                            @for fastener in &removal.fasteners { div.aside { (words::fastener(fastener)) } }
                            @if let Some(caution) = &removal.caution { div.caution { p { strong { "Caution" } " – " (caution) } } }
                            @if !removal.disturbs.is_empty() { div.aside { "disturbs " (named::settings(notes, &removal.disturbs)) } }
                        }
                    }
                }
            }
        }
    }
}

fn causes(notes: &ServiceNotes, of: Option<&str>) -> Markup {
    html! {
        section #causes {
            h2 { "Causes" }
            details.more open[of.is_some()] {
                summary { "Drawn as a network" }
                @if of.is_some() { p { a href=(urls::model_of(notes.model.id.as_str(), None)) { "Show everything at a glance" } } }
                @else { p.quiet-text { "Choose one of them to see what brings it on and what it leads to, with the chances." } }
                div.chart.graph { (graphs::causes(notes, of, |place| urls::model_of(notes.model.id.as_str(), Some(place)))) }
            }
            div.table-wrap { table {
                thead { tr { th { "Fault" } th { "It is" } th.num { "By itself" } th { "Brought on by" } th { "Cured by" } } }
                tbody {
                    @for (_, fault) in notes.faults.iter() {
                        tr {
                            th scope="row" { (fault.name) @if let Some(note) = &fault.note { div.aside { (note) } } }
                            td { (fault.is) }
                            td.num { (chance(fault.leak.to_f64())) }
                            td { @for origin in &fault.brought_on_by { div { (named::cause(notes, origin.as_str())) " " span.aside { (chance(origin.chance().to_f64())) } } } }
                            td { @for id in &fault.cured_by { div { (named::work(notes, id.as_str())) } } }
                        }
                    }
                }
            } }
        }
    }
}

fn chance(chance: f64) -> String {
    number::figure(chance * 100.0, None, "%")
}

fn signs(notes: &ServiceNotes) -> Markup {
    html! {
        section #signs {
            h2 { "Signs" }
            div.table-wrap { table {
                thead { tr { th { "Question" } th { "Seen at" } th.num { "Takes" } th { "Speaks for" } } }
                tbody {
                    @for (_, sign) in notes.signs.iter() {
                        tr {
                            th scope="row" { (sign.question) @if !sign.needs_apart.is_empty() { div.aside { "needs off: " (named::parts(notes, &sign.needs_apart)) } } }
                            td { (sign.at) }
                            td.num { (number::minutes(sign.minutes.to_f64())) }
                            td { @for link in &sign.links { div { (named::cause(notes, link.fault.as_str())) " " span.aside { (chance(link.chance.to_f64())) } } } }
                        }
                    }
                }
            } }
        }
    }
}

fn works(notes: &ServiceNotes) -> Markup {
    html! {
        section #works {
            h2 { "Works" }
            ul.lines {
                @for (_, work) in notes.works.iter() {
                    li {
                        span.what { (work.name) }
                        span.aside { " – " (number::minutes(work.minutes.to_f64())) ", cures in " (chance(work.success.to_f64())) @if !work.needs_apart.is_empty() { ", needs off: " (named::parts(notes, &work.needs_apart)) } }
                        @if !work.parts.is_empty() { div.aside { "uses " (work.parts.iter().map(|used| format!("{} × {}", used.count, named::part(notes, &used.part))).collect::<Vec<_>>().join(", ")) } }
                        @if let Some(caution) = &work.caution { div.caution { p { strong { "Caution" } " – " (caution) } } }
                    }
                }
            }
        }
    }
}

fn settings(notes: &ServiceNotes) -> Markup {
    html! {
        section #settings {
            h2 { "Settings" }
            ul.lines {
                @for (_, setting) in notes.settings.iter() {
                    li {
                        span.what { (setting.name) }
                        @if !setting.depends_on.is_empty() { span.aside { " – after " (named::settings(notes, &setting.depends_on)) } }
                        @if let Some(note) = &setting.note { div { (note) } }
                        @for adjuster in &setting.adjusters {
                            div.aside { "set with " (adjuster.name) @for effect in &adjuster.effects { ", " (number::deviation(effect.per_turn, None, notes.limits.get(&effect.limit).and_then(Limit::unit).unwrap_or_default())) " a turn" } }
                            @if let Some(caution) = &adjuster.caution { div.caution { p { strong { "Caution" } " – " (caution) } } }
                        }
                    }
                }
            }
        }
    }
}

fn limits(notes: &ServiceNotes) -> Markup {
    html! {
        section #limits {
            h2 { "Limits" }
            dl.facts {
                @for (_, limit) in notes.limits.iter() {
                    dt { (limit.name()) }
                    dd { (limit_words(notes, limit)) }
                }
            }
        }
    }
}

fn limit_words(notes: &ServiceNotes, limit: &Limit) -> String {
    let figure = number::figure;
    match limit {
        Limit::Shutter(it) => {
            let marks: Vec<String> = it.marks.iter().map(ToString::to_string).collect();
            let tolerances: Vec<String> = it
                .tolerances
                .iter()
                .map(|to| format!("± {} to {}", figure(to.stops, None, "stops"), to.to))
                .collect();
            format!("{}; {}", marks.join("  "), tolerances.join(", "))
        }
        Limit::Register(it) => format!(
            "{} ± {}",
            figure(it.target_mm, None, ""),
            figure(it.limit_mm, None, "mm")
        ),
        Limit::Rangefinder(it) => {
            let at: Vec<String> = it
                .distances_m
                .iter()
                .map(|d| figure(*d, None, "m"))
                .collect();
            format!(
                "within {} depths at {}",
                figure(it.limit_depths, None, ""),
                at.join(", ")
            )
        }
        Limit::Meter(it) => format!(
            "within {} from EV {} to EV {}",
            figure(it.limit_stops, None, "stops"),
            figure(it.from_ev, None, ""),
            figure(it.to_ev, None, ""),
        ),
        Limit::Teeth(it) => format!(
            "{}; {} of pitch {}; worn by at most {}",
            named::part(notes, &it.part),
            it.form,
            figure(it.pitch_mm, None, "mm"),
            figure(it.wear_mm, None, "mm")
        ),
        Limit::Reading(it) => format!(
            "{} ± {}",
            figure(it.target, None, ""),
            figure(it.limit, None, &it.unit)
        ),
        Limit::Check(it) => it.question.clone(),
    }
}

fn parts_table(notes: &ServiceNotes) -> Markup {
    html! {
        section #parts {
            h2 { "Parts" }
            p.no-print { a href=(urls::asking(urls::DRAWERS, &[("model", notes.model.id.to_string())])) { "What the drawers hold for it" } }
            div.table-wrap { table {
                thead { tr { th { "Part" } th { "Where" } th.num { "In a camera" } th { "To be had" } } }
                tbody {
                    @for (_, part) in notes.parts.iter() {
                        tr {
                            th scope="row" { (part.name) }
                            td { (part.at) }
                            td.num { (part.count) }
                            td { @for note in &part.grades { div { strong { (note.grade) } " " (note.note) } } }
                        }
                    }
                }
            } }
        }
    }
}
