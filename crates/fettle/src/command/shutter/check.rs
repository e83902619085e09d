//! The check of a chain as text.

use std::io::Write;

use fettle_bench::{bandwidth_in_words, chain_in_words, finding_in_words, what_helps};
use fettle_measure::Stops;
use fettle_measure::shutter::{ChainCheck, ChannelCheck, ProvedMark};

use crate::error::CliError;
use crate::table::{Align, Table};

/// Prints what was noticed, and of each channel the chain and what it proves.
pub(super) fn print(out: &mut dyn Write, check: &ChainCheck) -> Result<(), CliError> {
    for finding in &check.findings {
        writeln!(out, "{}", finding_in_words(finding))?;
    }
    for channel in &check.channels {
        writeln!(out, "\n{}, channel {}", channel.recording, channel.channel)?;
        let mut facts = Table::new([("chain", Align::Left), ("", Align::Left)]);
        for (name, words) in chain_in_words(channel) {
            facts.row([name.to_owned(), words]);
        }
        facts.print(out)?;
        writeln!(
            out,
            "\nwhat it proves (uncertainty of one shot, k = 2, against a quarter of the tolerance)"
        )?;
        marks(channel).print(out)?;
    }
    Ok(())
}

fn marks(channel: &ChannelCheck) -> Table {
    let mut table = Table::new([
        ("mark", Align::Left),
        ("needed, stops", Align::Decimal),
        ("uncertainty", Align::Decimal),
        ("proves", Align::Left),
        ("most from", Align::Left),
        ("coupling would take", Align::Decimal),
        ("ISO 516 asks for", Align::Left),
        ("what would help", Align::Left),
    ]);
    for mark in &channel.marks {
        let stops = |stops: Option<Stops>| {
            stops.map_or_else(
                || "-".to_owned(),
                |stops| format!("{:.4}", stops.to_stops()),
            )
        };
        table.row([
            mark.marked.to_string(),
            stops(mark.needed_stops),
            stops(mark.uncertainty_stops),
            proves(mark).to_owned(),
            mark.largest.clone().unwrap_or_else(|| "-".to_owned()),
            format!("{:.2}", mark.uncorrected_stops.to_stops()),
            bandwidth_in_words(mark),
            helps(mark).to_owned(),
        ]);
    }
    table
}

fn proves(mark: &ProvedMark) -> &'static str {
    match mark.proves {
        Some(true) => "yes",
        Some(false) => "no",
        None => "not tried",
    }
}

/// What would help, where help is needed.
fn helps(mark: &ProvedMark) -> &'static str {
    let wanted = mark
        .largest
        .as_deref()
        .filter(|_| mark.proves == Some(false));
    wanted.and_then(what_helps).unwrap_or_default()
}
