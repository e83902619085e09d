//! Going home: what leaves today?

use axum::extract::{Query, Request, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use fettle_bench::{
    Change, DayAhead, DayFor, GoingHome, Money, Sent, Stage, StageMoved, VisitFilter, VisitId,
    VisitLine,
};
use fettle_papers::{Event, EventKind, calendar, event_title};
use jiff::ZonedDateTime;
use maud::{Markup, html};

use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::papers::VisitPaper;
use crate::state::{AppState, Desk};
use crate::thing::{Recorded, answer, once_field, record_or_draw, show_page};
use crate::upload::{Takes, Upload};
use crate::visit::{cells_caution, date_field, guarantee_days};
use crate::{lines, number, papers, urls};

/// Parcels sent lately that the page shows.
const SENT_LATELY: u32 = 10;
/// Most parcels of one trip.
const MOST: usize = 100;
const ID: &str = "trip";

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(recorded): Query<Recorded>,
) -> Result<Markup, PageError> {
    show_page(&state, recorded, urls::GOING_HOME, |desk| {
        page(desk, &Form::fresh(ID))
    })
    .await
}

/// Several parcels left on one trip.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let mut wrong = Wrong::default();
            let changes = trip(desk, &sent.fields, &mut wrong)?;
            let to = |_: &_| urls::GOING_HOME.to_owned();
            let again = |fields, wrong| page(desk, &Form::returned(ID, fields, wrong));
            record_or_draw(desk, sent, changes, wrong, to, again)
        })
        .await?;
    Ok(answer(&state, outcome))
}

