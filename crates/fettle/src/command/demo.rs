//! `fettle demo`: an invented bench to look round in.

use std::ffi::OsString;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use fettle_bench::Bench;
use fettle_demo::{DemoError, SEED, Scale, generate, is_demo};
use jiff::ZonedDateTime;

use super::serve::Site;
use crate::error::CliError;

/// Make an invented bench and open it in the browser.
///
/// A bench in the harbour town of Saltmere: some sixty cameras of three models over three years, at
/// every stage of a visit, with service notes, photographs, recordings and readings. Makers, models,
/// owners and places do not exist. The demo is made once and kept in its folder; delete the folder to
/// have it made anew.
///
///   fettle demo
///   fettle demo somewhere-else --no-serve
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder to make it in.
    #[arg(default_value = "fettle-demo")]
    dir: PathBuf,
    /// Only make it, do not open it.
    #[arg(long)]
    no_serve: bool,
    #[command(flatten)]
    site: Site,
}

/// Makes the demo unless it is there, and serves it.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let dir = args.dir.as_path();
    let shown = dir.display();
    if is_demo(dir) {
        writeln!(
            remarks,
            "{shown} is there already and is left as it is; to have it made anew, delete the folder"
        )?;
    } else if fs::symlink_metadata(dir).is_ok() {
        return Err(CliError::work(format!(
            "{shown} exists and is no demo bench: give another folder, or move it away first"
        )));
    } else {
        make(dir, remarks)?;
        writeln!(remarks, "made the demo bench in {shown}")?;
    }
    if args.no_serve {
        writeln!(out, "open it with: fettle serve --bench {shown}")?;
        return Ok(());
    }
    let bench = Bench::open(dir).map_err(CliError::work)?;
    args.site.serve(bench, out, remarks)
}

/// Makes the bench beside its place and moves it there when it is whole.
fn make(dir: &Path, remarks: &mut dyn Write) -> Result<(), CliError> {
    let beside = beside(dir)?;
    fs::create_dir_all(&beside).map_err(|error| CliError::file("make", &beside, &error))?;
    let today = ZonedDateTime::now().date();
    let made = generate(&beside, SEED, today, Scale::FULL, &mut |doing| {
        // Progress is a courtesy: the work goes on when nobody can read it.
        let _ = writeln!(remarks, "{doing}");
    });
    let moved = made.map(drop).map_err(|error| told(&error)).and_then(|()| {
        fs::rename(&beside, dir).map_err(|error| CliError::file("make", dir, &error))
    });
    if moved.is_err() {
        // The first error is the one to tell; what cannot be removed lies where it says.
        let _ = fs::remove_dir_all(&beside);
    }
    moved
}

fn told(error: &DemoError) -> CliError {
    CliError::work(format!("the demo bench could not be made: {error}"))
}

/// A folder beside `dir` that nobody else makes: hidden, and named after this process.
fn beside(dir: &Path) -> Result<PathBuf, CliError> {
    let Some(name) = dir.file_name() else {
        return Err(CliError::Arguments(format!(
            "{} does not name a folder that can be made: give a name, such as fettle-demo",
            dir.display()
        )));
    };
    let mut hidden = OsString::from(".");
    hidden.push(name);
    hidden.push(format!(".making-{}", std::process::id()));
    Ok(dir.with_file_name(hidden))
}
