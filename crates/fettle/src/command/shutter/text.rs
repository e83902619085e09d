//! The report as text.

use std::io::{self, Write};

use fettle_bench::finding_in_words;
use fettle_draw::{WrittenTime, decimals_for, signed_off, written_stops};
use fettle_measure::shutter::{Report, Shot, Speed};
use fettle_measure::{Seconds, Stops, Verdict};

use crate::error::CliError;
use crate::table::{Align, Table};

/// Prints what was recorded, what was noticed, the shots, the speeds and the smaller stops.
pub(super) fn print(out: &mut dyn Write, report: &Report) -> Result<(), CliError> {
    recorded(out, report)?;
    noticed(out, report)?;
    section(
        out,
        "shots (time ± expanded uncertainty, k = 2)",
        &shots(&report.shots),
    )?;
    section(
        out,
        "speeds (+ is longer, more exposure)",
        &speeds(&report.speeds),
    )?;
    section(out, "smaller stops", &apertures(report))?;
    section(
        out,
        "curtains (travel over the gate; evenness + is more exposure where they arrive)",
        &curtains(report),
    )?;
    section(out, "flash contact", &flash(report))?;
    section(out, "clicks", &clicks(report))?;
    section(
        out,
        "opening and closing could be (time between ± expanded uncertainty as an exposure, k = 2)",
        &proposals(&report.shots),
    )?;
    Ok(())
}

fn recorded(out: &mut dyn Write, report: &Report) -> io::Result<()> {
    for file in &report.recordings {
        let channels = file.extent.channels;
        writeln!(
            out,
            "{}: {:.1} s, {} Hz, {channels} channel{}",
            file.name,
            file.extent.seconds.to_s(),
            file.extent.sample_rate_hz.to_hz(),
            if channels == 1 { "" } else { "s" },
        )?;
    }
    Ok(())
}

fn noticed(out: &mut dyn Write, report: &Report) -> io::Result<()> {
    if report.findings.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nnoticed")?;
    for finding in &report.findings {
        let mut finding = finding.clone();
        // With one file and one channel the place goes without saying.
        if report.recordings.len() == 1 {
            finding.recording = None;
            finding.channel = finding.channel.filter(|_| report.recording.channels > 1);
        }
        writeln!(out, "  {}", finding_in_words(&finding))?;
    }
    Ok(())
}

fn section(out: &mut dyn Write, title: &str, table: &Table) -> io::Result<()> {
    if table.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n{title}")?;
    table.print(out)
}

fn shots(shots: &[Shot]) -> Table {
    let mut table = Table::new([
        ("shot", Align::Right),
        ("at", Align::Decimal),
        ("mark", Align::Left),
        ("effective", Align::Decimal),
        ("total", Align::Decimal),
        ("efficiency", Align::Right),
        ("error, stops", Align::Decimal),
        ("flags", Align::Left),
    ]);
    for shot in shots {
        let mark = shot
            .marked
            .map_or_else(|| "-".to_owned(), |mark| mark.to_string());
        let guess = if shot.guessed { "?" } else { "" };
        let flags: Vec<String> = shot.flags.iter().map(ToString::to_string).collect();
        table.row([
            shot.n.to_string(),
            format!("{:.3} s", shot.start_s.to_s()),
            format!("{mark}{guess}"),
            time(shot.effective_s, shot.uncertainty_s),
            time(shot.total_s, shot.total_uncertainty_s),
            shot.efficiency
                .map_or_else(dash, |part| format!("{:.0} %", 100.0 * part)),
            shot.error_stops.map_or_else(dash, stops),
            flags.join(", "),
        ]);
    }
    table
}

fn speeds(speeds: &[Speed]) -> Table {
    let mut table = Table::new([
        ("mark", Align::Left),
        ("nominal", Align::Decimal),
        ("shots", Align::Right),
        ("mean", Align::Decimal),
        ("spread", Align::Decimal),
        ("error, stops", Align::Decimal),
        ("limit", Align::Left),
        ("verdict", Align::Left),
    ]);
    for speed in speeds {
        let guess = if speed.guessed { "?" } else { "" };
        let verdict = match speed.verdict {
            Some(Verdict::In) => "in",
            Some(Verdict::Out) => "out",
            Some(Verdict::Undecided) if speed.unsure => "undecided: mark not sure",
            Some(Verdict::Undecided) => "undecided",
            None => "-",
        };
        table.row([
            format!("{}{guess}", speed.marked),
            time(Some(speed.nominal_s), None),
            speed.shots.to_string(),
            time(Some(speed.mean_s), None),
            time(speed.spread_s, None),
            error(speed),
            speed
                .limit_stops
                .map_or_else(dash, |limit| format!("±{:.2}", limit.to_stops())),
            verdict.to_owned(),
        ]);
    }
    table
}

