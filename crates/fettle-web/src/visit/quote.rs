//! Quote: work, minutes, parts by grade, amounts; and the owner's answer.

use fettle_bench::{
    Change, Decimal, Found, Grade, LineFor, Quote, QuoteAnswered, QuoteLine, QuoteMade, Stage,
    WaitFor, WaitingBegun, WaitingEnded,
};
use maud::{Markup, html};

use super::context::{Context, date_field, or_wrong};
use super::deed::Deed;
use super::looked_over::{go_aside, moved};
use super::section::Section;
use super::term::Of;
use crate::form::{Fields, Form, Wrong};
use crate::number;
use crate::upload::Upload;

/// Lines for work, and for parts, that a blank form offers.
const BLANK_LINES: usize = 3;
/// Most lines of one kind that a form is read for.
const MOST_LINES: usize = 40;

pub(crate) fn result(context: &Context<'_>) -> String {
    let Some(quote) = context.view.quotes.last() else {
        return if Section::now(&context.view) == Some(Section::Quote) {
            "time and parts, with honest uncertainty".to_owned()
        } else {
            String::new()
        };
    };
    match &quote.answer {
        None => format!("{}, no answer yet", quote.what.total),
        Some(answer) if answer.agreed => {
            format!(
                "{}, agreed on {}",
                quote.what.total,
                number::date(answer.on)
            )
        }
        Some(answer) => format!(
            "{}, declined on {}",
            quote.what.total,
            number::date(answer.on)
        ),
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let stage = context.view.line.stage;
    let open = context
        .view
        .quotes
        .last()
        .filter(|quote| quote.answer.is_none());
    let again = context.view.quotes.is_empty() || context.form(Deed::QuoteMade).is_returned();
    html! {
        @for quote in &context.view.quotes { (made(context, quote)) }
        @if let Some(quote) = open { (answer_form(context, quote)) }
        @if again { (quote_form(context)) }
        @else { details.more { summary { "Make another quote; the last one counts" } (quote_form(context)) } }
        @if stage == Stage::LookedOver {
            div { p.quiet-text { "A small job need not be quoted." } (go_aside(context, Stage::Agreed, "Agreed without a quote")) }
        }
    }
}

fn made(context: &Context<'_>, quote: &Quote) -> Markup {
    let minutes = |value: Option<f64>| value.map(number::minutes).unwrap_or_default();
    html! {
        section {
            div.table-wrap { table {
                caption { "Quote of " (number::moment(&quote.at.to_zoned_datetime(context.now.time_zone().clone()))) }
                thead { tr { th { "For" } th.num { "Likely" } th.num { "Nine times in ten" } th.num { "Pieces" } th.num { (quote.what.total.currency) } } }
                tbody {
                    @for line in &quote.what.lines {
                        tr {
                            td { (line.what) @if let Some(grade) = line.grade { span.aside { ", " (grade) } } }
                            td.num { (minutes(line.minutes_likely)) }
                            td.num { (minutes(line.minutes_nine_in_ten)) }
                            td.num { @if let Some(quantity) = line.quantity { (quantity) } }
                            td.num { (amount(line.amount)) }
                        }
                    }
                }
                tfoot { tr { th colspan="4" { "Together" } td.num { (amount(quote.what.total.amount)) } } }
            } }
            @if !quote.what.note.is_empty() { p.words { (quote.what.note) } }
            @if let Some(answer) = &quote.answer {
                p { strong { @if answer.agreed { "The owner agreed" } @else { "The owner declined" } } " on " (number::date(answer.on)) "." }
                @if !answer.words.is_empty() { blockquote { (answer.words) } }
            }
            (context.undo(quote.entry, Section::Quote))
        }
    }
}

/// At least two decimals, more when the amount has more.
fn amount(amount: Decimal) -> String {
    let mut amount = amount.normalize();
    if amount.scale() < 2 {
        amount.rescale(2);
    }
    amount.to_string()
}

fn answer_form(context: &Context<'_>, quote: &Quote) -> Markup {
    let form = context.form(Deed::Answer);
    let today = context.today().to_string();
    html! {
        section {
            h3 { "The owner's answer" }
            (context.around(Deed::Answer, &form, &html! {
                input type="hidden" name="quote" value=(quote.id);
                div.ticks { (form.radio("agreed", "yes", "agreed", "")) (form.radio("agreed", "no", "declined", "")) }
                div.fields {
                    (form.line("words", "In the owner's words").draw())
                    (form.typed("on", "Day of the answer", "date").holding(&today).class("short").draw())
                }
                div.acts { button.next { "Record the answer" } }
            }))
        }
    }
}

pub(crate) fn answer(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let agreed = match fields.text("agreed") {
        "yes" => true,
        "no" => false,
        _ => {
            wrong.note("agreed", "say whether the owner agreed or declined");
            false
        }
    };
    let on = date_field(fields, &mut wrong, "on", Some(context.today()));
    let quote = fields
        .text("quote")
        .parse::<i64>()
        .map(fettle_bench::QuoteId::new);
    let (Some(on), Ok(quote), true) = (on, quote, wrong.is_empty()) else {
        if wrong.is_empty() {
            wrong.note("", "the form does not say which quote was answered");
        }
        return Err(wrong);
    };
    let words = fields.text("words").to_owned();
    let visit = context.visit();
    let mut changes = vec![
        QuoteAnswered {
            visit,
            quote,
            agreed,
            words,
            on,
        }
        .into(),
    ];
    changes.extend(
        context
            .view
            .waiting()
            .filter(|wait| wait.wait_for == WaitFor::Answer)
            .map(|wait| {
                let note = if agreed { "agreed" } else { "declined" }.to_owned();
                WaitingEnded {
                    visit,
                    wait: wait.id,
                    note,
                }
                .into()
            }),
    );
    if agreed && context.view.line.stage < Stage::Agreed {
        changes.push(moved(context, Stage::Agreed));
    }
    Ok(changes)
}

/// What the notes propose for the faults found: work with its minutes, and the parts it uses.
struct Proposed {
    works: Vec<(String, String)>,
    parts: Vec<(String, String)>,
}

fn proposed(context: &Context<'_>) -> Proposed {
    let mut proposal = Proposed {
        works: Vec::new(),
        parts: Vec::new(),
    };
    let Some(notes) = context.notes() else {
        return proposal;
    };
    let found = context
        .view
        .faults
        .iter()
        .filter(|fault| fault.what.found == Found::Found);
    let mut works = Vec::new();
    for fault in found {
        let noted = fault
            .what
            .fault
            .id
            .as_deref()
            .and_then(|id| notes.faults.get(id));
        // The first work named is the notes' first choice; others are alternatives.
        let Some(id) = noted.and_then(|noted| noted.cured_by.first()) else {
            continue;
        };
        if !works.contains(&id) {
            works.push(id);
        }
    }
    for id in works {
        let Some(work) = notes.works.get(id) else {
            continue;
        };
        proposal
            .works
            .push((work.name.clone(), format!("{}", work.minutes.to_f64())));
        for part in &work.parts {
            let name = notes
                .parts
                .get(&part.part)
                .map_or(part.part.as_str(), |part| &part.name);
            proposal
                .parts
                .push((name.to_owned(), part.count.to_string()));
        }
    }
    proposal
}

fn quote_form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::QuoteMade);
    let proposed = proposed(context);
    let currency = context.settings.currency;
    let rate = context.settings.hourly_rate.map(amount);
    html! {
        section {
            h3 { "Make a quote" }
            @if let Some(rate) = rate { p.quiet-text { "An hour's work is " (currency) " " (rate) "." } }
            (context.around(Deed::QuoteMade, &form, &html! {
                div.table-wrap { table {
                    caption { "Work" }
                    thead { tr { th { "What" } th { "Minutes likely" } th { "Minutes nine times in ten" } th { (currency) } } }
                    tbody { @for i in 0..rows(&form, "work", proposed.works.len()) { (work_row(&form, i, proposed.works.get(i))) } }
                } }
                div.table-wrap { table {
                    caption { "Parts" }
                    thead { tr { th { "What" } th { "Grade" } th { "Pieces" } th { (currency) } } }
                    tbody { @for i in 0..rows(&form, "part", proposed.parts.len()) { (part_row(&form, i, proposed.parts.get(i))) } }
                } }
                (form.area("note", "A note to the owner").class("wide").draw())
                (form.tick("waits", "yes", "wait for the owner's answer", true))
                div.acts { button.next { "Record the quote" } }
            }))
        }
    }
}

