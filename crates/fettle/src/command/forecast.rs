//! `fettle forecast`: whether what is in the drawer will last.

use std::io::Write;
use std::path::{Path, PathBuf};

use fettle_measure::run::{Column, RunError, Table, date_of};
use fettle_reason::demand::{
    self, Forecast, History, HistoryError, Kept, Prior, Until, Visits, forecast, forecast_by_visits,
};
use jiff::civil::Date;
use serde::Serialize;

use crate::error::CliError;
use crate::input;
use crate::json;
use crate::table::{self, Align};

/// The chance that a drawer lasts until a date, when it runs out, and how many to buy.
///
/// From what was used and when. Needs are taken to come at random at a rate that is known only as
/// well as the use seen tells it; each takes as many pieces as needs took before. What is usual
/// for like parts goes in beforehand: half a need in one year, unless told otherwise or learned
/// from the use of other parts.
///
/// The table has the columns `date` (2026-03-14) and `quantity`, sorted by date. A row with the
/// quantity 0 marks time watched: the first row says when watching began. Pieces for one camera
/// belong in one row.
///
///   fettle forecast shutter-spring.csv --on-hand 6 --until 2031-12-31
///   fettle forecast shutter-spring.csv --on-hand 6 --years 10 --like blade-pin.csv --json
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// What was used.
    #[arg(value_name = "USE")]
    used: PathBuf,
    /// Pieces in the drawer.
    #[arg(long, value_name = "COUNT")]
    on_hand: u32,
    /// The day until which they are to last.
    #[arg(long, value_name = "DATE", required_unless_present = "years", value_parser = date)]
    until: Option<Date>,
    /// Instead of a day: how many years they are to last.
    #[arg(long, value_name = "YEARS", conflicts_with = "until")]
    years: Option<f64>,
    /// The chance with which they are to last.
    #[arg(long, value_name = "CHANCE", default_value_t = 0.95)]
    service: f64,
    /// The day from which it is reckoned; without it the last row's.
    #[arg(long, value_name = "DATE", value_parser = date)]
    today: Option<Date>,
    /// Needs that like parts had, in `--prior-years`.
    #[arg(long, value_name = "NEEDS")]
    prior_shape: Option<f64>,
    /// Years in which like parts had `--prior-shape` needs.
    #[arg(long, value_name = "YEARS")]
    prior_years: Option<f64>,
    /// Visits of the models that it goes into, in the time watched; with `--visits-per-year` needs
    /// are reckoned by the visit.
    #[arg(long, value_name = "COUNT", requires = "visits_per_year")]
    visits_seen: Option<u32>,
    /// Visits of those models expected in a year from now on.
    #[arg(long, value_name = "COUNT", requires = "visits_seen")]
    visits_per_year: Option<f64>,
    /// The use of a like part, from which is learned what is usual; may be given many times.
    #[arg(long, value_name = "USE", conflicts_with_all = ["prior_shape", "prior_years"])]
    like: Vec<PathBuf>,
    /// A kind of work that wants these pieces: its name, what a piece is worth to it, and its own
    /// use. Given more than once, it tells how many to keep back for which work.
    #[arg(long, value_name = "NAME=WORTH@USE", value_parser = work)]
    work: Vec<Work>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn date(text: &str) -> Result<Date, String> {
    text.parse()
        .map_err(|_| "a date is written year, month, day: 2031-12-31".to_owned())
}

/// A kind of work, before its use is read.
#[derive(Clone, Debug)]
struct Work {
    name: String,
    worth: f64,
    used: PathBuf,
}

fn work(text: &str) -> Result<Work, String> {
    let read = || {
        let (name, rest) = text.split_once('=')?;
        let (worth, used) = rest.split_once('@')?;
        let worth = worth.trim().parse().ok()?;
        (!name.trim().is_empty() && !used.is_empty()).then(|| Work {
            name: name.trim().to_owned(),
            worth,
            used: PathBuf::from(used),
        })
    };
    read().ok_or_else(|| {
        "a name, a worth and a file are wanted, such as overhaul=40@overhaul.csv".to_owned()
    })
}

#[derive(Serialize)]
struct Answer<'a> {
    #[serde(flatten)]
    forecast: &'a Forecast,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    keep: Vec<Kept>,
}

const COLUMNS: [Column; 2] = [
    Column::date("date"),
    Column::whole("quantity", "pieces", 0.0, 10_000.0),
];

/// Reads the use and prints the forecast.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let history = history(&args.used, args.today)?;
    let prior = prior(args, history.today())?;
    let until = match (args.until, args.years) {
        (Some(day), _) => Until::Date(day),
        (None, years) => Until::Years(years.unwrap_or_default()),
    };
    let (on_hand, service) = (args.on_hand, args.service);
    let forecast = match (args.visits_seen, args.visits_per_year) {
        (Some(seen), Some(per_year)) => {
            let visits = Visits {
                seen,
                per_year,
                worth: f64::from(seen.max(1)),
            };
            forecast_by_visits(&history, &visits, &prior, on_hand, until, service)
        }
        _ => forecast(&history, &prior, on_hand, until, service),
    }
    .map_err(|error| CliError::Arguments(error.to_string()))?;
    let keep = kept(args, &prior, &forecast)?;
    if args.json {
        let forecast = &forecast;
        return json::write(out, &Answer { forecast, keep });
    }
    print(out, &forecast)?;
    print_kept(out, &keep)
}

