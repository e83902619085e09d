//! Making a quote: proposed from the service notes, altered, recorded.

use fettle_bench::{
    Change, Decimal, Grade, LineFor, QuoteDraft, QuoteKind, QuoteLine, QuoteMade, Stage, WaitFor,
    WaitingBegun, written,
};
use maud::{Markup, html};

use super::name;
use crate::error::sentence;
use crate::form::{Fields, Form, Wrong};
use crate::upload::Upload;
use crate::visit::billing::named;
use crate::visit::context::{Context, date_field, or_wrong};
use crate::visit::deed::Deed;
use crate::visit::looked_over::moved;
use crate::visit::term::Of;
use crate::{number, urls};

/// Lines for work, and for parts, that a blank form offers.
const BLANK_LINES: usize = 2;
/// Most lines of one kind that a form is read for.
const MOST_LINES: usize = 40;

/// The quote to be made: as asked, else the first that makes sense.
pub(super) fn kind(context: &Context<'_>) -> QuoteKind {
    let returned = context.form(Deed::QuoteMade);
    let asked = if returned.is_returned() {
        Some(returned.value("kind", "").to_owned())
    } else {
        context.asked.draft.clone()
    };
    let asked = asked.as_deref().and_then(QuoteKind::from_text);
    asked.unwrap_or_else(|| {
        if context.view.agreed().is_empty() {
            QuoteKind::Repair
        } else {
            QuoteKind::Extra
        }
    })
}

/// A row of the form as the draft proposes it.
#[derive(Default)]
struct Row {
    what: String,
    likely: String,
    nine: String,
    grade: &'static str,
    pieces: String,
    amount: String,
    why: String,
}

fn rows_of(draft: Option<&QuoteDraft>, wanted: LineFor) -> Vec<Row> {
    let whole = |minutes: f64| format!("{minutes:.0}");
    let lines = draft.into_iter().flat_map(|draft| &draft.lines);
    lines
        .filter(|line| line.line_for == wanted)
        .map(|line| Row {
            what: line.what.to_string(),
            likely: line.takes.map(|it| whole(it.likely)).unwrap_or_default(),
            nine: line
                .takes
                .map(|it| whole(it.nine_in_ten))
                .unwrap_or_default(),
            grade: line.grade.map_or("", Grade::as_str),
            pieces: line.quantity.map(|it| it.to_string()).unwrap_or_default(),
            amount: line
                .amount
                .zip(draft)
                .map(|(it, draft)| written(it, draft.currency))
                .unwrap_or_default(),
            why: line.why.clone(),
        })
        .collect()
}

