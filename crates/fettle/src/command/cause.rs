//! `fettle cause`: what is wrong, what to look at next.

mod text;

use std::io::Write;
use std::path::PathBuf;
use std::str::FromStr;

use fettle_notes::PartId;
use fettle_reason::cause::{self, Diagnosis, Evidence, Network, Question, Weighed};
use serde::Serialize;

use crate::error::CliError;
use crate::{json, notes_file};

/// What is wrong with a camera, and what to look at next.
///
/// From the service notes of the model and what has been seen so far: every fault with its chance, the looks that
/// come next with what they save and cost, and the bench minutes to expect until everything is found and cured. Minutes
/// count the removals that a look or a work needs and that are not made yet.
///
///   fettle cause corran-66.toml --seen wind-knob-heavy=yes --seen knob-runs-back=no
///   fettle cause corran-66.toml --seen film-runs-past=yes --known long-rest=yes --why wind-pawl-sheared
///   fettle cause corran-66.toml --seen wind-knob-heavy=yes --apart hood,screen --plan 4 --json
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The model's service notes.
    #[arg(value_name = "NOTES")]
    notes: PathBuf,
    /// A sign that was looked for: its id and yes or no.
    #[arg(long, value_name = "SIGN=yes|no")]
    seen: Vec<Answer>,
    /// A circumstance that is known: its id and yes or no.
    #[arg(long, value_name = "CIRCUMSTANCE=yes|no")]
    known: Vec<Answer>,
    /// A fault that was found or ruled out: its id and yes or no.
    #[arg(long, value_name = "FAULT=yes|no")]
    found: Vec<Answer>,
    /// A fault that was found and cured.
    #[arg(long, value_name = "FAULT")]
    cured: Vec<String>,
    /// Parts that are off.
    #[arg(long, value_name = "PART", value_delimiter = ',')]
    apart: Vec<PartId>,
    /// The owner has ordered a full strip: openings cost nothing.
    #[arg(long)]
    full_strip: bool,
    /// Say what speaks for and against this fault.
    #[arg(long, value_name = "FAULT")]
    why: Option<String>,
    /// Draw the plan so many answers ahead.
    #[arg(long, value_name = "ANSWERS", default_value_t = 0, value_parser = clap::value_parser!(u32).range(0..=8))]
    plan: u32,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// An id with yes or no.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Answer {
    id: String,
    there: bool,
}

impl FromStr for Answer {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (id, answer) = text.split_once('=').unwrap_or((text, ""));
        let there = match answer {
            "yes" => true,
            "no" => false,
            _ => {
                return Err(format!(
                    "`{text}` does not say yes or no: write {id}=yes or {id}=no"
                ));
            }
        };
        Ok(Self {
            id: id.to_owned(),
            there,
        })
    }
}

/// The JSON of the command.
#[derive(Debug, Serialize)]
struct Answered {
    #[serde(flatten)]
    diagnosis: Diagnosis,
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<Why>,
}

#[derive(Debug, Serialize)]
struct Why {
    fault: String,
    evidence: Vec<Weighed>,
}

/// Prints the diagnosis.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let notes = notes_file::usable(&args.notes, remarks)?;
    let network = Network::of(&notes);
    let evidence = args.evidence(&network).map_err(CliError::work)?;
    for part in &args.apart {
        cause::known_part(&notes, part).map_err(CliError::work)?;
    }
    let question = Question {
        notes: &notes,
        network: &network,
        evidence: &evidence,
        off: &args.apart,
        full_strip: args.full_strip,
        successes: &[],
        plan_depth: args.plan,
    };
    let diagnosis = cause::diagnose(question).map_err(CliError::work)?;
    let why = match &args.why {
        None => None,
        Some(fault) => Some(Why {
            fault: fault.clone(),
            evidence: cause::weigh(&network, &evidence, fault).map_err(CliError::work)?,
        }),
    };
    let answered = Answered { diagnosis, why };
    if args.json {
        return json::write(out, &answered);
    }
    text::print(&notes, &answered, out)?;
    Ok(())
}

impl Args {
    fn evidence(&self, network: &Network) -> Result<Evidence, cause::UnknownName> {
        let mut evidence = Evidence::none(network);
        for answer in &self.known {
            evidence.know(network, &answer.id, answer.there)?;
        }
        for answer in &self.seen {
            evidence.see(network, &answer.id, answer.there)?;
        }
        for answer in &self.found {
            evidence.find(network, &answer.id, answer.there)?;
        }
        for fault in &self.cured {
            evidence.cure(network, fault)?;
        }
        Ok(evidence)
    }
}
