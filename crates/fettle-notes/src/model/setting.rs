//! Settings and what adjusts them.

use serde::Serialize;

use super::id::{LimitId, SettingId};

/// One adjustment of the camera.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Setting {
    /// What it is called.
    pub name: String,
    /// Limits that prove it; at least one.
    pub proved_by: Vec<LimitId>,
    /// Settings that must be right before.
    pub depends_on: Vec<SettingId>,
    /// What is turned; empty when it can be proved but not adjusted.
    pub adjusters: Vec<Adjuster>,
    /// What else to know.
    pub note: Option<String>,
}

/// A screw, ring, cam or stack of shims that moves readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Adjuster {
    /// What it is called.
    pub name: String,
    /// What one turn does; at least one effect.
    pub effects: Vec<Effect>,
    /// Play between the adjuster and what it moves, in turns, from 0.
    pub backlash_turns: f64,
    /// Furthest turn back from where it stands, in turns, at most 0; `None` when not limited.
    pub min_turns: Option<f64>,
    /// Furthest turn on from where it stands, in turns, at least 0; `None` when not limited.
    pub max_turns: Option<f64>,
    /// What to beware of.
    pub caution: Option<String>,
}

/// What one turn of an adjuster does to one limit's reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Effect {
    /// The limit.
    pub limit: LimitId,
    /// Change per turn in the limit's unit; not 0.
    pub per_turn: f64,
    /// Relative expanded uncertainty of `per_turn` (k = 2), more than 0; 0.3 unless told.
    pub rel_u: f64,
}
