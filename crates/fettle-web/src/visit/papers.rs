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
        @if matches!(papers::meter_report(&context.view), Ok(Some(_))) {
            (context.around(Deed::CorrectionCard, &context.form(Deed::CorrectionCard), &html! {
                div.acts { button { "Make the meter’s correction card" } }
            }))
        }
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
    let pdf = papers::proof_sheet(
        &context.view,
        &context.settings,
        context.notes(),
        context.now,
    );
    kept(context, PaperKind::ProofSheet, "Proof sheet", pdf)
}

pub(crate) fn correction_card(context: &Context<'_>, _sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let pdf = papers::correction_card(&context.view, &context.settings, context.now).and_then(
        |pdf| {
            pdf.ok_or_else(|| {
                "there is no card to make: take a run of the meter’s readings first, under “Settings and proof”"
                    .to_owned()
            })
        },
    );
    kept(context, PaperKind::CorrectionCard, "Correction card", pdf)
}

/// Keeps a paper that was made, with a note of what the typesetter warned of.
fn kept(
    context: &Context<'_>,
    kind: PaperKind,
    name: &str,
    pdf: Result<Pdf, String>,
) -> Result<Vec<Change>, Wrong> {
    let title = format!(
        "{name}, visit {}, {}",
        context.visit(),
        number::date(context.today())
    );
    let paper = pdf.and_then(|pdf| {
        context
            .bench
            .keep_paper(context.visit(), kind, &title, "pdf", &pdf.bytes)
            .map(|paper| {
                iter::once(paper)
                    .chain(warned(context, name, &pdf))
                    .collect()
            })
            .map_err(|error| error.to_string())
    });
    paper.map_err(|message| {
        let mut wrong = Wrong::default();
        wrong.note("", message);
        wrong
    })
}

/// A note of what the typesetter warned of, so that nobody sends the sheet out unaware.
fn warned(context: &Context<'_>, name: &str, pdf: &Pdf) -> Option<Change> {
    let warnings: Vec<String> = pdf.warnings.iter().map(ToString::to_string).collect();
    (!warnings.is_empty()).then(|| {
        NoteWritten {
            about: About::Visit(context.visit()),
            text: format!("{name}: {}", warnings.join("; ")),
        }
        .into()
    })
}