fn rows(form: &Form, kind: &str, proposed: usize) -> usize {
    let sent = (0..MOST_LINES)
        .rev()
        .find(|i| !form.value(&format!("{kind}.{i}.what"), "").is_empty());
    (proposed + BLANK_LINES)
        .max(sent.map_or(0, |last| last + 1))
        .min(MOST_LINES)
}

fn work_row(form: &Form, i: usize, proposed: Option<&(String, String)>) -> Markup {
    let (name, minutes) = proposed.map_or(("", ""), |(name, minutes)| (name, minutes));
    let row = i + 1;
    html! {
        tr {
            td { (form.cell(&format!("work.{i}.what"), &format!("Work {row}"), name, Some(Of::Work.list()))) }
            td { (form.cell(&format!("work.{i}.likely"), &format!("Work {row}: minutes likely"), minutes, None)) }
            td { (form.cell(&format!("work.{i}.nine"), &format!("Work {row}: minutes nine times in ten"), "", None)) }
            td { (form.cell(&format!("work.{i}.amount"), &format!("Work {row}: amount"), "", None)) }
        }
    }
}

fn part_row(form: &Form, i: usize, proposed: Option<&(String, String)>) -> Markup {
    let (name, count) = proposed.map_or(("", ""), |(name, count)| (name, count));
    let row = i + 1;
    let grade = format!("part.{i}.grade");
    html! {
        tr {
            td { (form.cell(&format!("part.{i}.what"), &format!("Part {row}"), name, Some(Of::Part.list()))) }
            td {
                select name=(grade) aria-label={ "Part " (row) ": grade" } {
                    @for known in Grade::ALL {
                        option value=(known.as_str()) selected[form.value(&grade, "") == known.as_str()] { (known) }
                    }
                }
            }
            td { (form.cell(&format!("part.{i}.quantity"), &format!("Part {row}: pieces"), count, None)) }
            td { (form.cell(&format!("part.{i}.amount"), &format!("Part {row}: amount"), "", None)) }
        }
    }
}

