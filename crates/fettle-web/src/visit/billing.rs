//! Bill and payments: what was agreed is billed, what came is written down, what is wrong is credited.

use fettle_bench::{
    Bill, BillId, BillIssued, BillLine, Change, CreditIssued, Decimal, LineFor, Money,
    PaymentReceived, Stage, written,
};
use jiff::ToSpan;
use maud::{Markup, html};

use super::context::{Context, date_field, or_wrong};
use super::deed::Deed;
use super::section::Section;
use crate::form::{Fields, Form, Wrong};
use crate::number;
use crate::papers::VisitPaper;
use crate::upload::Upload;
use crate::urls;

/// Lines that a blank form offers beside those proposed.
const BLANK_LINES: usize = 2;
/// Most lines that a form is read for.
const MOST_LINES: usize = 60;

pub(crate) fn result(context: &Context<'_>) -> String {
    let view = &context.view;
    if view.bills.is_empty() {
        return match view.payments.len() {
            0 if view.line.stage >= Stage::Proved => "no bill yet".to_owned(),
            0 => String::new(),
            _ => "a payment came, no bill yet".to_owned(),
        };
    }
    let numbers: Vec<String> = view.bills.iter().map(|bill| bill.id.to_string()).collect();
    let open = view.owed();
    let open: Vec<String> = open
        .iter()
        .filter(|it| !it.amount.is_zero())
        .map(|it| {
            if it.amount > Decimal::ZERO {
                format!("{it} to be paid")
            } else {
                format!("{} paid too much", Money::new(-it.amount, it.currency))
            }
        })
        .collect();
    let said = if open.is_empty() {
        "paid".to_owned()
    } else {
        open.join(", ")
    };
    format!("bill {}: {said}", numbers.join(", "))
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let view = &context.view;
    let asks = view.bills.is_empty() || context.form(Deed::Bill).is_returned();
    html! {
        @for bill in &view.bills { (issued(context, bill)) }
        (payments(context))
        @if asks { (bill_form(context)) }
        @else { details.more { summary { "Write another bill" } (bill_form(context)) } }
    }
}

fn issued(context: &Context<'_>, bill: &Bill) -> Markup {
    let currency = bill.what.currency;
    let amount = |it: Decimal| written(it, currency);
    let form = context.form_keyed(Deed::Credit, &bill.id.to_string());
    html! {
        section {
            div.table-wrap { table {
                caption { "Bill " (bill.id) " of " (number::date(bill.what.on)) @if let Some(due) = bill.what.due_on { ", to be paid by " (number::date(due)) } }
                thead { tr { th { "For" } th.num { "Pieces" } th.num { "Tax" } th.num { (currency) } } }
                tbody {
                    @for line in &bill.what.lines { tr {
                        td { (line.words) }
                        td.num { @if let Some(quantity) = line.quantity { (quantity) } }
                        td.num { @if let Some(percent) = line.tax_percent { (percent.normalize()) " %" } }
                        td.num { (amount(line.amount)) }
                    } }
                }
                tfoot {
                    tr { td colspan="3" { "Before tax" } td.num { (amount(bill.totals.net)) } }
                    @for tax in &bill.totals.taxes { tr { td colspan="3" { (bill.what.tax_name) " " (tax.percent.normalize()) " % of " (amount(tax.net)) } td.num { (amount(tax.tax)) } } }
                    tr { td colspan="3" { strong { "Together" } } td.num { strong { (amount(bill.totals.gross)) } } }
                    @for credit in &bill.credits { tr { td colspan="3" { "Credit note " (credit.id) " of " (number::date(credit.what.on)) ": " (credit.what.reason) } td.num { (amount(-credit.totals.gross)) } } }
                    tr { td colspan="3" { "Still to be paid" } td.num { (amount(bill.open)) } }
                }
            } }
            div.acts {
                a.button href=(urls::paper_preview(context.visit(), &VisitPaper::Bill(bill.id).name())) { "Its paper" }
                @for credit in &bill.credits { a.button href=(urls::paper_preview(context.visit(), &VisitPaper::Credit(credit.id).name())) { "Credit note " (credit.id) } }
            }
            details.more open[form.is_returned()] {
                summary { "Take back a part of it by a credit note" }
                p.quiet-text { "A bill that was issued is never altered: a credit note with the next number takes back what was wrong, then a right bill may follow." }
                (context.around(Deed::Credit, &form, &html! {
                    input type="hidden" name="bill" value=(bill.id);
                    div.fields {
                        @for (i, line) in bill.what.lines.iter().enumerate() {
                            (form.line(&format!("credit.{i}"), &line.words).unit(currency.as_str()).hint(&format!("of {}", amount(line.amount))).class("third").draw())
                        }
                        (form.line("reason", "Why").needed().class("wide").draw())
                    }
                    div.acts { button.first { "Issue the credit note" } }
                }))
            }
        }
    }
}

