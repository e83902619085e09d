//! From readings to a gear.

use std::f64::consts::PI;

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::profile::{At, Profile};
use super::{Count, Finding, Options, Over, Report, Usual};
use crate::OptionError;
use crate::gear::{Cutter, Wheel};

/// Older work, and work since.
const USUAL_DEG: [f64; 2] = [14.5, 20.0];
/// Readings that a right count would give less often than this refuse it.
const REFUSED_CHANCE: f64 = 0.0001;
/// By how many a count may be wrong.
const MISCOUNT: i64 = 3;
const FINE_DEG: f64 = 0.02;
const COARSE_DEG: f64 = 0.2;

/// Why no gear is told.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum IdentifyError {
    /// An option is refused.
    #[error(transparent)]
    Option(#[from] OptionError),
    /// The readings are of no involute gear with these counts.
    #[error("{}", contradiction(*.teeth, .agree))]
    Count {
        /// The count of teeth given.
        teeth: u32,
        /// Counts that agree, nearest first.
        agree: Vec<Count>,
    },
}

fn contradiction(teeth: u32, agree: &[Count]) -> String {
    if agree.is_empty() {
        return format!(
            "the readings are of no standard involute gear with {teeth} teeth, nor with a count near it: read again, and look for worn tips or another form of tooth"
        );
    }
    let counts: Vec<String> = agree.iter().map(|count| count.describe()).collect();
    format!(
        "the readings do not agree with {teeth} teeth and the other counts given; they would with {}: count again",
        counts.join(", or ")
    )
}

/// Fits module, pressure angle and profile shift.
///
/// # Errors
/// [`IdentifyError`] for readings without meaning, too few of them, and counts that they contradict.
pub fn analyse(options: &Options) -> Result<Report, IdentifyError> {
    options.check()?;
    if let (Some(rack), None, true) = (options.rack, options.tip_mm, options.spans.is_empty()) {
        return Ok(rack_alone(options, rack));
    }
    let teeth = options.teeth.unwrap_or_default();
    let others = other_counts(options);
    let also: Vec<Count> = others.iter().map(|other| other.count).collect();
    let refused = |agree| IdentifyError::Count { teeth, agree };
    let Some(profile) = Profile::new(options, FINE_DEG).filter(|p| agrees(options, &p.best)) else {
        return Err(refused(also));
    };
    let best = profile.best;
    let usual: Vec<Usual> = USUAL_DEG
        .iter()
        .filter(|deg| {
            options
                .angle_deg
                .is_none_or(|given| (given - **deg).abs() < 0.01)
        })
        .filter_map(|deg| At::fit(options, *deg))
        .filter(|at| profile.bears(at))
        .map(|at| Usual {
            angle_deg: at.angle_deg,
            module_mm: at.module,
            module_mm_u: 2.0 * at.module_sd,
            shift: at.shift,
            shift_u: 2.0 * at.shift_sd,
        })
        .collect();
    // A miscount is likelier than a pressure angle that nobody cut; who knows that angle gives it.
    let usually: Vec<Count> = others
        .iter()
        .filter(|other| other.usual)
        .map(|other| other.count)
        .collect();
    if options.angle_deg.is_none() && usual.is_empty() && !usually.is_empty() {
        return Err(refused(usually));
    }
    let mut findings = Vec::new();
    if options.angle_deg.is_none() && (profile.is_open() || usual.len() > 1) {
        findings.push(Finding::AngleNotTold);
    } else if usual.is_empty() {
        findings.push(Finding::UnusualAngle {
            angle_deg: best.angle_deg,
        });
    }
    if !also.is_empty() {
        findings.push(Finding::CountNotProven { also });
    }
    findings.extend(spans_off(options, &best));
    let angle_u = profile.half_width(|at| (at.angle_deg, 0.0));
    Ok(Report {
        options: options.clone(),
        module_mm: best.module,
        module_mm_u: profile.half_width(|at| (at.module, at.module_sd)),
        angle_deg: Some(best.angle_deg),
        angle_deg_u: (options.angle_deg.is_none() && !profile.is_open()).then_some(angle_u),
        shift: Some(best.shift),
        shift_u: Some(profile.half_width(|at| (at.shift, at.shift_sd))),
        usual,
        findings,
    })
}

