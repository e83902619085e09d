//! Will it last? What the use of a part says of the years to come.

use fettle_bench::{PartView, SERVICE};
use fettle_reason::demand::{DAYS_PER_YEAR, Forecast};
use jiff::civil::Date;
use maud::{Markup, PreEscaped, html};

use super::list::chance;
use crate::error::PageError;
use crate::form::Form;
use crate::state::Desk;
use crate::{drawings, number, urls};

/// Years ahead when nothing else is asked for, and the furthest that can be.
const YEARS: f64 = 5.0;
const FURTHEST: f64 = 50.0;

/// How far to look ahead, as the address asks.
pub(super) fn years(asked: Option<&str>) -> f64 {
    let asked = asked.and_then(|text| text.trim().replace(',', ".").parse::<f64>().ok());
    asked
        .filter(|years| years.is_finite() && *years > 0.0)
        .map_or(YEARS, |years| years.min(FURTHEST))
}

pub(super) fn draw(desk: &Desk, view: &PartView, years: f64) -> Result<Markup, PageError> {
    let today = desk.now.date();
    let year = desk.bench.outlook(&view.line, &view.uses, today, 1.0)?;
    let outlook = desk.bench.outlook(&view.line, &view.uses, today, years)?;
    let (Some(year), Some(outlook)) = (year, outlook) else {
        return Ok(html! { p.empty { "What was used of it cannot be reckoned with." } });
    };
    let form = Form::fresh("ahead");
    let ahead = number::plain(years);
    Ok(html! {
        dl.title-block {
            div { dt { "Lasts a year" } dd { (chance(year.lasts_probability)) } }
            div { dt { "Lasts " (years_in_words(years)) } dd { (chance(outlook.lasts_probability)) } }
            div { dt { "Runs out, as likely before as after" } dd { (day(outlook.runs_out.p50)) } }
            div { dt { "Four times in five between" } dd { (day_at(outlook.runs_out.p10)) " and " (day_at(outlook.runs_out.p90)) } }
            div {
                dt { "To buy once, to last " (years_in_words(years)) " with " (number::chance(SERVICE)) }
                dd { @match outlook.buy_now {
                    Some(0) => "none",
                    Some(more) => (number::count(more as usize, "piece", "pieces")),
                    None => "more than can be counted",
                } }
            }
        }
        @if view.line.quantity > 0 {
            div.chart { (PreEscaped(drawings::outlook(&view.line.of.part.words, &outlook))) }
        }
        p.aside { (why(&outlook)) }
        @if !outlook.findings.is_empty() {
            ul.findings { @for finding in &outlook.findings { li { (crate::error::sentence(&finding.describe())) } } }
        }
        form.no-print method="get" action=(urls::part(view.line.id)) aria-label="How far to look ahead" {
            div.fields {
                (form.line("years", "Look ahead").unit("years").holding(&ahead).class("short").draw())
                div.acts { button { "Look" } }
            }
        }
    })
}

/// On what the forecast rests.
fn why(outlook: &Forecast) -> String {
    let seen = number::count(outlook.needs_seen, "need", "needs");
    let prior = if outlook.prior.parts > 0 {
        format!(
            "{} of the same model",
            number::count(outlook.prior.parts, "like part", "like parts")
        )
    } else {
        "what is usual, for too few like parts were watched".to_owned()
    };
    format!(
        "Reckoned from {seen} ({} pieces) in {:.1} years, and before those from {prior}: {:.1} needs a year are to be expected, four times in five {:.1} to {:.1}.",
        outlook.pieces_seen,
        outlook.watched_years,
        outlook.rate_per_year.mean,
        outlook.rate_per_year.p10,
        outlook.rate_per_year.p90,
    )
}

fn day(date: Option<Date>) -> String {
    date.map_or_else(|| "not in 100 years".to_owned(), number::date)
}

/// Within a sentence, by the month.
fn day_at(date: Option<Date>) -> String {
    date.map_or_else(
        || "later than in 100 years".to_owned(),
        |date| date.strftime("%B %Y").to_string(),
    )
}

fn years_in_words(years: f64) -> String {
    let days = years * DAYS_PER_YEAR;
    if years < 1.0 {
        return format!("{days:.0} days");
    }
    let number = number::plain(years);
    if number == "1" {
        "1 year".to_owned()
    } else {
        format!("{number} years")
    }
}
