//! Papers: which can be made, looked at and kept; mail drafts; and what was kept.

use std::iter;

use fettle_bench::{About, Change, NoteWritten, PaperKind, Stage};
use maud::{Markup, html};

use super::context::Context;
use super::mail;
use super::section::Section;
use crate::form::Wrong;
use crate::papers::{From, VisitPaper, kept_title};
use crate::upload::Upload;
use crate::{number, urls};

pub(crate) fn result(context: &Context<'_>) -> String {
    match context.view.papers.len() {
        0 if Section::now(&context.view) == Some(Section::Papers) => {
            "make the proof sheet".to_owned()
        }
        0 => String::new(),
        count => format!("{} kept", number::count(count, "paper", "papers")),
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let view = &context.view;
    html! {
        section {
            h3 { "Look at, print, keep" }
            @if view.readings.is_empty() { p.quiet-text { "No reading has been taken: there is no proof sheet to make." } }
            div.acts {
                @for paper in VisitPaper::of(view) {
                    a.button href=(urls::paper_preview(context.visit(), &paper.name())) { (paper.title()) }
                }
                a.button href=(urls::tag(context.visit())) { "Tag" }
            }
        }
        @if !view.papers.is_empty() {
            section {
                h3 { "Kept" }
                ul.lines {
                    @for paper in view.papers.iter().rev() {
                        li { div.row {
                            span {
                                a.what href=(urls::paper(paper.id)) { (title(&paper.what.title, paper.what.paper)) }
                                span.aside { " – " (number::moment(&paper.at.to_zoned_datetime(context.now.time_zone().clone()))) ", " (number::bytes(usize::try_from(paper.what.file.bytes).unwrap_or(usize::MAX))) }
                            }
                            (context.undo(paper.entry, Section::Papers))
                        } }
                    }
                }
            }
        }
        (mail::form(context))
        @if view.line.stage == Stage::Proved {
            p.quiet-text { "When the papers are right, pack the camera under “Home”." }
        }
    }
}

fn title(title: &str, kind: PaperKind) -> String {
    if title.is_empty() {
        kind.to_string()
    } else {
        title.to_owned()
    }
}

/// Keeps a paper as it was looked at.
pub(crate) fn paper(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let Some(paper) = VisitPaper::from_name(sent.fields.text("paper")) else {
        wrong.note(
            "",
            "the form does not say which paper to keep; look at it again",
        );
        return Err(wrong);
    };
    let address = sent.fields.text("address").to_owned();
    kept(context, paper, address).map_err(|message| {
        wrong.note("", message);
        wrong
    })
}

/// The paper, with a note of what the typesetter warned of, so that nobody sends it out unaware.
fn kept(context: &Context<'_>, paper: VisitPaper, address: String) -> Result<Vec<Change>, String> {
    let pdf = paper.make(&From::of(context, address))?;
    let title = kept_title(paper, &context.view, context.today());
    let visit = context.visit();
    let change = context
        .bench
        .keep_paper(visit, paper.kind(), &title, "pdf", &pdf.bytes)
        .map_err(|error| error.to_string())?;
    let warnings: Vec<String> = pdf.warnings.iter().map(ToString::to_string).collect();
    let warned = (!warnings.is_empty()).then(|| {
        NoteWritten {
            about: About::Visit(visit),
            text: format!("{}: {}", paper.title(), warnings.join("; ")),
        }
        .into()
    });
    Ok(iter::once(change).chain(warned).collect())
}
