//! From readings to a report.

use super::line::Line;
use super::settings::{Kept, settings};
use super::{Base, Finding, Options, Reading, Report, Residual, Settings, Vertical};
use super::{curve::curve, next::next};
use crate::Refused;
use crate::Verdict;
use crate::focus::Lens;
use crate::run::{Problem, RunError};
use crate::spread::coverage_factor;

/// A finder this far from the extension that the lens wants, and as much again as that, was read in another unit.
const MOST_OFF_MM: f64 = 3.0;
/// A finder whose rate lies outside was read in another unit.
const RATES: std::ops::RangeInclusive<f64> = 0.5..=2.0;
/// Rates that readings in a wrong unit show.
const UNITS: [(&str, f64); 9] = [
    (
        "the extensions look like inches: write millimetres",
        1.0 / 25.4,
    ),
    (
        "the extensions look like centimetres: write millimetres",
        0.1,
    ),
    ("the extensions look like metres: write millimetres", 1e-3),
    ("the distances look like feet: write metres", 3.28),
    (
        "the extensions look like tenths of a millimetre: write millimetres",
        10.0,
    ),
    ("the distances look like inches: write metres", 39.4),
    (
        "the distances look like centimetres, or the extensions like hundredths of a millimetre: write metres and millimetres",
        100.0,
    ),
    (
        "the distances look like millimetres, or the extensions like thousandths of a millimetre: write metres and millimetres",
        1000.0,
    ),
    (
        "the extensions run the other way: they grow as the subject comes nearer",
        -1.0,
    ),
];

/// Fits infinity and rate, judges the readings, and finds the settings.
///
/// # Errors
/// [`Refused`] for options without meaning, a distance nearer than the lens has an image of (with its line), readings in a unit
/// that cannot be right, and fewer than two distances.
pub fn analyse(readings: &[Reading], options: &Options) -> Result<Report, Refused> {
    options.check()?;
    let (lens, depth_mm) = (options.lens()?, options.depth()?.mm());
    let ideals = ideals(readings, &lens)?;
    if readings.len() < 2 {
        return Err(one_distance().into());
    }
    check_sizes(readings, &ideals)?;
    let line = Line::fit(readings, &ideals, &lens, options).ok_or_else(one_distance)?;
    check_rate(line.rate())?;
    let kept = Kept::new(readings, &ideals, line.sigmas(), |i| line.is_left_out(i));
    let settings = settings(&kept, &lens, options, depth_mm).ok_or_else(one_distance)?;
    let residuals = residuals(
        readings, &ideals, &line, &settings, &lens, options, depth_mm,
    );

    let worst = residuals
        .iter()
        .max_by(|a, b| a.residual_depths.abs().total_cmp(&b.residual_depths.abs()));
    let counted = || residuals.iter().filter(|r| !r.left_out);
    let left_in_depths = counted().map(|r| r.left_depths.abs()).fold(0.0, f64::max);
    let left_in_depths_u = counted()
        .map(|r| line.read_u(r.ideal_mm).map(|u| u / depth_mm))
        .try_fold(0.0, |most: f64, u| u.map(|u| most.max(u)));
    let nearest_m = options.nearest_m.unwrap_or(f64::INFINITY);
    let nearest_m = readings
        .iter()
        .map(|r| r.distance_m)
        .fold(nearest_m, f64::min);
    let mut report = Report {
        options: options.clone(),
        depth_mm,
        infinity_mm: line.infinity(),
        infinity_mm_u: line.u([1.0, 0.0]),
        rate: line.rate(),
        rate_u: line.u([0.0, 1.0]),
        worst_in_depths: worst.map_or(0.0, |r| r.residual_depths.abs()),
        worst_in_depths_u: worst.and_then(|r| r.residual_depths_u),
        verdict: judge(&residuals, options.limit_depths),
        left_in_depths,
        left_in_depths_u,
        left_verdict: Verdict::of(
            left_in_depths,
            left_in_depths_u.unwrap_or(f64::INFINITY),
            options.limit_depths,
        ),
        vertical: vertical(readings, options),
        base: base(&residuals, options, depth_mm),
        next: next(&kept, &lens, options, line.scale(), depth_mm),
        curve: curve(
            nearest_m * 1000.0,
            &line,
            &settings,
            &lens,
            options,
            depth_mm,
        ),
        freedom: line.freedom(),
        residuals,
        settings,
        findings: Vec::new(),
    };
    report.findings = findings(&report, &line);
    Ok(report)
}

impl Settings {
    /// What is read after the settings where `read_mm` was read before.
    #[must_use]
    pub fn after(&self, read_mm: f64) -> f64 {
        (read_mm + self.infinity_change_mm) * self.rate_factor
    }
}

/// The extension that the lens wants at each distance.
fn ideals(readings: &[Reading], lens: &Lens) -> Result<Vec<f64>, RunError> {
    let mut ideals = Vec::new();
    let mut problems = Vec::new();
    for reading in readings {
        match lens.extension_mm(reading.distance_m * 1000.0) {
            Some(ideal) => ideals.push(ideal),
            None => problems.push(Problem {
                line: Some(reading.line),
                column: Some("distance_m".to_owned()),
                message: format!(
                    "{} m is nearer than this lens has an image, {:.3} m from the film: write metres from the film plane",
                    reading.distance_m,
                    lens.nearest_mm() / 1000.0
                ),
            }),
        }
    }
    RunError::none_of(problems)?;
    Ok(ideals)
}

fn one_distance() -> RunError {
    RunError::whole(
        "infinity and rate need readings at two distances at least that differ: read near and far",
    )
}

