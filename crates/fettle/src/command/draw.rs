//! `fettle draw`: a rack or gear to have made.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use fettle_draw::part as files;
use fettle_measure::gear::mesh::{self, Mate};
use fettle_measure::gear::part::{Dimensions, Finding, Form, Hole, Options, Part, Slot, Span};
use serde::Serialize;

use crate::error::CliError;
use crate::input;
use crate::json;

/// A rack or spur gear as a file for the one who makes it.
///
/// The ending of the file says what it is for: `.svg` to print at its size and hold a part
/// against it, `.dxf` for wire erosion or laser, `.step` (a closed solid with true curves) for
/// milling or printing. All lengths are millimetres.
///
/// Teeth are involute in standard proportions: addendum one module, dedendum 1.25, tooth equal to
/// gap; no backlash unless it is asked for. Places of holes and slots are told from a gear's
/// centre, or from the left end of a rack and its pitch line, upwards.
///
/// Check the part that comes back before it is fitted: measure over the teeth that the sheet
/// names.
///
///   fettle draw gear --module-mm 0.4 --teeth 14 --thickness-mm 2 --bore-mm 2.5 --backlash-mm 0.02 -o pinion.step
///   fettle draw rack --module-mm 0.4 --teeth 22 --thickness-mm 2 --height-mm 3 --hole-mm 1.7@4,-2 --slot-mm 4x1.7@20,-2 -o rack.dxf
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// `rack` or `gear`.
    #[arg(value_name = "FORM", value_parser = form)]
    form: Form,
    /// The module: pitch divided by pi.
    #[arg(long, value_name = "MM")]
    module_mm: f64,
    /// How many teeth.
    #[arg(long, value_name = "COUNT")]
    teeth: u32,
    /// The pressure angle.
    #[arg(long, value_name = "DEGREES", default_value_t = 20.0)]
    angle_deg: f64,
    /// Thickness of the stuff it is cut from.
    #[arg(long, value_name = "MM")]
    thickness_mm: f64,
    /// A gear's bore.
    #[arg(long, value_name = "MM")]
    bore_mm: Option<f64>,
    /// A gear's profile shift, in modules.
    #[arg(
        long,
        value_name = "X",
        default_value_t = 0.0,
        allow_hyphen_values = true
    )]
    shift: f64,
    /// How much thinner each tooth is along the pitch line.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    backlash_mm: f64,
    /// How far the flanks are eased at their tips.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    tip_relief_mm: f64,
    /// Height of a rack's body below its gaps; 3 modules without it.
    #[arg(long, value_name = "MM")]
    height_mm: Option<f64>,
    /// A round hole, its diameter and its middle; may be given many times.
    #[arg(long, value_name = "D@X,Y", value_parser = hole, allow_hyphen_values = true)]
    hole_mm: Vec<Hole>,
    /// A slot with round ends, its length along x, its width along y, and its middle; may be given many times.
    #[arg(long, value_name = "LxW@X,Y", value_parser = slot, allow_hyphen_values = true)]
    slot_mm: Vec<Slot>,
    /// A gear's mate is a rack: the span's limits then leave the pair its backlash.
    #[arg(long, conflicts_with = "mate_teeth")]
    rack: bool,
    /// A gear's mate is a gear with so many teeth.
    #[arg(long, value_name = "COUNT")]
    mate_teeth: Option<u32>,
    /// The mate's profile shift, in modules.
    #[arg(
        long,
        value_name = "X",
        default_value_t = 0.0,
        allow_hyphen_values = true
    )]
    mate_shift: f64,
    /// How far the pair is pulled apart from the distance without backlash.
    #[arg(long, value_name = "MM", default_value_t = 0.0)]
    apart_mm: f64,
    /// The file to write: .svg, .dxf or .step.
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

fn form(text: &str) -> Result<Form, String> {
    match text {
        "rack" => Ok(Form::Rack),
        "gear" => Ok(Form::Gear),
        _ => Err("write rack or gear".to_owned()),
    }
}

fn hole(text: &str) -> Result<Hole, String> {
    Hole::read(text)
        .ok_or_else(|| "a diameter and a place in mm are wanted, such as 1.7@4,-2".to_owned())
}

