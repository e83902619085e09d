//! `fettle verify`: whether a bench or a backup is whole.

use std::io::Write;
use std::path::PathBuf;

use fettle_bench::{Verified, verify_with};
use serde::Serialize;

use super::backup::{megabytes, states};
use crate::error::CliError;
use crate::json;
use crate::progress::Bar;

/// Findings told one by one; --json tells all.
const TOLD: usize = 50;

/// Look a bench or a backup through: is all of it whole?
///
/// Checks the database page by page, holds every table against what the journal gives, and every file
/// against its hash. Says what is damaged, what is lost by it, and what to do. Nothing is altered, and
/// the bench can be open meanwhile. Exit status 1 when something is wrong.
///
///   fettle verify --bench my-bench
///   fettle verify /media/usb/my-bench-backup
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder of the bench [default: the current folder].
    #[arg(long, value_name = "DIR", conflicts_with = "place")]
    bench: Option<PathBuf>,
    /// The folder of a backup, or of a bench.
    #[arg(value_name = "BACKUP")]
    place: Option<PathBuf>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Report<'v> {
    whole: bool,
    #[serde(flatten)]
    verified: &'v Verified,
}

/// Looks it through and says what was found.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let named = args.bench.as_deref().or(args.place.as_deref());
    let folder = super::serve::bench_or_here(named)?;
    let mut bar = Bar::default();
    let verified = verify_with(&folder, &mut |step| {
        bar.show(step.doing, step.done, step.of);
    });
    drop(bar);
    let verified = verified.map_err(CliError::work)?;
    if args.json {
        let whole = verified.is_whole();
        json::write(
            out,
            &Report {
                whole,
                verified: &verified,
            },
        )?;
    } else {
        tell(&verified, out)?;
    }
    if verified.is_whole() {
        return Ok(());
    }
    out.flush()?;
    Err(CliError::work(format!(
        "{} is not whole: {} found wrong",
        verified.folder.display(),
        things(verified.findings.len())
    )))
}

fn tell(verified: &Verified, out: &mut dyn Write) -> Result<(), CliError> {
    let folder = verified.folder.display();
    writeln!(
        out,
        "{folder}: looked through {}{} entries of the journal and {} files, {}",
        if verified.is_backup {
            format!("a backup of {}, ", states(verified.states))
        } else {
            String::new()
        },
        verified.entries,
        verified.files,
        megabytes(verified.files_bytes)
    )?;
    for finding in verified.findings.iter().take(TOLD) {
        writeln!(out)?;
        writeln!(out, "{}", finding.damaged)?;
        writeln!(out, "  lost:       {}", finding.lost)?;
        writeln!(out, "  what to do: {}", finding.remedy)?;
    }
    let more = verified.findings.len().saturating_sub(TOLD);
    if more > 0 {
        writeln!(out, "\nand {} more, which --json tells", things(more))?;
    }
    if verified.unnamed > 0 {
        writeln!(
            out,
            "{} of the files are named by nothing in the record; they harm nothing",
            verified.unnamed
        )?;
    }
    if verified.is_whole() {
        writeln!(out, "all of it is whole")?;
    }
    Ok(())
}

fn things(count: usize) -> String {
    match count {
        1 => "1 thing".to_owned(),
        count => format!("{count} things"),
    }
}