fn payments(context: &Context<'_>) -> Markup {
    let view = &context.view;
    let form = context.form(Deed::Payment);
    let today = context.today().to_string();
    let currency = context.settings.currency;
    let deposit = view
        .agreed()
        .iter()
        .filter_map(|quote| quote.what.deposit)
        .sum::<Decimal>();
    let due = view
        .owed()
        .into_iter()
        .find(|it| it.currency == currency && it.amount > Decimal::ZERO)
        .map(|it| it.amount)
        .or_else(|| {
            (view.bills.is_empty() && view.payments.is_empty() && !deposit.is_zero())
                .then_some(deposit)
        })
        .map(|it| written(it, currency))
        .unwrap_or_default();
    html! {
        section {
            h3 { "Payments" }
            @if !view.payments.is_empty() {
                ul.lines {
                    @for payment in &view.payments {
                        li { div.row {
                            span {
                                (payment.what.amount) " on " (number::date(payment.what.on))
                                @if !payment.what.how.is_empty() { ", " (payment.what.how) }
                                @if !payment.what.note.is_empty() { span.aside { " – " (payment.what.note) } }
                            }
                            (context.undo(payment.entry, Section::Bill))
                        } }
                    }
                }
            }
            (context.around(Deed::Payment, &form, &html! {
                div.fields {
                    (form.line("amount", "Amount that came").unit(currency.as_str()).holding(&due).hint("with a minus when it was paid back").class("third").draw())
                    (form.typed("on", "Day", "date").holding(&today).class("third").draw())
                    (form.line("how", "How").hint("transfer, cash").class("third").draw())
                    (form.line("note", "Note").class("wide").draw())
                }
                div.acts { button { "Record the payment" } }
            }))
        }
    }
}

/// A line that a bill is proposed with.
struct Proposed {
    words: String,
    quantity: String,
    /// In percent, as it was agreed to; else as the bench settled.
    tax: String,
    amount: String,
}

/// A rate in its field.
fn percent(rate: Option<Decimal>) -> String {
    rate.map(|it| it.normalize().to_string())
        .unwrap_or_default()
}

/// What was agreed; else what was done and fitted.
fn proposed(context: &Context<'_>) -> Vec<Proposed> {
    let view = &context.view;
    let currency = context.settings.currency;
    let tax = percent(context.settings.tax_percent);
    let agreed = view.agreed();
    let lines: Vec<Proposed> = agreed
        .iter()
        .filter(|quote| quote.what.total.currency == currency)
        .flat_map(|quote| quote.what.lines.iter().map(move |line| (quote, line)))
        .map(|(quote, line)| Proposed {
            words: match (line.line_for, line.grade) {
                (LineFor::Part, Some(grade)) => format!("{} ({grade})", line.what),
                _ => line.what.to_string(),
            },
            quantity: line.quantity.map(|it| it.to_string()).unwrap_or_default(),
            tax: percent(quote.what.tax_percent),
            amount: written(line.amount, currency),
        })
        .collect();
    if !lines.is_empty() {
        return lines;
    }
    let works = view.works.iter().map(|kept| {
        let minutes = kept
            .what
            .minutes
            .map(|it| it.round().clamp(0.0, 1e6) as u32);
        let amount = minutes.and_then(|minutes| context.settings.price_of(minutes));
        Proposed {
            words: kept.what.work.to_string(),
            quantity: String::new(),
            tax: tax.clone(),
            amount: amount.map(|it| written(it, currency)).unwrap_or_default(),
        }
    });
    let parts = view.parts.iter().map(|kept| Proposed {
        words: format!("{} ({})", kept.what.part, kept.what.grade),
        quantity: kept.what.quantity.to_string(),
        tax: tax.clone(),
        amount: kept
            .what
            .price
            .filter(|price| price.currency == currency)
            .map(|price| written(price.amount, currency))
            .unwrap_or_default(),
    });
    works.chain(parts).collect()
}

fn bill_form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Bill);
    let proposed = if context.view.bills.is_empty() {
        proposed(context)
    } else {
        Vec::new()
    };
    let settings = &context.settings;
    let today = context.today();
    let due = settings
        .pay_days
        .and_then(|days| today.checked_add(i64::from(days).days()).ok())
        .map(|day| day.to_string())
        .unwrap_or_default();
    let tax = percent(settings.tax_percent);
    let today = today.to_string();
    html! {
        section {
            h3 { "Write the bill" }
            @if context.view.agreed().is_empty() { p.quiet-text { "No quote was agreed to: the lines are what was done and fitted." } }
            (context.around(Deed::Bill, &form, &html! {
                div.table-wrap { table.written {
                    thead { tr { th { "For" } th { "Pieces" } th { "Tax, %" } th { (settings.currency) } } }
                    tbody { @for i in 0..rows(&form, proposed.len()) { (bill_row(&form, i, proposed.get(i), &tax)) } }
                } }
                div.fields {
                    (form.typed("on", "Day of issue", "date").holding(&today).class("third").draw())
                    (form.typed("due", "To be paid by", "date").holding(&due).hint("empty: no day is named").class("third").draw())
                    (form.area("note", "Note on the bill").class("wide").draw())
                }
                div.acts { button.next { "Issue the bill" } span.quiet-text { "It gets the next number and stands for good." } }
            }))
        }
    }
}

