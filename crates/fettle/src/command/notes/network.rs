//! `fettle notes network`: the causal network with its looks, cures and removals.

use std::io::{self, Write};
use std::path::PathBuf;

use fettle_notes::{FaultId, FaultKind, Minutes, Node, PartId, PartUse, ServiceNotes};
use fettle_reason::cause;
use serde::Serialize;

use crate::error::CliError;
use crate::{json, notes_file};

/// Show the causal network of service notes.
///
/// Circumstances bring on faults, faults bring on faults and show signs; everything that another program needs to check our
/// figures stands in the JSON: the links with their chances, looks and cures with their minutes and what must be off, and the
/// removals. As BIF, the Bayesian interchange format, it is read by programs for such networks.
///
///   fettle notes network corran-66.toml
///   fettle notes network corran-66.toml --json
///   fettle notes network corran-66.toml --format bif
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(super) struct Args {
    /// The model's service notes.
    #[arg(value_name = "NOTES")]
    notes: PathBuf,
    /// Print one JSON object instead of text.
    #[arg(long, conflicts_with = "format")]
    json: bool,
    /// How to print it.
    #[arg(long, value_enum, default_value = "text")]
    format: Format,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Format {
    /// One line for each arrow.
    Text,
    /// The same as --json.
    Json,
    /// The Bayesian interchange format.
    Bif,
}

/// The JSON of the command.
#[derive(Debug, Serialize)]
struct Report<'a> {
    model: &'a str,
    nodes: Vec<Node>,
    looks: Vec<Look<'a>>,
    cures: Vec<Cure<'a>>,
    removals: Vec<Removal<'a>>,
    coming_back_minutes: f64,
}

#[derive(Debug, Serialize)]
struct Look<'a> {
    sign: &'a str,
    minutes: Minutes,
    needs_apart: &'a [PartId],
}

#[derive(Debug, Serialize)]
struct Cure<'a> {
    work: &'a str,
    faults: Vec<&'a FaultId>,
    minutes: Minutes,
    success: f64,
    needs_apart: &'a [PartId],
    parts: &'a [PartUse],
}

#[derive(Debug, Serialize)]
struct Removal<'a> {
    part: &'a str,
    minutes: Minutes,
    side: &'a str,
    tool: Option<&'a str>,
    after: &'a [PartId],
    either: &'a [Vec<PartId>],
}

/// Prints the network.
pub(super) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let notes = notes_file::usable(&args.notes, remarks)?;
    if args.json || args.format == Format::Json {
        return json::write(out, &Report::of(&notes));
    }
    match args.format {
        Format::Bif => out.write_all(cause::bif(&notes).as_bytes())?,
        Format::Text | Format::Json => text(&notes, out)?,
    }
    Ok(())
}

impl<'a> Report<'a> {
    fn of(notes: &'a ServiceNotes) -> Self {
        let looks = notes.signs.iter().map(|(id, sign)| Look {
            sign: id.as_str(),
            minutes: sign.minutes,
            needs_apart: &sign.needs_apart,
        });
        let cures = notes.works.iter().map(|(id, work)| Cure {
            work: id.as_str(),
            faults: notes
                .faults
                .iter()
                .filter(|(_, fault)| fault.cured_by.contains(id))
                .map(|(fault, _)| fault)
                .collect(),
            minutes: work.minutes,
            success: work.success.to_f64(),
            needs_apart: &work.needs_apart,
            parts: &work.parts,
        });
        let removals = notes.removals.iter().map(|(part, removal)| Removal {
            part: part.as_str(),
            minutes: removal.minutes,
            side: &removal.side,
            tool: removal.tool.as_deref(),
            after: &removal.after,
            either: &removal.either,
        });
        Self {
            model: notes.model.id.as_str(),
            nodes: notes.network(),
            looks: looks.collect(),
            cures: cures.collect(),
            removals: removals.collect(),
            coming_back_minutes: cause::COMING_BACK_MINUTES,
        }
    }
}

fn text(notes: &ServiceNotes, out: &mut dyn Write) -> io::Result<()> {
    for (id, circumstance) in notes.circumstances.iter() {
        writeln!(
            out,
            "circumstance {id}: {} of cameras; {}",
            circumstance.chance, circumstance.question
        )?;
    }
    for (id, fault) in notes.faults.iter() {
        let kind = if fault.is == FaultKind::Cause {
            "cause"
        } else {
            "damage"
        };
        writeln!(
            out,
            "fault {id} ({kind}): {} by itself; {}",
            fault.leak, fault.name
        )?;
        for origin in &fault.brought_on_by {
            writeln!(
                out,
                "  brought on by {}: {}",
                origin.as_str(),
                origin.chance()
            )?;
        }
    }
    for (id, sign) in notes.signs.iter() {
        writeln!(out, "sign {id}: {} by itself; {}", sign.leak, sign.question)?;
        for link in &sign.links {
            writeln!(out, "  shown by {}: {}", link.fault, link.chance)?;
        }
    }
    Ok(())
}
