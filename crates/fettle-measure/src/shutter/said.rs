//! What the mechanic says of single shots: struck, or fired at a certain mark.

use serde::{Deserialize, Serialize};

use super::Shot;
use crate::{Marked, Seconds};

/// A shot is known by when it starts, within this.
const WITHIN_S: f64 = 0.05;

/// What the mechanic says of one release.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Said {
    /// When its shot starts, on its recording's own clock, within 0.05 s.
    pub start_s: Seconds,
    /// Whether it is struck: it stays in the report and counts in no mean.
    pub struck: bool,
    /// The mark it was fired at; `None` leaves it to be recognised.
    pub marked: Option<Marked>,
}

/// Notes on each shot what was said of its release; `shots` are numbered by release.
pub(super) fn note(shots: &mut [Shot], said: &[Said]) {
    for word in said {
        let apart = |shot: &Shot| (shot.start_s.to_s() - word.start_s.to_s()).abs();
        let nearest = shots
            .iter()
            .filter(|shot| apart(shot) <= WITHIN_S)
            .min_by(|a, b| apart(a).total_cmp(&apart(b)));
        let Some(release) = nearest.map(|shot| shot.release) else {
            continue;
        };
        for shot in shots.iter_mut().filter(|shot| shot.release == release) {
            shot.struck = word.struck;
            shot.told = word.marked.is_some();
            shot.marked = word.marked;
        }
    }
}