/// Refuses single extensions that no finder reads.
fn check_sizes(readings: &[Reading], ideals: &[f64]) -> Result<(), RunError> {
    let pairs = readings.iter().zip(ideals);
    let wrong = pairs.filter(|(r, ideal)| (r.extension_mm - *ideal).abs() > MOST_OFF_MM + *ideal);
    let problems = wrong.map(|(reading, ideal)| Problem {
        line: Some(reading.line),
        column: Some("extension_mm".to_owned()),
        message: format!(
            "{} mm cannot be right where the lens wants {ideal:.3} mm: check the unit, millimetres from where the lens stands at infinity",
            reading.extension_mm
        ),
    });
    RunError::none_of(problems.collect())
}

fn check_rate(rate: f64) -> Result<(), RunError> {
    if RATES.contains(&rate) {
        return Ok(());
    }
    let unit = UNITS
        .iter()
        .find(|(_, times)| (rate / times - 1.0).abs() < 0.2)
        .map_or(
            "check the units and from where both were read",
            |(unit, _)| unit,
        );
    Err(RunError::whole(format!(
        "column `extension_mm`: the readings move {rate:.3} mm for each that the lens wants, which no finder does: {unit}"
    )))
}

fn residuals(
    readings: &[Reading],
    ideals: &[f64],
    line: &Line,
    settings: &Settings,
    lens: &Lens,
    options: &Options,
    depth_mm: f64,
) -> Vec<Residual> {
    let with_sigmas = readings.iter().zip(ideals).zip(line.sigmas());
    with_sigmas
        .enumerate()
        .map(|(i, ((reading, ideal), sigma))| {
            let residual_mm = reading.extension_mm - ideal;
            let distance_mm = reading.distance_m * 1000.0;
            let base = options.base_mm.map(|b| b * options.magnification);
            let angle = options.eye_arcsec / 3600.0;
            Residual {
                line: reading.line,
                distance_m: reading.distance_m,
                extension_mm: reading.extension_mm,
                ideal_mm: *ideal,
                residual_mm,
                residual_depths: residual_mm / depth_mm,
                residual_depths_u: line.reading_u(*sigma).map(|u| u / depth_mm),
                left_depths: (settings.after(reading.extension_mm) - ideal) / depth_mm,
                resolvable_in_depths: base.map(|_| options.eye_mm(lens, distance_mm) / depth_mm),
                resolvable_m: base
                    .filter(|_| distance_mm.is_finite())
                    .map(|b| distance_mm * distance_mm * angle.to_radians() / b / 1000.0),
                left_out: line.is_left_out(i),
            }
        })
        .collect()
}

fn judge(residuals: &[Residual], limit_depths: f64) -> Verdict {
    let verdicts: Vec<Verdict> = residuals
        .iter()
        .map(|r| {
            let u = r.residual_depths_u.unwrap_or(f64::INFINITY);
            Verdict::of(r.residual_depths, u, limit_depths)
        })
        .collect();
    if verdicts.contains(&Verdict::Out) {
        Verdict::Out
    } else if verdicts.iter().all(|v| *v == Verdict::In) {
        Verdict::In
    } else {
        Verdict::Undecided
    }
}

fn vertical(readings: &[Reading], options: &Options) -> Option<Vertical> {
    let run = readings.iter().filter_map(|r| r.vertical_arcmin);
    let all: Vec<f64> = run.chain(options.vertical_arcmin.iter().copied()).collect();
    if all.is_empty() {
        return None;
    }
    let count = all.len() as f64;
    let mean_arcmin = all.iter().sum::<f64>() / count;
    let squares: f64 = all.iter().map(|v| (v - mean_arcmin).powi(2)).sum();
    let mean_arcmin_u =
        coverage_factor(count - 1.0).map(|k| k * (squares / (count - 1.0) / count).sqrt());
    Some(Vertical {
        mean_arcmin,
        mean_arcmin_u,
        limit_arcmin: options.vertical_limit_arcmin,
        verdict: Verdict::of(
            mean_arcmin,
            mean_arcmin_u.unwrap_or(f64::INFINITY),
            options.vertical_limit_arcmin,
        ),
    })
}

fn base(residuals: &[Residual], options: &Options, depth_mm: f64) -> Option<Base> {
    let effective_mm = options.base_mm? * options.magnification;
    let angle = (options.eye_arcsec / 3600.0).to_radians();
    Some(Base {
        effective_mm,
        needed_mm: angle * options.focal_mm * options.focal_mm / depth_mm,
        worst_resolvable_in_depths: residuals
            .iter()
            .filter_map(|r| r.resolvable_in_depths)
            .fold(0.0, f64::max),
    })
}

fn findings(report: &Report, line: &Line) -> Vec<Finding> {
    let mut findings = Vec::new();
    if report.freedom == 0 {
        findings.push(Finding::NoFreedom);
    }
    let far = line
        .far
        .and_then(|(i, miss_mm)| Some((report.residuals.get(i)?, miss_mm)));
    if let Some((reading, miss_mm)) = far {
        findings.push(Finding::Outlier {
            line: reading.line,
            distance_m: reading.distance_m,
            miss_mm,
        });
    }
    let left_in_depths = report.left_in_depths;
    if line.is_bent() {
        findings.push(Finding::Curved { left_in_depths });
    }
    if let Some(base) = report.base.filter(|b| b.effective_mm < b.needed_mm) {
        findings.push(Finding::BaseTooShort {
            effective_mm: base.effective_mm,
            needed_mm: base.needed_mm,
        });
    }
    if report.left_verdict == Verdict::Out {
        findings.push(Finding::LeftOutside { left_in_depths });
    }
    findings
}
