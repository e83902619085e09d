//! How the shots of one mark repeat: the first after a rest, and the scatter of all.

use super::super::{FindingKind, Shot, Speed};
use super::statistics::{coverage, least_spread, moments, student};
use super::worth_a_word;
use crate::{Seconds, Stops};

/// Shots from which on a mark's repeat can be told.
const LEAST_SHOTS: usize = 3;
/// A first shot this many stops slower than the rest is slow.
const SLOW_STOPS: f64 = 0.08;
/// A sound shutter repeats within about so many stops (standard deviation), which is worth so many
/// degrees of freedom beside the repeats of the session.
const REPEATS_STOPS: f64 = 0.03;
const REPEATS_FREEDOM: f64 = 4.0;
/// How often a sound session may be accused by chance, all its marks together.
const CHANCE: f64 = 0.01;

/// A mark that was shot several times: `log2` of the times in the order shot, and the standard
/// uncertainty of one of them.
struct Repeated<'a> {
    speed: &'a Speed,
    logs: Vec<f64>,
    deviation: f64,
}

impl Repeated<'_> {
    /// Mean and variance of all but the first.
    fn rest(&self) -> (f64, f64) {
        moments(self.logs.get(1..).unwrap_or_default())
    }

    fn rest_count(&self) -> f64 {
        self.logs.len() as f64 - 1.0
    }
}

fn repeated<'a>(shots: &[&Shot], speeds: &'a [Speed]) -> Vec<Repeated<'a>> {
    let of_mark = |speed: &'a Speed| {
        let told: Vec<(f64, f64)> = shots
            .iter()
            .filter(|shot| shot.marked == Some(speed.marked))
            .filter_map(|shot| {
                let time = shot.effective_s?.to_s();
                let standard = 0.5 * shot.uncertainty_s.map_or(0.0, Seconds::to_s);
                Some((time.log2(), standard / time / std::f64::consts::LN_2))
            })
            .collect();
        let deviation = told.iter().map(|it| it.1).sum::<f64>() / told.len().max(1) as f64;
        let logs = told.into_iter().map(|it| it.0).collect();
        Repeated {
            speed,
            logs,
            deviation,
        }
    };
    speeds
        .iter()
        .map(of_mark)
        .filter(|mark| mark.logs.len() >= LEAST_SHOTS)
        .collect()
}

/// How the shots of the session repeat, from all marks together.
pub(super) struct Repeat {
    /// Variance of one shot about its mark, in stops squared.
    pub(super) variance: f64,
    pub(super) freedom: f64,
}

impl Repeat {
    /// From all shots but each mark's first, with what is known of sound shutters.
    pub(super) fn of(shots: &[&Shot], speeds: &[Speed]) -> Self {
        Self::pooled(&repeated(shots, speeds))
    }

    fn pooled(marks: &[Repeated<'_>]) -> Self {
        let seen: f64 = marks.iter().map(|mark| mark.rest_count() - 1.0).sum();
        let squares: f64 = marks
            .iter()
            .map(|mark| mark.rest().1 * (mark.rest_count() - 1.0))
            .sum();
        let freedom = seen + REPEATS_FREEDOM;
        Self {
            variance: (squares + REPEATS_FREEDOM * REPEATS_STOPS.powi(2)) / freedom,
            freedom,
        }
    }
}

/// Marks whose first shot is slower than those that follow.
pub(super) fn slow_first(shots: &[&Shot], speeds: &[Speed]) -> Vec<FindingKind> {
    let marks = repeated(shots, speeds);
    let session = Repeat::pooled(&marks);
    let chance = CHANCE / marks.len().max(1) as f64;
    marks
        .iter()
        .filter_map(|mark| {
            let (mean, own) = mark.rest();
            let stops = mark.logs.first()? - mean;
            let repeat = session.variance.max(own) * (1.0 + 1.0 / mark.rest_count());
            let standard = (repeat + mark.deviation.powi(2)).sqrt();
            (stops > SLOW_STOPS && stops > student(chance, session.freedom) * standard).then(|| {
                FindingKind::SlowFirst {
                    marked: mark.speed.marked,
                    stops: Stops::of(stops),
                    uncertainty_stops: Some(Stops::of(coverage(session.freedom) * standard)),
                }
            })
        })
        .collect()
}

/// Marks whose shots scatter so much that single ones leave the tolerance: within twice the standard
/// deviation lie nineteen of twenty.
pub(super) fn scatter(shots: &[&Shot], speeds: &[Speed]) -> Vec<FindingKind> {
    let marks = repeated(shots, speeds);
    let chance = CHANCE / marks.len().max(1) as f64;
    let slow = slow_first(shots, speeds);
    let is_slow_first = |speed: &Speed| {
        slow.iter().any(
            |it| matches!(it, FindingKind::SlowFirst { marked, .. } if *marked == speed.marked),
        )
    };
    marks
        .iter()
        .filter_map(|mark| {
            let counted = if is_slow_first(mark.speed) {
                mark.logs.get(1..)?
            } else {
                &mark.logs
            };
            let freedom = counted.len().checked_sub(1).filter(|it| *it > 0)? as f64;
            let (_, variance) = moments(counted);
            // The chain's own noise is no fault of the shutter.
            let twice = 2.0 * (variance - mark.deviation.powi(2)).max(0.0).sqrt();
            (twice * least_spread(chance, freedom) > worth_a_word(mark.speed)).then(|| {
                FindingKind::Scatter {
                    marked: mark.speed.marked,
                    stops: Stops::of(twice),
                    uncertainty_stops: Stops::of(twice * (1.0 - least_spread(0.025, freedom))),
                }
            })
        })
        .collect()
}
