//! Drawing the page of a visit.

use maud::{Markup, PreEscaped, html};

use super::context::Context;
use super::section::{Section, Standing};
use super::term::Of;
use super::{
    apart, arrived, billing, cause, going, head, looked_over, papers, proof, put_back, quote,
    repaired,
};
use crate::assets::Asset;
use crate::layout::{Page, Room};

/// The whole page, before the sheet is drawn around it.
pub(crate) fn page(context: &Context<'_>) -> Page {
    let view = &context.view;
    let body = html! {
        @if let Some(form) = &context.returned { (form.problems()) }
        (head::draw(context))
        div.stages {
            @for section in Section::ALL { (stretch(context, section)) }
        }
        @for kind in [Of::Fault, Of::Work, Of::Part] { (kind.offers(context.notes())) }
        (head::photographs(context))
        (head::journal(context))
    };
    Page::new(
        format!("Visit {}: {}", view.line.visit, view.line.camera_name),
        body,
    )
    .room(Room::Bench)
    .about("first-day")
    .script(Asset::Photos)
    .script(Asset::Steps)
    .script(Asset::Input)
    .script(Asset::Listen)
}

fn stretch(context: &Context<'_>, section: Section) -> Markup {
    let standing = section.standing(&context.view);
    let (result, body) = match section {
        Section::Arrived => (arrived::result(context), arrived::draw(context)),
        Section::LookedOver => (looked_over::result(context), looked_over::draw(context)),
        Section::Cause => (cause::result(context), cause::draw(context)),
        Section::Quote => (quote::result(context), quote::draw(context)),
        Section::Apart => (apart::result(context), apart::draw(context)),
        Section::Repaired => (repaired::result(context), repaired::draw(context)),
        Section::PutBack => (put_back::result(context), put_back::draw(context)),
        Section::Proof => (proof::result(context), proof::draw(context)),
        Section::Bill => (billing::result(context), billing::draw(context)),
        Section::Papers => (papers::result(context), papers::draw(context)),
        Section::Home => (going::result(context), going::draw(context)),
    };
    let is_now = standing == Standing::Now;
    // A form that came back, or a stretch just worked on, is what the person wants to see.
    let is_open = context.is_open(section);
    let said = match standing {
        Standing::Now => html! { span.unseen { "In hand: " } (result) },
        Standing::Done if result.is_empty() => html! { "nothing recorded" },
        Standing::Done => html! { span.unseen { "Done: " } (result) },
        Standing::Later if result.is_empty() => html! { "later" },
        Standing::Later => html! { (result) },
    };
    html! {
        div id=(section.id()) class={ "stage" @if is_now { " now" } @else if standing == Standing::Later { " then" } } {
            span.mark aria-hidden="true" { (mark(standing)) }
            details open[is_open] {
                summary {
                    h2 { (section.title()) }
                    span.result { (said) }
                }
                div.stage-body { (body) }
            }
        }
    }
}

/// A filled square when done, a pointed one in hand, an open ring later.
fn mark(standing: Standing) -> PreEscaped<&'static str> {
    PreEscaped(match standing {
        Standing::Done => {
            r#"<svg viewBox="0 0 20 20"><rect class="ground" width="20" height="20"/><rect class="ink" x="4" y="4" width="12" height="12"/></svg>"#
        }
        Standing::Now => {
            r#"<svg viewBox="0 0 20 20"><rect class="ground" width="20" height="20"/><path class="hand" d="M3 2h8l7 8-7 8H3z"/></svg>"#
        }
        Standing::Later => {
            r#"<svg viewBox="0 0 20 20"><rect class="ground" width="20" height="20"/><circle class="soft" cx="10" cy="10" r="5" stroke-width="1.6"/></svg>"#
        }
    })
}
