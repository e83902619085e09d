//! The report of findings: what was asked, what was seen, what broke and why, what was done.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::{BenchHead, CameraHead, OwnerHead};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset_with_files};
use crate::photograph::{Photograph, Prints};
use crate::proof_sheet::Shortfall;
use crate::quote_paper::PartGrade;
use crate::setup::{Setup, Titles};
use crate::words::Words;

const TEMPLATE: Template = Template {
    name: "findings_report.typ",
    text: include_str!("../templates/findings_report.typ"),
};
/// Between the links of a chain of faults.
const ARROW: &str = "  →  ";

/// Everything a report of findings says. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingsReport {
    /// The language of its fixed words.
    pub language: Language,
    /// Who looked.
    pub bench: BenchHead,
    /// The visit's number as it stands on the tag.
    pub visit: String,
    /// Who it is for.
    pub owner: OwnerHead,
    /// The camera.
    pub camera: CameraHead,
    /// The day it arrived.
    pub arrived: Date,
    /// The day the report is made out.
    pub issued: Date,
    /// Who answers for it; empty when the signature will tell.
    pub signed_by: String,
    /// What the owner said is wrong, a paragraph an entry; may be empty.
    pub owners_words: Vec<String>,
    /// What was asked for, a paragraph an entry; may be empty.
    pub wanted: Vec<String>,
    /// The signs that were looked for, in the order in which they are told.
    pub signs: Vec<SignLooked>,
    /// The faults, with what brought each on.
    pub faults: Vec<FaultTold>,
    /// Faults that were looked for and are not there, in words.
    pub ruled_out: Vec<String>,
    /// Traces of previous repair, one an entry.
    pub earlier_hands: Vec<String>,
    /// What was done, one piece of work an entry.
    pub done: Vec<String>,
    /// The parts that were fitted.
    pub fitted: Vec<PartTold>,
    /// Photographs with their captions.
    pub photographs: Vec<Photograph>,
    /// What could not be brought back.
    pub not_brought_back: Vec<Shortfall>,
    /// Cautions the owner must know.
    pub cautions: Vec<String>,
}

/// A sign that was looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignLooked {
    /// The sign, in words.
    pub words: String,
    /// Whether it is there.
    pub seen: SignSeen,
    /// A note, with figures where they were taken; may be empty.
    pub note: String,
}

/// The answer to a sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SignSeen {
    /// It is there.
    Yes,
    /// It is not there.
    No,
    /// Nobody looked.
    NotLooked,
}

/// A fault as the report tells it. What broke is rarely the cause, so the two are told apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FaultTold {
    /// The fault, in words.
    pub words: String,
    /// Whether it is what broke or what made it break.
    pub is: FaultIs,
    /// Thought likely and not seen.
    pub suspected: bool,
    /// The place among the report's faults, from 0, of the one that brought it on; `None` when not known.
    pub because_of: Option<usize>,
    /// A note; may be empty.
    pub note: String,
}

/// What a fault is in the chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FaultIs {
    /// What broke.
    Damage,
    /// What made it break.
    Cause,
}

/// A part that was fitted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartTold {
    /// The part, in words.
    pub words: String,
    /// How many pieces.
    pub quantity: u32,
    /// Where it comes from.
    pub grade: PartGrade,
}

#[derive(Serialize)]
struct View<'a> {
    #[serde(flatten)]
    setup: Setup<'a>,
    visit: &'a str,
    owner: &'a str,
    owner_lines: &'a [String],
    camera: String,
    serials: &'a [(String, String)],
    arrived: String,
    owners_words: &'a [String],
    wanted: &'a [String],
    seen: Vec<Noted<'a>>,
    not_there: Option<String>,
    not_looked: Option<String>,
    damage: Vec<Noted<'a>>,
    cause: Vec<Noted<'a>>,
    chains: Vec<String>,
    ruled_out: Option<String>,
    earlier_hands: &'a [String],
    done: &'a [String],
    fitted: Vec<Noted<'a>>,
    not_brought_back: Vec<Noted<'a>>,
    cautions: &'a [String],
    signed_by: &'a str,
    photographs: &'a Prints,
}

#[derive(Serialize)]
struct Noted<'a> {
    what: String,
    note: &'a str,
}

