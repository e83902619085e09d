//! `fettle mesh`: what a pair of gears does when it is pulled apart, and what gear a worn one was.

use std::io::Write;

use fettle_measure::OptionError;
use fettle_measure::gear::Cutter;
use fettle_measure::gear::identify::{self, Over};
use fettle_measure::gear::mesh::{self, Mate, Options};
use serde::Serialize;

use crate::error::CliError;
use crate::input::{self, with_u};
use crate::json;

/// How a pinion drives a rack or another gear, and how much play the drive bears.
///
/// Backlash, contact ratio and working depth at a withdrawal from the distance without backlash;
/// the withdrawal at which the drive ceases to be continuous, and the one at which teeth ride
/// over one another. With a bearing's play and the two lever arms, the same for the play.
///
/// When the module is not known it is worked out from a caliper's readings: the tip diameter,
/// spans over k and k + 1 teeth, a rack's length over n pitches. Involute teeth in standard
/// proportions are meant; instrument gearing is not always involute.
///
///   fettle mesh --module-mm 0.5 --teeth 12 --rack --apart-mm 0.1
///   fettle mesh --module-mm 0.4 --teeth 12 --mate-teeth 40 --play-mm 0.1 --arm-mm 8 --mesh-arm-mm 14
///   fettle mesh --teeth 14 --tip-mm 8.02 --span-mm 2x2.33 --span-mm 3x3.81 --rack-mm 20x31.42 --rack
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The module: pitch divided by pi.
    #[arg(long, value_name = "MM", conflicts_with_all = ["tip_mm", "span_mm", "rack_mm"])]
    module_mm: Option<f64>,
    /// The pinion's teeth.
    #[arg(long, value_name = "COUNT")]
    teeth: Option<u32>,
    /// The pinion drives a rack.
    #[arg(long, conflicts_with = "mate_teeth")]
    rack: bool,
    /// The pinion drives a gear of so many teeth.
    #[arg(long, value_name = "COUNT")]
    mate_teeth: Option<u32>,
    /// The pressure angle; 20 unless given or told by readings.
    #[arg(long, value_name = "DEGREES")]
    angle_deg: Option<f64>,
    /// The pinion's profile shift, in modules.
    #[arg(long, value_name = "X", default_value_t = 0.0, allow_hyphen_values = true, conflicts_with_all = ["tip_mm", "span_mm", "rack_mm"])]
    shift: f64,
    /// The mate's profile shift, in modules.
    #[arg(
        long,
        value_name = "X",
        default_value_t = 0.0,
        allow_hyphen_values = true
    )]
    mate_shift: f64,
    /// What cut the gears: `sharp`, a rack 1.25 modules deep that undercuts few teeth, or `none` that undercuts.
    #[arg(long, value_name = "CUTTER", default_value = "sharp", value_parser = cutter)]
    cutter: Cutter,
    /// How far the pair is pulled apart from the distance without backlash.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    apart_mm: f64,
    /// Play of a bearing or screw, in the direction in which the teeth part.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    play_mm: f64,
    /// From the place about which the part tilts to that bearing or screw.
    #[arg(long, value_name = "MM")]
    arm_mm: Option<f64>,
    /// From the same place to the mesh.
    #[arg(long, value_name = "MM")]
    mesh_arm_mm: Option<f64>,
    /// Read: the pinion's diameter over its tips.
    #[arg(long, value_name = "MM")]
    tip_mm: Option<f64>,
    /// Read: a span between the caliper's jaws over so many teeth; give it for k and k + 1.
    #[arg(long, value_name = "TEETHxMM", value_parser = over)]
    span_mm: Vec<Over>,
    /// Read: the length of the rack over so many pitches, flank to like flank.
    #[arg(long, value_name = "PITCHESxMM", value_parser = over)]
    rack_mm: Option<Over>,
    /// What a reading of the caliper may be off, as the half-width of a 95 % interval.
    #[arg(long, value_name = "MM", default_value_t = 0.02)]
    caliper_mm: f64,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn cutter(text: &str) -> Result<Cutter, String> {
    match text {
        "sharp" => Ok(Cutter::Sharp),
        "none" => Ok(Cutter::None),
        _ => Err("write sharp or none".to_owned()),
    }
}

fn over(text: &str) -> Result<Over, String> {
    let read = text.split_once(['x', 'X', '×']);
    let read = read.and_then(|(n, mm)| Some((n.trim().parse().ok()?, mm.trim().parse().ok()?)));
    let (teeth, mm) =
        read.ok_or("a count and a length in mm are wanted, such as 3x7.62 for 7.62 mm over 3")?;
    Ok(Over { teeth, mm })
}

#[derive(Serialize)]
struct Answer {
    #[serde(flatten)]
    mesh: Option<mesh::Report>,
    #[serde(skip_serializing_if = "Option::is_none")]
    identified: Option<identify::Report>,
}

/// Works out the pair and prints it.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let answer = answer(args)?;
    if args.json {
        return json::write(out, &answer);
    }
    if let Some(report) = &answer.identified {
        print_identified(out, report)?;
    }
    if let Some(report) = &answer.mesh {
        if answer.identified.is_some() {
            writeln!(out)?;
        }
        print_mesh(out, report)?;
    }
    Ok(())
}

