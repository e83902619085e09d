//! `fettle way`: the way in to parts, and the way back.

use std::io::{self, Write};
use std::path::PathBuf;

use fettle_notes::{Fastener, PartId, ServiceNotes};
use fettle_reason::{Leg, Way};
use serde::Serialize;

use crate::error::CliError;
use crate::{json, notes_file};

/// The way in to one part or several, and the way back.
///
/// The fewest bench minutes over all alternatives of the service notes; among equals the camera is turned over and tools are
/// changed as seldom as possible. The way back is the reverse, with lubricant, alignment and cautions of its own, and the
/// settings that must be proved again afterwards, each after all that it depends on.
///
///   fettle way corran-66.toml --to blade
///   fettle way corran-66.toml --to mirror,counter-disc --apart hood --json
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The model's service notes.
    #[arg(value_name = "NOTES")]
    notes: PathBuf,
    /// The parts to reach.
    #[arg(long, value_name = "PART", value_delimiter = ',', required = true)]
    to: Vec<PartId>,
    /// Parts that are off already.
    #[arg(long, value_name = "PART", value_delimiter = ',')]
    apart: Vec<PartId>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// The JSON of the command.
#[derive(Debug, Serialize)]
struct WayReport<'a> {
    minutes: f64,
    turnovers: u32,
    tool_changes: u32,
    exact: bool,
    #[serde(rename = "in")]
    way_in: Vec<StepIn<'a>>,
    back: Vec<StepBack<'a>>,
    disturbed: Vec<Disturbed<'a>>,
}

#[derive(Debug, Serialize)]
struct StepIn<'a> {
    part: &'a str,
    name: &'a str,
    minutes: f64,
    side: &'a str,
    tool: Option<&'a str>,
    fasteners: &'a [Fastener],
    cautions: Vec<&'a str>,
}

#[derive(Debug, Serialize)]
struct StepBack<'a> {
    part: &'a str,
    name: &'a str,
    side: &'a str,
    tool: Option<&'a str>,
    fasteners: &'a [Fastener],
    lubricant: Option<&'a str>,
    align: Option<&'a str>,
    cautions: Vec<&'a str>,
}

#[derive(Debug, Serialize)]
struct Disturbed<'a> {
    setting: &'a str,
    name: &'a str,
    by: Vec<&'a str>,
}

/// Prints the way.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let notes = notes_file::usable(&args.notes, remarks)?;
    let way = fettle_reason::way(&notes, &args.to, &args.apart).map_err(CliError::work)?;
    let report = WayReport::of(&notes, &way);
    if args.json {
        return json::write(out, &report);
    }
    report.print(out)?;
    Ok(())
}

impl<'a> WayReport<'a> {
    fn of(notes: &'a ServiceNotes, way: &Way<'a>) -> Self {
        let name = |part: &'a PartId| {
            notes
                .parts
                .get(part)
                .map_or(part.as_str(), |part| part.name.as_str())
        };
        let step_in = |leg: &Leg<'a>| StepIn {
            part: leg.part.as_str(),
            name: name(leg.part),
            minutes: leg.removal.minutes.to_f64(),
            side: &leg.removal.side,
            tool: leg.removal.tool.as_deref(),
            fasteners: &leg.removal.fasteners,
            cautions: leg.removal.caution.as_deref().into_iter().collect(),
        };
        let step_back = |leg: &Leg<'a>| StepBack {
            part: leg.part.as_str(),
            name: name(leg.part),
            side: &leg.removal.side,
            tool: leg.removal.tool.as_deref(),
            fasteners: &leg.removal.fasteners,
            lubricant: leg.removal.back.lubricant.as_deref(),
            align: leg.removal.back.align.as_deref(),
            // What is dangerous on the way in is so on the way back.
            cautions: leg
                .removal
                .back
                .caution
                .as_deref()
                .into_iter()
                .chain(leg.removal.caution.as_deref())
                .collect(),
        };
        let disturbed = |one: &fettle_reason::Disturbed<'a>| Disturbed {
            setting: one.setting.as_str(),
            name: notes
                .settings
                .get(one.setting)
                .map_or(one.setting.as_str(), |setting| setting.name.as_str()),
            by: one.by.iter().map(|part| part.as_str()).collect(),
        };
        Self {
            minutes: way.minutes,
            turnovers: way.turnovers,
            tool_changes: way.tool_changes,
            exact: way.exact,
            way_in: way.way_in.iter().map(step_in).collect(),
            back: way.way_back.iter().map(step_back).collect(),
            disturbed: way.disturbed.iter().map(disturbed).collect(),
        }
    }

    fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        writeln!(
            out,
            "The way in: {} steps, {} minutes, turned over {} times, tool changed {} times",
            self.way_in.len(),
            self.minutes,
            self.turnovers,
            self.tool_changes
        )?;
        if !self.exact {
            writeln!(
                out,
                "The alternatives are too many to try all: a shorter way may exist."
            )?;
        }
        for (n, step) in (1..).zip(&self.way_in) {
            let tool = step.tool.unwrap_or("by hand");
            writeln!(
                out,
                "{n:3}. {} – {}, {tool}, {} min",
                step.name, step.side, step.minutes
            )?;
            for fastener in step.fasteners {
                writeln!(out, "       {}", in_words(fastener))?;
            }
            for caution in &step.cautions {
                writeln!(out, "       caution: {caution}")?;
            }
        }
        writeln!(out, "\nThe way back")?;
        for (n, step) in (1..).zip(&self.back) {
            writeln!(
                out,
                "{n:3}. {} – {}, {}",
                step.name,
                step.side,
                step.tool.unwrap_or("by hand")
            )?;
            let lines = [("lubricate", step.lubricant), ("align", step.align)];
            for (what, line) in lines
                .into_iter()
                .filter_map(|(what, line)| Some((what, line?)))
            {
                writeln!(out, "       {what}: {line}")?;
            }
            for caution in &step.cautions {
                writeln!(out, "       caution: {caution}")?;
            }
        }
        if !self.disturbed.is_empty() {
            writeln!(out, "\nTo prove afterwards, in this order")?;
            for one in &self.disturbed {
                writeln!(out, "  {} – upset by {}", one.name, one.by.join(", "))?;
            }
        }
        Ok(())
    }
}

/// `4 x screw M1.7, 3.5 mm under the head, countersunk; left-hand thread`.
fn in_words(fastener: &Fastener) -> String {
    let mut words = format!("{} x {}", fastener.count, fastener.kind);
    if let Some(thread) = &fastener.thread {
        words.push_str(&format!(" {thread}"));
    }
    if let Some(length) = fastener.length_mm {
        words.push_str(&format!(", {length} mm"));
    }
    if let Some(head) = fastener.head {
        words.push_str(&format!(", {head}"));
    }
    if fastener.handed == fettle_notes::Hand::Left {
        words.push_str("; left-hand thread");
    }
    if let Some(note) = &fastener.note {
        words.push_str(&format!("; {note}"));
    }
    words
}
