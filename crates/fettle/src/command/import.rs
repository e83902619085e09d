//! `fettle import`: a bench from an export, or foreign tables and contacts into a bench.

mod report;

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use fettle_bench::{Bench, Hand};
use fettle_moving::{
    DateOrder, DecimalSign, Habits, Kind, Known, Map, NotBrought, Plan, Problem, Reading,
    TABLE_MAX_BYTES, Table, Terms, bring, offer, plan, read_back, rehearse,
};
use jiff::{Timestamp, ZonedDateTime};

use self::report::Report;
use crate::error::CliError;
use crate::json;
use crate::progress::Bar;

/// Take tables or contacts into a bench, or make a bench from an export.
///
/// WHAT is owners, cameras, visits or parts. Tables are text (CSV) with headings in their first row;
/// encoding and separator are recognised. Which column holds what is offered from the headings, in
/// English and German, and can be told with --map. Owners can also come from contacts (vCard). Take in
/// owners and cameras before visits. All rows are taken in or none; rows that are known already are not
/// doubled. docs/import.md says what each field takes.
///
///   fettle import --bench my-bench owners customers.csv --check
///   fettle import --bench my-bench owners contacts.vcf
///   fettle import --bench my-bench visits jobs.csv --map arrived="In" --dates dmy
///   fettle import --bench my-bench parts stock.csv --set grade=original
///   fettle import --bench new-bench --export my-bench-2026
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder of the bench [default: the current folder]; with --export the folder to make.
    #[arg(long, value_name = "DIR")]
    bench: Option<PathBuf>,
    /// What the table brings: owners, cameras, visits or parts.
    #[arg(
        value_name = "WHAT",
        required_unless_present = "export",
        requires = "file"
    )]
    what: Option<Kind>,
    /// The table, or for owners a file of contacts.
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Make the bench from this folder, which `fettle export` wrote.
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["what", "file", "check", "map", "set"])]
    export: Option<PathBuf>,
    /// Take a field from the column with this heading; without a heading the field is left out.
    #[arg(long, value_name = "FIELD=HEADING", value_parser = pair)]
    map: Vec<(String, String)>,
    /// Give a field the same value in every row.
    #[arg(long, value_name = "FIELD=VALUE", value_parser = pair)]
    set: Vec<(String, String)>,
    /// Only say what would be taken in and which rows cannot be.
    #[arg(long)]
    check: bool,
    /// How days such as 03/04/2023 are written: dmy or mdy [default: such days are refused].
    #[arg(long, value_name = "ORDER", value_parser = dates)]
    dates: Option<DateOrder>,
    /// The sign before decimals: comma or point [default: numbers such as 1.234 are refused].
    #[arg(long, value_name = "SIGN", value_parser = decimal)]
    decimal: Option<DecimalSign>,
    /// The encoding of the file, such as utf-8 or windows-1252 [default: recognised].
    #[arg(long, value_name = "NAME")]
    encoding: Option<String>,
    /// What separates cells: comma, semicolon or tab [default: recognised].
    #[arg(long, value_name = "SIGN", value_parser = separator)]
    separator: Option<char>,
    /// Let cameras of different models have the same serial number.
    #[arg(long)]
    same_serials: bool,
    /// Who takes it in: the name that stands in the journal.
    #[arg(long, value_name = "NAME", default_value = "bench", value_parser = super::serve::hand)]
    hand: String,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// Takes in what was given.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    match (&args.export, args.what, &args.file) {
        (Some(from), ..) => read_export(args, from, out),
        (None, Some(kind), Some(file)) => take_in(args, kind, file, out, remarks),
        _ => Err(CliError::Arguments(
            "say what to take in and from which file, or name an export with --export".to_owned(),
        )),
    }
}

fn read_export(args: &Args, from: &Path, out: &mut dyn Write) -> Result<(), CliError> {
    let dir = args.bench.as_deref().ok_or_else(|| {
        CliError::Arguments("say with --bench in which new folder the bench is made".to_owned())
    })?;
    let mut bar = Bar::default();
    let bench = read_back(from, dir, &mut |step| {
        bar.show(step.doing, step.done, step.of);
    });
    drop(bar);
    let bench = bench.map_err(CliError::work)?;
    let entries = bench
        .journal(fettle_bench::Page::first(0))
        .map_err(CliError::work)?
        .total;
    let name = bench.settings().map_err(CliError::work)?.name;
    let dir = dir.display().to_string();
    if args.json {
        return json::write(
            out,
            &report::Made {
                bench: dir,
                name,
                entries,
            },
        );
    }
    writeln!(
        out,
        "made {name} in {dir}: {entries} entries of the journal, every table and file as in the export"
    )?;
    writeln!(out, "open it with: fettle serve --bench {dir}")?;
    Ok(())
}

