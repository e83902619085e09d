//! Patterns over the dial.

use super::{Finding, FindingKind, Options, Shot, Speed};
use crate::{Seconds, Stops};

/// Neighbouring marks this near, as a part of what lies between them on the dial, are alike.
const ALIKE: f64 = 0.4;
/// A first shot this many stops slower than the rest is slow.
const SLOW_STOPS: f64 = 0.08;
/// And so many times farther off than the rest scatters.
const OVER_SCATTER: f64 = 3.0;

/// What the session as a whole shows.
pub(super) fn over_dial(shots: &[Shot], speeds: &[Speed], options: &Options) -> Vec<Finding> {
    let mut findings = Vec::new();
    for speed in speeds {
        let at: Vec<f64> = shots
            .iter()
            .filter(|shot| shot.marked == Some(speed.marked) && !shot.struck)
            .filter_map(|shot| shot.effective_s.map(Seconds::to_s))
            .collect();
        if at.len() < 3 {
            continue;
        }
        let rest = &at[1..];
        let mean = rest.iter().sum::<f64>() / rest.len() as f64;
        let scatter = rest
            .iter()
            .map(|time| (time - mean).abs())
            .fold(0.0, f64::max);
        let slower = (at[0] / mean).log2();
        if slower > SLOW_STOPS && at[0] - mean > OVER_SCATTER * scatter {
            let what = FindingKind::SlowFirst {
                marked: speed.marked,
                stops: Stops::of(slower),
            };
            findings.push(Finding::of_session(what));
        }
    }
    for pair in speeds.windows(2) {
        let apart = (pair[0].mean_s / pair[1].mean_s).log2();
        let nominal = (pair[0].nominal_s / pair[1].nominal_s).log2();
        if apart < ALIKE * nominal {
            let marks = [pair[0].marked, pair[1].marked];
            findings.push(Finding::of_session(FindingKind::Alike { marks }));
        }
    }
    let mut dial = options.speeds.clone();
    dial.sort_by(|a, b| b.cmp(a));
    dial.dedup();
    for marked in dial {
        if speeds.iter().all(|speed| speed.marked != marked) {
            findings.push(Finding::of_session(FindingKind::Missing { marked }));
        }
    }
    findings
}
