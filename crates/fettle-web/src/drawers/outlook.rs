//! Will it last? What the use of a part says of the years to come.

use fettle_bench::{PartView, SERVICE};
use fettle_reason::demand::{DAYS_PER_YEAR, Forecast};
use jiff::civil::Date;
use maud::{Markup, PreEscaped, html};

use super::keep;
use super::list::chance;
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::state::Desk;
use crate::{drawings, number, urls};

/// Years ahead when nothing else is asked for, and the furthest that can be.
const YEARS: f64 = 5.0;
const FURTHEST: f64 = 50.0;
/// More visits a year than this are no bench's.
const MOST_VISITS: f64 = 100_000.0;

/// How far to look ahead, and by how many visits a year, as the address asks.
struct Ahead {
    years: f64,
    visits_per_year: Option<f64>,
}

impl Ahead {
    fn asked(fields: &Fields, wrong: &mut Wrong) -> Self {
        let mut above = |name: &str, what: &str, most: f64| {
            let asked = wrong.number(fields, name, what)?;
            if asked > 0.0 && asked <= most {
                return Some(asked);
            }
            wrong.note(name, format!("{what} are above 0 and at most {most}"));
            None
        };
        Self {
            years: above("years", "the years to look ahead", FURTHEST).unwrap_or(YEARS),
            visits_per_year: above("visits", "the visits expected in a year", MOST_VISITS),
        }
    }
}

pub(super) fn draw(desk: &Desk, view: &PartView, asked: &Fields) -> Result<Markup, PageError> {
    let mut wrong = Wrong::default();
    let Ahead {
        years,
        visits_per_year,
    } = Ahead::asked(asked, &mut wrong);
    let today = desk.now.date();
    let of = |years: f64| {
        desk.bench
            .outlook(&view.line, &view.uses, today, years, visits_per_year)
    };
    let (Some(year), Some(outlook)) = (of(1.0)?, of(years)?) else {
        return Ok(html! { p.empty { "What was used of it cannot be reckoned with." } });
    };
    let keep = keep::draw(desk, view, asked, years, &mut wrong)?;
    // What was asked stays in the fields.
    let form = if asked.some("years").is_some() {
        Form::returned("ahead", asked.clone(), wrong)
    } else {
        Form::fresh("ahead")
    };
    let ahead = number::plain(years);
    let visits = visits_per_year.map(number::plain).unwrap_or_default();
    let seen = desk.bench.visits_wanting(&view.line)?;
    Ok(html! {
        (form.problems())
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
        form.no-print #form-ahead method="get" action={ (urls::part(view.line.id)) "#lasts" } aria-label="How far to look ahead" {
            div.fields {
                (form.line("years", "Look ahead").unit("years").holding(&ahead).class("third").draw())
                @if seen > 0 {
                    (form.line("visits", "Visits of its models expected in a year").holding(&visits)
                        .hint(&format!("{} since it is kept; empty: as often as it was used", number::count(seen as usize, "visit", "visits"))).class("third").draw())
                }
            }
            (keep.asked(&form))
            div.acts { button { "Look" } }
        }
        (keep.told())
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
    let visits = outlook.visits.map_or_else(String::new, |visits| {
        format!(
            ", by use in {}",
            number::count(visits.seen as usize, "visit", "visits")
        )
    });
    format!(
        "Reckoned from {seen} ({} pieces) in {:.1} years{visits}, and before those from {prior}: {:.1} needs a year are to be expected, four times in five {:.1} to {:.1}.",
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