fn answer(args: &Args) -> Result<Answer, CliError> {
    let wrong = |error: OptionError| CliError::Arguments(error.to_string());
    let is_read = args.tip_mm.is_some() || !args.span_mm.is_empty() || args.rack_mm.is_some();
    let mate = match (args.rack, args.mate_teeth) {
        (true, _) => Some(Mate::Rack),
        (false, Some(teeth)) => Some(Mate::Gear { teeth }),
        (false, None) => None,
    };
    if !is_read {
        let missing = |option, what| CliError::Arguments(format!("{option}: missing: give {what}"));
        let module_mm = args
            .module_mm
            .ok_or_else(|| missing("--module-mm", "it, or --tip-mm and --span-mm as read"))?;
        let teeth = args
            .teeth
            .ok_or_else(|| missing("--teeth", "the pinion’s count"))?;
        let mate = mate.ok_or_else(|| missing("--rack", "it, or --mate-teeth"))?;
        let options = options(args, module_mm, teeth, mate);
        let mesh = mesh::analyse(&options).map_err(wrong)?;
        return Ok(Answer {
            mesh: Some(mesh),
            identified: None,
        });
    }
    let read = identify::Options {
        tip_mm: args.tip_mm,
        spans: args.span_mm.clone(),
        rack: args.rack_mm,
        angle_deg: args.angle_deg,
        caliper_mm: args.caliper_mm,
        ..identify::Options::new(args.teeth)
    };
    let identified = identify::analyse(&read).map_err(|error| match error {
        identify::IdentifyError::Option(error) => wrong(error),
        counts @ identify::IdentifyError::Count { .. } => CliError::work(counts),
    })?;
    let mesh = match (mate, args.teeth, identified.settled()) {
        (Some(mate), Some(teeth), Some(gear)) => {
            let options = options(args, gear.module_mm, teeth, mate).of(&gear);
            Some(mesh::analyse(&options).map_err(wrong)?)
        }
        (Some(_), _, None) => {
            return Err(CliError::Arguments(
                "--angle-deg: missing: the readings do not settle the pressure angle, which the mesh needs; 14.5 and 20 are usual"
                    .to_owned(),
            ));
        }
        _ => None,
    };
    Ok(Answer {
        mesh,
        identified: Some(identified),
    })
}

fn options(args: &Args, module_mm: f64, teeth: u32, mate: Mate) -> Options {
    let pair = Options::new(module_mm, teeth, mate);
    Options {
        angle_deg: args.angle_deg.unwrap_or(pair.angle_deg),
        shift: args.shift,
        mate_shift: args.mate_shift,
        cutter: args.cutter,
        apart_mm: args.apart_mm,
        play_mm: args.play_mm,
        arm_mm: args.arm_mm,
        mesh_arm_mm: args.mesh_arm_mm,
        ..pair
    }
}

fn print_identified(out: &mut dyn Write, report: &identify::Report) -> Result<(), CliError> {
    let mut lines = vec![(
        "module",
        with_u(report.module_mm, Some(report.module_mm_u), "mm"),
    )];
    lines.extend(
        report
            .angle_deg
            .map(|deg| ("pressure angle", with_u(deg, report.angle_deg_u, "degrees"))),
    );
    lines.extend(
        report
            .shift
            .map(|shift| ("profile shift", with_u(shift, report.shift_u, "modules"))),
    );
    if report.options.angle_deg.is_none() {
        lines.extend(report.usual.iter().map(|usual| {
            let module = with_u(usual.module_mm, Some(usual.module_mm_u), "mm");
            let shift = with_u(usual.shift, Some(usual.shift_u), "modules");
            let at = format!(
                "{} degrees: module {module}, profile shift {shift}",
                usual.angle_deg
            );
            ("bears", at)
        }));
    }
    input::facts(out, &lines)?;
    input::findings(out, report.findings.iter().map(identify::Finding::describe))
}

fn print_mesh(out: &mut dyn Write, report: &mesh::Report) -> Result<(), CliError> {
    let mm = |value: f64| format!("{value:.3} mm");
    let mut lines = vec![
        ("pulled apart by", mm(report.apart_mm)),
        ("distance", mm(report.distance_mm)),
        ("backlash", mm(report.backlash_mm)),
        (
            "contact ratio",
            format!(
                "{:.2}, without undercut {:.2}",
                report.contact_ratio, report.contact_ratio_no_undercut
            ),
        ),
        ("working depth", mm(report.working_depth_mm)),
        (
            "drive continuous to",
            report.apart_limit_mm.map_or_else(
                || "at no distance".to_owned(),
                |limit| format!("{limit:.3} mm apart"),
            ),
        ),
        (
            "teeth ride over from",
            format!("{:.3} mm apart", report.ride_over_mm),
        ),
    ];
    if let Some(play) = report.play_limit_mm {
        lines.push((
            "play it bears",
            format!("{play:.3} mm until the drive is no longer continuous"),
        ));
    }
    if let Some(play) = report.play_ride_over_mm {
        lines.push((
            "play to ride over",
            format!("{play:.3} mm until teeth ride over one another"),
        ));
    }
    input::facts(out, &lines)?;
    input::findings(out, report.findings.iter().map(mesh::Finding::describe))
}
