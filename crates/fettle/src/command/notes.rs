//! `fettle notes`: check service notes, begin new ones, show their causal network, learn from visits.

mod learn;
mod network;

use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use fettle_notes::{Counts, Date, ModelId, Problem, template};
use jiff::ZonedDateTime;
use serde::Serialize;

use crate::error::CliError;
use crate::{json, notes_file};

/// Check service notes, begin new ones, show their causal network, or learn from finished visits.
///
/// Service notes are what is known of one camera model, in one text file (TOML) that is yours to
/// edit: its parts, how they come off, what goes wrong and how it shows, the works that cure, the
/// settings and the limits they are proved against. A bench keeps them in its folder notes/.
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// What to do.
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    Check(CheckArgs),
    New(NewArgs),
    Network(network::Args),
    Learn(learn::Args),
}

/// Check files of service notes.
///
/// Every problem is told with its file, line and column and what would be right. Warnings do not
/// spoil a file; errors do, and then the exit status is 1.
///
///   fettle notes check corran-66.toml
///   fettle notes check my-bench/notes/*.toml --json
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
struct CheckArgs {
    /// The files to check.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// Begin the service notes of a model.
///
/// The file has one entry of every kind, explained, and checks clean as it stands: change what is
/// there, then copy the pattern. Its name must be the model's id followed by .toml.
///
///   fettle notes new corran-66 --maker Aldous --name "Corran 66" -o corran-66.toml
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
struct NewArgs {
    /// The model's id: lower-case words of a-z and 0-9 joined by `-`.
    #[arg(value_name = "MODEL-ID")]
    id: ModelId,
    /// Who made the camera.
    #[arg(long)]
    maker: String,
    /// What the camera is called.
    #[arg(long)]
    name: String,
    /// The file to write, which must not exist [default: standard output].
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Checks files or begins one.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    match &args.action {
        Action::Check(args) => check(args, out, remarks),
        Action::New(args) => new(args, out),
        Action::Network(args) => network::run(args, out, remarks),
        Action::Learn(args) => learn::run(args, out, remarks),
    }
}

/// What a check found in one file.
#[derive(Debug, Serialize)]
struct FileReport {
    file: String,
    usable: bool,
    counts: Option<Counts>,
    problems: Vec<Problem>,
}

#[derive(Debug, Serialize)]
struct CheckReport {
    files: Vec<FileReport>,
}

fn check(args: &CheckArgs, out: &mut dyn Write, remarks: &mut dyn Write) -> Result<(), CliError> {
    let files = args
        .files
        .iter()
        .map(|path| report(path))
        .collect::<Result<Vec<_>, _>>()?;
    let broken = files.iter().filter(|file| !file.usable).count();
    if args.json {
        json::write(out, &CheckReport { files })?;
    } else {
        for file in &files {
            print(file, out, remarks)?;
        }
    }
    match (broken, args.files.len()) {
        (0, _) => Ok(()),
        (_, 1) => Err(CliError::work(
            "the file cannot be used as it is: put right the errors above",
        )),
        (n, all) => Err(CliError::work(format!(
            "{n} of {all} files cannot be used as they are: put right the errors above"
        ))),
    }
}

fn report(path: &Path) -> Result<FileReport, CliError> {
    let (counts, problems) = match notes_file::check(path)? {
        Ok((notes, doubts)) => (Some(notes.counts()), doubts),
        Err(problems) => (None, problems.into_vec()),
    };
    Ok(FileReport {
        file: path.display().to_string(),
        usable: counts.is_some(),
        counts,
        problems,
    })
}

fn print(file: &FileReport, out: &mut dyn Write, remarks: &mut dyn Write) -> io::Result<()> {
    for problem in &file.problems {
        writeln!(remarks, "{problem}\n")?;
    }
    let Some(counts) = &file.counts else {
        return Ok(());
    };
    let doubts = match file.problems.len() {
        0 => String::new(),
        1 => "; 1 warning".to_owned(),
        n => format!("; {n} warnings"),
    };
    writeln!(
        out,
        "{}: usable: {} parts, {} removals, {} circumstances, {} faults, {} signs, {} works, {} settings, {} limits{doubts}",
        file.file,
        counts.parts,
        counts.removals,
        counts.circumstances,
        counts.faults,
        counts.signs,
        counts.works,
        counts.settings,
        counts.limits,
    )
}

fn new(args: &NewArgs, out: &mut dyn Write) -> Result<(), CliError> {
    let today = ZonedDateTime::now().date();
    let date = u8::try_from(today.month())
        .ok()
        .zip(u8::try_from(today.day()).ok())
        .and_then(|(month, day)| Date::new(today.year().unsigned_abs(), month, day));
    let Some(revised) = date else {
        return Err(CliError::work(
            "the computer's clock gives no date that can be written: set it",
        ));
    };
    let text = template(&args.id, &args.maker, &args.name, revised);
    let Some(path) = &args.output else {
        out.write_all(text.as_bytes())?;
        return Ok(());
    };
    File::create_new(path)
        .and_then(|mut file| file.write_all(text.as_bytes()))
        .map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => CliError::work(format!(
                "{} exists already and was left as it is: give another name, or move it away first",
                path.display()
            )),
            _ => CliError::file("write", path, &error),
        })?;
    writeln!(out, "wrote {}", path.display())?;
    if path.file_stem().is_none_or(|stem| stem != args.id.as_str()) {
        writeln!(
            out,
            "rename it to {}.toml: the name must be the model's id",
            args.id
        )?;
    }
    Ok(())
}
