//! `fettle notes learn`: a copy of the notes with the figures that finished visits taught.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use fettle_bench::{Bench, Lessons, Model};
use fettle_notes::{PartId, ServiceNotes, WorkId, parse, rewrite};
use fettle_reason::LearnedMinutes;
use fettle_reason::cause::Lesson;
use serde::Serialize;

use crate::error::CliError;
use crate::json;

/// Learn from the finished visits of a bench.
///
/// Every finished visit tells which faults were there, which were ruled out and which were never looked at, and how long works
/// and removals took. The learned figures are written into copies of the service notes: the bench's own stay as they are. Each
/// changed line says at its end what the figure was and how much was seen. A figure about which nothing was seen is left alone.
///
///   fettle notes learn --bench my-bench
///   fettle notes learn --bench my-bench corran-66 --into learned
///   fettle notes learn --bench my-bench corran-66 --json
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(super) struct Args {
    /// The folder of the bench.
    #[arg(long, value_name = "DIR")]
    bench: PathBuf,
    /// The models to learn about [default: every model that has usable notes].
    #[arg(value_name = "MODEL-ID")]
    models: Vec<String>,
    /// The folder to write the copies into; a file that is there already is left as it is [default: only tell what was learned].
    #[arg(long, value_name = "DIR", conflicts_with = "json")]
    into: Option<PathBuf>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// The JSON of the command.
#[derive(Debug, Serialize)]
struct Report<'a> {
    models: Vec<Learned<'a>>,
}

#[derive(Debug, Serialize)]
struct Learned<'a> {
    model: &'a str,
    #[serde(flatten)]
    lesson: &'a Lesson,
    removals: Vec<Timed<'a>>,
    works: Vec<Timed<'a>>,
}

#[derive(Debug, Serialize)]
struct Timed<'a> {
    id: &'a str,
    author_minutes: f64,
    likely_minutes: f64,
    nine_in_ten_minutes: f64,
    low_minutes: f64,
    high_minutes: f64,
    cases: usize,
}

impl<'a> Timed<'a> {
    fn of(id: &'a str, it: &LearnedMinutes) -> Self {
        Self {
            id,
            author_minutes: it.author,
            likely_minutes: it.likely,
            nine_in_ten_minutes: it.nine_in_ten,
            low_minutes: it.low,
            high_minutes: it.high,
            cases: it.cases,
        }
    }
}

/// Learns and writes the copies.
pub(super) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let bench = Bench::open(&args.bench).map_err(CliError::work)?;
    let models = chosen(&bench, &args.models, remarks)?;
    let mut learned = Vec::new();
    for (model, notes) in &models {
        let lessons = bench.learn(&model.id).map_err(CliError::work)?;
        let Some(lessons) = lessons else { continue };
        learned.push((model, notes, lessons));
    }
    if args.json {
        let models = learned
            .iter()
            .map(|(model, _, lessons)| Learned {
                model: &model.id,
                lesson: &lessons.chances,
                removals: of_parts(&lessons.removals),
                works: of_works(&lessons.works),
            })
            .collect();
        return json::write(out, &Report { models });
    }
    // All that can be refused comes before anything is written or told.
    let mut copies = Vec::new();
    if let Some(folder) = &args.into {
        for (model, notes, lessons) in &learned {
            copies.push(copy(model, notes, lessons, folder)?);
        }
        fs::create_dir_all(folder).map_err(|error| CliError::file("make", folder, &error))?;
        for (path, text) in &copies {
            write(path, text)?;
        }
    }
    for (model, notes, lessons) in &learned {
        tell(model, notes, lessons, out)?;
    }
    for (path, _) in &copies {
        writeln!(out, "wrote {}", path.display())?;
    }
    if args.into.is_none() && !learned.is_empty() {
        writeln!(
            out,
            "nothing was written: give --into DIR for copies of the notes with these figures"
        )?;
    }
    Ok(())
}

