//! `fettle backup`: the record copied to a safe place while the program runs.

use std::io::Write;
use std::path::PathBuf;

use fettle_bench::{BackedUp, back_up, note_backup};
use jiff::Timestamp;

use crate::error::CliError;
use crate::json;
use crate::progress::Bar;

/// Back a bench up, best onto another disk.
///
/// Copies the database as it stands at one moment and every photograph, recording and paper that is
/// not there yet, and reads back what was written. The bench can be open meanwhile. Earlier states of the
/// record are kept; a damaged database is not backed up over a good one. docs/backup.md says more.
///
///   fettle backup --bench my-bench /media/usb/my-bench-backup
///   fettle backup --bench my-bench /media/usb/my-bench-backup --check
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder of the bench [default: the current folder].
    #[arg(long, value_name = "DIR")]
    bench: Option<PathBuf>,
    /// The folder of the backup: a new one, an empty one, or the backup of this bench.
    #[arg(value_name = "DEST")]
    to: PathBuf,
    /// Hold the files that lie there already against their hashes, and copy damaged ones anew.
    #[arg(long)]
    check: bool,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// Backs the bench up and says what was copied.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let bench = super::serve::bench_or_here(args.bench.as_deref())?;
    let now = Timestamp::now();
    let mut bar = Bar::default();
    let done = back_up(&bench, &args.to, now, args.check, &mut |step| {
        bar.show(step.doing, step.done, step.of);
    });
    drop(bar);
    if let Err(error) = note_backup(&bench, &args.to, now, &done) {
        writeln!(
            remarks,
            "how it went could not be kept beside the bench, so its pages do not know of it: {error}"
        )?;
    }
    let done = done.map_err(CliError::work)?;
    tell_lost(&done, remarks)?;
    if args.json {
        return json::write(out, &done);
    }
    let folder = done.folder.display();
    writeln!(
        out,
        "backed up into {folder}: state {}, {} entries of the journal, {} files of which {} new, {} copied",
        done.state,
        done.entries,
        done.files,
        done.copied,
        megabytes(done.database_bytes + done.copied_bytes)
    )?;
    if done.mended > 0 {
        writeln!(
            out,
            "{} damaged files of the backup were copied anew",
            done.mended
        )?;
    }
    writeln!(out, "the backup holds {}", states(done.states))?;
    writeln!(
        out,
        "bring the bench back with: fettle restore {folder} NEW-FOLDER"
    )?;
    Ok(())
}

pub(super) fn states(count: u64) -> String {
    match count {
        1 => "1 state of the record".to_owned(),
        count => format!("{count} states of the record"),
    }
}

fn tell_lost(done: &BackedUp, remarks: &mut dyn Write) -> Result<(), CliError> {
    for lost in &done.lost {
        writeln!(
            remarks,
            "not in the backup: {} ({}): {}",
            lost.file, lost.what, lost.why
        )?;
    }
    if !done.lost.is_empty() {
        writeln!(remarks, "look the bench through with: fettle verify")?;
    }
    Ok(())
}

pub(super) fn megabytes(bytes: u64) -> String {
    format!("{:.1} MB", bytes as f64 / 1e6)
}
