//! Exposure meters: errors over the light, what can be set, and the correction card for what is left.
//!
//! A run is pairs of true and indicated EV ([`read`]). [`analyse`] leaves out what no curve explains (`choice`), fits the errors
//! `indicated − true` (`curve`), finds the shift of the scale that leaves the least, where the meter can be trusted then,
//! and the card (`settle`). [`light`], [`SpeedScale`] and [`Response`] turn what the bench has, luminances, an old dial's film speeds, a cell's
//! current, into exposure values.
//!
//! ```
//! use fettle_measure::meter;
//! let run = b"true_ev,indicated_ev\n5,5.3\n7,7.3\n9,9.2\n11,11.3\n13,13.3\n15,15.2\n";
//! let report = meter::analyse(&meter::read(run)?, &meter::Options::default())?;
//! assert_eq!(report.model, meter::Model::Offset);
//! assert!((report.shift_stops + 0.25).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod choice;
mod curve;
mod film_speed;
pub mod light;
mod options;
mod reading;
mod report;
mod resolution;
mod response;
mod settle;

pub use film_speed::{SAFETY_STOPS, SpeedScale};
pub use options::{CardStep, Options, OptionsError};
pub use reading::{Aids, Reading, read, read_with};
pub use report::{CardRow, CurvePoint, Finding, Model, ReadingRow, Report, Weighed};
pub use response::{Response, ResponseError};
pub use settle::best_shift;

use crate::Verdict;
use choice::Choice;
use curve::{Curve, Estimate, Points};

/// A run of readings by hand is not longer.
const MOST_READINGS: usize = 500;
/// A shift that costs less of the range than this is not worth a word.
const LEAST_LOSS_EV: f64 = 0.5;
/// Points of the curve for a chart.
const CURVE_POINTS: u32 = 60;

/// Why a run tells nothing of a meter.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum MeterError {
    /// Fewer than two readings.
    #[error(
        "{0} reading tells nothing of a meter's scatter: take two at least, better eight over the whole range of light"
    )]
    TooFew(usize),
    /// More than anybody reads.
    #[error("{0} readings are more than {MOST_READINGS}: give those of one run alone")]
    TooMany(usize),
    /// A value that is not finite, or a resolution not above zero.
    #[error("the reading on line {0} holds what is no number: take it out or put it right")]
    NotFinite(usize),
}

/// Measures a meter.
///
/// # Errors
/// Fewer than two readings, more than 500, or values that are not finite.
pub fn analyse(readings: &[Reading], options: &Options) -> Result<Report, MeterError> {
    if readings.len() > MOST_READINGS {
        return Err(MeterError::TooMany(readings.len()));
    }
    let sound = |r: &Reading| {
        r.true_ev.is_finite()
            && r.indicated_ev.is_finite()
            && r.resolution_stops.is_none_or(|s| s.is_finite() && s > 0.0)
    };
    if let Some(bad) = readings.iter().find(|r| !sound(r)) {
        return Err(MeterError::NotFinite(bad.line));
    }
    if readings.len() < 2 {
        return Err(MeterError::TooFew(readings.len()));
    }
    let indicated: Vec<f64> = readings.iter().map(|r| r.indicated_ev).collect();
    let step = options
        .resolution_stops
        .unwrap_or_else(|| resolution::step_of(&indicated));
    let points = Points {
        true_ev: readings.iter().map(|r| r.true_ev).collect(),
        error: readings
            .iter()
            .map(|r| r.indicated_ev - r.true_ev)
            .collect(),
        step: readings
            .iter()
            .map(|r| r.resolution_stops.unwrap_or(step))
            .collect(),
    };
    let choice = choice::choose(&points).ok_or(MeterError::TooFew(readings.len()))?;
    Ok(told(readings, &points, step, &choice, options))
}

fn told(
    readings: &[Reading],
    points: &Points,
    step: f64,
    choice: &Choice,
    options: &Options,
) -> Report {
    let curve = &choice.curve;
    let kept = points.only(&choice.kept);
    let range = kept.range();
    let limit = options.limit_stops;
    let shift_stops = best_shift(&kept.error, options.click_stops);
    let usable = settle::usable(curve, range, shift_stops, limit);
    let rising = settle::rising(curve, range);
    let rows = rising.map_or_else(Vec::new, |stretch| {
        settle::card(curve, stretch, shift_stops, options.card_step.ev())
    });
    let drawn = drawn(curve, range);
    let offset = curve.at(curve.centre);
    let slope = curve.coefficient(1);
    let curvature = curve.coefficient(2).filter(|_| !choice.kneed);
    let (knee, beyond) = (curve.knee(), curve.slope_beyond());
    let value = |estimate: Option<Estimate>| estimate.map(|e| e.value);
    let u = |estimate: Option<Estimate>| estimate.and_then(|e| e.u);
    Report {
        model: smallest(choice),
        models: weighed(choice),
        centre_ev: curve.centre,
        offset_stops: offset.value,
        offset_stops_u: offset.u,
        slope_stops_per_ev: value(slope),
        slope_stops_per_ev_u: u(slope),
        curvature: value(curvature),
        curvature_u: u(curvature),
        knee_ev: value(knee),
        knee_ev_u: u(knee),
        slope_beyond_stops_per_ev: value(beyond),
        slope_beyond_stops_per_ev_u: u(beyond),
        shift_stops,
        worst_before_stops: settle::worst(&kept.error, 0.0),
        worst_after_stops: settle::worst(&kept.error, shift_stops),
        usable_from_ev: usable.map(|(from, _)| from),
        usable_to_ev: usable.map(|(_, to)| to),
        limit_stops: limit,
        click_stops: options.click_stops,
        resolution_stops: step,
        resolution_given: options.resolution_stops.is_some(),
        verdict_before: judged(&drawn, 0.0, limit),
        verdict: judged(&drawn, shift_stops, limit),
        card_piecewise: choice.kneed,
        card: rows
            .iter()
            .map(|row| CardRow {
                indicated_ev: row.indicated_ev,
                add_stops: row.add.value,
                add_stops_u: row.add.u,
            })
            .collect(),
        readings: readings
            .iter()
            .enumerate()
            .map(|(i, reading)| ReadingRow {
                line: reading.line,
                true_ev: reading.true_ev,
                indicated_ev: reading.indicated_ev,
                error_stops: points.error[i],
                residual_stops: points.error[i] - curve.value(reading.true_ev),
                resolution_stops: points.step[i],
                kept: choice.kept.contains(&i),
            })
            .collect(),
        findings: findings(readings, choice, step, range, rising)
            .into_iter()
            .chain(shift_finding(curve, range, usable, limit))
            .collect(),
        curve: drawn,
    }
}

