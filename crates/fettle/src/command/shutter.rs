//! `fettle shutter`: exposure times from recordings.

mod check;
mod options;
mod text;

use std::fs::File;
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};

use fettle_measure::shutter::{self, Shot, analyse};
use fettle_measure::{Recording, recording};

use self::options::Session;
use crate::error::CliError;
use crate::json;

/// Measure exposure times from recordings of a shutter.
///
/// A light sensor stands behind the shutter, a lamp before it; the sensor's voltage is recorded
/// through a sound card's line input (WAV, FLAC or AIFF) or a logger (CSV: a column of seconds, then volts).
/// Several files are one session: they share the dial, the fully open level and the recorder's
/// properties.
///
/// What the sound card does to the signal is found and undone: blocked steady light, offset,
/// polarity, hum. Every time comes with its expanded uncertainty (k = 2), and the verdict is `in` or
/// `out` only when the whole interval lies on one side of the limit.
///
/// With `--sense sound` a microphone near the camera hears clicks instead. A time is told only for
/// slow speeds, where one pair of clicks alone can be opening and closing; everywhere else the pairs
/// that could be are listed. Above about 1/30 clicks overlap: record light.
///
///   fettle shutter session.wav --speeds 1,1/2,1/5,1/10,1/25,1/50,1/100,1/250,1/500
///   fettle shutter session.wav --notes corran-66.toml
///   fettle shutter --check by-hand.wav --notes corran-66.toml
///   fettle shutter slow.wav fast.wav --speeds 1,1/2,1/4,1/8,1/15,1/30,1/60,1/125 --json
///   fettle shutter three.wav --kind focal-plane --sensors-mm 3,18,33 --gate-mm 36
///
/// A focal-plane shutter wants three sensors along its gate, each on a channel of its own; one in the
/// middle gives the times alone. A flash contact on a channel named by --flash-channel is held
/// against the moment of full opening. Discharge a flash unit before its contact is wired to an input: it
/// can hold hundreds of volts. Wire the contact alone, through a resistor, never with the unit on it.
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The recordings: WAV, FLAC, AIFF, Ogg Vorbis, MP3 or CSV.
    #[arg(required = true, value_name = "REC")]
    recordings: Vec<PathBuf>,
    /// Prove the chain of lamp, sensor and recorder instead: the recordings show the sensor covered,
    /// uncovered and covered again by hand, at least twice, the light held for a second or more.
    #[arg(long)]
    check: bool,
    #[command(flatten)]
    session: Session,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// Reads the recordings, measures them together and prints the report.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let options = args.session.to_options(remarks)?;
    let session = args
        .recordings
        .iter()
        .map(|path| read(path))
        .collect::<Result<Vec<_>, _>>()?;
    if args.check {
        let check = shutter::check(&session, &options).map_err(|error| options::told(&error))?;
        return if args.json {
            json::write(out, &check)
        } else {
            check::print(out, &check)
        };
    }
    let report = analyse(&session, &options).map_err(|error| options::told(&error))?;
    if args.json {
        json::write(out, &report)?;
    } else {
        text::print(out, &report)?;
    }
    let is_told = |shot: &Shot| shot.effective_s.is_some() || !shot.proposals.is_empty();
    if report.shots.iter().any(is_told) {
        return Ok(());
    }
    let names: Vec<&str> = session.iter().map(Recording::name).collect();
    Err(CliError::work(format!(
        "{}: the time of no shot can be told; what was noticed says why and what to do",
        names.join(", ")
    )))
}

fn read(path: &Path) -> Result<Recording, CliError> {
    let file = File::open(path).map_err(|error| CliError::file("read", path, &error))?;
    recording::read(&path.display().to_string(), BufReader::new(file)).map_err(CliError::work)
}