fn rack_alone(options: &Options, rack: Over) -> Report {
    let over = PI * f64::from(rack.teeth);
    Report {
        options: options.clone(),
        module_mm: rack.mm / over,
        module_mm_u: options.caliper_mm / over,
        angle_deg: None,
        angle_deg_u: None,
        shift: None,
        shift_u: None,
        usual: Vec::new(),
        findings: Vec::new(),
    }
}

/// Whether the readings may be of this gear. Free angles have ends, so they count for no degree of freedom.
fn agrees(options: &Options, at: &At) -> bool {
    let readings = options.spans.len()
        + usize::from(options.tip_mm.is_some())
        + usize::from(options.rack.is_some());
    let freedom = readings.saturating_sub(2).max(1) as f64;
    let most =
        ChiSquared::new(freedom).map_or(f64::INFINITY, |chi| chi.inverse_cdf(1.0 - REFUSED_CHANCE));
    at.chi_squared <= most
}

/// Another count that the readings agree with.
struct Other {
    count: Count,
    /// With one of the usual pressure angles.
    usual: bool,
}

/// Counts off by a few, one at a time, that the readings agree with.
fn other_counts(options: &Options) -> Vec<Other> {
    (1..=MISCOUNT)
        .flat_map(|by| [by, -by])
        .flat_map(|by| miscounted(options, by))
        .filter(|(_, tried)| tried.check().is_ok())
        .filter_map(|(count, tried)| {
            let profile = Profile::new(&tried, COARSE_DEG)?;
            let best = near_fine(&tried, &profile)?;
            let usual = USUAL_DEG
                .iter()
                .filter_map(|deg| At::fit(&tried, *deg))
                .any(|at| agrees(&tried, &at));
            agrees(&tried, &best).then_some(Other { count, usual })
        })
        .collect()
}

/// The same readings with one count off.
fn miscounted(options: &Options, by: i64) -> Vec<(Count, Options)> {
    let off = |count: u32| u32::try_from(i64::from(count) + by).ok();
    let over = |of: &Over| {
        Some(Over {
            teeth: off(of.teeth)?,
            ..*of
        })
    };
    let mut all = Vec::new();
    if let Some(teeth) = options.teeth.and_then(off) {
        let teeth_off = Options {
            teeth: Some(teeth),
            ..options.clone()
        };
        all.push((Count::Teeth(teeth), teeth_off));
    }
    if let Some(rack) = options.rack.as_ref().and_then(over) {
        let rack_off = Options {
            rack: Some(rack),
            ..options.clone()
        };
        all.push((Count::RackPitches(rack.teeth), rack_off));
    }
    let spans: Option<Vec<Over>> = options.spans.iter().map(over).collect();
    if let Some(spans) = spans
        && let Some(first) = spans.first().copied()
    {
        let spans_off = Options {
            spans,
            ..options.clone()
        };
        all.push((Count::SpanTeeth(first.teeth), spans_off));
    }
    all
}

/// The best fit near the best of a coarse search.
fn near_fine(options: &Options, coarse: &Profile) -> Option<At> {
    if options.angle_deg.is_some() {
        return Some(coarse.best);
    }
    let steps = (COARSE_DEG / FINE_DEG).round() as i32;
    (-steps..=steps)
        .map(|i| coarse.best.angle_deg + FINE_DEG * f64::from(i))
        .filter_map(|deg| At::fit(options, deg))
        .min_by(|a, b| a.chi_squared.total_cmp(&b.chi_squared))
}

/// The jaws touch at half the span from the base circle's tangent point: there must be a flank.
fn spans_off(options: &Options, at: &At) -> Vec<Finding> {
    let teeth = options.teeth.unwrap_or_default();
    let Ok(wheel) = Wheel::new(at.module, teeth, at.angle_deg, at.shift, Cutter::Sharp) else {
        return Vec::new();
    };
    options
        .spans
        .iter()
        .filter(|span| {
            let touches = wheel.base_radius_mm().hypot(span.mm / 2.0);
            touches < wheel.form_radius_mm() || touches > wheel.tip_radius_mm()
        })
        .map(|span| Finding::SpanOffFlanks { teeth: span.teeth })
        .collect()
}