pub(super) fn form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::QuoteMade);
    let kind = kind(context);
    let draft = context.bench.quote_draft(context.visit(), kind).ok();
    let works = rows_of(draft.as_ref(), LineFor::Work);
    let parts = rows_of(draft.as_ref(), LineFor::Part);
    let settings = &context.settings;
    let currency = settings.currency;
    let percent = |it: Option<Decimal>| it.map(|it| it.normalize().to_string()).unwrap_or_default();
    let (tax, deposit) = (
        percent(settings.tax_percent),
        percent(settings.deposit_percent),
    );
    let until = draft
        .as_ref()
        .and_then(|draft| draft.quote(context.today()).valid_until)
        .map(|day| day.to_string())
        .unwrap_or_default();
    html! {
        section #make-quote {
            h3 { "Make a quote" }
            p {
                @for (n, it) in QuoteKind::ALL.iter().enumerate() {
                    @if n > 0 { " · " }
                    @if *it == kind { strong aria-current="true" { (name(*it)) } } @else { a href=(urls::quote_draft(context.visit(), it.as_str())) { (name(*it)) } }
                }
            }
            @if let Some(draft) = &draft {
                p.quiet-text {
                    @if draft.lines.is_empty() { "Nothing is proposed." } @else {
                        "Proposed from the service notes and what past visits took: likely " (number::minutes(draft.takes.likely)) ", nine times in ten within " (number::minutes(draft.takes.nine_in_ten)) "."
                    }
                    @if let Some(rate) = settings.hourly_rate { " An hour's work is " (currency) " " (written(rate, currency)) "." }
                }
                @if !draft.remarks.is_empty() { ul.findings { @for remark in &draft.remarks { li { (sentence(remark)) } } } }
            }
            (context.around(Deed::QuoteMade, &form, &html! {
                input type="hidden" name="kind" value=(kind.as_str());
                div.table-wrap { table.written {
                    caption { "Work" }
                    thead { tr { th { "What" } th { "Minutes likely" } th { "Minutes nine times in ten" } th { (currency) } } }
                    tbody { @for i in 0..rows(&form, "work", works.len()) { (work_row(&form, i, works.get(i))) } }
                } }
                div.table-wrap { table.written {
                    caption { "Parts" }
                    thead { tr { th { "What" } th { "Grade" } th { "Pieces" } th { (currency) } } }
                    tbody { @for i in 0..rows(&form, "part", parts.len()) { (part_row(&form, i, parts.get(i))) } }
                } }
                div.fields {
                    (form.line("tax", &settings.tax_name).unit("%").holding(&tax).hint("empty: no tax").class("third").draw())
                    (form.line("deposit", "Deposit on agreement").unit("%").holding(&deposit).hint("empty: none").class("third").draw())
                    (form.typed("until", "It stands until", "date").holding(&until).hint("empty: without end").class("third").draw())
                }
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

fn work_row(form: &Form, i: usize, proposed: Option<&Row>) -> Markup {
    let blank = Row::default();
    let it = proposed.unwrap_or(&blank);
    let row = i + 1;
    html! {
        tr {
            td { (form.cell(&format!("work.{i}.what"), &format!("Work {row}"), &it.what, Some(Of::Work.list()))) @if !it.why.is_empty() { div.aside { (it.why) } } }
            td { (form.cell(&format!("work.{i}.likely"), &format!("Work {row}: minutes likely"), &it.likely, None)) }
            td { (form.cell(&format!("work.{i}.nine"), &format!("Work {row}: minutes nine times in ten"), &it.nine, None)) }
            td { (form.cell(&format!("work.{i}.amount"), &format!("Work {row}: amount"), &it.amount, None)) }
        }
    }
}

fn part_row(form: &Form, i: usize, proposed: Option<&Row>) -> Markup {
    let blank = Row::default();
    let it = proposed.unwrap_or(&blank);
    let row = i + 1;
    let grade = format!("part.{i}.grade");
    html! {
        tr {
            td { (form.cell(&format!("part.{i}.what"), &format!("Part {row}"), &it.what, Some(Of::Part.list()))) @if !it.why.is_empty() { div.aside { (it.why) } } }
            td {
                select name=(grade) aria-label={ "Part " (row) ": grade" } {
                    option value="" selected[form.value(&grade, it.grade).is_empty()] { "not settled" }
                    @for known in Grade::ALL {
                        option value=(known.as_str()) selected[form.value(&grade, it.grade) == known.as_str()] { (known) }
                    }
                }
            }
            td { (form.cell(&format!("part.{i}.quantity"), &format!("Part {row}: pieces"), &it.pieces, None)) }
            td { (form.cell(&format!("part.{i}.amount"), &format!("Part {row}: amount"), &it.amount, None)) }
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
    let kind = QuoteKind::from_text(fields.text("kind")).unwrap_or_default();
    let tax_percent = wrong.percent(fields, "tax", "the tax");
    let deposit = wrong.percent(fields, "deposit", "the deposit");
    let valid_until = date_field(fields, &mut wrong, "until", None);
    let visit = context.visit();
    let settings = &context.settings;
    let quote = QuoteMade {
        kind,
        tax_percent,
        tax_name: settings.tax_name.clone(),
        valid_until,
        ..QuoteMade::new(visit, lines, settings.currency, fields.text("note"))
    };
    let mut changes: Vec<Change> = vec![quote.with_deposit(deposit).into()];
    if kind.is_alternative() && context.view.line.stage < Stage::Quoted {
        changes.push(moved(context, Stage::Quoted));
    }
    let waits = context.view.waiting();
    let waits = waits
        .filter(|wait| wait.wait_for == WaitFor::Answer)
        .count();
    if fields.ticked("waits") && waits == 0 {
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
    let what = named(
        fields,
        wrong,
        &format!("work.{i}.what"),
        &format!("work.{i}.amount"),
    )?;
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
    let what = named(
        fields,
        wrong,
        &format!("part.{i}.what"),
        &format!("part.{i}.amount"),
    )?;
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
