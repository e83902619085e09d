//! Patterns of a focal-plane shutter's curtains: frame ends uneven, capping.

use std::f64::consts::LN_2;

use super::super::{Curtain, FindingKind, Shot, Speed};
use super::statistics::{coverage, moments};
use super::worth_a_word;
use crate::{Marked, Millimetres, Stops};

/// The mark of a release.
fn mark_of(shots: &[&Shot], release: u32) -> Option<Marked> {
    shots
        .iter()
        .filter(|shot| shot.release == release)
        .find_map(|shot| shot.marked)
}

/// Expanded uncertainty of a release's evenness, in stops, from those of its outermost sensors.
fn of_sensors(shots: &[&Shot], release: u32) -> Option<f64> {
    let told = shots
        .iter()
        .filter(|shot| shot.release == release)
        .filter_map(|shot| {
            let relative = shot.uncertainty_s? / shot.effective_s?;
            Some((shot.x_mm?.to_mm(), relative / LN_2))
        });
    let mut told: Vec<(f64, f64)> = told.collect();
    told.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (near, far) = (told.first()?, told.last()?);
    (near.0 < far.0).then(|| near.1.hypot(far.1))
}

/// Marks at which the far end of the frame is surely exposed otherwise than the near, with the
/// greatest unevenness.
pub(super) fn uneven(
    shots: &[&Shot],
    speeds: &[Speed],
    curtains: &[Curtain],
) -> Option<FindingKind> {
    let mut marks = Vec::new();
    let mut worst: Option<(f64, f64)> = None;
    for speed in speeds {
        let at: Vec<(f64, f64)> = curtains
            .iter()
            .filter(|curtain| mark_of(shots, curtain.n) == Some(speed.marked))
            .filter_map(|curtain| {
                let evenness = curtain.evenness_stops.or(curtain.evenness_sensors_stops)?;
                let fitted = curtain.evenness_u_stops.map(Stops::to_stops);
                let uncertainty = fitted.or_else(|| of_sensors(shots, curtain.n))?;
                Some((evenness.to_stops(), uncertainty))
            })
            .collect();
        if at.is_empty() {
            continue;
        }
        let count = at.len() as f64;
        let (mean, variance) = moments(&at.iter().map(|it| it.0).collect::<Vec<_>>());
        let chain = at.iter().map(|it| it.1).sum::<f64>() / count;
        let repeat = coverage(count - 1.0) * (variance / count).sqrt();
        let uncertainty = chain.hypot(repeat);
        if mean.abs() - uncertainty > worth_a_word(speed) {
            marks.push(speed.marked);
            if worst.is_none_or(|worst| mean.abs() > worst.0.abs()) {
                worst = Some((mean, uncertainty));
            }
        }
    }
    worst.map(|(stops, uncertainty)| FindingKind::Uneven {
        marks,
        stops: Stops::of(stops),
        uncertainty_stops: Stops::of(uncertainty),
    })
}

/// Marks at which the slit closes before the end of the gate, and from where on at the earliest.
pub(super) fn capping(shots: &[&Shot], curtains: &[Curtain]) -> Option<FindingKind> {
    let capped: Vec<&Curtain> = curtains.iter().filter(|curtain| curtain.capped).collect();
    let from = capped
        .iter()
        .filter_map(|curtain| curtain.capped_from_mm)
        .map(Millimetres::to_mm)
        .reduce(f64::min);
    let mut marks: Vec<Marked> = capped
        .iter()
        .filter_map(|curtain| mark_of(shots, curtain.n))
        .collect();
    marks.sort_by(|a, b| b.cmp(a));
    marks.dedup();
    (!capped.is_empty()).then_some(FindingKind::Capping {
        marks,
        capped_from_mm: from.map(Millimetres::mm),
    })
}