/// How many pieces to keep back for which work over the time asked for.
fn kept(args: &Args, prior: &Prior, forecast: &Forecast) -> Result<Vec<Kept>, CliError> {
    if args.work.is_empty() {
        return Ok(Vec::new());
    }
    let wrong = |error: demand::ForecastError| CliError::Arguments(error.to_string());
    let mut kinds = Vec::new();
    for work in &args.work {
        let history = history(&work.used, Some(forecast.today))?;
        kinds.push(demand::Kind {
            name: work.name.clone(),
            value: work.worth,
            demand: demand::pieces(&history, prior, forecast.years).map_err(wrong)?,
        });
    }
    demand::keep(&kinds, args.on_hand).map_err(wrong)
}

fn print_kept(out: &mut dyn Write, keep: &[Kept]) -> Result<(), CliError> {
    if keep.is_empty() {
        return Ok(());
    }
    let mut table = table::Table::new([
        ("for", Align::Left),
        ("a piece is worth", Align::Decimal),
        ("wants about", Align::Decimal),
        ("keep back for better", Align::Right),
        ("", Align::Left),
    ]);
    for it in keep {
        let may = if it.may_take {
            "take one"
        } else {
            "make do without"
        };
        table.row([
            it.name.clone(),
            number(it.value),
            format!("{:.1}", it.expected),
            it.keep_back.to_string(),
            may.to_owned(),
        ]);
    }
    writeln!(out)?;
    table.print(out)?;
    Ok(())
}

fn history(path: &Path, today: Option<Date>) -> Result<History, CliError> {
    let bytes = input::read(path)?;
    let table = Table::read(&bytes, &COLUMNS).map_err(|error| input::wrong(path, &error))?;
    let rows = table.rows().iter().filter_map(|row| {
        // The reader lets whole numbers of pieces through alone.
        Some((date_of(row.get(0)?)?, row.get(1)? as u32))
    });
    History::of_rows(rows, today).map_err(|error| input::wrong(path, &at_line(&error, &table)))
}

/// The same slip with the line on which it stands.
fn at_line(error: &HistoryError, table: &Table) -> RunError {
    match error.row().and_then(|row| table.rows().get(row - 1)) {
        Some(row) => RunError::at(row.line(), Some("date"), error.to_string()),
        None => RunError::whole(error.to_string()),
    }
}

fn prior(args: &Args, today: Date) -> Result<Prior, CliError> {
    if !args.like.is_empty() {
        let others: Vec<History> = args
            .like
            .iter()
            .map(|path| history(path, Some(today)))
            .collect::<Result<_, _>>()?;
        return Ok(Prior::pooled(&others.iter().collect::<Vec<_>>()));
    }
    let usual = Prior::default();
    Ok(Prior {
        shape: args.prior_shape.unwrap_or(usual.shape),
        years: args.prior_years.unwrap_or(usual.years),
        ..usual
    })
}

fn print(out: &mut dyn Write, forecast: &Forecast) -> Result<(), CliError> {
    let day = |day: Option<Date>| {
        day.map_or_else(|| "not in 100 years".to_owned(), |day| day.to_string())
    };
    let runs_out = &forecast.runs_out;
    let rate = &forecast.rate_per_year;
    let lines = [
        (
            "lasts until",
            format!(
                "{} with a chance of {}",
                forecast.until,
                chance(forecast.lasts_probability)
            ),
        ),
        (
            "runs out",
            format!(
                "{}; one time in ten by {}, nine in ten by {}",
                day(runs_out.p50),
                day(runs_out.p10),
                day(runs_out.p90)
            ),
        ),
        (
            "buy now, once",
            forecast.buy_now.map_or_else(
                || "more than are counted".to_owned(),
                |pieces| {
                    format!(
                        "{pieces}, to last with a chance of {}",
                        chance(forecast.service)
                    )
                },
            ),
        ),
        (
            "needs in a year",
            format!(
                "{:.2}; eight times in ten {:.2} to {:.2}; {:.1} pieces each",
                rate.mean, rate.p10, rate.p90, forecast.pieces_per_need
            ),
        ),
        (
            "seen",
            format!(
                "{} needs, {} pieces in {:.1} years",
                forecast.needs_seen, forecast.pieces_seen, forecast.watched_years
            ),
        ),
        (
            "beforehand",
            format!(
                "{} needs in {} {}{}",
                number(forecast.prior.shape),
                number(forecast.prior.years),
                if number(forecast.prior.years) == "1" {
                    "year"
                } else {
                    "years"
                },
                match forecast.prior.parts {
                    0 => String::new(),
                    parts => format!(", learned from {parts} like parts"),
                }
            ),
        ),
    ];
    input::facts(out, &lines)?;
    input::findings(out, forecast.findings.iter().map(demand::Finding::describe))
}

/// A chance in per cent; what is nearly certain is not told as certain.
fn chance(part: f64) -> String {
    let percent = part * 100.0;
    match percent {
        _ if percent < 1.0 => "under 1 %".to_owned(),
        _ if percent > 99.0 => format!("{:.1} %", percent.min(99.9)),
        _ => format!("{percent:.0} %"),
    }
}

fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
