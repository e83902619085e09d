//! What was learned: of the bench, or of one model.

use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use fettle_bench::{BenchError, Currency, Decimal, Income, Learned, LearnedFilter, Term, written};
use fettle_draw::{
    DaysChart, MonthBar, MonthsChart, QuotedMinutes, Share, SharesChart, Sheet, days_chart,
    minutes_chart, months_chart, shares_chart,
};
use jiff::ToSpan;
use maud::{Markup, PreEscaped, html};

use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::kept::Shelves;
use crate::layout::{Page, Room};
use crate::state::{AppState, Desk};
use crate::visit::date_field;
use crate::{number, urls};

/// Faults and parts shown; the file has all.
const SHOWN: usize = 15;

/// Visits drawn of those whose minutes were counted.
const POINTS: usize = 600;

/// Months of the longest chart.
const MOST_MONTHS: i32 = 600;

/// The tables that can be had as files: name in the address and what they hold.
const FILES: [(&str, &str); 6] = [
    ("faults", "faults"),
    ("minutes", "minutes against quotes"),
    ("parts", "parts used"),
    ("came-back", "what came back"),
    ("days", "days from arrival to home"),
    ("income", "income by month"),
];

/// Which visits, as the address asks.
fn filter(fields: &Fields, wrong: &mut Wrong) -> LearnedFilter {
    LearnedFilter {
        notes_id: fields.some("model"),
        from: date_field(fields, wrong, "from", None),
        to: date_field(fields, wrong, "to", None),
    }
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| page(desk, &Fields::new(asked)))
        .await?;
    Ok(state.draw(&page))
}

fn page(desk: &Desk, fields: &Fields) -> Result<Page, PageError> {
    let mut wrong = Wrong::default();
    let filter = filter(fields, &mut wrong);
    let learned = desk.bench.learned(&filter)?;
    let query: Vec<(&str, String)> = ["model", "from", "to"]
        .into_iter()
        .filter_map(|name| Some((name, fields.some(name)?)))
        .collect();
    let form = Form::returned("learned", fields.clone(), wrong);
    let visits = learned.visits;
    let adds_up = kept(&desk.shelves, learned);
    let mut models = vec![(String::new(), "all models".to_owned())];
    models.extend(crate::drawers::models(desk, "").into_iter().skip(1));
    let body = html! {
        h1 { "What was learned" }
        (form.problems())
        form.no-print method="get" action=(urls::LEARNED) {
            div.fields {
                (form.choice("model", "Of", models).class("third").draw())
                (form.typed("from", "Arrived from", "date").class("third").draw())
                (form.typed("to", "Arrived until", "date").class("third").draw())
            }
            div.acts { button { "Show" } }
        }
        @if visits == 0 { p.empty { "No visit that is asked for is finished yet." } }
        @else {
            p.lead { "From " (number::count(capped(visits) as usize, "finished visit", "finished visits")) "." }
            (adds_up)
            p.quiet-text {
                "As files for a table: "
                @for (n, (name, what)) in FILES.iter().enumerate() {
                    @if n > 0 { " · " }
                    a href=(urls::asking(&format!("{}/{name}.csv", urls::LEARNED), &query)) download { (what) }
                }
            }
        }
    };
    Ok(Page::new("What was learned", body).room(Room::Bench))
}

/// The sections, for the page of the bench and that of a model: drawn anew only when they add up to something else.
fn kept(shelves: &Shelves, learned: Learned) -> Markup {
    let drawn = shelves
        .learned
        .get(learned, |learned| draw(learned).into_string().into());
    PreEscaped(drawn.to_string())
}

fn draw(learned: &Learned) -> Markup {
    html! {
        (faults(learned))
        (minutes(learned))
        (came_back(learned))
        (days(learned))
        (parts(learned))
        (income(learned))
    }
}

/// What past visits of one model taught beside its network, for the model's page.
pub(crate) fn of_model(desk: &Desk, notes_id: &str) -> Result<Markup, BenchError> {
    let learned = desk.bench.learned(&LearnedFilter {
        notes_id: Some(notes_id.to_owned()),
        ..LearnedFilter::default()
    })?;
    let visits = learned.visits;
    let adds_up = kept(&desk.shelves, learned);
    Ok(html! {
        @if visits > 0 {
            details.more #adds-up {
                summary { "What its finished visits add up to: faults, minutes against quotes, what came back" }
                (adds_up)
                p { a href=(urls::asking(urls::LEARNED, &[("model", notes_id.to_owned())])) { "Between two days, and as files" } }
            }
        }
    })
}