pub(crate) fn quote(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let mut lines = Vec::new();
    for i in 0..MOST_LINES {
        lines.extend(work_line(context, fields, &mut wrong, i));
    }
    for i in 0..MOST_LINES {
        lines.extend(part_line(context, fields, &mut wrong, i));
    }
    if lines.is_empty() && wrong.is_empty() {
        wrong.note(
            "work.0.what",
            "a quote has at least one line of work or parts",
        );
    }
    let visit = context.visit();
    let note = fields.text("note");
    let mut changes: Vec<Change> =
        vec![QuoteMade::new(visit, lines, context.settings.currency, note).into()];
    if context.view.line.stage < Stage::Quoted {
        changes.push(moved(context, Stage::Quoted));
    }
    if fields.ticked("waits") {
        let what = "to the quote".to_owned();
        changes.push(
            WaitingBegun {
                visit,
                wait_for: WaitFor::Answer,
                what,
            }
            .into(),
        );
    }
    or_wrong(changes, wrong)
}

fn work_line(
    context: &Context<'_>,
    fields: &Fields,
    wrong: &mut Wrong,
    i: usize,
) -> Option<QuoteLine> {
    let what = fields.some(&format!("work.{i}.what"))?;
    let row = i + 1;
    let likely = wrong.number(
        fields,
        &format!("work.{i}.likely"),
        &format!("minutes of work {row}"),
    );
    let nine = wrong.number(
        fields,
        &format!("work.{i}.nine"),
        &format!("minutes of work {row}"),
    );
    Some(QuoteLine {
        line_for: LineFor::Work,
        what: Of::Work.term(context.notes(), &what),
        grade: None,
        quantity: None,
        minutes_likely: likely,
        minutes_nine_in_ten: nine,
        amount: price(fields, wrong, &format!("work.{i}.amount"), &what),
    })
}

fn part_line(
    context: &Context<'_>,
    fields: &Fields,
    wrong: &mut Wrong,
    i: usize,
) -> Option<QuoteLine> {
    let what = fields.some(&format!("part.{i}.what"))?;
    let quantity = wrong.whole(
        fields,
        &format!("part.{i}.quantity"),
        &format!("pieces of part {}", i + 1),
    );
    Some(QuoteLine {
        line_for: LineFor::Part,
        what: Of::Part.term(context.notes(), &what),
        grade: Grade::from_text(fields.text(&format!("part.{i}.grade"))),
        quantity: quantity.or(Some(1)),
        minutes_likely: None,
        minutes_nine_in_ten: None,
        amount: price(fields, wrong, &format!("part.{i}.amount"), &what),
    })
}

fn price(fields: &Fields, wrong: &mut Wrong, name: &str, what: &str) -> Decimal {
    if fields.text(name).is_empty() {
        wrong.note(
            name,
            format!("the amount for “{what}” is missing; write 0 when it is free"),
        );
    }
    wrong.amount(fields, name, "the amount").unwrap_or_default()
}
