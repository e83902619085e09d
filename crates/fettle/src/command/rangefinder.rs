//! `fettle rangefinder`: the rangefinder against the lens.

use std::io::Write;
use std::path::PathBuf;

use fettle_measure::Refused;
use fettle_measure::rangefinder::{self, Adjuster, Options, Report};

use crate::error::CliError;
use crate::input::{self, with_u};
use crate::json;
use crate::table::{Align, Table};

/// The rangefinder against the lens, from taped distances.
///
/// At each distance the images are brought together and the lens's extension from infinity is read. A weighted line through the
/// extensions over the ideal ones gives infinity and rate; what is off is told in depths, f-number times circle of confusion, and
/// the settings are those that leave the least error at the worst distance.
///
/// The table has the columns `distance_m`, from the film plane, a number or inf; `extension_mm`; and `vertical_arcmin` where the height
/// of the images was looked at.
///
///   fettle rangefinder taped.csv --focal-mm 50 --f 2 --coc-mm 0.03
///   fettle rangefinder taped.csv --focal-mm 50 --f 2 --coc-mm 0.03 --base-mm 38 --magnification 0.7 --json
///   fettle rangefinder taped.csv --focal-mm 50 --f 2 --coc-mm 0.03 --adjuster 'eccentric=0.2,0.01' --adjuster 'roller=0,0.05'
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The readings.
    #[arg(value_name = "RUN")]
    run: PathBuf,
    /// Focal length of the lens.
    #[arg(long, value_name = "MM")]
    focal_mm: f64,
    /// Its widest f-number.
    #[arg(long, value_name = "N")]
    f: f64,
    /// Circle of confusion.
    #[arg(long, value_name = "MM")]
    coc_mm: f64,
    /// How many depths it may be off at any distance.
    #[arg(long, value_name = "DEPTHS", default_value_t = 1.0)]
    limit_depths: f64,
    /// Base of the finder; without it nothing is said about angles.
    #[arg(long, value_name = "MM")]
    base_mm: Option<f64>,
    /// Magnification of the finder.
    #[arg(long, value_name = "M", default_value_t = 1.0)]
    magnification: f64,
    /// Separation of the lens's nodal points.
    #[arg(
        long,
        value_name = "MM",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    nodal_mm: f64,
    /// How finely the eye sets coincidence, in seconds of arc: 60 superimposed, 10 to 20 split.
    #[arg(long, value_name = "ARCSEC", default_value_t = 60.0)]
    eye_arcsec: f64,
    /// Standard deviation of a taped distance, beside a thousandth of it.
    #[arg(long, value_name = "MM", default_value_t = 1.0)]
    tape_mm: f64,
    /// Nearest distance of the lens's scale; without it that of the readings.
    #[arg(long, value_name = "M")]
    nearest_m: Option<f64>,
    /// What a turn of an adjuster adds to `infinity_mm` and to the rate, up to two of them.
    #[arg(long, value_name = "NAME=MM,RATE", value_parser = adjuster)]
    adjuster: Vec<Adjuster>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn adjuster(text: &str) -> Result<Adjuster, String> {
    let read = text.split_once('=').and_then(|(name, effects)| {
        let (infinity, rate) = effects.split_once(',')?;
        Some(Adjuster {
            name: name.trim().to_owned(),
            infinity_mm_per_turn: infinity.trim().parse().ok()?,
            rate_per_turn: rate.trim().parse().ok()?,
        })
    });
    read.ok_or_else(|| "an adjuster is a name and what one turn adds to infinity_mm and rate, such as eccentric=0.2,0.01".to_owned())
}

/// Reads the run and prints the report.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let options = Options {
        nodal_mm: args.nodal_mm,
        limit_depths: args.limit_depths,
        base_mm: args.base_mm,
        magnification: args.magnification,
        eye_arcsec: args.eye_arcsec,
        tape_mm: args.tape_mm,
        nearest_m: args.nearest_m,
        adjusters: args.adjuster.clone(),
        ..Options::new(args.focal_mm, args.f, args.coc_mm)
    };
    options
        .check()
        .map_err(|error| CliError::Arguments(error.to_string()))?;
    let bytes = input::read(&args.run)?;
    let report = rangefinder::read(&bytes)
        .map_err(Refused::from)
        .and_then(|readings| rangefinder::analyse(&readings, &options));
    let report = report.map_err(|error| input::refused(&args.run, &error))?;
    if args.json {
        return json::write(out, &report);
    }
    print(out, &report)
}

fn print(out: &mut dyn Write, report: &Report) -> Result<(), CliError> {
    let settings = &report.settings;
    let mut lines = vec![
        (
            "infinity",
            with_u(report.infinity_mm, report.infinity_mm_u, "mm"),
        ),
        ("rate", with_u(report.rate, report.rate_u, "")),
        (
            "off at most by",
            with_u(report.worst_in_depths, report.worst_in_depths_u, "depths"),
        ),
        (
            "verdict",
            format!(
                "{} against ± {} depths",
                input::verdict(report.verdict),
                report.options.limit_depths
            ),
        ),
        (
            "set infinity by",
            format!("{:+.4} mm", settings.infinity_change_mm),
        ),
        (
            "set the rate by",
            format!("a factor of {:.5}", settings.rate_factor),
        ),
        (
            "then off at most by",
            with_u(report.left_in_depths, report.left_in_depths_u, "depths"),
        ),
    ];
    for it in &settings.turns {
        lines.push(("turn", format!("{} by {:+.3} turns", it.name, it.turns)));
    }
    if let Some(vertical) = &report.vertical {
        let verdict = input::verdict(vertical.verdict);
        lines.push((
            "one image above the other",
            format!(
                "{}, {verdict}",
                with_u(vertical.mean_arcmin, vertical.mean_arcmin_u, "arcmin")
            ),
        ));
    }
    if let Some(base) = &report.base {
        lines.push((
            "base times magnification",
            format!(
                "{:.1} mm; this lens needs {:.1} mm",
                base.effective_mm, base.needed_mm
            ),
        ));
    }
    input::facts(out, &lines)?;
    writeln!(out)?;
    let mut table = Table::new([
        ("distance", Align::Right),
        ("read, mm", Align::Decimal),
        ("should be", Align::Decimal),
        ("off by, depths", Align::Decimal),
        ("after the settings", Align::Decimal),
    ]);
    for it in &report.residuals {
        table.row([
            metres(it.distance_m),
            format!("{:.3}", it.extension_mm),
            format!("{:.3}", it.ideal_mm),
            with_u(it.residual_depths, it.residual_depths_u, ""),
            format!("{:+.2}", it.left_depths),
        ]);
    }
    table.print(out)?;
    if let Some(next) = report.next.first() {
        writeln!(
            out,
            "\n  read next at {}: ± {:.2} depths where it is known worst become ± {:.2}",
            metres(next.distance_m),
            next.worst_before_depths,
            next.worst_after_depths
        )?;
    }
    input::findings(
        out,
        report.findings.iter().map(rangefinder::Finding::describe),
    )
}

fn metres(distance_m: f64) -> String {
    if distance_m.is_finite() {
        format!("{distance_m} m")
    } else {
        "infinity".to_owned()
    }
}