fn trip(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> Result<Vec<Change>, PageError> {
    let today = desk.now.date();
    let on = date_field(fields, wrong, "on", Some(today)).unwrap_or(today);
    let settings = desk.bench.settings()?;
    let mut changes = Vec::new();
    for text in fields.all("visit").take(MOST) {
        let Ok(visit) = text.parse().map(VisitId::new) else {
            wrong.note("", format!("“{text}” is no visit; look again"));
            continue;
        };
        let view = desk.bench.visit(visit)?;
        changes.push(
            Sent {
                visit,
                carrier: fields.text("carrier").to_owned(),
                tracking: fields.text(&format!("tracking.{visit}")).to_owned(),
                on,
                guarantee_days: guarantee_days(&view, &settings),
            }
            .into(),
        );
        changes.push(
            StageMoved {
                visit,
                to: Stage::Home,
                note: String::new(),
            }
            .into(),
        );
    }
    if changes.is_empty() && wrong.is_empty() {
        wrong.note("", "tick the parcels that left");
    }
    Ok(changes)
}

fn page(desk: &Desk, form: &Form) -> Result<Page, PageError> {
    let going = desk.bench.going_home()?;
    let filter = VisitFilter {
        stage: Some(Stage::Home),
        ..VisitFilter::default()
    };
    let mut home = desk
        .bench
        .visits(&filter, fettle_bench::Page::first(SENT_LATELY))?
        .lines;
    home.sort_by_key(|line| std::cmp::Reverse(line.stage_since));
    let (held, free): (Vec<_>, Vec<_>) = going.iter().partition(|it| it.held.is_some());
    let (packed, ready): (Vec<_>, Vec<_>) = free.into_iter().partition(|it| it.packed);
    let body = html! {
        h1 { "What leaves today?" }
        (form.problems())
        @if packed.is_empty() && ready.is_empty() { p.lead { "Nothing can leave today." } }
        @if !packed.is_empty() { section { h2 { "Packed, to be sent" } (trip_form(desk, form, &packed)) } }
        @if !ready.is_empty() {
            section { h2 { "Ready to be packed" } ul.lines { @for it in &ready { li { (row(it)) } } } }
        }
        @if !held.is_empty() {
            section { h2 { "Held" } ul.lines { @for it in &held { li { (row(it)) } } } }
        }
        (lately(&home, &desk.now))
        p.quiet-text { a href=(urls::CALENDAR) download { "Calendar of promised days, guarantees and holds" } ", for any calendar program." }
    };
    Ok(Page::new("Going home", body)
        .room(Room::GoingHome)
        .about("owners"))
}

/// The parcels of one trip: ticked, carried by one carrier, each with its tracking number.
fn trip_form(desk: &Desk, form: &Form, packed: &[&GoingHome]) -> Markup {
    let today = desk.now.date().to_string();
    let weights = packed.iter().filter_map(|it| it.weight_g);
    let weighed = weights.fold(0_u32, u32::saturating_add);
    html! {
        form method="post" id=(ID) action=(urls::TRIP) novalidate {
            (once_field(desk, form))
            ul.lines {
                @for it in packed {
                    @let visit = it.line.visit;
                    li {
                        (row(it))
                        div.fields {
                            (form.tick("visit", &visit.to_string(), &format!("visit {visit} left"), true))
                            (form.line(&format!("tracking.{visit}"), "Tracking number").class("third").draw())
                        }
                        div.acts {
                            @for (paper, can_be_made) in [(VisitPaper::PackingList, it.ticked_off), (VisitPaper::Declaration, it.contents_declared)] {
                                @if can_be_made { a.button href=(urls::paper_preview(visit, &paper.name())) { (paper.title()) } }
                            }
                        }
                    }
                }
            }
            @if packed.iter().any(|it| it.has_cells) { (cells_caution()) }
            div.fields {
                (form.line("carrier", "Carrier").hint("empty when they are fetched").class("third").draw())
                (form.typed("on", "Day", "date").holding(&today).class("third").draw())
            }
            div.acts {
                button.next { "They are on their way home" }
                @if weighed > 0 { span.quiet-text { "Weighed so far: " (number::grams(weighed)) } }
            }
        }
    }
}

fn lately(home: &[VisitLine], now: &ZonedDateTime) -> Markup {
    let zone = now.time_zone();
    html! {
        @if !home.is_empty() {
            section {
                h2 { "Sent lately" }
                ul.lines {
                    @for line in home {
                        @let said = html! {
                            (number::date(line.stage_since.to_zoned_datetime(zone.clone()).date()))
                            @if let Some(until) = line.guarantee_until { ", guaranteed until " (number::date(until)) }
                        };
                        li { (lines::visit(line, &said)) }
                    }
                }
            }
        }
    }
}

fn row(it: &GoingHome) -> Markup {
    let said = html! {
        @if let Some(held) = &it.held { "held: " (held) }
        @else if it.packed { span.needs-hand { "send it" } }
        @else { span.needs-hand { "pack it" } }
    };
    html! {
        (lines::visit(&it.line, &said))
        dl.facts {
            dt { "Must go back" } dd { (contents(it)) }
            @if let Some(declared) = &it.declared { dt { "Declared value" } dd { (Money::to_string(declared)) } }
            @if let Some(grams) = it.weight_g { dt { "Weight" } dd { (number::grams(grams)) } }
            dt { "To" } dd.words { @if it.address.is_empty() { "no address is known: " a href=(urls::owner(it.line.owner)) { "write it down" } } @else { (it.line.owner_name) "\n" (it.address) } }
        }
    }
}

fn contents(it: &GoingHome) -> String {
    let mut all = vec![it.line.camera_name.clone()];
    all.extend(it.came_with.iter().cloned());
    all.join(", ")
}

/// Promised days, guarantees that end and days to look again, for a calendar program.
pub(crate) async fn ics(State(state): State<AppState>) -> Result<Response, PageError> {
    let text = state
        .at_bench(|desk| {
            let settings = desk.bench.settings()?;
            let language = papers::language(settings.language);
            let days = desk.bench.days_ahead(desk.now.date())?;
            let events: Vec<Event> = days.iter().map(|it| event(it, language)).collect();
            Ok(calendar(&events, desk.now.timestamp()))
        })
        .await?;
    let headers = [
        (CONTENT_TYPE, "text/calendar; charset=utf-8"),
        (CONTENT_DISPOSITION, "attachment; filename=\"bench.ics\""),
    ];
    Ok((headers, text).into_response())
}

fn event(it: &DayAhead, language: fettle_papers::Language) -> Event {
    let kind = match it.what {
        DayFor::Promised => EventKind::Promised,
        DayFor::LookAgain => EventKind::LookAgain,
        DayFor::GuaranteeEnds => EventKind::GuaranteeEnds,
    };
    let visit = it.line.visit.to_string();
    Event {
        uid: format!("{}-{visit}@fettle.invalid", it.what.as_str()),
        on: it.on,
        title: event_title(language, kind, &it.line.camera_name, &visit),
        words: it.words.clone(),
    }
}