fn apertures(report: &Report) -> Table {
    let mut table = Table::new([
        ("mark", Align::Left),
        ("f", Align::Decimal),
        ("effective", Align::Decimal),
        ("error, stops", Align::Decimal),
        ("over full opening, stops", Align::Decimal),
    ]);
    for stop in &report.apertures {
        table.row([
            stop.marked.to_string(),
            stop.f.to_string(),
            time(Some(stop.effective_s), None),
            stops(stop.error_stops),
            stops(stop.over_full_open_stops),
        ]);
    }
    table
}

fn curtains(report: &Report) -> Table {
    let mut table = Table::new([
        ("release", Align::Right),
        ("first curtain", Align::Decimal),
        ("second curtain", Align::Decimal),
        ("evenness, stops", Align::Decimal),
        ("effective at", Align::Left),
        ("slit", Align::Left),
    ]);
    for curtain in &report.curtains {
        let evenness = curtain
            .evenness_stops
            .map(|it| with_uncertainty(it, curtain.evenness_u_stops.unwrap_or_default()));
        let positions: Vec<String> = curtain
            .positions
            .iter()
            .map(|it| format!("{} mm {}", it.x_mm.to_mm(), time(it.effective_s, None)))
            .collect();
        let slit = match curtain.capped_from_mm {
            Some(x) => format!("closes at {:.1} mm", x.to_mm()),
            None if curtain.capped => "closes".to_owned(),
            None => String::new(),
        };
        table.row([
            curtain.n.to_string(),
            time(curtain.first_travel_s, curtain.first_travel_u_s),
            time(curtain.second_travel_s, curtain.second_travel_u_s),
            evenness.unwrap_or_else(dash),
            positions.join(", "),
            slit,
        ]);
    }
    table
}

fn flash(report: &Report) -> Table {
    let mut table = Table::new([
        ("release", Align::Right),
        ("contact to full opening", Align::Decimal),
        ("open after contact", Align::Decimal),
        ("", Align::Left),
    ]);
    for flash in &report.flash {
        let remark = match (flash.contact_s, flash.fully_open) {
            (None, _) => "the contact did not close",
            (_, Some(false)) => "never fully open",
            (_, None) => "full opening not seen",
            (_, Some(true)) => "",
        };
        table.row([
            flash.n.to_string(),
            time(flash.delay_s, flash.uncertainty_s),
            time(flash.open_after_s, flash.uncertainty_s),
            remark.to_owned(),
        ]);
    }
    table
}

fn clicks(report: &Report) -> Table {
    let mut table = Table::new([
        ("release", Align::Right),
        ("at", Align::Decimal),
        ("level", Align::Decimal),
        ("could be", Align::Left),
    ]);
    for click in &report.clicks {
        let roles: Vec<String> = click.could_be.iter().map(ToString::to_string).collect();
        table.row([
            click.release.map_or_else(dash, |n| n.to_string()),
            format!("{:.4} s", click.at_s.to_s()),
            format!("{:.0} dB", click.level_db.to_db()),
            roles.join(", "),
        ]);
    }
    table
}

/// The pairs of clicks of each release whose time is not told.
fn proposals(shots: &[Shot]) -> Table {
    let mut table = Table::new([
        ("release", Align::Right),
        ("from", Align::Decimal),
        ("to", Align::Decimal),
        ("between", Align::Decimal),
    ]);
    for shot in shots.iter().filter(|shot| shot.effective_s.is_none()) {
        for pair in &shot.proposals {
            table.row([
                shot.release.to_string(),
                format!("{:.4} s", pair.from_s.to_s()),
                format!("{:.4} s", pair.to_s.to_s()),
                time(Some(pair.between_s), Some(pair.uncertainty_s)),
            ]);
        }
    }
    table
}

fn time(value: Option<Seconds>, uncertainty: Option<Seconds>) -> String {
    value
        .and_then(|value| WrittenTime::new(value.to_s(), uncertainty.map(Seconds::to_s)))
        .map_or_else(dash, |written| written.to_string())
}

fn stops(value: Stops) -> String {
    written_stops(value.to_stops())
}

fn error(speed: &Speed) -> String {
    with_uncertainty(speed.error_stops, speed.uncertainty_stops)
}

/// Stops with their uncertainty: two decimals, more where the uncertainty would read as nothing.
fn with_uncertainty(value: Stops, uncertainty: Stops) -> String {
    let u = uncertainty.to_stops();
    let decimals = decimals_for(u, 1).clamp(2, 4);
    let error = signed_off(value.to_stops(), decimals);
    let plain = error.starts_with('−') || error.chars().all(|c| matches!(c, '0' | '.'));
    let plus = if plain { "" } else { "+" };
    format!("{plus}{error} ± {u:.decimals$}")
}

fn dash() -> String {
    "-".to_owned()
}
