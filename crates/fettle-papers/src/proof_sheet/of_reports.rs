//! The shutter's part of a proof sheet, from what was measured before and after the work.

use fettle_draw::Trace;
use fettle_measure::shutter::{Report, Speed};
use fettle_measure::{Marked, Stops};

use super::{Exposure, SpeedProof, TraceProof};

impl SpeedProof {
    /// Every mark measured in either session, slowest first. Limit and verdict are those of the later session that
    /// measured the mark.
    #[must_use]
    pub fn of_reports(before: Option<&Report>, after: Option<&Report>) -> Vec<Self> {
        let of = |report: Option<&Report>, mark| {
            report.and_then(|r| r.speeds.iter().find(|s| s.marked == mark).cloned())
        };
        marks(before, after)
            .into_iter()
            .map(|mark| {
                let (before, after) = (of(before, mark), of(after, mark));
                let last = after.as_ref().or(before.as_ref());
                Self {
                    marked: mark.to_string(),
                    limit_stops: last.and_then(|s| s.limit_stops).map(Stops::to_stops),
                    verdict: last.and_then(|s| s.verdict),
                    before: before.as_ref().map(Exposure::from),
                    after: after.as_ref().map(Exposure::from),
                }
            })
            .collect()
    }
}

impl TraceProof {
    /// For every mark with a trace in either session, slowest first, the shot that lies nearest to the mark's mean.
    #[must_use]
    pub fn of_reports(before: Option<&Report>, after: Option<&Report>) -> Vec<Self> {
        let of = |report: Option<&Report>, mark| {
            report.and_then(|r| r.typical_shot(mark)).map(Trace::from)
        };
        marks(before, after)
            .into_iter()
            .map(|mark| Self {
                marked: mark.to_string(),
                before: of(before, mark),
                after: of(after, mark),
            })
            .filter(|proof| proof.before.is_some() || proof.after.is_some())
            .collect()
    }
}

impl From<&Speed> for Exposure {
    fn from(speed: &Speed) -> Self {
        Self {
            effective_s: speed.mean_s.to_s(),
            error_stops: speed.error_stops.to_stops(),
            uncertainty_stops: Some(speed.uncertainty_stops.to_stops()),
            releases: speed.shots,
        }
    }
}

/// The marks of both sessions, slowest first.
fn marks(before: Option<&Report>, after: Option<&Report>) -> Vec<Marked> {
    let reports = [before, after].into_iter().flatten();
    let mut marks: Vec<Marked> = reports.flat_map(|r| &r.speeds).map(|s| s.marked).collect();
    marks.sort_unstable_by(|a, b| b.cmp(a));
    marks.dedup();
    marks
}
