//! The head of a visit's page, its photographs and its journal.

use fettle_bench::{Stage, WaitFor};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use crate::{journal, models, number, urls};

/// Who and what it is, where it stands, what it waits for, and the model's cautions.
pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let view = &context.view;
    let line = &view.line;
    html! {
        div.title-row {
            div {
                h1 { (line.camera_name) }
                p.sub { "Visit " (line.visit) " of " a href=(urls::owner(line.owner)) { bdi { (line.owner_name) } } }
            }
            div.acts.no-print {
                a.button href=(urls::tag(line.visit)) { "Tag to print" }
                a.button href=(urls::paper_preview(line.visit, "receipt")) { "Receipt to print" }
            }
        }
        (title_block(context))
        (standing(context))
        @if let Some(notes) = context.notes() {
            (crate::words::cautions(&notes.model.cautions))
        } @else if let Some(id) = &view.camera.details.notes_id {
            p.error {
                @if context.bench.has_notes(id) {
                    "The service notes “" (id) "” cannot be used. " a href=(urls::model(id)) { "See what is wrong with them" } "."
                } @else {
                    "There are no service notes “" (id) "” in the bench’s folder: put the file " span.mono { (id) ".toml" } " there, or "
                    a href=(urls::camera(view.line.camera)) { "name others for this camera" } "."
                }
            }
        }
    }
}

fn title_block(context: &Context<'_>) -> Markup {
    let view = &context.view;
    let line = &view.line;
    html! {
        dl.title-block {
            div { dt { "Camera" } dd { a href=(urls::camera(line.camera)) { (line.camera_name) } } }
            div {
                dt { "Serial numbers" }
                dd {
                    @if view.camera.details.serials.is_empty() { "none noted" }
                    @for serial in &view.camera.details.serials {
                        div { (serial.number) @if !serial.at.is_empty() { span.aside { " " (serial.at) } } }
                    }
                }
            }
            div { dt { "Stands at" } dd { (line.stage) " since " (number::date(line.stage_since.to_zoned_datetime(context.now.time_zone().clone()).date())) } }
            div { dt { "Arrived" } dd { (number::date(line.arrived)) } }
            @if let Some(promised) = line.promised {
                div { dt { "Promised" } dd { (number::date(promised)) @if promised < context.today() && line.stage != Stage::Home { " " span.needs-hand { "overdue" } } } }
            }
            @if let Some(declared) = &view.arrival.declared {
                div { dt { "Declared value" } dd { (declared) } }
            }
            @if let Some(earlier) = line.guarantee_of {
                div { dt { "Under the guarantee of" } dd { a href=(urls::visit(earlier)) { "visit " (earlier) } } }
            }
            (models::named(context.bench, view.camera.details.notes_id.as_deref()))
            @if !view.arrival.words.is_empty() {
                div.wide { dt { "The owner says" } dd.words { (view.arrival.words) } }
            }
        }
    }
}

fn standing(context: &Context<'_>) -> Markup {
    let view = &context.view;
    let moving = context.form(Deed::Stage);
    let waiting = context.form(Deed::Wait);
    let returned = moving.is_returned() || waiting.is_returned();
    html! {
        @for wait in view.waiting() {
            @let form = context.form_keyed(Deed::Came, &wait.id.to_string());
            div.recorded {
                p { "Waits for " strong { (wait) } ", since "
                    (number::date(wait.since.to_zoned_datetime(context.now.time_zone().clone()).date())) "." }
                (context.around(Deed::Came, &form, &html! {
                    input type="hidden" name="wait" value=(wait.id);
                    button { "It came" }
                }))
            }
        }
        details.more.no-print open[returned] {
            summary { "Wait for something, or move it to another stage" }
            (context.around(Deed::Wait, &waiting, &html! {
                div.fields {
                    (waiting.choice("wait_for", "Wait for", WaitFor::ALL.iter().map(|w| (w.as_str().to_owned(), wait_words(*w).to_owned())).collect()).class("third").draw())
                    (waiting.line("what", "What exactly").hint("the part, or the question asked").draw())
                }
                div.acts { button { "Let it wait" } }
            }))
            (context.around(Deed::Stage, &moving, &html! {
                div.fields {
                    (moving.choice("to", "Move it to", stages(view.line.stage)).class("third").draw())
                    (moving.line("note", "Why").hint("may be left empty").draw())
                }
                div.acts { button { "Move it" } }
            }))
        }
    }
}

fn wait_words(wait: WaitFor) -> &'static str {
    match wait {
        WaitFor::Answer => "the owner's answer",
        WaitFor::Part => "a part",
        WaitFor::Post => "the post",
    }
}

fn stages(at: Stage) -> Vec<(String, String)> {
    Stage::ALL
        .iter()
        .filter(|&&to| at.why_not(to).is_none())
        .map(|to| (to.as_str().to_owned(), to.to_string()))
        .collect()
}

/// The strip of photographs, and the form that adds to it.
pub(crate) fn photographs(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Photos);
    html! {
        section #photographs {
            h2 { "Photographs" }
            @if context.view.photos.is_empty() { p.empty { "None yet." } }
            div.strip {
                @for photo in &context.view.photos {
                    figure {
                        a href=(urls::photo(photo.id, "display")) {
                            img src=(urls::photo(photo.id, "thumb")) loading="lazy" width="152" height="114"
                                alt=(if photo.what.caption.is_empty() { format!("Photograph, {}", photo.what.stage) } else { photo.what.caption.clone() });
                        }
                        figcaption {
                            @if photo.what.caption.is_empty() { (photo.what.stage) } @else { (photo.what.caption) }
                        }
                    }
                }
            }
            div.no-print {
                (context.around_files(Deed::Photos, &form, &html! {
                    div.fields {
                        div.field {
                            label for="photos-photo" { "More photographs" }
                            input type="file" id="photos-photo" name="photo" accept="image/*" multiple data-preview="photos-preview";
                        }
                        (form.line("caption", "What they show").draw())
                    }
                    div.strip #photos-preview {}
                    div.acts { button { "Add photographs" } }
                }))
            }
        }
    }
}

/// Everything that happened, newest first, and the form for a note.
pub(crate) fn journal(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Note);
    html! {
        section #journal {
            h2 { "Journal" }
            div.no-print {
                (context.around(Deed::Note, &form, &html! {
                    (form.area("text", "A note").draw())
                    div.acts { button { "Write the note" } }
                }))
            }
            (journal::draw(&context.view.journal, context.now.time_zone(), &urls::visit(context.visit())))
        }
    }
}
