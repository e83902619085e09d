//! What the instruments say: exposure times and the other limits, before the work and after.

use fettle_bench::{Phase, ReadingRow, Verdict};
use fettle_measure::{Marked, Seconds, Series, Verdict as Decided};
use fettle_notes::{DialSeries, Limit, ServiceNotes, ShutterLimit};

use crate::lots::Lots;
use crate::plan::VisitPlan;

/// Below this nominal time a speed is made by the springs alone, without the gear train.
const SLOW_FROM_S: f64 = 1.0 / 20.0;
/// From here on a tired spring shows.
const TOP_TO_S: f64 = 1.0 / 90.0;

/// One mark of the dial as the shutter makes it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct MarkTime {
    pub(crate) mark: Marked,
    pub(crate) nominal: Seconds,
    pub(crate) error_stops: f64,
    pub(crate) limit_stops: Option<f64>,
}

impl MarkTime {
    /// The effective time.
    pub(crate) fn effective(&self) -> Seconds {
        self.nominal * self.error_stops.exp2()
    }
}

/// The dial, slowest first: dried lubricant drags the slow marks, tired springs lengthen the top
/// ones; after the work every mark lies near its place, but for a top speed that stays long.
pub(crate) fn dial(
    limit: &ShutterLimit,
    visit: &VisitPlan,
    phase: Phase,
    lots: &mut Lots,
) -> Vec<MarkTime> {
    let series = match limit.series {
        DialSeries::Marked => Series::Marked,
        DialSeries::Geometric => Series::Geometric,
    };
    let before = phase == Phase::Before;
    let drags = before
        && ["slow", "blades-stick", "blades-stay"]
            .iter()
            .any(|it| visit.matter.seen(it));
    let tired = before && (visit.matter.seen("top-speed") || visit.matter.seen("fast"));
    let drag = lots.between(0.3, 0.6);
    let tiredness = lots.between(0.3, 0.45);
    let fastest = limit.marks.len().saturating_sub(1);
    let mut dial = Vec::new();
    for (n, &said) in limit.marks.iter().enumerate() {
        let Some(mark) = Marked::fraction(said.numerator(), said.denominator()) else {
            continue;
        };
        let nominal = mark.nominal(series);
        let t = nominal.to_s();
        let spread = if before { 0.09 } else { 0.05 };
        let mut error_stops = spread * lots.normal();
        if drags && t >= SLOW_FROM_S {
            error_stops += drag + 0.05 * (t / SLOW_FROM_S).log2();
        }
        if tired && t <= TOP_TO_S {
            error_stops += tiredness + 0.08 * (TOP_TO_S / t).log2();
        }
        if n == fastest && visit.shortfall && (visit.matter.seen("speed") || !before) {
            error_stops = 0.48 + 0.04 * lots.normal();
        }
        dial.push(MarkTime {
            mark,
            nominal,
            error_stops: rounded(error_stops, 1000.0),
            limit_stops: limit.tolerance_stops(said),
        });
    }
    dial
}

/// The dial as it was written down without a recording.
pub(crate) fn dial_rows(dial: &[MarkTime], lots: &mut Lots) -> Vec<ReadingRow> {
    dial.iter()
        .map(|it| {
            let uncertainty = rounded(lots.between(0.02, 0.07), 100.0);
            let error = rounded(it.error_stops, 100.0);
            ReadingRow {
                name: it.mark.to_string(),
                unit: "s".to_owned(),
                nominal: Some(it.nominal.to_s()),
                value: Some(significant(it.effective().to_s())),
                error: Some(error),
                error_unit: "stops".to_owned(),
                uncertainty: Some(uncertainty),
                limit: it.limit_stops,
                verdict: it
                    .limit_stops
                    .map(|limit| verdict(error, uncertainty, limit)),
            }
        })
        .collect()
}

