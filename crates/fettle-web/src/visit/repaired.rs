//! Repaired: work done, with its minutes, and parts fitted, with their grade.

use fettle_bench::{Change, Found, Grade, Money, PartFitted, Stage, Term, WorkDone};
use fettle_notes::{Work, WorkId};
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::from_drawer;
use super::section::Section;
use super::term::Of;
use crate::form::Wrong;
use crate::number;
use crate::upload::Upload;

pub(crate) fn result(context: &Context<'_>) -> String {
    let (works, parts) = (context.view.works.len(), context.view.parts.len());
    if works + parts == 0 {
        return if context.view.line.stage == Stage::Apart {
            "straighten, replace, make".to_owned()
        } else {
            String::new()
        };
    }
    format!(
        "{} done, {} fitted",
        number::count(works, "piece of work", "pieces of work"),
        number::count(parts, "part", "parts")
    )
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    html! {
        (proposed(context))
        (works(context))
        (parts(context))
        (from_drawer::draw(context))
    }
}

/// What the notes name as cures of the faults found, with their cautions.
fn proposed(context: &Context<'_>) -> Markup {
    let Some(notes) = context.notes() else {
        return html! {};
    };
    let mut works: Vec<(&WorkId, Option<&Work>, &Term)> = Vec::new();
    for fault in context
        .view
        .faults
        .iter()
        .filter(|fault| fault.what.found == Found::Found)
    {
        let noted = fault
            .what
            .fault
            .id
            .as_deref()
            .and_then(|id| notes.faults.get(id));
        for id in noted
            .map(|noted| noted.cured_by.as_slice())
            .unwrap_or_default()
        {
            let done = context
                .view
                .works
                .iter()
                .any(|kept| kept.what.work.id.as_deref() == Some(id.as_str()));
            if !done && !works.iter().any(|(known, ..)| *known == id) {
                works.push((id, notes.works.get(id), &fault.what.fault));
            }
        }
    }
    html! {
        @if !works.is_empty() {
            section {
                h3 { "What the notes advise" }
                ul.lines {
                    @for (id, work, fault) in works {
                        li {
                            span.what { (work.map_or(id.as_str(), |work| work.name.as_str())) }
                            span.aside { " – against " (fault) @if let Some(work) = work { ", about " (number::minutes(work.minutes.to_f64())) } }
                            @if let Some(caution) = work.and_then(|work| work.caution.as_ref()) {
                                div.caution { p { strong { "Caution" } " – " (caution) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn works(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Work);
    html! {
        section {
            h3 { "Work done" }
            ul.lines {
                @for kept in &context.view.works {
                    li { div.row {
                        span {
                            span.what { (kept.what.work) }
                            @if let Some(minutes) = kept.what.minutes { span.aside { " – " (number::minutes(minutes)) } }
                            @if !kept.what.note.is_empty() { div.aside { (kept.what.note) } }
                        }
                        (context.undo_kept(kept, Section::Repaired))
                    } }
                }
            }
            (context.around(Deed::Work, &form, &html! {
                div.fields {
                    (form.line("work", "Work").hint("from the service notes, or your own words").offering(Of::Work.list()).needed().draw())
                    (form.line("minutes", "It took").unit("min").class("short").draw())
                    (form.line("note", "Note").class("short").draw())
                }
                div.acts { button.first { "Record the work" } }
            }))
        }
    }
}

pub(crate) fn work(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let text = wrong.needed(&sent.fields, "work", "the work");
    let minutes = wrong.number(&sent.fields, "minutes", "the minutes");
    let work = Of::Work.term(context.notes(), &text);
    let note = sent.fields.text("note").to_owned();
    or_wrong(
        vec![
            WorkDone {
                visit: context.visit(),
                work,
                minutes,
                note,
            }
            .into(),
        ],
        wrong,
    )
}

fn parts(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Part);
    let grades = Grade::ALL
        .iter()
        .map(|grade| (grade.as_str().to_owned(), grade.to_string()))
        .collect();
    html! {
        section {
            h3 { "Parts fitted" }
            @if context.view.parts.is_empty() { p.empty { "None yet. Take one from a drawer below, or write down one that was at hand." } }
            ul.lines {
                @for kept in &context.view.parts {
                    li { div.row {
                        span {
                            @if kept.what.quantity > 1 { (kept.what.quantity) " × " }
                            span.what { (kept.what.part) }
                            span.aside { " – " (kept.what.grade) @if let Some(price) = &kept.what.price { ", " (price) } }
                            @if !kept.what.note.is_empty() { div.aside { (kept.what.note) } }
                        }
                        (from_drawer::acts(context, kept))
                    } }
                }
            }
            (context.around(Deed::Part, &form, &html! {
                div.fields {
                    (form.line("part", "Part").hint("from the service notes, or your own words").offering(Of::Part.list()).needed().draw())
                    (form.choice("grade", "Grade", grades).class("short").draw())
                    (form.line("quantity", "Pieces").holding("1").class("short").draw())
                    (form.line("price", "Price of all").unit(context.settings.currency.as_str()).hint("empty when not charged").class("short").draw())
                    (form.line("note", "Note").draw())
                }
                div.acts { button.first { "Record the part" } }
            }))
        }
    }
}

pub(crate) fn part(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let text = wrong.needed(fields, "part", "the part");
    let Some(grade) = Grade::from_text(fields.text("grade")) else {
        wrong.note("grade", "choose the part's grade");
        return Err(wrong);
    };
    let quantity = wrong.whole(fields, "quantity", "the pieces").unwrap_or(1);
    let price = wrong.amount(fields, "price", "the price");
    let fitted = PartFitted {
        visit: context.visit(),
        part: Of::Part.term(context.notes(), &text),
        grade,
        quantity,
        price: price.map(|amount| Money::new(amount, context.settings.currency)),
        note: fields.text("note").to_owned(),
    };
    or_wrong(vec![fitted.into()], wrong)
}
