//! `fettle export`: a bench written out whole.

use std::io::Write;
use std::path::PathBuf;

use fettle_bench::Bench;
use fettle_moving::{Manifest, export};
use jiff::Timestamp;
use serde::Serialize;

use crate::error::CliError;
use crate::json;
use crate::progress::Bar;

/// Write a bench out whole, for other programs and for moving.
///
/// Makes a folder with every table as CSV, the journal as JSON lines, the photographs, recordings,
/// papers and service notes, and a manifest with the hash of every file. `fettle import --export`
/// makes the same bench from it. docs/export.md describes the format.
///
/// The bench can be open meanwhile: what is written out is all of one moment.
///
///   fettle export --bench my-bench my-bench-2026
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder of the bench [default: the current folder].
    #[arg(long, value_name = "DIR")]
    bench: Option<PathBuf>,
    /// The folder to make; it must not be there yet, or be empty.
    #[arg(value_name = "DEST")]
    to: PathBuf,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Report<'a> {
    folder: String,
    #[serde(flatten)]
    manifest: &'a Manifest,
}

/// Writes the bench out and says what was written.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let bench = Bench::open(&super::serve::bench_or_here(args.bench.as_deref())?);
    let bench = bench.map_err(CliError::work)?;
    let mut bar = Bar::default();
    let manifest = export(&bench, &args.to, Timestamp::now(), &mut |step| {
        bar.show(step.doing, step.done, step.of);
    });
    drop(bar);
    let manifest = manifest.map_err(CliError::work)?;
    let folder = args.to.display().to_string();
    if args.json {
        let manifest = &manifest;
        return json::write(out, &Report { folder, manifest });
    }
    let bytes: u64 = manifest.files.iter().map(|file| file.bytes).sum();
    writeln!(
        out,
        "wrote {} into {folder}: {} entries of the journal, {} tables, {} files in all, {:.1} MB",
        manifest.bench,
        manifest.entries,
        manifest.tables.len(),
        manifest.files.len() + 1,
        bytes as f64 / 1e6
    )?;
    writeln!(
        out,
        "make a bench from it with: fettle import --bench NEW --export {folder}"
    )?;
    Ok(())
}