/// Makes out the report of findings.
///
/// The same report on the same size of paper gives the same bytes. Warnings tell of texts the papers' fonts cannot show
/// in full and of photographs that cannot be read.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents; nothing in a report should bring it about.
pub fn findings_report(report: &FindingsReport, size: PaperSize) -> Result<Pdf, PaperError> {
    let language = report.language;
    let words = Words::of(language);
    let camera = report.camera.name();
    let titles = Titles::new(
        words,
        ("report.document", "report.foot"),
        &report.bench.name,
        &report.visit,
        &camera,
    );
    let prints = Prints::new(&report.photographs, language);
    let looked = |seen: SignSeen| report.signs.iter().filter(move |it| it.seen == seen);
    let names = |seen| listed(looked(seen).map(|it| it.words.as_str()));
    let view = View {
        setup: Setup::new(
            language,
            size,
            report.issued,
            &report.bench,
            titles,
            &["report"],
        ),
        visit: &report.visit,
        owner: &report.owner.name,
        owner_lines: &report.owner.lines,
        camera,
        serials: &report.camera.serials,
        arrived: language.day(report.arrived),
        owners_words: &report.owners_words,
        wanted: &report.wanted,
        seen: looked(SignSeen::Yes)
            .map(|it| Noted {
                what: it.words.clone(),
                note: &it.note,
            })
            .collect(),
        not_there: names(SignSeen::No),
        not_looked: names(SignSeen::NotLooked),
        damage: faults(report, FaultIs::Damage),
        cause: faults(report, FaultIs::Cause),
        chains: chains(report),
        ruled_out: listed(report.ruled_out.iter().map(String::as_str)),
        earlier_hands: &report.earlier_hands,
        done: &report.done,
        fitted: report
            .fitted
            .iter()
            .map(|part| Noted {
                what: language.pieces(part.quantity, &part.words),
                note: words.say(part.grade.keys().0),
            })
            .collect(),
        not_brought_back: report
            .not_brought_back
            .iter()
            .map(|it| Noted {
                what: it.what.clone(),
                note: it.correction.as_deref().unwrap_or_default(),
            })
            .collect(),
        cautions: &report.cautions,
        signed_by: &report.signed_by,
        photographs: &prints,
    };
    let ident = format!(
        "report of findings, visit {}, {}, {}",
        report.visit, report.issued, report.bench.name
    );
    let mut pdf = typeset_with_files(TEMPLATE, &view, &prints.files, &ident)?;
    pdf.warnings.extend(prints.warnings);
    Ok(pdf)
}

/// Several short texts in one line; `None` when there are none.
fn listed<'a>(texts: impl Iterator<Item = &'a str>) -> Option<String> {
    let texts: Vec<&str> = texts.collect();
    (!texts.is_empty()).then(|| texts.join("; "))
}

fn told(fault: &FaultTold, words: &Words) -> String {
    if fault.suspected {
        words.fill("report.suspected", &[("fault", fault.words.clone())])
    } else {
        fault.words.clone()
    }
}

fn faults(report: &FindingsReport, is: FaultIs) -> Vec<Noted<'_>> {
    let words = Words::of(report.language);
    let of = report.faults.iter().filter(|fault| fault.is == is);
    of.map(|fault| Noted {
        what: told(fault, words),
        note: &fault.note,
    })
    .collect()
}

/// Each chain of faults from its first to its last, where at least two hang together.
fn chains(report: &FindingsReport) -> Vec<String> {
    let words = Words::of(report.language);
    let brings_on = |at: usize| report.faults.iter().any(|it| it.because_of == Some(at));
    let ends = (0..report.faults.len()).filter(|at| !brings_on(*at));
    let chain = |end: usize| {
        let (mut links, mut passed) = (Vec::new(), Vec::new());
        let mut next = Some(end);
        // Faults that bring each other on would go round for ever.
        while let Some(at) = next
            && !passed.contains(&at)
            && let Some(fault) = report.faults.get(at)
        {
            links.push(told(fault, words));
            passed.push(at);
            next = fault.because_of;
        }
        links.reverse();
        (links.len() > 1).then(|| links.join(ARROW))
    };
    ends.filter_map(chain).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(words: &str, because_of: Option<usize>) -> FaultTold {
        FaultTold {
            words: words.to_owned(),
            is: FaultIs::Damage,
            suspected: words.starts_with('?'),
            because_of,
            note: String::new(),
        }
    }

    fn report(faults: Vec<FaultTold>) -> FindingsReport {
        FindingsReport {
            language: Language::En,
            bench: BenchHead::default(),
            visit: String::new(),
            owner: OwnerHead::default(),
            camera: CameraHead::default(),
            arrived: Date::ZERO,
            issued: Date::ZERO,
            signed_by: String::new(),
            owners_words: Vec::new(),
            wanted: Vec::new(),
            signs: Vec::new(),
            faults,
            ruled_out: Vec::new(),
            earlier_hands: Vec::new(),
            done: Vec::new(),
            fitted: Vec::new(),
            photographs: Vec::new(),
            not_brought_back: Vec::new(),
            cautions: Vec::new(),
        }
    }

    #[test]
    fn a_chain_runs_from_the_cause_to_what_broke() {
        let report = report(vec![
            fault("pawl sheared", Some(2)),
            fault("haze", None),
            fault("? grease hard", None),
            fault("frames overlap", Some(0)),
        ]);
        assert_eq!(
            chains(&report),
            ["? grease hard (suspected)  →  pawl sheared  →  frames overlap"]
        );
    }

    #[test]
    fn faults_that_bring_each_other_on_or_point_nowhere_do_no_harm() {
        assert_eq!(
            chains(&report(vec![fault("a", Some(1)), fault("b", Some(0))])),
            Vec::<String>::new()
        );
        assert_eq!(
            chains(&report(vec![
                fault("a", Some(1)),
                fault("b", Some(1)),
                fault("c", Some(9))
            ])),
            ["b  →  a"]
        );
    }
}
