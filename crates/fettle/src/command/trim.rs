//! `fettle trim`: the next turn of the adjusters, from the trials so far.

use std::io::Write;
use std::path::PathBuf;

use fettle_measure::trim::{self, Advice, State};

use crate::error::CliError;
use crate::table::{Align, Table};
use crate::{input, json};

/// What to turn next, so that a setting comes inside its limits in few trials.
///
/// The file says what one turn of each adjuster does by the service notes, what is read and how far it may be off, and the trials
/// so far, the first as found with nothing turned. Each trial teaches what the adjusters of this camera really do; the next
/// turn is the one with the best chance that all readings are inside, with the least movement.
///
///   fettle trim rangefinder.json
///   fettle trim rangefinder.json --json
///
/// The format of the file is told in docs/instruments.md.
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The adjusters, what is asked of the readings, and the trials.
    #[arg(value_name = "STATE")]
    state: PathBuf,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

/// Reads the state and prints the advice.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let bytes = input::read(&args.state)?;
    let state = trim::read(&bytes).map_err(|error| input::wrong(&args.state, &error))?;
    let advice = trim::advise(&state).map_err(|error| input::wrong(&args.state, &error))?;
    if args.json {
        return json::write(out, &advice);
    }
    print(out, &state, &advice)
}

fn print(out: &mut dyn Write, state: &State, advice: &Advice) -> Result<(), CliError> {
    if advice.inside {
        writeln!(out, "All readings are inside; nothing more to turn")?;
    } else {
        let mut turns = Table::new([
            ("turn next", Align::Left),
            ("turns", Align::Decimal),
            ("degrees", Align::Decimal),
        ]);
        for (adjuster, turn) in state.adjusters.iter().zip(&advice.turns) {
            let degrees = turn * 360.0;
            turns.row([
                adjuster.name.clone(),
                format!("{turn:+.3}"),
                format!("{degrees:+.0}"),
            ]);
        }
        turns.print(out)?;
        writeln!(out)?;
    }
    let mut readings = Table::new([
        ("reading", Align::Left),
        ("now", Align::Decimal),
        ("then, to be expected", Align::Decimal),
        ("should be", Align::Decimal),
    ]);
    for (i, reading) in state.readings.iter().enumerate() {
        let with = |value: &[Option<f64>], u: &[Option<f64>]| {
            let figure = value
                .get(i)
                .copied()
                .flatten()
                .zip(u.get(i).copied().flatten());
            figure.map_or_else(
                || "unknown".to_owned(),
                |(value, u)| format!("{value:.4} ± {u:.4}"),
            )
        };
        readings.row([
            reading.name.clone(),
            with(&advice.now, &advice.now_u),
            with(&advice.predicted, &advice.predicted_u),
            format!("{} ± {} {}", reading.target, reading.limit, reading.unit),
        ]);
    }
    readings.print(out)?;
    input::findings(out, advice.findings.iter().map(trim::Finding::describe))
}
