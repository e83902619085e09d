//! `fettle register`: how far the film lies behind the lens's seat, and how squarely.

use std::io::Write;
use std::path::PathBuf;

use fettle_measure::Refused;
use fettle_measure::register::{self, Options, Place, Report, Stock};

use crate::error::CliError;
use crate::input::{self, with_u};
use crate::json;

/// Register: the depth from lens seat to film plane.
///
/// Depths are read at four points of the film gate or more, one of them more than once. A plane is laid through them: error at the
/// frame's middle and at its worst corner, tilt, and from the shims in the drawer those that bring it right with the fewest
/// pieces. Every figure carries its 95 % interval.
///
/// The table has the columns `x_mm` and `y_mm`, from the frame's middle to the right and up as seen from the front, and `reading_mm`.
///
///   fettle register depths.csv --target-mm 43.95 --limit-mm 0.02
///   fettle register depths.csv --target-mm 43.95 --limit-mm 0.02 --shims-mm 0.05x3,0.1x2 --json
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The readings.
    #[arg(value_name = "RUN")]
    run: PathBuf,
    /// What the register should be.
    #[arg(long, value_name = "MM")]
    target_mm: f64,
    /// How far it may be off anywhere in the frame.
    #[arg(long, value_name = "MM")]
    limit_mm: f64,
    /// Width and height of the frame.
    #[arg(long, value_name = "WxH", default_value = "36x24", value_parser = input::sides)]
    frame_mm: (f64, f64),
    /// Shims in the drawer, thickness and number.
    #[arg(long, value_name = "0.05x3,0.1x2", value_parser = stock)]
    shims_mm: Option<Stock>,
    /// Where shims can be laid, from the frame's middle; without it they lie under the whole seat.
    #[arg(long, value_name = "X,Y", num_args = 1.., value_parser = place, allow_hyphen_values = true)]
    seats_mm: Vec<Place>,
    /// Standard deviation of one reading, known beforehand; without it the scatter tells.
    #[arg(long, value_name = "MM")]
    repeatability_mm: Option<f64>,
    /// Focal length, for the distance that is sharp at infinity's setting.
    #[arg(long, value_name = "MM")]
    focal_mm: Option<f64>,
    /// F-number, for the error in depths.
    #[arg(long, value_name = "N")]
    f: Option<f64>,
    /// Circle of confusion, for the error in depths.
    #[arg(long, value_name = "MM")]
    coc_mm: Option<f64>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn stock(text: &str) -> Result<Stock, String> {
    Stock::read(text).map_err(|error| error.to_string())
}

fn place(text: &str) -> Result<Place, String> {
    let read = text.split_once(',');
    let read = read.and_then(|(x, y)| Some((x.trim().parse().ok()?, y.trim().parse().ok()?)));
    let (x_mm, y_mm) = read.ok_or("a seat is two places in mm, such as -18,12")?;
    Ok(Place { x_mm, y_mm })
}

/// Reads the run and prints the report.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let options = Options {
        frame_mm: args.frame_mm,
        shims: args.shims_mm.clone().unwrap_or_default(),
        seats: args.seats_mm.clone(),
        repeatability_mm: args.repeatability_mm,
        focal_mm: args.focal_mm,
        f: args.f,
        coc_mm: args.coc_mm,
        ..Options::new(args.target_mm, args.limit_mm)
    };
    options
        .check()
        .map_err(|error| CliError::Arguments(error.to_string()))?;
    let bytes = input::read(&args.run)?;
    let report = register::read(&bytes)
        .map_err(Refused::from)
        .and_then(|readings| register::analyse(&readings, &options));
    let report = report.map_err(|error| input::refused(&args.run, &error))?;
    if args.json {
        return json::write(out, &report);
    }
    print(out, &report)
}

fn print(out: &mut dyn Write, report: &Report) -> Result<(), CliError> {
    let mut lines = vec![
        (
            "register at the middle",
            with_u(report.mean_mm, report.mean_mm_u, "mm"),
        ),
        ("off by", with_u(report.error_mm, report.error_mm_u, "mm")),
        (
            "worst corner off by",
            with_u(report.worst_mm, report.worst_mm_u, "mm"),
        ),
        (
            "tilt, corner to corner",
            with_u(report.frame_tilt_mm, report.frame_tilt_mm_u, "mm"),
        ),
    ];
    if let Some(film) = &report.at_film {
        lines.extend(
            film.error_depths
                .map(|it| ("off by, in depths", with_u(it, film.error_depths_u, ""))),
        );
        lines.extend(
            film.sharp_at_m
                .map(|it| ("sharp at infinity's setting", with_u(it, None, "m"))),
        );
    }
    lines.push((
        "verdict",
        format!(
            "{} against ± {} mm",
            input::verdict(report.verdict),
            report.options.limit_mm
        ),
    ));
    if !report.shims.is_empty() {
        let shims: Vec<String> = report.shims.iter().map(ToString::to_string).collect();
        lines.push(("add shims", format!("{} mm", shims.join(" + "))));
        lines.push((
            "then off by",
            with_u(report.left_mm, report.left_mm_u, "mm"),
        ));
    }
    input::facts(out, &lines)?;
    for seat in &report.seats {
        let shims: Vec<String> = seat.shims.iter().map(ToString::to_string).collect();
        let shims = if shims.is_empty() {
            "no shim".to_owned()
        } else {
            format!("{} mm", shims.join(" + "))
        };
        writeln!(
            out,
            "  seat {}, {}: wants {:+.3} mm, {shims}",
            seat.x_mm, seat.y_mm, seat.shim_mm
        )?;
    }
    input::findings(out, report.findings.iter().map(register::Finding::describe))
}
