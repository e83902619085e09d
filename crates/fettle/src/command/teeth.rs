//! `fettle teeth`: how worn each tooth is, from a photograph.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use fettle_measure::photograph::{PHOTOGRAPH_MAX_BYTES, Photograph};
use fettle_measure::teeth::{self, Comparison, Finding, Kind, Options, Report, Scale, TeethError};
use serde::Serialize;

use crate::error::CliError;
use crate::input;
use crate::json;
use crate::table::{Align, Table};

/// A photograph larger than this is no photograph.
const MOST_BYTES: u64 = PHOTOGRAPH_MAX_BYTES as u64;

/// Wear of the teeth of a rack or gear, from a photograph taken against the light.
///
/// The part lies flat before an evenly bright ground, black, teeth free all round. Each tooth is
/// held against the form that the sound ones share: the worse flank's loss, the tip's loss, the
/// place against its neighbours, lean and burrs, with what the photograph can tell of each.
///
/// The scale comes from the pitch, from pixels for a millimetre, or from a bar of known length
/// beside the part. Counts, pitches and scales that the photograph contradicts are refused, and
/// so are photographs that cannot carry the result.
///
///   fettle teeth rack.jpg --kind rack --pitch-mm 1.2566 --limit-mm 0.04
///   fettle teeth worn.jpg --kind gear --teeth 14 --bar-mm 20 --against new.jpg --json
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The photograph: JPEG, PNG or WebP.
    #[arg(value_name = "PHOTO")]
    photo: PathBuf,
    /// What it shows: `rack` or `gear`.
    #[arg(long, value_name = "KIND", value_parser = kind)]
    kind: Kind,
    /// The pitch, along the rack or on the pitch circle; with another scale it is held against that.
    #[arg(long, value_name = "MM", required_unless_present_any = ["px_per_mm", "bar_mm"])]
    pitch_mm: Option<f64>,
    /// Pixels for a millimetre at the part.
    #[arg(long, value_name = "PIXELS", conflicts_with = "bar_mm")]
    px_per_mm: Option<f64>,
    /// The length of a straight bar that lies beside the part.
    #[arg(long, value_name = "MM")]
    bar_mm: Option<f64>,
    /// What the scale may be off, as a part of it.
    #[arg(long, value_name = "PART", default_value_t = 0.005)]
    scale_rel_u: f64,
    /// How many teeth there are: all of a gear, the whole ones in sight of a rack.
    #[arg(long, value_name = "COUNT")]
    teeth: Option<u32>,
    /// What a caliper reads over a gear's tips, or over the outer flanks of a rack's teeth in sight.
    #[arg(long, value_name = "MM")]
    across_mm: Option<f64>,
    /// What a tooth may be off; without it the scatter of the sound teeth tells.
    #[arg(long, value_name = "MM")]
    limit_mm: Option<f64>,
    /// The pressure angle.
    #[arg(long, value_name = "DEGREES", default_value_t = 20.0)]
    angle_deg: f64,
    /// A photograph of a like part, new or as it was before, to compare with.
    #[arg(long, value_name = "PHOTO")]
    against: Option<PathBuf>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn kind(text: &str) -> Result<Kind, String> {
    match text {
        "rack" => Ok(Kind::Rack),
        "gear" => Ok(Kind::Gear),
        _ => Err("write rack or gear".to_owned()),
    }
}

#[derive(Serialize)]
struct Answer {
    #[serde(flatten)]
    report: Report,
    #[serde(skip_serializing_if = "Option::is_none")]
    against: Option<Report>,
    #[serde(skip_serializing_if = "Option::is_none")]
    comparison: Option<Comparison>,
}

/// Measures the photograph and prints the teeth.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let options = options(args);
    options
        .check()
        .map_err(|error| CliError::Arguments(error.to_string()))?;
    let report = measured(&args.photo, &options)?;
    let against = match &args.against {
        Some(path) => Some(measured(path, &options)?),
        None => None,
    };
    let comparison = match &against {
        Some(older) => Some(teeth::compare(older, &report).ok_or_else(|| {
            CliError::work(format!(
                "{} shows {} teeth and {} shows {}, so that they cannot be compared",
                args.photo.display(),
                report.teeth.len(),
                args.against.as_deref().unwrap_or(&args.photo).display(),
                older.teeth.len()
            ))
        })?),
        None => None,
    };
    let answer = Answer {
        report,
        against,
        comparison,
    };
    if args.json {
        return json::write(out, &answer);
    }
    print(out, &answer.report)?;
    if let Some(comparison) = &answer.comparison {
        print_comparison(out, comparison)?;
    }
    Ok(())
}

