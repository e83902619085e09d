//! Quote: work, minutes, parts by grade, amounts, in alternatives side by side; the owner's answer; extra work found later.

mod answer;
mod draft;

use fettle_bench::{Decimal, LineFor, Quote, QuoteKind, Stage, written};
use fettle_reason::Taking;
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::looked_over::go_aside;
use super::section::Section;
use crate::{number, papers, urls};

pub(crate) use self::{answer::answer, draft::quote};

/// What a quote of a kind is called.
fn name(kind: QuoteKind) -> &'static str {
    match kind {
        QuoteKind::Repair => "Repair",
        QuoteKind::Overhaul => "Overhaul",
        QuoteKind::ReturnUnrepaired => "Return unrepaired",
        QuoteKind::Extra => "Extra work",
    }
}

/// The amount with tax, in words.
fn gross(quote: &Quote) -> String {
    let currency = quote.what.total.currency;
    format!("{currency} {}", written(quote.totals.gross, currency))
}

fn open<'c>(context: &'c Context<'_>) -> impl Iterator<Item = &'c Quote> {
    let quotes = context.view.quotes.iter();
    quotes.filter(|quote| quote.answer.is_none())
}

pub(crate) fn result(context: &Context<'_>) -> String {
    let view = &context.view;
    let agreed = view.agreed();
    let waits = open(context).count();
    if let Some(first) = agreed.first() {
        let extra = match agreed.len() - 1 {
            0 => String::new(),
            extra => format!(", {} beside", number::count(extra, "extra", "extras")),
        };
        let waits = if waits > 0 {
            ", more waits for an answer"
        } else {
            ""
        };
        return format!(
            "{}, {} agreed{extra}{waits}",
            name(first.what.kind).to_lowercase(),
            gross(first)
        );
    }
    match view.quotes.last() {
        None if Section::now(view) == Some(Section::Quote) => {
            "time and parts, with honest uncertainty".to_owned()
        }
        None => String::new(),
        Some(_) if waits > 1 => format!("{waits} alternatives, no answer yet"),
        Some(quote) if waits == 1 => format!("{}, no answer yet", gross(quote)),
        Some(quote) => format!("{}, declined", gross(quote)),
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let view = &context.view;
    let again = view.quotes.is_empty()
        || context.asked.draft.is_some()
        || context.form(Deed::QuoteMade).is_returned();
    let alternatives: Vec<&Quote> = open(context)
        .filter(|quote| quote.what.kind.is_alternative())
        .collect();
    html! {
        @if alternatives.len() > 1 { (side_by_side(&alternatives)) }
        @for quote in &view.quotes { (made(context, quote)) }
        @if !alternatives.is_empty() { (answer::form(context, &alternatives)) }
        @for extra in open(context).filter(|quote| !quote.what.kind.is_alternative()) { (answer::extra_form(context, extra)) }
        @if again { (draft::form(context)) }
        @else { p { a.button href=(urls::quote_draft(context.visit(), draft::kind(context).as_str())) { @if view.agreed().is_empty() { "Quote another alternative" } @else { "Quote extra work that was found" } } } }
        @if view.line.stage == Stage::LookedOver {
            div { p.quiet-text { "A small job need not be quoted." } (go_aside(context, Stage::Agreed, "Agreed without a quote")) }
        }
    }
}

/// The open alternatives, a column each.
fn side_by_side(quotes: &[&Quote]) -> Markup {
    let minutes = |quote: &Quote, of: fn(Taking) -> f64| {
        let takes = papers::together(&quote.what);
        takes.map_or_else(|| "–".to_owned(), |it| number::minutes(of(it)))
    };
    let count = |quote: &Quote, wanted: LineFor| {
        let lines = quote.what.lines.iter();
        lines.filter(|line| line.line_for == wanted).count()
    };
    let amount = |quote: &Quote, it: Decimal| written(it, quote.what.total.currency);
    html! {
        section {
            h3 { "Side by side" }
            div.table-wrap { table {
                thead { tr { td {} @for quote in quotes { th.num { (name(quote.what.kind)) } } } }
                tbody {
                    tr { th scope="row" { "Works" } @for quote in quotes { td.num { (count(quote, LineFor::Work)) } } }
                    tr { th scope="row" { "Kinds of part" } @for quote in quotes { td.num { (count(quote, LineFor::Part)) } } }
                    tr { th scope="row" { "Likely" } @for quote in quotes { td.num { (minutes(quote, |it| it.likely)) } } }
                    tr { th scope="row" { "Nine times in ten" } @for quote in quotes { td.num { (minutes(quote, |it| it.nine_in_ten)) } } }
                    tr { th scope="row" { "Before tax" } @for quote in quotes { td.num { (amount(quote, quote.totals.net)) } } }
                    tr { th scope="row" { "Tax" } @for quote in quotes { td.num { (amount(quote, quote.totals.tax)) } } }
                    tr { th scope="row" { strong { "Together" } } @for quote in quotes { td.num { strong { (gross(quote)) } } } }
                    tr { th scope="row" { "Deposit" } @for quote in quotes { td.num { @match quote.what.deposit { Some(it) => (amount(quote, it)), None => "none" } } } }
                    tr { th scope="row" { "Stands until" } @for quote in quotes { td.num { @match quote.what.valid_until { Some(day) => (number::date(day)), None => "without end" } } } }
                }
            } }
        }
    }
}

fn made(context: &Context<'_>, quote: &Quote) -> Markup {
    let minutes = |value: Option<f64>| value.map(number::minutes).unwrap_or_default();
    let what = &quote.what;
    let currency = what.total.currency;
    let amount = |it: Decimal| written(it, currency);
    html! {
        section {
            div.table-wrap { table {
                caption { (name(what.kind)) ", quoted on " (number::moment(&quote.at.to_zoned_datetime(context.now.time_zone().clone()))) }
                thead { tr { th { "For" } th.num { "Likely" } th.num { "Nine times in ten" } th.num { "Pieces" } th.num { (currency) } } }
                tbody {
                    @for line in &what.lines {
                        tr {
                            td { (line.what) @if let Some(grade) = line.grade { span.aside { ", " (grade) } } }
                            td.num { (minutes(line.minutes_likely)) }
                            td.num { (minutes(line.minutes_nine_in_ten)) }
                            td.num { @if let Some(quantity) = line.quantity { (quantity) } }
                            td.num { (amount(line.amount)) }
                        }
                    }
                }
                tfoot {
                    @for tax in &quote.totals.taxes { tr { td colspan="4" { (what.tax_name) " " (tax.percent.normalize()) " % of " (amount(tax.net)) } td.num { (amount(tax.tax)) } } }
                    tr { td colspan="4" { "Together" } td.num { (amount(quote.totals.gross)) } }
                    @if let Some(deposit) = what.deposit { tr { td colspan="4" { "Deposit on agreement" } td.num { (amount(deposit)) } } }
                }
            } }
            @if !what.note.is_empty() { p.words { (what.note) } }
            @if let Some(answer) = &quote.answer {
                p { strong { @if answer.agreed { "The owner agreed" } @else { "The owner declined" } } " on " (number::date(answer.on)) "." }
                @if !answer.words.is_empty() { blockquote { (answer.words) } }
            } @else if !what.kind.is_alternative() { p.needs-hand { "Not agreed yet: it counts when the owner has answered." } }
            (context.undo(quote.entry, Section::Quote))
        }
    }
}
