//! Papers: the proof sheet made, looked at and kept; and what else was kept.

use fettle_bench::{PaperKind, Stage};
use maud::{Markup, html};

use super::context::Context;
use super::looked_over::go_on;
use super::section::Section;
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
        @if context.view.line.stage == Stage::Proved {
            p.quiet-text { "When the papers are right, pack the camera under “Home”." }
        }
        @if context.view.line.stage == Stage::Together {
            (go_on(context, Stage::Proved, "Proved"))
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