fn faults(learned: &Learned) -> Markup {
    let rows = learned.faults.iter().take(SHOWN).map(|it| Share {
        name: it.fault.words.clone(),
        count: capped(it.share.count),
        of: capped(it.share.of),
        low: it.share.low,
        high: it.share.high,
    });
    let chart = SharesChart {
        title: "how often each fault was found".to_owned(),
        rows: rows.collect(),
    };
    html! {
        section {
            h2 { "Faults found" }
            @if chart.rows.is_empty() { p.empty { "None was recorded as found." } }
            @else {
                div.chart { (PreEscaped(shares_chart(&chart, Sheet::Inherit))) }
                @if learned.faults.len() > SHOWN { p.aside { "The " (SHOWN) " most frequent of " (learned.faults.len()) "; the file has all." } }
            }
        }
    }
}

fn minutes(learned: &Learned) -> Markup {
    let quotes = &learned.quotes;
    let older = quotes.points.len().saturating_sub(POINTS);
    let points: Vec<QuotedMinutes> = quotes
        .points
        .iter()
        .skip(older)
        .map(|it| QuotedMinutes {
            likely: it.likely,
            nine_in_ten: it.nine_in_ten,
            took: it.took,
        })
        .collect();
    html! {
        section {
            h2 { "Minutes against quotes" }
            @if points.is_empty() { p.empty { "No visit has both a quote with minutes that was agreed to and minutes that were counted." } }
            @else {
                @let held = &quotes.within_nine_in_ten;
                p {
                    "The figure for nine times in ten held in " strong { (held.count) " of " (held.of) } ": "
                    (number::chance(held.low)) " to " (number::chance(held.high)) " with 90 %. "
                    @if held.high < 0.9 { "It is too short: quote more." }
                    @else if held.low > 0.9 { "It is too long: quote less." }
                    @else { "That agrees with nine in ten." }
                }
                div.chart { (PreEscaped(minutes_chart(&points, Sheet::Inherit))) }
                @if older > 0 { p.aside { "The newest " (POINTS) " of " (quotes.points.len()) "; the file has all." } }
            }
        }
    }
}

fn came_back(learned: &Learned) -> Markup {
    let back = &learned.came_back;
    html! {
        section {
            h2 { "Came back under guarantee" }
            p {
                strong { (back.share.count) " of " (back.share.of) } ", " (number::chance(back.share.low)) " to " (number::chance(back.share.high)) " with 90 %"
                @if back.share.count > 0 { ": " (back.same_cause) " for the same cause, " (back.other_cause) " for another" }
                "."
            }
            @if !back.points.is_empty() {
                ul.lines { @for it in back.points.iter().rev().take(SHOWN) { li {
                    a href=(urls::visit(it.earlier)) { "visit " (it.earlier) } " came back as " a href=(urls::visit(it.later)) { "visit " (it.later) }
                    ": " @match it.same { Some(true) => "the same cause", Some(false) => "another cause", None => "cause not known" }
                    @if !it.causes.is_empty() { span.aside { " – " (words(&it.causes)) } }
                } } }
            }
        }
    }
}

fn days(learned: &Learned) -> Markup {
    let home = &learned.days_home;
    let marked = [(home.p10, 0.1), (home.p50, 0.5), (home.p90, 0.9)];
    let chart = DaysChart {
        days: home.days.iter().map(|days| *days as f64).collect(),
        marked: marked
            .into_iter()
            .filter_map(|(days, share)| Some((days? as f64, share)))
            .collect(),
    };
    html! {
        @if !chart.days.is_empty() {
            section {
                h2 { "From arrival to home" }
                @if let (Some(p10), Some(p50), Some(p90)) = (home.p10, home.p50, home.p90) {
                    p { "Half of the cameras were home after " strong { (p50) " days" } ", one in ten within " (p10) ", nine in ten within " (p90) "." }
                }
                div.chart { (PreEscaped(days_chart(&chart, Sheet::Inherit))) }
            }
        }
    }
}

fn parts(learned: &Learned) -> Markup {
    html! {
        @if !learned.parts.is_empty() {
            section {
                h2 { "Parts used" }
                div.table-wrap { table {
                    thead { tr { th { "Part" } th { "Grade" } th.num { "Pieces" } } }
                    tbody { @for it in learned.parts.iter().take(SHOWN) { tr {
                        th scope="row" { (it.words) }
                        td { (it.grade) }
                        td.num { (it.quantity) }
                    } } }
                } }
            }
        }
    }
}

/// The months of each currency, none left out between the first and the last.
fn by_currency(income: &[Income]) -> Vec<(Currency, Vec<Income>)> {
    let mut all: Vec<(Currency, Vec<Income>)> = Vec::new();
    for it in income {
        match all
            .iter_mut()
            .find(|(currency, _)| *currency == it.currency)
        {
            Some((_, months)) => months.push(*it),
            None => all.push((it.currency, vec![*it])),
        }
    }
    for (currency, months) in &mut all {
        months.sort_by_key(|it| it.month);
        let span = months.first().zip(months.last());
        let Some((first, last)) = span.map(|(first, last)| (first.month, last.month)) else {
            continue;
        };
        // A slip of the pen in one year must not hide the real ones.
        let earliest = last
            .checked_sub((MOST_MONTHS - 1).months())
            .unwrap_or(first);
        let between = first
            .max(earliest)
            .series(1.month())
            .take_while(|month| *month <= last);
        let whole = between.map(|month| {
            let billed = months.iter().find(|it| it.month == month);
            billed.copied().unwrap_or(Income {
                currency: *currency,
                month,
                net: Decimal::ZERO,
                tax: Decimal::ZERO,
                gross: Decimal::ZERO,
            })
        });
        *months = whole.collect();
    }
    all
}

