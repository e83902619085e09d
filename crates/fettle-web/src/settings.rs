//! The bench's own name, place and terms, as its papers and quotes use them.

use axum::extract::{Query, Request, State};
use axum::response::Response;
use fettle_bench::{BenchSettings, Change, Currency, Language, PaperSize};
use maud::{Markup, html};

use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::Page;
use crate::state::{AppState, Desk};
use crate::thing::{Forms, Recorded, answer, record_or_draw, show_page};
use crate::upload::{Takes, Upload};
use crate::urls;

const ID: &str = "terms";

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(recorded): Query<Recorded>,
) -> Result<Markup, PageError> {
    show_page(&state, recorded, urls::SETTINGS, |desk| {
        page(desk, &Form::default())
    })
    .await
}

/// Settles the terms anew.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let outcome = state
        .at_bench(move |desk| {
            let now = desk.bench.settings()?;
            let mut wrong = Wrong::default();
            let settled = settled(&now, &sent.fields, &mut wrong);
            if wrong.is_empty() && settled == now {
                return Ok(Ok(urls::SETTINGS.to_owned()));
            }
            let changes: Vec<Change> = vec![settled.into()];
            let to = |_: &_| urls::SETTINGS.to_owned();
            let again = |fields, wrong| page(desk, &Form::returned(ID, fields, wrong));
            record_or_draw(desk, sent, changes, wrong, to, again)
        })
        .await?;
    Ok(answer(&state, outcome))
}

/// A number that may be settled, as it stands in its field.
fn written<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