fn slot(text: &str) -> Result<Slot, String> {
    Slot::read(text)
        .ok_or_else(|| "length, width and a place in mm are wanted, such as 4x1.7@20,-2".to_owned())
}

#[derive(Serialize)]
struct Answer<'a> {
    file: String,
    bytes: usize,
    options: &'a Options,
    dimensions: &'a Dimensions,
    volume_mm3: f64,
    pair: Option<&'a mesh::Report>,
    span_in_pair: Option<Span>,
    findings: &'a [Finding],
}

/// Draws the part and writes the file, whole or not at all.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    if args.form == Form::Gear && args.height_mm.is_some() {
        return Err(CliError::Arguments(
            "--height-mm: a gear has no body below its gaps: leave it out".to_owned(),
        ));
    }
    let options = Options {
        angle_rad: args.angle_deg.to_radians(),
        bore_mm: args.bore_mm,
        shift: args.shift,
        backlash_mm: args.backlash_mm,
        tip_relief_mm: args.tip_relief_mm,
        height_mm: args
            .height_mm
            .unwrap_or_else(|| Options::usual_height_mm(args.module_mm)),
        holes: args.hole_mm.clone(),
        slots: args.slot_mm.clone(),
        ..Options::new(args.form, args.module_mm, args.teeth, args.thickness_mm)
    };
    let part = options
        .part()
        .map_err(|error| CliError::Arguments(error.to_string()))?;
    let pair = pair(args, &part)?;
    let text = drawn(&part, &args.output)?;
    write_whole(&args.output, text.as_bytes())?;
    if args.json {
        let answer = Answer {
            file: args.output.display().to_string(),
            bytes: text.len(),
            options: &part.options,
            dimensions: &part.dimensions,
            volume_mm3: part.volume_mm3(),
            pair: pair.as_ref(),
            span_in_pair: pair.as_ref().and_then(|pair| part.span_in(pair)),
            findings: &part.findings,
        };
        return json::write(out, &answer);
    }
    writeln!(
        out,
        "  written to {}, {} bytes",
        args.output.display(),
        text.len()
    )?;
    input::facts(out, &files::data(&part, pair.as_ref()))?;
    input::findings(out, part.findings.iter().map(Finding::describe))
}

/// The pair that a gear runs in, where its mate was told.
fn pair(args: &Args, part: &Part) -> Result<Option<mesh::Report>, CliError> {
    let mate = match args.mate_teeth {
        Some(teeth) => Mate::Gear { teeth },
        None if args.rack => Mate::Rack,
        None => return Ok(None),
    };
    if args.form == Form::Rack {
        return Err(CliError::Arguments(
            "--rack, --mate-teeth: only a gear's span takes its limits from a mate; draw the gear with them".to_owned(),
        ));
    }
    let options = mesh::Options {
        mate_shift: args.mate_shift,
        apart_mm: args.apart_mm,
        ..part.options.pair(mate)
    };
    mesh::analyse(&options)
        .map(Some)
        .map_err(|error| CliError::Arguments(error.to_string()))
}

fn drawn(part: &Part, path: &Path) -> Result<String, CliError> {
    let ending = path.extension().and_then(|ending| ending.to_str());
    let name = path.file_stem().and_then(|name| name.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("svg") => Ok(files::svg(part)),
        Some("dxf") => Ok(files::dxf(part)),
        Some("step" | "stp") => Ok(files::step(part, name.unwrap_or("part"))),
        _ => Err(CliError::Arguments(format!(
            "--output: {} does not say what to draw: end its name in .svg, .dxf or .step",
            path.display()
        ))),
    }
}

/// Beside the place first, so that a full disk leaves no half drawing for a machine to cut.
fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), CliError> {
    let wrong = |error: &std::io::Error| CliError::file("write", path, error);
    let mut beside = path.as_os_str().to_owned();
    beside.push(".part");
    let beside = PathBuf::from(beside);
    let written = fs::write(&beside, bytes).and_then(|()| fs::rename(&beside, path));
    written.map_err(|error| {
        let _ = fs::remove_file(&beside);
        wrong(&error)
    })
}