fn income(learned: &Learned) -> Markup {
    html! {
        @for (currency, months) in by_currency(&learned.income) {
            @let chart = MonthsChart {
                title: format!("income by month in {currency}"),
                unit: format!("{currency} before tax"),
                months: months.iter().map(|it| MonthBar { month: month(it), amount: f64::try_from(it.net).unwrap_or(f64::NAN) }).collect(),
            };
            section {
                h2 { "Income by month, " (currency) }
                div.chart { (PreEscaped(months_chart(&chart, Sheet::Inherit))) }
                p.aside { "Bills less credit notes by their day of issue, before tax." }
                details.more {
                    summary { "Month by month" }
                    div.table-wrap { table {
                        thead { tr { th { "Month" } th.num { "Before tax" } th.num { "Tax" } th.num { "With tax" } } }
                        tbody { @for it in months.iter().rev() { tr {
                            th scope="row" { (month(it)) }
                            td.num { (written(it.net, currency)) }
                            td.num { (written(it.tax, currency)) }
                            td.num { (written(it.gross, currency)) }
                        } } }
                    } }
                }
            }
        }
    }
}

/// `2026-04`.
fn month(it: &Income) -> String {
    it.month.strftime("%Y-%m").to_string()
}

fn words(terms: &[Term]) -> String {
    let words: Vec<&str> = terms.iter().map(|term| term.words.as_str()).collect();
    words.join("; ")
}

fn capped(count: u64) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// One table as a file.
pub(crate) async fn file(
    State(state): State<AppState>,
    Path(name): Path<String>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Result<Response, PageError> {
    let unknown = || {
        PageError::missing(format!("There is no table “{name}”."))
            .or(urls::LEARNED, "Go to what was learned")
    };
    let table = name.strip_suffix(".csv").ok_or_else(unknown)?.to_owned();
    let known = FILES.iter().any(|(name, _)| *name == table);
    if !known {
        return Err(unknown());
    }
    let of = table.clone();
    let text = state
        .at_bench(move |desk| {
            let mut wrong = Wrong::default();
            let filter = filter(&Fields::new(asked), &mut wrong);
            csv(&desk.bench.learned(&filter)?, &of)
        })
        .await?;
    let headers = [
        (CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{table}.csv\""),
        ),
    ];
    Ok((headers, text).into_response())
}

fn csv(learned: &Learned, table: &str) -> Result<String, PageError> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut line = |cells: &[&dyn ToString]| {
        rows.push(cells.iter().map(|it| (*it).to_string()).collect());
    };
    match table {
        "faults" => {
            line(&[&"fault", &"words", &"is", &"count", &"of", &"low", &"high"]);
            for it in &learned.faults {
                let id = it.fault.id.as_deref().unwrap_or_default();
                let share = &it.share;
                line(&[
                    &id,
                    &it.fault,
                    &it.is,
                    &share.count,
                    &share.of,
                    &share.low,
                    &share.high,
                ]);
            }
        }
        "minutes" => {
            line(&[
                &"visit",
                &"likely_minutes",
                &"nine_in_ten_minutes",
                &"took_minutes",
            ]);
            for it in &learned.quotes.points {
                line(&[&it.visit, &it.likely, &it.nine_in_ten, &it.took]);
            }
        }
        "parts" => {
            line(&[&"part", &"grade", &"pieces"]);
            for it in &learned.parts {
                line(&[&it.words, &it.grade, &it.quantity]);
            }
        }
        "came-back" => {
            line(&[&"earlier_visit", &"later_visit", &"same_cause", &"causes"]);
            for it in &learned.came_back.points {
                let same = match it.same {
                    Some(true) => "yes",
                    Some(false) => "no",
                    None => "",
                };
                line(&[&it.earlier, &it.later, &same, &words(&it.causes)]);
            }
        }
        "days" => {
            line(&[&"days"]);
            for days in &learned.days_home.days {
                line(&[days]);
            }
        }
        _ => {
            line(&[&"month", &"currency", &"net", &"tax", &"gross"]);
            for it in &learned.income {
                line(&[&month(it), &it.currency, &it.net, &it.tax, &it.gross]);
            }
        }
    }
    let mut out = csv::Writer::from_writer(Vec::new());
    let failed = |error: &dyn std::fmt::Display| PageError::fault(&error.to_string());
    for row in &rows {
        out.write_record(row).map_err(|error| failed(&error))?;
    }
    let bytes = out.into_inner().map_err(|error| failed(&error))?;
    String::from_utf8(bytes).map_err(|error| failed(&error))
}