fn of_parts(all: &[(PartId, LearnedMinutes)]) -> Vec<Timed<'_>> {
    all.iter()
        .map(|(id, it)| Timed::of(id.as_str(), it))
        .collect()
}

fn of_works(all: &[(WorkId, LearnedMinutes)]) -> Vec<Timed<'_>> {
    all.iter()
        .map(|(id, it)| Timed::of(id.as_str(), it))
        .collect()
}

type Usable = (Model, std::sync::Arc<ServiceNotes>);

/// The models named, else all that can be used; one named that cannot be used ends the command.
fn chosen(
    bench: &Bench,
    named: &[String],
    remarks: &mut dyn Write,
) -> Result<Vec<Usable>, CliError> {
    let all = bench.models();
    for id in named {
        if !all.iter().any(|model| model.id == *id) {
            let known: Vec<&str> = all.iter().map(|model| model.id.as_str()).collect();
            return Err(CliError::work(format!(
                "the bench has no service notes `{id}`; it has {}",
                if known.is_empty() {
                    "none".to_owned()
                } else {
                    known.join(", ")
                }
            )));
        }
    }
    let mut models = Vec::new();
    for model in all {
        let asked = named.contains(&model.id);
        match &model.notes {
            Some(notes) if asked || named.is_empty() => {
                let notes = std::sync::Arc::clone(notes);
                models.push((model, notes));
            }
            None if asked => {
                return Err(CliError::work(format!(
                    "{} cannot be used: run `fettle notes check` on it and put right what it names",
                    model.path.display()
                )));
            }
            None if named.is_empty() => {
                writeln!(
                    remarks,
                    "{} cannot be used and was passed over",
                    model.path.display()
                )?;
            }
            _ => {}
        }
    }
    Ok(models)
}

fn tell(
    model: &Model,
    notes: &ServiceNotes,
    lessons: &Lessons,
    out: &mut dyn Write,
) -> io::Result<()> {
    let chances = &lessons.chances;
    let figures = lessons.figures(notes);
    let left_out = match chances.left_out {
        0 => String::new(),
        1 => "; 1 visit says what cannot be by the notes and was left out".to_owned(),
        n => format!("; {n} visits say what cannot be by the notes and were left out"),
    };
    writeln!(
        out,
        "{}: {} finished visits; {} figures learned, {} removals and {} works timed{left_out}",
        model.id,
        chances.cameras,
        figures.len(),
        lessons.removals.len(),
        lessons.works.len(),
    )?;
    let width = figures.iter().map(|it| it.place.join(" ").len()).max();
    for figure in &figures {
        writeln!(
            out,
            "  {:width$}  {:>7.3}  {}",
            figure.place.join(" "),
            figure.value,
            figure.remark,
            width = width.unwrap_or(0)
        )?;
    }
    Ok(())
}

/// Where the copy goes and what it says.
fn copy(
    model: &Model,
    notes: &ServiceNotes,
    lessons: &Lessons,
    folder: &Path,
) -> Result<(PathBuf, String), CliError> {
    let path = folder.join(format!("{}.toml", model.id));
    if path.exists() {
        return Err(in_the_way(&path));
    }
    let text = fs::read_to_string(&model.path)
        .map_err(|error| CliError::file("read", &model.path, &error))?;
    let text = rewrite(&text, &lessons.figures(notes)).map_err(CliError::work)?;
    // What is written must be as usable as what was read.
    if let Err(problems) = parse(&text, Some(&model.path.to_string_lossy())) {
        return Err(CliError::work(format!(
            "the learned figures do not fit the notes; nothing was written:\n{problems}"
        )));
    }
    Ok((path, text))
}

fn write(path: &Path, text: &str) -> Result<(), CliError> {
    File::create_new(path)
        .and_then(|mut file| file.write_all(text.as_bytes()))
        .map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => in_the_way(path),
            _ => CliError::file("write", path, &error),
        })
}

fn in_the_way(path: &Path) -> CliError {
    CliError::work(format!(
        "{} exists already and was left as it is: name another folder, or move it away first",
        path.display()
    ))
}