fn rows(form: &Form, proposed: usize) -> usize {
    let sent = (0..MOST_LINES)
        .rev()
        .find(|i| !form.value(&format!("line.{i}.words"), "").is_empty());
    (proposed + BLANK_LINES)
        .max(sent.map_or(0, |last| last + 1))
        .min(MOST_LINES)
}

fn bill_row(form: &Form, i: usize, line: Option<&Proposed>, tax: &str) -> Markup {
    let row = i + 1;
    let (words, quantity, amount) =
        line.map_or(("", "", ""), |it| (&it.words, &it.quantity, &it.amount));
    let tax = line.map_or(tax, |it| &it.tax);
    html! {
        tr {
            td { (form.cell(&format!("line.{i}.words"), &format!("Line {row}: what for"), words, None)) }
            td { (form.cell(&format!("line.{i}.quantity"), &format!("Line {row}: pieces"), quantity, None)) }
            td { (form.cell(&format!("line.{i}.tax"), &format!("Line {row}: tax in percent"), tax, None)) }
            td { (form.cell(&format!("line.{i}.amount"), &format!("Line {row}: amount"), amount, None)) }
        }
    }
}

/// Issues a bill.
pub(crate) fn bill(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let lines: Vec<BillLine> = (0..MOST_LINES)
        .filter_map(|i| bill_line(fields, &mut wrong, i))
        .collect();
    if lines.is_empty() && wrong.is_empty() {
        wrong.note("line.0.words", "a bill has at least one line");
    }
    let today = context.today();
    let on = date_field(fields, &mut wrong, "on", Some(today)).unwrap_or(today);
    let due_on = date_field(fields, &mut wrong, "due", None);
    let settings = &context.settings;
    let agreed = context.view.agreed();
    let tax_name = agreed
        .first()
        .map_or(&settings.tax_name, |quote| &quote.what.tax_name);
    let bill = BillIssued {
        visit: context.visit(),
        on,
        due_on,
        lines,
        currency: settings.currency,
        tax_name: tax_name.clone(),
        note: fields.text("note").to_owned(),
    };
    or_wrong(vec![bill.into()], wrong)
}

/// What a row is for; noted as missing where the row has an amount all the same.
pub(super) fn named(
    fields: &Fields,
    wrong: &mut Wrong,
    name: &str,
    amount: &str,
) -> Option<String> {
    let words = fields.some(name);
    if words.is_none() && !fields.text(amount).is_empty() {
        wrong.note(name, "say what this amount is for, or clear it");
    }
    words
}

fn bill_line(fields: &Fields, wrong: &mut Wrong, i: usize) -> Option<BillLine> {
    let words = named(
        fields,
        wrong,
        &format!("line.{i}.words"),
        &format!("line.{i}.amount"),
    )?;
    let row = i + 1;
    let quantity = format!("line.{i}.quantity");
    let quantity = wrong.whole(fields, &quantity, &format!("pieces of line {row}"));
    let tax = format!("line.{i}.tax");
    let tax_percent = wrong.percent(fields, &tax, &format!("the tax of line {row}"));
    let amount = format!("line.{i}.amount");
    if fields.text(&amount).is_empty() {
        let message = format!("the amount for “{words}” is missing; write 0 when it is free");
        wrong.note(&amount, message);
    }
    let amount = wrong
        .owed(fields, &amount, "the amount")
        .unwrap_or_default();
    Some(BillLine {
        words,
        quantity,
        amount,
        tax_percent,
    })
}

/// Takes back a part of a bill.
pub(crate) fn credit(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let id = fields.text("bill").parse().ok().map(BillId::new);
    let Some(bill) = context.view.bills.iter().find(|bill| Some(bill.id) == id) else {
        wrong.note("", "the form names no bill of this visit; look again");
        return Err(wrong);
    };
    let reason = wrong.needed(fields, "reason", "why it is taken back");
    let mut lines = Vec::new();
    for (i, line) in bill.what.lines.iter().enumerate() {
        let name = format!("credit.{i}");
        if let Some(amount) = wrong.owed(fields, &name, &format!("“{}”", line.words)) {
            lines.push(BillLine {
                words: line.words.clone(),
                quantity: None,
                amount,
                tax_percent: line.tax_percent,
            });
        }
    }
    if lines.is_empty() && wrong.is_empty() {
        wrong.note("credit.0", "say how much is taken back of which line");
    }
    let credit = CreditIssued {
        bill: bill.id,
        on: context.today(),
        lines,
        reason,
    };
    or_wrong(vec![credit.into()], wrong)
}

/// Writes down a payment.
pub(crate) fn payment(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let amount = wrong.owed(fields, "amount", "the amount");
    if fields.text("amount").is_empty() {
        wrong.note("amount", "the amount is missing");
    }
    let today = context.today();
    let on = date_field(fields, &mut wrong, "on", Some(today)).unwrap_or(today);
    let payment = PaymentReceived {
        visit: context.visit(),
        amount: Money::new(amount.unwrap_or_default(), context.settings.currency),
        on,
        how: fields.text("how").to_owned(),
        note: fields.text("note").to_owned(),
    };
    or_wrong(vec![payment.into()], wrong)
}