fn options(args: &Args) -> Options {
    let pitch = args.pitch_mm.unwrap_or_default();
    let scale = match (args.px_per_mm, args.bar_mm) {
        (Some(px), _) => Scale::PxPerMm(px),
        (None, Some(mm)) => Scale::BarMm(mm),
        (None, None) => Scale::PitchMm(pitch),
    };
    Options {
        scale_rel_u: args.scale_rel_u,
        teeth: args.teeth,
        pitch_mm: args.pitch_mm,
        across_mm: args.across_mm,
        limit_mm: args.limit_mm,
        angle_rad: args.angle_deg.to_radians(),
        ..Options::new(args.kind, scale)
    }
}

fn measured(path: &Path, options: &Options) -> Result<Report, CliError> {
    let about = fs::metadata(path).map_err(|error| CliError::file("read", path, &error))?;
    if about.len() > MOST_BYTES {
        return Err(CliError::Work(format!(
            "cannot read {}: it is larger than {} MB, which no photograph of a part need be; make it smaller",
            path.display(),
            MOST_BYTES / 1_000_000
        )));
    }
    let bytes = fs::read(path).map_err(|error| CliError::file("read", path, &error))?;
    let photo = Photograph::read(&bytes).map_err(|error| input::wrong(path, &error))?;
    teeth::analyse(&photo, options).map_err(|error| match error {
        TeethError::Option(error) => CliError::Arguments(error.to_string()),
        error => input::wrong(path, &error),
    })
}

fn print(out: &mut dyn Write, report: &Report) -> Result<(), CliError> {
    let lines = [
        ("teeth", report.counts.describe()),
        (
            "limit",
            format!(
                "{:.3} mm, {}",
                report.limit_mm,
                report.limit_from.describe()
            ),
        ),
        (
            "pitch",
            input::with_u(report.pitch_mm, Some(report.pitch_u_mm), "mm"),
        ),
        ("module", format!("{:.4} mm", report.module_mm)),
        (
            "scale",
            format!(
                "{:.2} pixels for a millimetre, edges spread over {:.1} pixels",
                report.px_per_mm, report.blur_px
            ),
        ),
    ];
    input::facts(out, &lines)?;
    writeln!(out)?;
    let mut table = Table::new([
        ("tooth", Align::Right),
        ("worse flank, mm", Align::Right),
        ("tip, mm", Align::Right),
        ("place, mm", Align::Right),
        ("lean, mm", Align::Right),
        ("burr, mm", Align::Right),
        ("", Align::Left),
    ]);
    let figure = |value: Option<f64>, u: Option<f64>| match (value, u) {
        (Some(value), Some(u)) => format!("{value:.3} ± {u:.3}"),
        (Some(value), None) => format!("{value:.3}"),
        (None, _) => String::new(),
    };
    for tooth in &report.teeth {
        table.row([
            tooth.n.to_string(),
            figure(tooth.flank_mm, tooth.flank_u_mm),
            figure(tooth.tip_loss_mm, tooth.tip_loss_u_mm),
            figure(tooth.pitch_error_mm, tooth.pitch_error_u_mm),
            figure(tooth.bend_mm, tooth.bend_u_mm),
            figure(tooth.burr_mm, tooth.burr_u_mm),
            tooth.verdict.as_str().to_owned(),
        ]);
    }
    table.print(out)?;
    input::findings(out, report.findings.iter().map(Finding::describe))
}

fn print_comparison(out: &mut dyn Write, comparison: &Comparison) -> Result<(), CliError> {
    writeln!(out, "\nagainst the other photograph (this one less that)")?;
    if !comparison.is_turn_sure {
        writeln!(
            out,
            "  which tooth is which is not sure: the teeth are too much alike"
        )?;
    }
    let mut table = Table::new([
        ("tooth", Align::Right),
        ("there", Align::Right),
        ("worse flank, mm", Align::Right),
        ("tip, mm", Align::Right),
        ("lean, mm", Align::Right),
        ("", Align::Left),
    ]);
    let figure = |value: Option<f64>, u: Option<f64>| match (value, u) {
        (Some(value), Some(u)) => format!("{value:+.3} ± {u:.3}"),
        _ => String::new(),
    };
    for tooth in &comparison.teeth {
        table.row([
            tooth.new_n.to_string(),
            tooth.old_n.to_string(),
            figure(tooth.flank_mm, tooth.flank_u_mm),
            figure(tooth.tip_loss_mm, tooth.tip_loss_u_mm),
            figure(tooth.bend_mm, tooth.bend_u_mm),
            format!(
                "{}, was {}",
                tooth.new_verdict.as_str(),
                tooth.old_verdict.as_str()
            ),
        ]);
    }
    table.print(out)?;
    Ok(())
}
