//! Papers: the proof sheet made, looked at and kept; and what else was kept.

use std::iter;

use fettle_bench::{About, Change, NoteWritten, PaperKind, Stage};
use fettle_papers::Pdf;
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::section::Section;
use crate::form::Wrong;
use crate::upload::Upload;
use crate::{number, papers, urls};

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
    let form = context.form(Deed::ProofSheet);
    html! {
        ul.lines {
            @for paper in context.view.papers.iter().rev() {
                li { div.row {
                    span {
                        a.what href=(urls::paper(paper.id)) { (title(&paper.what.title, paper.what.paper)) }
                        span.aside { " – " (number::moment(&paper.at.to_zoned_datetime(context.now.time_zone().clone()))) ", " (number::bytes(usize::try_from(paper.what.file.bytes).unwrap_or(usize::MAX))) }
                    }
                    (context.undo(paper.entry, Section::Papers))
                } }
            }
        }
        @if context.view.readings.is_empty() {
            p.quiet-text { "No reading has been taken; a proof sheet made now says so." }
        }
        (context.around(Deed::ProofSheet, &form, &html! {
            div.acts { button.first { @if context.view.papers.is_empty() { "Make the proof sheet" } @else { "Make the proof sheet anew" } } }
        }))
        @if context.view.line.stage == Stage::Proved {
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

pub(crate) fn proof_sheet(context: &Context<'_>, _sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let kept = papers::proof_sheet(
        &context.view,
        &context.settings,
        context.notes(),
        context.now,
    )
    .and_then(|pdf| {
        let title = format!(
            "Proof sheet, visit {}, {}",
            context.visit(),
            number::date(context.today())
        );
        context
            .bench
            .keep_paper(
                context.visit(),
                PaperKind::ProofSheet,
                &title,
                "pdf",
                &pdf.bytes,
            )
            .map(|paper| iter::once(paper).chain(warned(context, &pdf)).collect())
            .map_err(|error| error.to_string())
    });
    match kept {
        Ok(changes) => Ok(changes),
        Err(message) => {
            wrong.note("", message);
            Err(wrong)
        }
    }
}

/// A note of what the typesetter warned of, so that nobody sends the sheet out unaware.
fn warned(context: &Context<'_>, pdf: &Pdf) -> Option<Change> {
    let warnings: Vec<String> = pdf.warnings.iter().map(ToString::to_string).collect();
    (!warnings.is_empty()).then(|| {
        NoteWritten {
            about: About::Visit(context.visit()),
            text: format!("Proof sheet: {}", warnings.join("; ")),
        }
        .into()
    })
}
