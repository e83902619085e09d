//! The state of an adjustment: what the notes say of the adjusters, what is asked of the readings, the trials so far.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// An adjustment under way, as in the file `fettle-trim-1`.
///
/// A state built by hand is checked by [`advise`](super::advise) as strictly as one that was read.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct State {
    /// The format of the file.
    pub format: Format,
    /// The screws, cams or rings that can be turned, 1 to 4.
    pub adjusters: Vec<Adjuster>,
    /// What is read after each trial, 1 to 6, of any instrument and unit.
    pub readings: Vec<Reading>,
    /// The trials in order, at least the first: the setting as found, with zero turns.
    pub trials: Vec<Trial>,
}

/// The format of a state's file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Format {
    /// `fettle-trim-1`.
    #[default]
    #[serde(rename = "fettle-trim-1")]
    Trim1,
}

/// One adjuster.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Adjuster {
    /// Its name.
    pub name: String,
    /// What one turn does to each reading by the service notes; a reading that is not named is not moved.
    pub effects: BTreeMap<String, Effect>,
    /// Its play in turns: the part follows only when the play is taken up. Known to ±30 %.
    #[serde(default)]
    pub backlash_turns: f64,
    /// How far it can go back from where it stood at the first trial, 0 or less; `None` when nothing stops it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub min_turns: Option<f64>,
    /// How far it can go on from where it stood at the first trial, 0 or more; `None` when nothing stops it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max_turns: Option<f64>,
}

/// What one turn of an adjuster does to one reading.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Effect {
    /// Change of the reading by one turn, in the reading's unit.
    pub per_turn: f64,
    /// Expanded uncertainty of `per_turn` (k = 2) as a part of it, 0 to 10.
    pub rel_u: f64,
}

/// One reading and what is asked of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// Its name.
    pub name: String,
    /// Its unit, as it is written: `mm`, `stops`.
    pub unit: String,
    /// What it should be.
    pub target: f64,
    /// It is inside when it differs from the target by no more; greater than 0.
    pub limit: f64,
    /// Standard deviation of one reading when it is taken again with nothing turned, 0 or more.
    pub repeatability: f64,
}

/// One movement of the adjusters and the readings after it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// Turns made since the trial before, in one movement, one for each adjuster; all zero at the first.
    pub turns: Vec<f64>,
    /// The readings after it, one for each; `None` where it was not taken.
    pub readings: Vec<Option<f64>>,
}
