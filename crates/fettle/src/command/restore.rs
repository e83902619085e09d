//! `fettle restore`: a bench brought back from its backup.

use std::io::Write;
use std::path::PathBuf;

use fettle_bench::{AsOf, HowToRestore, restore};

use crate::error::CliError;
use crate::json;
use crate::progress::Bar;

/// Bring a bench back from a backup into a new folder.
///
/// Everything is held against its hash while it is copied; the new bench gets its name when it is
/// whole. What is missing is told, and nothing is made then unless the rest is asked for.
///
/// After damage, --since adds what was recorded after the backup, as far as the damaged bench can be read.
/// Without any backup, a damaged bench is made anew from its own journal.
///
///   fettle restore /media/usb/my-bench-backup my-bench
///   fettle restore /media/usb/my-bench-backup my-bench --as-of 2026-11-20
///   fettle restore /media/usb/my-bench-backup my-bench --since damaged-bench
///   fettle restore damaged-bench my-bench --with-losses
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder of the backup, or of a damaged bench.
    #[arg(value_name = "BACKUP")]
    from: PathBuf,
    /// The folder to make; it must not be there yet, or be empty.
    #[arg(value_name = "DIR")]
    to: PathBuf,
    /// The state to bring back: the last up to the end of a day, such as 2026-11-20 (by UTC), or the one
    /// with this number [default: the newest].
    #[arg(long, value_name = "DAY|NUMBER", value_parser = as_of)]
    as_of: Option<AsOf>,
    /// The damaged bench: adds what was recorded in it after the backup was made.
    #[arg(long, value_name = "DIR")]
    since: Option<PathBuf>,
    /// Bring back what there is when something is missing or damaged.
    #[arg(long)]
    with_losses: bool,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// Restores and says what came back and what did not.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let how = HowToRestore {
        as_of: args.as_of.unwrap_or_default(),
        since: args.since.as_deref(),
        with_losses: args.with_losses,
    };
    let mut bar = Bar::default();
    let restored = restore(&args.from, &args.to, how, &mut |step| {
        bar.show(step.doing, step.done, step.of);
    });
    drop(bar);
    let restored = restored.map_err(CliError::work)?;
    for lost in &restored.lost_files {
        writeln!(remarks, "lost: {} ({}): {}", lost.file, lost.what, lost.why)?;
    }
    for lost in &restored.lost_entries {
        writeln!(remarks, "lost: {lost}")?;
    }
    if args.json {
        return json::write(out, &restored);
    }
    let folder = restored.folder.display();
    let what = restored.state.as_ref().map_or_else(
        || "made anew from its journal".to_owned(),
        |state| format!("as of state {state}"),
    );
    writeln!(
        out,
        "restored {folder}, {what}: {} entries of the journal, {} files",
        restored.entries, restored.files
    )?;
    if args.since.is_some() {
        writeln!(
            out,
            "{} of the entries came from the damaged bench",
            restored.entries_since
        )?;
    }
    writeln!(out, "open it with: fettle serve --bench {folder}")?;
    Ok(())
}

fn as_of(text: &str) -> Result<AsOf, String> {
    if let Ok(number) = text.parse() {
        return Ok(AsOf::Number(number));
    }
    text.parse().map(AsOf::Day).map_err(|_| {
        "give a day such as 2026-11-20, or the number that a state's name begins with".to_owned()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_state_is_named_by_day_or_number() {
        assert_eq!(as_of("7"), Ok(AsOf::Number(7)));
        assert_eq!(as_of("000007"), Ok(AsOf::Number(7)));
        assert_eq!(
            as_of("2026-11-20"),
            Ok(AsOf::Day("2026-11-20".parse().unwrap()))
        );
        for bad in ["", "yesterday", "-1", "2026-13-01", "20.11.2026"] {
            assert!(as_of(bad).is_err(), "{bad}");
        }
    }
}
