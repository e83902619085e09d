//! The owner's answer: which alternative, or none; and each extra work by itself.

use fettle_bench::{
    Change, Quote, QuoteAnswered, QuoteId, QuoteKind, Stage, WaitFor, WaitingEnded,
};
use maud::{Markup, html};

use super::{gross, name, open};
use crate::form::{Fields, Form, Wrong};
use crate::upload::Upload;
use crate::visit::context::{Context, date_field, or_wrong};
use crate::visit::deed::Deed;
use crate::visit::looked_over::moved;

/// The answer to alternatives that declines them all.
const NONE: &str = "none";

pub(super) fn form(context: &Context<'_>, alternatives: &[&Quote]) -> Markup {
    let form = context.form(Deed::Answer);
    html! {
        section {
            h3 { "The owner's answer" }
            (context.around(Deed::Answer, &form, &html! {
                div.ticks {
                    @for quote in alternatives {
                        (form.radio("quote", &quote.id.to_string(), &format!("agreed: {}, {}", name(quote.what.kind).to_lowercase(), gross(quote)), ""))
                    }
                    (form.radio("quote", NONE, "declined", ""))
                }
                (answered(context, &form))
            }))
        }
    }
}

pub(super) fn extra_form(context: &Context<'_>, quote: &Quote) -> Markup {
    let id = quote.id.to_string();
    let form = context.form_keyed(Deed::Answer, &id);
    html! {
        section {
            h3 { "The owner's answer to the extra work, " (gross(quote)) }
            (context.around(Deed::Answer, &form, &html! {
                input type="hidden" name="extra" value=(id);
                div.ticks { (form.radio("agreed", "yes", "agreed", "")) (form.radio("agreed", "no", "declined", "")) }
                (answered(context, &form))
            }))
        }
    }
}

fn answered(context: &Context<'_>, form: &Form) -> Markup {
    let today = context.today().to_string();
    html! {
        div.fields {
            (form.line("words", "In the owner's words").draw())
            (form.typed("on", "Day of the answer", "date").holding(&today).class("short").draw())
        }
        div.acts { button.next { "Record the answer" } }
    }
}

/// Which quotes were answered, and how.
fn told(context: &Context<'_>, fields: &Fields, wrong: &mut Wrong) -> Vec<(QuoteId, bool)> {
    let known = |text: &str| {
        let quote = open(context).find(|quote| quote.id.to_string() == text);
        quote.map(|quote| quote.id)
    };
    let gone = "this quote is answered already or gone; look again";
    if let Some(extra) = fields.some("extra") {
        let agreed = match fields.text("agreed") {
            "yes" => true,
            "no" => false,
            _ => {
                wrong.note("agreed", "say whether the owner agreed or declined");
                return Vec::new();
            }
        };
        let Some(extra) = known(&extra) else {
            wrong.note("", gone);
            return Vec::new();
        };
        return vec![(extra, agreed)];
    }
    match fields.text("quote") {
        "" => {
            wrong.note(
                "quote",
                "say what the owner agreed to, or that it was declined",
            );
            Vec::new()
        }
        NONE => open(context)
            .filter(|quote| quote.what.kind.is_alternative())
            .map(|quote| (quote.id, false))
            .collect(),
        text => match known(text) {
            Some(id) => vec![(id, true)],
            None => {
                wrong.note("quote", gone);
                Vec::new()
            }
        },
    }
}

pub(crate) fn answer(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let today = context.today();
    let on = date_field(fields, &mut wrong, "on", Some(today)).unwrap_or(today);
    let told = told(context, fields, &mut wrong);
    let (visit, words) = (context.visit(), fields.text("words"));
    let agreed = told.iter().any(|(_, agreed)| *agreed);
    let mut changes: Vec<Change> = told
        .iter()
        .map(|(quote, agreed)| {
            QuoteAnswered {
                visit,
                quote: *quote,
                agreed: *agreed,
                words: words.to_owned(),
                on,
            }
            .into()
        })
        .collect();
    let chose = open(context)
        .any(|quote| quote.what.kind.is_alternative() && told.contains(&(quote.id, true)));
    // To agree to one alternative is to decline the others.
    let still_open = open(context).any(|quote| {
        let falls = chose && quote.what.kind.is_alternative();
        !falls && told.iter().all(|(id, _)| *id != quote.id)
    });
    let waits = context.view.waiting();
    changes.extend(
        waits
            .filter(|wait| wait.wait_for == WaitFor::Answer && !still_open)
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
    let chosen = told.iter().find(|(_, agreed)| *agreed);
    let chosen = chosen.and_then(|(id, _)| open(context).find(|quote| quote.id == *id));
    match chosen.map(|quote| quote.what.kind) {
        Some(QuoteKind::ReturnUnrepaired) if context.view.line.stage < Stage::Packed => {
            changes.push(moved(context, Stage::ReturnedUnrepaired));
        }
        Some(kind) if kind.is_alternative() && context.view.line.stage < Stage::Agreed => {
            changes.push(moved(context, Stage::Agreed));
        }
        _ => {}
    }
    or_wrong(changes, wrong)
}