/// A figure against one limit, as its rows; `None` for limits that an instrument of its own proves.
pub(crate) fn against(limit: &Limit, phase: Phase, lots: &mut Lots) -> Option<Vec<ReadingRow>> {
    let mut off = |limit: f64| {
        let part = match phase {
            Phase::Before => 0.9 * lots.normal(),
            Phase::After => (0.3 * lots.normal()).clamp(-0.75, 0.75),
        };
        part * limit
    };
    Some(match limit {
        Limit::Shutter(_)
        | Limit::Register(_)
        | Limit::Rangefinder(_)
        | Limit::Meter(_)
        | Limit::Teeth(_) => {
            return None;
        }
        Limit::Reading(it) => {
            let error = off(it.limit);
            let row = figure(
                &it.name,
                &it.unit,
                it.target,
                error,
                0.12 * it.limit,
                it.limit,
            );
            vec![row]
        }
        Limit::Check(it) => {
            let right = phase == Phase::After || off(1.0).abs() < 0.9;
            let row = ReadingRow {
                name: it.name.clone(),
                verdict: Some(if right { Verdict::In } else { Verdict::Out }),
                ..ReadingRow::default()
            };
            vec![row]
        }
    })
}

/// The limits that prove the settings which the way in upset, each once; exposure times aside.
pub(crate) fn limits_to_prove<'n>(
    notes: &'n ServiceNotes,
    visit: &VisitPlan,
) -> Vec<(&'n str, &'n Limit)> {
    let mut proved: Vec<(&str, &Limit)> = Vec::new();
    for setting in &visit.matter.settings {
        let limits = notes.settings.get(setting.as_str()).map(|it| &it.proved_by);
        for id in limits.into_iter().flatten() {
            if let Some(limit) = notes.limit(id.as_str())
                && !matches!(limit, Limit::Shutter(_))
                && proved.iter().all(|(known, _)| *known != id.as_str())
            {
                proved.push((id.as_str(), limit));
            }
        }
    }
    proved
}

fn figure(
    name: &str,
    unit: &str,
    nominal: f64,
    error: f64,
    uncertainty: f64,
    limit: f64,
) -> ReadingRow {
    let (error, uncertainty) = (rounded(error, 1000.0), rounded(uncertainty, 1000.0));
    ReadingRow {
        name: name.to_owned(),
        unit: unit.to_owned(),
        nominal: Some(nominal),
        value: Some(rounded(nominal + error, 1000.0)),
        error: Some(error),
        error_unit: String::new(),
        uncertainty: Some(uncertainty),
        limit: Some(limit),
        verdict: Some(verdict(error, uncertainty, limit)),
    }
}

fn verdict(error: f64, uncertainty: f64, limit: f64) -> Verdict {
    match Decided::of(error, uncertainty, limit) {
        Decided::In => Verdict::In,
        Decided::Out => Verdict::Out,
        Decided::Undecided => Verdict::Undecided,
    }
}

/// To the nearest of so many parts of one; never a negative zero.
fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts + 0.0
}

/// To four significant figures, as a timer shows it.
fn significant(value: f64) -> f64 {
    if value == 0.0 {
        return value;
    }
    let digits = 3 - value.abs().log10().floor() as i32;
    format!("{value:.*}", usize::try_from(digits).unwrap_or(0))
        .parse()
        .unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::matter::Matter;
    use crate::models;
    use fettle_bench::{Seen, Term};

    fn visit(sign: &str) -> VisitPlan {
        VisitPlan {
            camera: 0,
            guarantee_of: None,
            matter: Matter {
                signs: vec![(Term::known(sign, sign), Seen::Yes)],
                ..Matter::default()
            },
            shortfall: false,
            recorded: Vec::new(),
            old: false,
        }
    }

    fn errors(sign: &str, phase: Phase) -> Vec<f64> {
        let notes = models::read().unwrap().remove(0);
        let (_, limit) = notes.shutter_limit().unwrap();
        let dial = dial(limit, &visit(sign), phase, &mut Lots::new(1));
        dial.iter().map(|it| it.error_stops).collect()
    }

    #[test]
    fn dried_lubricant_shows_on_the_slow_marks_and_is_gone_after_the_work() {
        let before = errors("slow-speeds-hang", Phase::Before);
        assert!(before[..3].iter().all(|error| *error > 0.25), "{before:?}");
        assert!(
            before[6..].iter().all(|error| error.abs() < 0.28),
            "{before:?}"
        );
        let after = errors("slow-speeds-hang", Phase::After);
        assert!(after.iter().all(|error| error.abs() <= 0.15), "{after:?}");
    }

    #[test]
    fn times_are_written_with_four_figures() {
        assert_eq!(significant(0.008_213_45).to_string(), "0.008213");
        assert_eq!(significant(1.234_56).to_string(), "1.235");
        assert_eq!(rounded(-0.000_1, 1000.0).to_string(), "0");
    }
}
