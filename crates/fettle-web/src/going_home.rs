//! Going home: what leaves today?

use axum::extract::State;
use fettle_bench::{GoingHome, Money, Stage, VisitFilter};
use jiff::ZonedDateTime;
use maud::{Markup, html};

use crate::error::PageError;
use crate::layout::{Page, Room};
use crate::lines;
use crate::number;
use crate::state::AppState;
use crate::urls;

/// Parcels sent lately that the page shows.
const SENT_LATELY: u32 = 10;

pub(crate) async fn show(State(state): State<AppState>) -> Result<Markup, PageError> {
    let page = state
        .at_bench(|desk| {
            let filter = VisitFilter {
                stage: Some(Stage::Home),
                ..VisitFilter::default()
            };
            let mut home = desk
                .bench
                .visits(&filter, fettle_bench::Page::first(SENT_LATELY))?
                .lines;
            home.sort_by_key(|line| std::cmp::Reverse(line.stage_since));
            Ok(page(&desk.bench.going_home()?, &home, &desk.now))
        })
        .await?;
    Ok(state.draw(&page))
}

fn page(going: &[GoingHome], home: &[fettle_bench::VisitLine], now: &ZonedDateTime) -> Page {
    let (held, free): (Vec<_>, Vec<_>) = going.iter().partition(|it| it.held.is_some());
    let (packed, ready): (Vec<_>, Vec<_>) = free.into_iter().partition(|it| it.packed);
    let zone = now.time_zone();
    let body = html! {
        h1 { "What leaves today?" }
        @if packed.is_empty() && ready.is_empty() { p.lead { "Nothing can leave today." } }
        @for (title, list) in [("Packed, to be sent", &packed), ("Ready to be packed", &ready)] {
            @if !list.is_empty() {
                section { h2 { (title) } ul.lines { @for it in list { li { (row(it)) } } } }
            }
        }
        @if !packed.is_empty() { (declarations(&packed)) }
        @if !held.is_empty() {
            section { h2 { "Held" } ul.lines { @for it in &held { li { (row(it)) } } } }
        }
        @if !home.is_empty() {
            section {
                h2 { "Sent lately" }
                ul.lines {
                    @for line in home {
                        @let said = html! { (number::date(line.stage_since.to_zoned_datetime(zone.clone()).date())) };
                        li { (lines::visit(line, &said)) }
                    }
                }
            }
        }
    };
    Page::new("Going home", body).room(Room::GoingHome)
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
            @if let Some(declared) = &it.declared { dt { "Declared value" } dd { (declared) } }
            dt { "To" } dd.words { @if it.address.is_empty() { "no address is known: " a href=(urls::owner(it.line.owner)) { "write it down" } } @else { (it.line.owner_name) "\n" (it.address) } }
        }
    }
}

fn contents(it: &GoingHome) -> String {
    let mut all = vec![it.line.camera_name.clone()];
    all.extend(it.came_with.iter().cloned());
    all.join(", ")
}

/// What each parcel holds and what it is worth, for the carrier's form.
fn declarations(packed: &[&GoingHome]) -> Markup {
    html! {
        section {
            h2 { "Contents declarations" }
            div.table-wrap { table {
                thead { tr { th { "Visit" } th { "To" } th { "Contents" } th.num { "Declared value" } } }
                tbody {
                    @for it in packed {
                        tr {
                            th scope="row" { a href=(urls::visit(it.line.visit)) { (it.line.visit) } }
                            td { (it.line.owner_name) }
                            td { "used mechanical camera: " (contents(it)) }
                            td.num { (it.declared.as_ref().map_or_else(|| "not declared".to_owned(), Money::to_string)) }
                        }
                    }
                }
            } }
            p.quiet-text { "Lithium cells in parcels: the rules of carrier and post decide." }
        }
    }
}
