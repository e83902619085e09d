//! Marks against each other and the dial: alike, missing, bouncing.

use super::super::{FindingKind, Flag, Options, Shot, Speed};
use crate::{Marked, Stops};

/// Neighbouring marks surely nearer than this part of what lies between them on the dial are alike.
const ALIKE: f64 = 0.4;

/// Neighbouring marks that give the same time, as a cam worn between them does.
pub(super) fn alike(speeds: &[Speed]) -> Vec<FindingKind> {
    let pairs = speeds.iter().zip(speeds.iter().skip(1));
    pairs
        .filter_map(|(slow, fast)| {
            let apart = slow.mean_s.error_against(fast.mean_s)?.to_stops();
            let nominal = slow.nominal_s.error_against(fast.nominal_s)?.to_stops();
            let of = |speed: &Speed| speed.uncertainty_stops.to_stops();
            let uncertainty = of(slow).hypot(of(fast));
            (apart + uncertainty < ALIKE * nominal).then(|| FindingKind::Alike {
                marks: [slow.marked, fast.marked],
                stops: Some(Stops::of(apart)),
                uncertainty_stops: Some(Stops::of(uncertainty)),
            })
        })
        .collect()
}

/// Marks of the dial that were not shot, slowest first.
pub(super) fn missing(speeds: &[Speed], options: &Options) -> Vec<FindingKind> {
    let mut dial = options.speeds.clone();
    dial.sort_by(|a, b| b.cmp(a));
    dial.dedup();
    dial.into_iter()
        .filter(|mark| speeds.iter().all(|speed| speed.marked != *mark))
        .map(|marked| FindingKind::Missing { marked })
        .collect()
}

/// Marks at which at least every second shot opens a second time.
pub(super) fn bounce(shots: &[&Shot], speeds: &[Speed]) -> Option<FindingKind> {
    let mut bounced = 0_u32;
    let mut marks: Vec<Marked> = Vec::new();
    for speed in speeds {
        let at = shots
            .iter()
            .filter(|shot| shot.marked == Some(speed.marked));
        let (mut all, mut second) = (0_u32, 0_u32);
        for shot in at {
            all += 1;
            second += u32::from(shot.flags.contains(&Flag::Bounce));
        }
        if second > 0 && 2 * second >= all {
            marks.push(speed.marked);
            bounced += second;
        }
    }
    (!marks.is_empty()).then_some(FindingKind::Bounce {
        marks,
        shots: bounced,
    })
}