/// The name of a curve's model.
fn model_of(curve: &Curve) -> Model {
    match (curve.knee, curve.coefficients.len()) {
        (Some(_), _) => Model::Knee,
        (None, 1) => Model::Offset,
        (None, 2) => Model::Slope,
        (None, _) => Model::Curvature,
    }
}

fn smallest(choice: &Choice) -> Model {
    if choice.kneed {
        return Model::Knee;
    }
    choice
        .models
        .iter()
        .filter(|m| m.aicc.is_finite())
        .min_by(|a, b| a.aicc.total_cmp(&b.aicc))
        .map_or(Model::Offset, |m| model_of(&m.curve))
}

fn weighed(choice: &Choice) -> Vec<Weighed> {
    let best = choice
        .models
        .iter()
        .map(|m| m.aicc)
        .fold(f64::INFINITY, f64::min);
    choice
        .models
        .iter()
        .map(|m| Weighed {
            model: model_of(&m.curve),
            behind: m.aicc.is_finite().then_some(m.aicc - best),
            offset_stops: m.curve.value(choice.curve.centre),
        })
        .collect()
}

/// The curve for a chart, with a point at the knee.
fn drawn(curve: &Curve, (from, to): (f64, f64)) -> Vec<CurvePoint> {
    let mut lights: Vec<f64> = (0..=CURVE_POINTS)
        .map(|i| from + (to - from) * f64::from(i) / f64::from(CURVE_POINTS))
        .chain(curve.knee)
        .collect();
    lights.sort_by(f64::total_cmp);
    lights.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    lights
        .into_iter()
        .map(|true_ev| {
            let at = curve.at(true_ev);
            CurvePoint {
                true_ev,
                error_stops: at.value,
                error_stops_u: at.u,
            }
        })
        .collect()
}

/// In when the whole band lies inside the limit, out when some of it lies wholly beyond.
fn judged(curve: &[CurvePoint], shift: f64, limit: f64) -> Verdict {
    let mut all = Verdict::In;
    for point in curve {
        let uncertainty = point.error_stops_u.unwrap_or(f64::INFINITY);
        match Verdict::of(point.error_stops + shift, uncertainty, limit) {
            Verdict::Out => return Verdict::Out,
            Verdict::Undecided => all = Verdict::Undecided,
            Verdict::In => {}
        }
    }
    all
}

fn findings(
    readings: &[Reading],
    choice: &Choice,
    step: f64,
    range: (f64, f64),
    rising: Option<(f64, f64)>,
) -> Vec<Finding> {
    let curve = &choice.curve;
    let mut findings: Vec<Finding> = readings
        .iter()
        .enumerate()
        .filter(|(i, _)| !choice.kept.contains(i))
        .map(|(_, reading)| Finding::Outlier {
            line: reading.line,
            true_ev: reading.true_ev,
            indicated_ev: reading.indicated_ev,
            residual_stops: reading.indicated_ev - reading.true_ev - curve.value(reading.true_ev),
        })
        .collect();
    if let (Some(knee), Some(below), Some(beyond)) =
        (curve.knee(), curve.coefficient(1), curve.slope_beyond())
    {
        findings.push(Finding::Knee {
            ev: knee.value,
            ev_u: knee.u,
            slope_below_stops_per_ev: below.value,
            slope_beyond_stops_per_ev: beyond.value,
        });
    }
    let untold: Vec<Model> = [Model::Slope, Model::Curvature]
        .into_iter()
        .skip(curve.coefficients.len() - 1)
        .collect();
    if !untold.is_empty() {
        findings.push(Finding::Few {
            readings: choice.kept.len(),
            untold,
        });
    }
    let whole = rising.is_some_and(|(from, to)| from <= range.0 + 1e-9 && to >= range.1 - 1e-9);
    if !whole {
        let (from_ev, to_ev) = rising.unwrap_or((range.0, range.0));
        findings.push(Finding::Blind { from_ev, to_ev });
    }
    if curve.is_coarse() {
        findings.push(Finding::Coarse {
            resolution_stops: step,
        });
    }
    findings
}

/// What is to be said of the shift: that it helps nowhere, or that it costs a part of the range.
fn shift_finding(
    curve: &Curve,
    range: (f64, f64),
    usable: Option<(f64, f64)>,
    limit: f64,
) -> Option<Finding> {
    let length = |stretch: Option<(f64, f64)>| stretch.map_or(0.0, |(from, to)| to - from);
    let left = settle::usable(curve, range, 0.0, limit);
    match left {
        Some((from_ev, to_ev)) if length(left) > length(usable) + LEAST_LOSS_EV => {
            Some(Finding::ShiftNarrows { from_ev, to_ev })
        }
        _ => usable.is_none().then_some(Finding::Unusable),
    }
}
