//! From a pair to its report.

use super::finding::{Finding, Of};
use super::pair::Pair;
use super::{Options, Report};
use crate::OptionError;
use crate::gear::Cutter;

/// A tip that reaches no farther than this past a flank's beginning does not jam: less than a caliper or a cutter's corner tells.
const TOUCH_MODULES: f64 = 1e-6;

/// What the pair does at its withdrawal, and how much more it bears.
///
/// # Errors
/// [`OptionError`] for options without meaning.
pub fn analyse(options: &Options) -> Result<Report, OptionError> {
    options.check()?;
    let pair = Pair::new(options.pinion()?, options.mate_wheel()?)?;
    let apart_from_play_mm = options.lever().map(|lever| options.play_mm * lever);
    let apart_mm = options.apart_mm + apart_from_play_mm.unwrap_or(0.0);
    let apart_limit_mm = pair.apart_limit();
    let ride_over_mm = pair.ride_over();
    let play_to = |apart: f64| {
        options
            .lever()
            .map(|lever| ((apart - options.apart_mm) / lever).max(0.0))
    };
    let mut report = Report {
        options: options.clone(),
        apart_mm,
        apart_from_play_mm,
        free_distance_mm: pair.free_mm,
        distance_mm: pair.free_mm + apart_mm,
        working_angle_deg: pair.working_angle(apart_mm).to_degrees(),
        backlash_mm: pair.backlash(apart_mm),
        contact_ratio: pair.contact_ratio(apart_mm, false),
        contact_ratio_no_undercut: pair.contact_ratio(apart_mm, true),
        working_depth_mm: pair.working_depth(apart_mm),
        apart_limit_mm,
        ride_over_mm,
        play_limit_mm: apart_limit_mm.and_then(play_to),
        play_ride_over_mm: play_to(ride_over_mm),
        findings: Vec::new(),
    };
    report.findings = findings(&pair, &report);
    Ok(report)
}

fn findings(pair: &Pair, report: &Report) -> Vec<Finding> {
    let apart = report.apart_mm;
    let module = pair.pinion.module_mm();
    let wheels = [(Of::Pinion, Some(pair.pinion)), (Of::Mate, pair.mate)];
    let mut findings = Vec::new();
    let mut few = false;
    for (of, wheel) in wheels {
        let Some(wheel) = wheel else { continue };
        let least_teeth = wheel.least_teeth();
        few |= wheel.teeth() < least_teeth;
        if wheel.is_undercut() {
            findings.push(Finding::Undercut {
                of,
                teeth: wheel.teeth(),
                least_teeth,
                flank_from_mm: wheel.form_radius_mm(),
            });
        }
        if wheel.is_pointed() {
            findings.push(Finding::Pointed {
                of,
                tip_radius_mm: wheel.tip_radius_mm(),
            });
        }
    }
    for ((of, wheel), reach) in wheels.iter().zip(pair.reaches(apart)) {
        let relieved = wheel.is_none_or(|w| w.cutter() == Cutter::Sharp && w.is_undercut());
        if !relieved && reach > TOUCH_MODULES * module && report.working_depth_mm > 0.0 {
            findings.push(Finding::Interference {
                of: *of,
                past_mm: reach,
            });
        }
    }
    for ((of, _), clearance) in wheels.iter().zip(pair.clearances(apart)) {
        if clearance < -TOUCH_MODULES * module {
            findings.push(Finding::TipTouchesRoot {
                of: *of,
                by_mm: -clearance,
            });
        }
    }
    if report.working_depth_mm <= 0.0 {
        findings.push(Finding::RideOver {
            past_mm: -report.working_depth_mm,
        });
    } else if report.contact_ratio < 1.0 {
        findings.push(Finding::NoContinuousDrive {
            contact_ratio: report.contact_ratio,
        });
    }
    if few {
        findings.push(Finding::NotAlwaysInvolute);
    }
    findings
}
