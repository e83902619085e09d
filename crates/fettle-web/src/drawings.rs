//! Charts and drawings for the pages, from the types that hold their figures.

use fettle_draw::{
    Mark, Sheet, SpeedChart, SpeedColumn, SpeedReading, Trace, TracePoint, speed_chart,
    trace_chart, trace_pair,
};
use fettle_measure::shutter::{Report, Shot, Speed};
use fettle_measure::{Marked, Seconds, Stops};

/// The marks that either report has figures for, slowest first.
pub(crate) fn marks(before: Option<&Report>, after: Option<&Report>) -> Vec<Marked> {
    let speeds = |report: Option<&Report>| -> Vec<Marked> {
        report
            .map(|report| report.speeds.iter().map(|speed| speed.marked).collect())
            .unwrap_or_default()
    };
    let mut marks = speeds(before);
    marks.extend(speeds(after));
    marks.sort_by(|a, b| b.cmp(a));
    marks.dedup();
    marks
}

/// Errors of the speeds against their limits, before and after the work.
pub(crate) fn speeds(before: Option<&Report>, after: Option<&Report>) -> String {
    let mut reports = Vec::new();
    let mut series = Vec::new();
    if let Some(report) = before {
        reports.push(report);
        series.push(("before".to_owned(), Mark::OpenCircle));
    }
    if let Some(report) = after {
        reports.push(report);
        let name = if before.is_some() {
            "after"
        } else {
            "measured"
        };
        series.push((name.to_owned(), Mark::FilledSquare));
    }
    let column = |mark: &Marked| {
        let speeds: Vec<Option<&Speed>> = reports
            .iter()
            .map(|report| report.speeds.iter().find(|speed| speed.marked == *mark))
            .collect();
        let limit = speeds
            .iter()
            .rev()
            .flatten()
            .find_map(|speed| speed.limit_stops);
        SpeedColumn {
            marked: mark.to_string(),
            limit_stops: limit.map(Stops::to_stops),
            readings: speeds.into_iter().map(|speed| speed.map(reading)).collect(),
        }
    };
    let chart = SpeedChart {
        title: "Errors of the marked speeds in stops, with their limits".to_owned(),
        speeds: marks(before, after).iter().map(column).collect(),
        series,
    };
    speed_chart(&chart, Sheet::Inherit)
}

fn reading(speed: &Speed) -> SpeedReading {
    SpeedReading {
        error_stops: speed.error_stops.to_stops(),
        uncertainty_stops: Some(speed.uncertainty_stops.to_stops()),
    }
}

/// One shot's opening against time.
pub(crate) fn trace(shot: &Shot) -> String {
    let marked = shot
        .marked
        .map_or_else(|| "no mark".to_owned(), |mark| format!("{mark} s"));
    trace_chart(
        &format!("Shot {}, {marked}", shot.n),
        &drawn(shot),
        Sheet::Inherit,
    )
}

/// A shot at one mark before and after the work.
pub(crate) fn traces(mark: Marked, before: Option<&Report>, after: Option<&Report>) -> String {
    let shot = |report: Option<&Report>| -> Option<Trace> {
        let shots = &report?.shots;
        shots
            .iter()
            .find(|shot| shot.marked == Some(mark) && shot.effective_s.is_some())
            .map(drawn)
    };
    let (before, after) = (shot(before), shot(after));
    trace_pair(
        &format!("{mark} s"),
        before.as_ref(),
        after.as_ref(),
        Sheet::Inherit,
    )
}

fn drawn(shot: &Shot) -> Trace {
    let marks = &shot.trace.marks;
    let s = |time: Option<Seconds>| time.map(Seconds::to_s);
    let points = shot.trace.points.iter().map(|point| TracePoint {
        time_s: point.time_s.to_s(),
        openness: point.openness,
    });
    Trace {
        points: points.collect(),
        first_opening_s: s(marks.opening_s),
        full_s: s(marks.open_s),
        closing_s: s(marks.closing_s),
        closed_s: s(marks.closed_s),
        effective_s: s(shot.effective_s),
        effective_uncertainty_s: s(shot.uncertainty_s),
    }
}
