//! From readings to a report.

use super::plane::NoPlane;
use super::stock::MOST_PACKING_MM;
use super::{AtFilm, Corner, Finding, Options, Plane, ReadPoint, Reading, Report, seats};
use crate::Verdict;
use crate::run::{Problem, RunError};
use crate::{OptionError, Refused};

/// A reading this many times the target, or this part of it, is of another unit or from another face.
const MOST_TIMES: f64 = 1.5;
/// Units that a register may have been read in by mistake, in mm.
const UNITS: [(&str, f64); 3] = [("inches", 25.4), ("centimetres", 10.0), ("metres", 1000.0)];

/// Fits the plane and judges it.
///
/// # Errors
/// [`Refused`] for options without meaning, readings that cannot be of this register (with their lines), fewer than three of them, and
/// points that are one place or a line.
pub fn analyse(readings: &[Reading], options: &Options) -> Result<Report, Refused> {
    options.check()?;
    check_units(readings, options.target_mm)?;
    let plane = Plane::fit(readings, options.repeatability_mm).map_err(refused)?;

    let error = |x_mm: f64, y_mm: f64| plane.at(x_mm, y_mm) - options.target_mm;
    let (width, height) = options.frame_mm;
    let corners: Vec<Corner> = [(-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5)]
        .map(|(right, up)| {
            let (x_mm, y_mm) = (right * width, up * height);
            Corner {
                x_mm,
                y_mm,
                error_mm: error(x_mm, y_mm),
                error_mm_u: plane.at_u(x_mm, y_mm),
            }
        })
        .to_vec();
    let (tilt_x_rad, tilt_y_rad) = plane.slopes();
    let error_mm = error(0.0, 0.0);
    let shims = shims(error_mm, options);
    let left_mm = error_mm + shims.iter().sum::<f64>();
    let worst = worst_of(&corners);
    let mut report = Report {
        options: options.clone(),
        mean_mm: plane.at(0.0, 0.0),
        mean_mm_u: plane.at_u(0.0, 0.0),
        error_mm,
        error_mm_u: plane.at_u(0.0, 0.0),
        tilt_x_rad,
        tilt_x_rad_u: plane.slopes_u(1.0, 0.0),
        tilt_y_rad,
        tilt_y_rad_u: plane.slopes_u(0.0, 1.0),
        frame_tilt_mm: tilt_x_rad.abs() * width + tilt_y_rad.abs() * height,
        frame_tilt_mm_u: plane.slopes_u(width.copysign(tilt_x_rad), height.copysign(tilt_y_rad)),
        worst_mm: worst.map_or(error_mm, |c| c.error_mm),
        worst_mm_u: worst.and_then(|c| c.error_mm_u),
        verdict: judge(&corners, 0.0, options.limit_mm),
        left_mm,
        left_mm_u: plane.at_u(0.0, 0.0),
        left_verdict: judge(&corners, left_mm - error_mm, options.limit_mm),
        shims,
        seats: seats::serve(&plane, options),
        at_film: None,
        corners,
        readings: read_points(readings, &plane),
        reading_sd_mm: plane.sd_mm(),
        freedom: plane.freedom(),
        findings: Vec::new(),
    };
    report.at_film = at_film(&report, options)?;
    report.findings = findings(&report, &plane);
    Ok(report)
}

/// Refuses readings that are no register of the target's size, each with its line and the unit it may be in.
fn check_units(readings: &[Reading], target_mm: f64) -> Result<(), RunError> {
    let is_near = |mm: f64| mm < target_mm * MOST_TIMES && mm > target_mm / MOST_TIMES;
    let wrong = readings.iter().filter(|r| !is_near(r.reading_mm));
    let problems = wrong.map(|reading| {
        let unit = UNITS
            .iter()
            .find(|(_, mm)| (reading.reading_mm * mm / target_mm - 1.0).abs() < 0.1)
            .map_or(
                "check the unit and what it was read from".to_owned(),
                |(unit, _)| format!("it looks like {unit}: write millimetres"),
            );
        Problem {
            line: Some(reading.line),
            column: Some("reading_mm".to_owned()),
            message: format!(
                "{} cannot be a register that should be {target_mm} mm: {unit}",
                reading.reading_mm
            ),
        }
    });
    RunError::none_of(problems.collect())
}

