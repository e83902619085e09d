//! `fettle meter`: an exposure meter against known light.

use std::io::Write;
use std::path::PathBuf;

use fettle_measure::meter::{self, Aids, CardStep, Options, OptionsError, Report, Response};

use crate::error::CliError;
use crate::input::{self, with_u};
use crate::json;
use crate::table::{Align, Table};

/// An exposure meter against known light, with its correction card.
///
/// The readings give the error over the range: offset, slope, and curvature or, for an aged cell, a knee. Readings that no curve
/// explains are named and left out. The scale is set by the shift that leaves the least worst error; what is left stands on the
/// card. Every estimate carries its 95 % interval.
///
/// The table has the columns `true_ev` and `indicated_ev`, both at ISO 100. Instead of `true_ev` it may have `luminance_cd_m2` or
/// `illuminance_lx`, instead of `indicated_ev` `current_ua` with --response; `resolution_stops` may say how finely each was read.
///
///   fettle meter run.csv
///   fettle meter run.csv --limit-stops 0.5 --click-stops 0.333 --json
///   fettle meter cell.csv --response 12,85,0.9
///
/// Old light cells hold selenium or cadmium, old button cells mercury: do not file or burn them, wash hands, dispose of them as
/// local rules ask.
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The readings.
    #[arg(value_name = "RUN")]
    run: PathBuf,
    /// How far it may be off either way.
    #[arg(long, value_name = "STOPS", default_value_t = 0.5)]
    limit_stops: f64,
    /// Least step in which its scale or dial can be set; without it anywhere.
    #[arg(long, value_name = "STOPS")]
    click_stops: Option<f64>,
    /// Step in which it was read; without it as seen from the readings.
    #[arg(long, value_name = "STOPS")]
    resolution_stops: Option<f64>,
    /// A row of the card for each half EV instead of each whole one.
    #[arg(long)]
    half_steps: bool,
    /// Constant of reflected light, for `luminance_cd_m2` (ISO 2720).
    #[arg(long, value_name = "K", default_value_t = meter::light::K)]
    constant_k: f64,
    /// Constant of incident light, for `illuminance_lx` (ISO 2720): 250 flat, about 330 for a dome.
    #[arg(long, value_name = "C", default_value_t = meter::light::C_FLAT)]
    constant_c: f64,
    /// For `current_ua`: the current at one EV, and by how many doublings it rises for each.
    #[arg(long, value_name = "EV,UA,RISE", value_parser = response)]
    response: Option<Response>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn response(text: &str) -> Result<Response, String> {
    let numbers: Result<Vec<f64>, _> = text.split(',').map(|part| part.trim().parse()).collect();
    match numbers.as_deref() {
        Ok([ev, current, rise]) => Response::log_linear(*ev, *current, *rise).map_err(|error| error.to_string()),
        _ => Err("a response is three numbers, such as 12,85,0.9: 85 µA at EV 12, doubled 0.9 times for each EV".to_owned()),
    }
}

/// Reads the run and prints the report.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let options = options(args).map_err(|error| CliError::Arguments(error.to_string()))?;
    let aids = Aids {
        k: args.constant_k,
        c: args.constant_c,
        response: args.response.clone(),
    };
    let bytes = input::read(&args.run)?;
    let readings =
        meter::read_with(&bytes, &aids).map_err(|error| input::wrong(&args.run, &error))?;
    let report =
        meter::analyse(&readings, &options).map_err(|error| input::wrong(&args.run, &error))?;
    if args.json {
        return json::write(out, &report);
    }
    print(out, &report)
}

fn options(args: &Args) -> Result<Options, OptionsError> {
    let mut options = Options::default().with_limit(args.limit_stops)?;
    if let Some(click) = args.click_stops {
        options = options.with_click(click)?;
    }
    if let Some(step) = args.resolution_stops {
        options = options.with_resolution(step)?;
    }
    let step = if args.half_steps {
        CardStep::Half
    } else {
        CardStep::Whole
    };
    Ok(options.with_card_step(step))
}

fn print(out: &mut dyn Write, report: &Report) -> Result<(), CliError> {
    let mut lines = vec![(
        "error in the middle",
        format!(
            "{} at EV {:.1}",
            with_u(report.offset_stops, report.offset_stops_u, "stops"),
            report.centre_ev
        ),
    )];
    if let Some(slope) = report.slope_stops_per_ev {
        lines.push((
            "slope",
            with_u(slope, report.slope_stops_per_ev_u, "stops for each EV"),
        ));
    }
    if let Some(bend) = report.curvature {
        lines.push((
            "curvature",
            with_u(bend, report.curvature_u, "stops for each EV squared"),
        ));
    }
    if let Some(knee) = report.knee_ev {
        lines.push(("knee", with_u(knee, report.knee_ev_u, "EV")));
    }
    let limit = report.limit_stops;
    lines.extend([
        (
            "worst error as found",
            format!(
                "{:.2} stops, {} against ± {limit}",
                report.worst_before_stops,
                input::verdict(report.verdict_before)
            ),
        ),
        (
            "set the scale by",
            format!("{:+.3} stops", report.shift_stops),
        ),
        (
            "worst error then",
            format!(
                "{:.2} stops, {}",
                report.worst_after_stops,
                input::verdict(report.verdict)
            ),
        ),
    ]);
    if let (Some(from), Some(to)) = (report.usable_from_ev, report.usable_to_ev) {
        lines.push(("inside then", format!("from EV {from:.1} to EV {to:.1}")));
    }
    input::facts(out, &lines)?;
    if !report.card.is_empty() {
        writeln!(out, "\n  correction card")?;
        let mut card = Table::new([
            ("it shows, EV", Align::Decimal),
            ("add, stops", Align::Decimal),
        ]);
        for row in &report.card {
            card.row([
                row.indicated_ev.to_string(),
                with_u(row.add_stops, row.add_stops_u, ""),
            ]);
        }
        card.print(out)?;
    }
    input::findings(out, report.findings.iter().map(meter::Finding::describe))
}
