//! Results of the instruments as charts.

use fettle_measure::shutter::{Shot, Speed};

use crate::mark::Mark;
use crate::speed_chart::{SpeedChart, SpeedColumn, SpeedReading};
use crate::trace::{Trace, TracePoint};

/// The trace of a shot with its moments and effective time.
impl From<&Shot> for Trace {
    fn from(shot: &Shot) -> Self {
        let seconds =
            |time: Option<fettle_measure::Seconds>| time.map(fettle_measure::Seconds::to_s);
        let marks = &shot.trace.marks;
        Self {
            points: shot
                .trace
                .points
                .iter()
                .map(|p| TracePoint {
                    time_s: p.time_s.to_s(),
                    openness: p.openness,
                })
                .collect(),
            first_opening_s: seconds(marks.opening_s),
            full_s: seconds(marks.open_s),
            closing_s: seconds(marks.closing_s),
            closed_s: seconds(marks.closed_s),
            effective_s: seconds(shot.effective_s),
            effective_uncertainty_s: seconds(shot.uncertainty_s),
        }
    }
}

impl From<&Speed> for SpeedReading {
    fn from(speed: &Speed) -> Self {
        Self {
            error_stops: speed.error_stops.to_stops(),
            uncertainty_stops: Some(speed.uncertainty_stops.to_stops()),
        }
    }
}

impl SpeedChart {
    /// The chart of one session.
    #[must_use]
    pub fn of_session(speeds: &[Speed]) -> Self {
        Self {
            title: "Errors of the marked speeds in stops, with their limits".to_owned(),
            series: vec![("measured".to_owned(), Mark::FilledSquare)],
            speeds: speeds
                .iter()
                .map(|speed| SpeedColumn {
                    marked: speed.marked.to_string(),
                    limit_stops: speed.limit_stops.map(fettle_measure::Stops::to_stops),
                    readings: vec![Some(speed.into())],
                })
                .collect(),
        }
    }

    /// The chart of two sessions, before and after the work, over every mark that was measured in either, slowest
    /// first. A mark's limit is that of the later session where it has one.
    #[must_use]
    pub fn before_and_after(before: &[Speed], after: &[Speed]) -> Self {
        let mut marks: Vec<_> = before.iter().chain(after).map(|s| s.marked).collect();
        marks.sort_unstable_by(|a, b| b.cmp(a));
        marks.dedup();
        let columns = marks.into_iter().map(|mark| {
            let of = |session: &[Speed]| session.iter().find(|s| s.marked == mark).cloned();
            let (before, after) = (of(before), of(after));
            let limit = after
                .as_ref()
                .and_then(|s| s.limit_stops)
                .or_else(|| before.as_ref().and_then(|s| s.limit_stops));
            SpeedColumn {
                marked: mark.to_string(),
                limit_stops: limit.map(fettle_measure::Stops::to_stops),
                readings: [before, after]
                    .iter()
                    .map(|s| s.as_ref().map(SpeedReading::from))
                    .collect(),
            }
        });
        Self {
            title: "Errors of the marked speeds in stops, before and after, with their limits"
                .to_owned(),
            series: vec![
                ("before".to_owned(), Mark::OpenCircle),
                ("after".to_owned(), Mark::FilledSquare),
            ],
            speeds: columns.collect(),
        }
    }
}