fn refused(why: NoPlane) -> RunError {
    RunError::whole(match why {
        NoPlane::TooFew => {
            "a plane needs readings at three points that are not on a line: read more points"
        }
        NoPlane::OnePlace => {
            "all readings are of one place: read at points spread over the frame, x_mm and y_mm in millimetres from its middle"
        }
        NoPlane::OnALine => {
            "the points lie on a line, or nearly, so that the film may lie askew across it unseen: read points beside it"
        }
    })
}

/// The shims that come nearest what the middle wants.
fn shims(error_mm: f64, options: &Options) -> Vec<f64> {
    if error_mm.abs() > MOST_PACKING_MM {
        return Vec::new();
    }
    options.shims.nearest(-error_mm)
}

fn worst_of(corners: &[Corner]) -> Option<&Corner> {
    corners
        .iter()
        .max_by(|a, b| a.error_mm.abs().total_cmp(&b.error_mm.abs()))
}

/// The verdict on the frame, moved by `added_mm`; without an uncertainty nothing is decided.
fn judge(corners: &[Corner], added_mm: f64, limit_mm: f64) -> Verdict {
    let verdicts: Vec<Verdict> = corners
        .iter()
        .map(|corner| {
            let u = corner.error_mm_u.unwrap_or(f64::INFINITY);
            Verdict::of(corner.error_mm + added_mm, u, limit_mm)
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

fn read_points(readings: &[Reading], plane: &Plane) -> Vec<ReadPoint> {
    readings
        .iter()
        .zip(plane.residuals_mm())
        .map(|(reading, residual_mm)| ReadPoint {
            line: reading.line,
            x_mm: reading.x_mm,
            y_mm: reading.y_mm,
            reading_mm: reading.reading_mm,
            residual_mm: *residual_mm,
        })
        .collect()
}

fn at_film(report: &Report, options: &Options) -> Result<Option<AtFilm>, OptionError> {
    let (lens, depth) = (options.lens()?, options.depth()?);
    if lens.is_none() && depth.is_none() {
        return Ok(None);
    }
    let depths = |mm: f64| depth.map(|d| mm / d.mm());
    Ok(Some(AtFilm {
        error_depths: depths(report.error_mm),
        error_depths_u: report.error_mm_u.and_then(depths),
        worst_depths: depths(report.worst_mm),
        // A film that lies too deep is where the lens would stand out from infinity.
        sharp_at_m: lens
            .and_then(|lens| lens.distance_mm(report.error_mm))
            .map(|mm| mm / 1000.0),
    }))
}

fn findings(report: &Report, plane: &Plane) -> Vec<Finding> {
    let options = &report.options;
    let mut findings = Vec::new();
    match (report.reading_sd_mm, options.repeatability_mm) {
        (None, _) => findings.push(Finding::NoFreedom),
        // Depths are known to their last binary digit, some 1e-14 mm.
        (Some(sd_mm), None) if sd_mm < 1e-9 => findings.push(Finding::NoScatter),
        (Some(sd_mm), Some(repeatability_mm)) if plane.is_scattered() => {
            findings.push(Finding::Scatter {
                sd_mm,
                repeatability_mm,
            });
        }
        _ => {}
    }
    let far = plane
        .far_reading()
        .and_then(|(i, miss_mm)| Some((report.readings.get(i)?, miss_mm)));
    if let Some((point, miss_mm)) = far {
        findings.push(Finding::Outlier {
            line: point.line,
            x_mm: point.x_mm,
            y_mm: point.y_mm,
            miss_mm,
        });
    }
    if plane.is_tilted() {
        findings.push(Finding::Tilt {
            frame_tilt_mm: report.frame_tilt_mm,
        });
    }
    let (error_mm, limit_mm) = (report.error_mm, options.limit_mm);
    if error_mm.abs() > MOST_PACKING_MM {
        findings.push(Finding::FarOff { error_mm });
    } else if error_mm > limit_mm {
        findings.push(Finding::TooLong { by_mm: error_mm });
    } else if report.left_mm.abs() > limit_mm {
        findings.push(Finding::NoShims {
            wanted_mm: -error_mm,
        });
    }
    findings
}
