//! The page for today: what can I do next?

use axum::extract::{Query, State};
use fettle_bench::{BenchToday, NextStep, Stage, VisitLine};
use jiff::ZonedDateTime;
use maud::{Markup, html};

use crate::error::PageError;
use crate::layout::{Page, Room};
use crate::state::AppState;
use crate::thing::{Recorded, show_page};
use crate::{backup, drawers, lines, number, urls};

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(recorded): Query<Recorded>,
) -> Result<Markup, PageError> {
    show_page(&state, recorded, urls::BENCH, |desk| {
        let short = drawers::short(desk)?;
        let reminder = backup::reminder(desk)?;
        Ok(page(
            &desk.bench.today(desk.now.date())?,
            &desk.now,
            &reminder,
            &short,
        ))
    })
    .await
}

fn page(today: &BenchToday, now: &ZonedDateTime, reminder: &Markup, short: &Markup) -> Page {
    let nothing = today.apart.is_empty()
        && today.possible.is_empty()
        && today.waiting.is_empty()
        && today.ready.is_empty();
    let body = html! {
        div.title-row {
            div {
                h1 { "What can I do next?" }
                p.sub { (now.strftime("%A, %-d %B %Y")) @if !today.bench.place.is_empty() { ", " (today.bench.place) } }
            }
            div.acts { a.button.first href=(urls::ARRIVE) { "A camera has come" } }
        }
        (reminder)
        @if nothing {
            p.lead { "Nothing is on the bench. When a camera comes, write down what came: that opens its visit." }
        }
        @if !today.apart.is_empty() {
            section {
                h2 { "On the bench" }
                ul.lines { @for line in &today.apart { (row(today, line, now, &next(line))) } }
            }
        }
        @if !today.possible.is_empty() {
            section {
                h2 { "Can go on" }
                ul.lines {
                    @for possible in &today.possible {
                        @let what = html! {
                            @if let Some(because) = &possible.because { span.needs-hand { (because) } ": " }
                            (next(&possible.line))
                        };
                        (row(today, &possible.line, now, &what))
                    }
                }
            }
        }
        @if !today.ready.is_empty() {
            section {
                h2 { "Can go home" }
                ul.lines { @for line in &today.ready { (row(today, line, now, &next(line))) } }
                p { a href=(urls::GOING_HOME) { "What leaves today" } }
            }
        }
        @if !today.waiting.is_empty() {
            section {
                h2 { "Waits" }
                ul.lines {
                    @for line in &today.waiting {
                        @let what = html! {
                            @for hold in &line.holds { div { "held: " (hold) ", " (since(hold.since.to_zoned_datetime(now.time_zone().clone()).date(), now)) } }
                            @for wait in &line.waits { div { "for " (wait) ", " (since(wait.since.to_zoned_datetime(now.time_zone().clone()).date(), now)) } }
                            @if line.waits.is_empty() && line.holds.is_empty() { (next(line)) }
                        };
                        (row(today, line, now, &what))
                    }
                }
            }
        }
        (short)
        p.quiet-text { a href=(urls::CALENDAR) download { "Calendar of promised days and guarantees" } }
    };
    Page::new("Bench", body)
        .room(Room::Bench)
        .about("first-day")
}

/// The next step, with its hand when it is ours.
fn next(line: &VisitLine) -> Markup {
    let ours = line.stage == Stage::Apart || line.stage == Stage::Together;
    html! {
        @if ours { span.needs-hand { (line.next) } }
        @else if line.next == NextStep::Answer { (line.next) }
        @else { (line.next) }
        @if line.pieces_out > 0 { span.aside { " – " (number::count(line.pieces_out as usize, "piece", "pieces")) " in the tray" } }
    }
}

fn row(today: &BenchToday, line: &VisitLine, now: &ZonedDateTime, what: &Markup) -> Markup {
    html! {
        li {
            (lines::visit(line, what))
            @if today.came_back.contains(&line.visit) { p.aside { strong { "Came back under guarantee" } @if let Some(earlier) = line.guarantee_of { " of " a href=(urls::visit(earlier)) { "visit " (earlier) } } } }
            @if let Some(promised) = line.promised {
                p.aside { "Promised for " (number::date(promised)) @if promised < now.date() { " " span.needs-hand { "overdue" } } }
            }
        }
    }
}

/// `since today`, `for 1 day`, `for 12 days`.
fn since(date: jiff::civil::Date, now: &ZonedDateTime) -> String {
    let days = now.date().since(date).map_or(0, |span| span.get_days());
    match days {
        ..1 => "since today".to_owned(),
        days => format!(
            "for {}",
            number::count(usize::try_from(days).unwrap_or(0), "day", "days")
        ),
    }
}