/// The fields of the form and what the record says in each.
fn standing(now: &BenchSettings) -> [(&'static str, String); 19] {
    [
        ("name", now.name.clone()),
        ("place", now.place.clone()),
        ("address", now.address.clone()),
        ("country", now.country.clone()),
        ("contact", now.contact.clone()),
        ("currency", now.currency.to_string()),
        ("rate", written(now.hourly_rate)),
        ("round", written(now.round_to)),
        ("tax_name", now.tax_name.clone()),
        ("tax", written(now.tax_percent)),
        ("tax_number", now.tax_number.clone()),
        ("deposit", written(now.deposit_percent)),
        ("quote_days", written(now.quote_days)),
        ("pay_days", written(now.pay_days)),
        ("payment", now.payment.clone()),
        ("guarantee_repair", written(now.guarantee_repair_days)),
        ("guarantee_overhaul", written(now.guarantee_overhaul_days)),
        ("language", now.language.as_str().to_owned()),
        ("paper", now.paper_size.as_str().to_owned()),
    ]
}

/// The terms with what the form altered in them.
fn settled(now: &BenchSettings, fields: &Fields, wrong: &mut Wrong) -> BenchSettings {
    let merged: Vec<(String, String)> = standing(now)
        .into_iter()
        .map(|(name, now)| (name.to_owned(), wrong.merged(fields, name, &now)))
        .collect();
    let typed = Fields::new(merged);
    let text = |name: &str| typed.text(name).to_owned();
    if typed.text("name").is_empty() {
        wrong.note("name", "the bench’s name is missing");
    }
    let currency = Currency::new(typed.text("currency")).unwrap_or_else(|error| {
        wrong.note("currency", error.to_string());
        now.currency
    });
    let tax_percent = wrong.percent(&typed, "tax", "the tax");
    let deposit_percent = wrong.percent(&typed, "deposit", "the deposit");
    let hourly_rate = wrong.amount(&typed, "rate", "the price of an hour");
    let round_to = wrong
        .amount(&typed, "round", "the step")
        .filter(|step| !step.is_zero());
    let mut days = |name: &str, what: &str| wrong.whole(&typed, name, what);
    BenchSettings {
        quote_days: days("quote_days", "the days that a quote stands"),
        pay_days: days("pay_days", "the days to pay"),
        guarantee_repair_days: days("guarantee_repair", "the days of guarantee"),
        guarantee_overhaul_days: days("guarantee_overhaul", "the days of guarantee"),
        name: text("name"),
        place: text("place"),
        address: text("address"),
        country: text("country").to_uppercase(),
        contact: text("contact"),
        currency,
        hourly_rate,
        round_to,
        tax_name: text("tax_name"),
        tax_percent,
        tax_number: text("tax_number"),
        deposit_percent,
        payment: text("payment"),
        language: Language::from_text(typed.text("language")).unwrap_or(now.language),
        paper_size: PaperSize::from_text(typed.text("paper")).unwrap_or(now.paper_size),
    }
}

/// The languages that papers are written in, to choose from.
pub(crate) fn languages() -> Vec<(String, String)> {
    Language::ALL
        .iter()
        .map(|language| (language.as_str().to_owned(), language_name(*language)))
        .collect()
}

/// What a language is called here.
pub(crate) fn language_name(language: Language) -> String {
    match language {
        Language::English => "English",
        Language::German => "German",
    }
    .to_owned()
}

fn papers() -> Vec<(String, String)> {
    let name = |size: &PaperSize| match size {
        PaperSize::A4 => "A4",
        PaperSize::Letter => "Letter",
    };
    PaperSize::ALL
        .iter()
        .map(|size| (size.as_str().to_owned(), name(size).to_owned()))
        .collect()
}

fn page(desk: &Desk, returned: &Form) -> Result<Page, PageError> {
    let now = desk.bench.settings()?;
    let standing = standing(&now);
    let deed = |_: &str| urls::SETTINGS.to_owned();
    let forms = Forms {
        desk,
        returned,
        deed: &deed,
    };
    let form = forms.named(ID).caught_up(
        standing
            .iter()
            .map(|(name, now)| ((*name).to_owned(), now.as_str())),
    );
    let held = |name: &str| -> &str {
        standing
            .iter()
            .find(|(known, _)| *known == name)
            .map_or("", |(_, now)| now.as_str())
    };
    let currency = now.currency.to_string();
    let body = html! {
        h1 { "The bench’s terms" }
        p.lead { "What stands on its papers, and what quotes and bills are reckoned with. A change holds from now on: what was quoted, billed or guaranteed stays as it was." }
        (form.problems())
        (forms.around(&form, ID, &html! {
            @for (name, now) in &standing { (form.was(name, now)) }
            fieldset.group {
                legend { "Who writes" }
                div.fields {
                    (form.line("name", "Name").holding(held("name")).needed().draw())
                    (form.line("place", "Town").holding(held("place")).draw())
                    (form.area("address", "Postal address").holding(held("address")).draw())
                    (form.area("contact", "Mail, telephone").holding(held("contact")).draw())
                    (form.line("country", "Country").holding(held("country")).hint("the two letters of ISO 3166-1, for parcels abroad").class("short").draw())
                }
            }
            fieldset.group {
                legend { "Prices" }
                div.fields {
                    (form.line("currency", "Currency").holding(held("currency")).needed().hint("three letters: EUR").class("third").draw())
                    (form.line("rate", "An hour’s work").unit(&currency).holding(held("rate")).class("third").draw())
                    (form.line("round", "Rounded up to a multiple of").unit(&currency).holding(held("round")).hint("prices reckoned from minutes; empty: the smallest coin").class("third").draw())
                    (form.line("tax_name", "Tax").holding(held("tax_name")).hint("what it is called").class("third").draw())
                    (form.line("tax", "Its rate").unit("%").holding(held("tax")).hint("empty: no tax is charged").class("third").draw())
                    (form.line("tax_number", "Tax number").holding(held("tax_number")).class("third").draw())
                    (form.line("deposit", "Deposit on agreement").unit("%").holding(held("deposit")).hint("empty: none").class("third").draw())
                    (form.line("quote_days", "A quote stands for").unit("days").holding(held("quote_days")).hint("empty: without end").class("third").draw())
                    (form.line("pay_days", "A bill is to be paid within").unit("days").holding(held("pay_days")).hint("empty: no day is named").class("third").draw())
                    (form.area("payment", "How to pay").holding(held("payment")).hint("account, link; stands on quotes and bills").class("wide").draw())
                }
            }
            fieldset.group {
                legend { "Guarantee" }
                div.fields {
                    (form.line("guarantee_repair", "On a repair").unit("days").holding(held("guarantee_repair")).hint("empty: none").class("third").draw())
                    (form.line("guarantee_overhaul", "On an overhaul").unit("days").holding(held("guarantee_overhaul")).hint("empty: none").class("third").draw())
                }
            }
            fieldset.group {
                legend { "Papers" }
                div.fields {
                    (form.choice("language", "Language", languages()).holding(held("language")).hint("where an owner has no other").class("third").draw())
                    (form.choice("paper", "In the printer", papers()).holding(held("paper")).class("third").draw())
                }
            }
            div.acts { button.first { "Settle it so" } }
        }))
    };
    Ok(Page::new("The bench’s terms", body).about("owners"))
}