fn take_in(
    args: &Args,
    kind: Kind,
    file: &Path,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let dir = super::serve::bench_or_here(args.bench.as_deref())?;
    let bench = Bench::open(&dir).map_err(CliError::work)?;
    let mut report = Report::new(kind, file, args.check);
    let done = work(args, kind, file, &bench, &mut report);
    report.finish(done?);
    if args.json {
        json::write(out, &report)?;
    } else {
        if report.problems.is_empty() {
            report.print(out)?;
        } else {
            report.print(remarks)?;
        }
    }
    match report.problems.len() {
        0 => Ok(()),
        1 => Err(CliError::work(
            "nothing was taken in: put the row above right, or take it out",
        )),
        n => Err(CliError::work(format!(
            "nothing was taken in: put the {n} problems above right"
        ))),
    }
}

/// Reads, plans and applies; what is wrong with the file's rows is no error here.
fn work(
    args: &Args,
    kind: Kind,
    file: &Path,
    bench: &Bench,
    report: &mut Report,
) -> Result<Vec<Problem>, CliError> {
    let bytes = read(file)?;
    let reading = Reading {
        encoding: args.encoding.clone(),
        separator: args.separator,
    };
    let table = if kind == Kind::Owners {
        Table::any(&bytes, &reading)
    } else {
        Table::read(&bytes, &reading)
    };
    let table = match table {
        Ok(table) => table,
        Err(problems) => return Ok(problems),
    };
    let map = map(args, kind, &table)?;
    let now = ZonedDateTime::now();
    let terms = Terms {
        habits: Habits {
            dates: args.dates,
            decimal: args.decimal,
        },
        same_serials: args.same_serials,
        ..Terms::strict(now.date())
    };
    let known = Known::read(bench).map_err(CliError::work)?;
    let mut plan = plan(&table, &map, &known, &terms);
    report.planned(&table, &map, &plan);
    if !plan.problems.is_empty() {
        return Ok(std::mem::take(&mut plan.problems));
    }
    tell(args, bench, &plan, now.timestamp())
}

fn tell(args: &Args, bench: &Bench, plan: &Plan, at: Timestamp) -> Result<Vec<Problem>, CliError> {
    let hand = Hand::new(&args.hand);
    let of: usize = plan.groups.iter().map(|group| group.changes.len()).sum();
    let mut bar = Bar::default();
    let mut progress = |done: usize| {
        bar.show(
            if args.check { "checking" } else { "taking in" },
            done as u64,
            of as u64,
        );
    };
    let told = if args.check {
        rehearse(bench, &hand, at, plan, &mut progress)
    } else {
        bring(bench, &hand, at, plan, &mut progress)
    };
    match told {
        Ok(_) => Ok(Vec::new()),
        Err(NotBrought::Problems(problems)) => Ok(problems),
        Err(NotBrought::Bench(error)) => Err(CliError::work(error)),
    }
}

fn map(args: &Args, kind: Kind, table: &Table) -> Result<Map, CliError> {
    let mut map = offer(kind, &table.headings);
    for (field, heading) in &args.map {
        let heading = Some(heading.as_str()).filter(|heading| !heading.is_empty());
        let set = map.set(field, heading);
        set.map_err(|why| CliError::Arguments(format!("--map {field}: {why}")))?;
    }
    for (field, value) in &args.set {
        let set = map.set_value(field, value);
        set.map_err(|why| CliError::Arguments(format!("--set {field}: {why}")))?;
    }
    Ok(map)
}

fn read(file: &Path) -> Result<Vec<u8>, CliError> {
    let about = fs::metadata(file).map_err(|error| CliError::file("read", file, &error))?;
    if about.len() > TABLE_MAX_BYTES as u64 {
        return Err(CliError::Work(format!(
            "cannot read {}: it is larger than {} MB; divide it into several files with the same headings",
            file.display(),
            TABLE_MAX_BYTES >> 20
        )));
    }
    fs::read(file).map_err(|error| CliError::file("read", file, &error))
}

fn pair(text: &str) -> Result<(String, String), String> {
    let (field, value) = text
        .split_once('=')
        .ok_or("write the field, an equals sign and the rest, such as name=Customer")?;
    Ok((field.trim().to_owned(), value.trim().to_owned()))
}

fn dates(text: &str) -> Result<DateOrder, String> {
    match text {
        "dmy" => Ok(DateOrder::Dmy),
        "mdy" => Ok(DateOrder::Mdy),
        _ => Err("write dmy for day-month-year or mdy for month-day-year".to_owned()),
    }
}

fn decimal(text: &str) -> Result<DecimalSign, String> {
    match text {
        "comma" => Ok(DecimalSign::Comma),
        "point" => Ok(DecimalSign::Point),
        _ => Err("write comma or point".to_owned()),
    }
}

fn separator(text: &str) -> Result<char, String> {
    match text {
        "comma" | "," => Ok(','),
        "semicolon" | ";" => Ok(';'),
        "tab" | "\t" => Ok('\t'),
        _ => Err("write comma, semicolon or tab".to_owned()),
    }
}
