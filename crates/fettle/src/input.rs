//! Files of readings, and what instruments remark of them.

use std::fmt;
use std::fs;
use std::io::Write;
use std::path::Path;

use fettle_measure::Refused;
use fettle_measure::Verdict;

use crate::error::CliError;

/// A run of readings is typed by hand; a file larger than this is something else.
const MOST_BYTES: u64 = 4 << 20;

/// The bytes of a file of readings.
pub(crate) fn read(path: &Path) -> Result<Vec<u8>, CliError> {
    let about = fs::metadata(path).map_err(|error| CliError::file("read", path, &error))?;
    if about.len() > MOST_BYTES {
        return Err(CliError::Work(format!(
            "cannot read {}: it is larger than {} MB, which no run of readings is; check the name",
            path.display(),
            MOST_BYTES >> 20
        )));
    }
    fs::read(path).map_err(|error| CliError::file("read", path, &error))
}

/// What is wrong with the contents of a file, each problem behind its name.
pub(crate) fn wrong(path: &Path, problems: &impl fmt::Display) -> CliError {
    let name = path.display();
    let lines: Vec<String> = problems
        .to_string()
        .lines()
        .map(|line| format!("{name}: {line}"))
        .collect();
    CliError::Work(lines.join("\n"))
}

/// Readings of focus that are refused: a file's fault or an argument's.
pub(crate) fn refused(path: &Path, error: &Refused) -> CliError {
    match error {
        Refused::Run(error) => wrong(path, error),
        Refused::Option(error) => CliError::Arguments(error.to_string()),
    }
}

/// Findings, a line each, after an empty one; nothing when there are none.
pub(crate) fn findings(
    out: &mut dyn Write,
    findings: impl Iterator<Item = String>,
) -> Result<(), CliError> {
    for (n, finding) in findings.enumerate() {
        if n == 0 {
            writeln!(out)?;
        }
        writeln!(out, "  {finding}")?;
    }
    Ok(())
}

/// What is stated, one line each: its name, then the figure.
pub(crate) fn facts(
    out: &mut dyn Write,
    lines: &[(impl AsRef<str>, String)],
) -> Result<(), CliError> {
    let width = lines
        .iter()
        .map(|(name, _)| name.as_ref().chars().count())
        .max();
    let width = width.unwrap_or(0);
    for (name, figure) in lines {
        let name = name.as_ref();
        writeln!(out, "  {name:width$}  {}", figure.trim_end())?;
    }
    Ok(())
}

/// A figure with its uncertainty to two digits of that; to four digits without one.
pub(crate) fn with_u(value: f64, u: Option<f64>, unit: &str) -> String {
    let figure = match u.filter(|u| *u > 0.0 && u.is_finite()) {
        Some(u) => {
            let places = (1 - u.log10().floor() as i32).clamp(0, 6) as usize;
            format!("{value:.places$} ± {u:.places$}")
        }
        None if value == 0.0 || !value.is_finite() => format!("{value}"),
        None => {
            let places = (3 - value.abs().log10().floor() as i32).clamp(0, 6) as usize;
            format!("{value:.places$}")
        }
    };
    format!("{figure} {unit}")
}

/// A verdict in a word.
pub(crate) const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::In => "in",
        Verdict::Out => "out",
        Verdict::Undecided => "undecided",
    }
}

/// Two sides in mm, `36x24`.
pub(crate) fn sides(text: &str) -> Result<(f64, f64), String> {
    let sides = text.split_once(['x', 'X', '×']);
    let read = sides.and_then(|(w, h)| Some((w.trim().parse().ok()?, h.trim().parse().ok()?)));
    read.ok_or_else(|| "two sides in mm are wanted, such as 36x24".to_owned())
}
