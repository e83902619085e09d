//! What every template is given beside a paper's own contents: the sheet, the head, the foot, the words.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use crate::head::BenchHead;
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::words::Words;

/// Read by `house` in `templates/house.typ`.
#[derive(Debug, Serialize)]
pub(crate) struct Setup<'a> {
    paper: &'static str,
    language: &'static str,
    year: i16,
    month: i8,
    day: i8,
    bench: &'a str,
    lines: &'a [String],
    /// The document's title, as a viewer shows it.
    document: String,
    /// What stands before the page number.
    foot: String,
    /// The day the paper is made out, in words.
    issued: String,
    words: BTreeMap<&'a str, BTreeMap<&'a str, &'a str>>,
}

impl<'a> Setup<'a> {
    /// `sections` are those of the translation file that the template uses; `house` is always there.
    pub(crate) fn new(
        language: Language,
        size: PaperSize,
        issued: Date,
        bench: &'a BenchHead,
        titles: Titles,
        sections: &[&'a str],
    ) -> Self {
        let sections: Vec<&str> = ["house"].iter().chain(sections).copied().collect();
        Self {
            paper: size.name(),
            language: language.code(),
            year: issued.year(),
            month: issued.month(),
            day: issued.day(),
            bench: &bench.name,
            lines: &bench.lines,
            document: titles.document,
            foot: titles.foot,
            issued: language.day(issued),
            words: Words::of(language).sections(&sections),
        }
    }
}

/// The beginning of a text that is too long for a line.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let beginning: String = text.chars().take(most).collect();
    format!("{}…", beginning.trim_end())
}

/// What the document is called, and what stands in its foot.
#[derive(Debug)]
pub(crate) struct Titles {
    document: String,
    foot: String,
}

impl Titles {
    /// The usual ones of a paper about one visit: the keys are those of a title with {visit} and {camera} and of a
    /// foot with {visit}.
    pub(crate) fn new(
        words: &Words,
        (document, foot): (&str, &str),
        bench: &str,
        visit: &str,
        camera: &str,
    ) -> Self {
        let with = [("visit", visit.to_owned()), ("camera", camera.to_owned())];
        let short = [("visit", shortened(visit, 16))];
        Self::of(
            words.fill(document, &with),
            &[bench, &words.fill(foot, &short), camera],
        )
    }

    /// A title, and the parts of a foot that say something, each short enough for its line.
    pub(crate) fn of(document: String, foot: &[&str]) -> Self {
        let parts: Vec<String> = foot
            .iter()
            .map(|part| shortened(part.trim(), 48))
            .filter(|part| !part.is_empty())
            .collect();
        Self {
            document,
            foot: parts.join("  ·  "),
        }
    }
}
