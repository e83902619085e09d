//! Pieces off and on, work, parts, readings, settings and what could not be brought back.

use serde::{Deserialize, Serialize};

use crate::{
    ids::{PhotoId, PieceId, RecordingId, VisitId},
    money::Money,
    term::Term,
    words::{Grade, Instrument, Phase, Verdict},
};

/// A piece came off and lies in the tray.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PieceRemoved {
    /// At which visit.
    pub visit: VisitId,
    /// Which piece.
    pub piece: Term,
    /// The tray's cell, from 1; `None` when it lies elsewhere.
    #[serde(default)]
    pub cell: Option<u32>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
    /// The photograph taken at this step.
    #[serde(default)]
    pub photo: Option<PhotoId>,
}

/// A piece went back on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PieceReturned {
    /// At which visit.
    pub visit: VisitId,
    /// Which piece.
    pub piece: PieceId,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// Work was done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WorkDone {
    /// At which visit.
    pub visit: VisitId,
    /// Which work.
    pub work: Term,
    /// Minutes it took; `None` when nobody counted.
    #[serde(default)]
    pub minutes: Option<f64>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// A part was fitted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartFitted {
    /// At which visit.
    pub visit: VisitId,
    /// Which part.
    pub part: Term,
    /// Its grade.
    pub grade: Grade,
    /// How many pieces, from 1.
    pub quantity: u32,
    /// The price of all of them; `None` when it is not charged.
    #[serde(default)]
    pub price: Option<Money>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// One figure of a reading. Every number is finite; `None` means that there is no such figure.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReadingRow {
    /// Of what: `1/125`, `centre`, `3 m`.
    pub name: String,
    /// The unit of `nominal` and `value`.
    #[serde(default)]
    pub unit: String,
    /// What it should be, in `unit`.
    #[serde(default)]
    pub nominal: Option<f64>,
    /// What it is, in `unit`.
    #[serde(default)]
    pub value: Option<f64>,
    /// How far off it is, in `error_unit`.
    #[serde(default)]
    pub error: Option<f64>,
    /// The unit of `error`, `uncertainty` and `limit`; empty when it is `unit`.
    #[serde(default)]
    pub error_unit: String,
    /// Expanded uncertainty of the error (k = 2), in `error_unit`.
    #[serde(default)]
    pub uncertainty: Option<f64>,
    /// The error allowed either way, in `error_unit`.
    #[serde(default)]
    pub limit: Option<f64>,
    /// The figure against its limit; `None` without a limit or without an uncertainty.
    #[serde(default)]
    pub verdict: Option<Verdict>,
}

/// A reading was taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReadingTaken {
    /// At which visit.
    pub visit: VisitId,
    /// Before or after the work.
    pub phase: Phase,
    /// With what.
    pub instrument: Instrument,
    /// The limit of the service notes that it is held against, by its id.
    #[serde(default)]
    pub limit_id: Option<String>,
    /// Its figures.
    #[serde(default)]
    pub rows: Vec<ReadingRow>,
    /// What should be known of it: warnings of the instrument, in words.
    #[serde(default)]
    pub findings: Vec<String>,
    /// The recording that it was taken from.
    #[serde(default)]
    pub recording: Option<RecordingId>,
    /// How it was taken, in a line; may be empty.
    #[serde(default)]
    pub method: String,
    /// The instrument's full result, as it gave it.
    #[serde(default)]
    pub detail: Option<serde_json::Value>,
}

/// One trial of a setting: what was turned since the trial before, and what was read then.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrialMade {
    /// At which visit.
    pub visit: VisitId,
    /// Which setting.
    pub setting: Term,
    /// Whether these are the readings as found, with nothing turned: a new series of trials begins.
    #[serde(default)]
    pub as_found: bool,
    /// What was turned, in one movement each; adjusters left alone may be missing.
    #[serde(default)]
    pub turned: Vec<Turned>,
    /// What was read.
    pub readings: Vec<TrialReading>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// How far one adjuster was turned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Turned {
    /// The adjuster, as the service notes call it.
    pub adjuster: String,
    /// In turns; positive is the sense in which the notes give its effects.
    pub turns: f64,
}

/// One reading of a trial.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrialReading {
    /// The limit of the service notes that it is held against, by its id.
    pub limit_id: String,
    /// The reading, in the limit's unit; `None` when it was not taken.
    #[serde(default)]
    pub value: Option<f64>,
    /// Standard deviation with which one reading repeats, in the same unit.
    pub repeatability: f64,
}

/// A setting was proved, or did not hold. Proving it again replaces the answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SettingProved {
    /// At which visit.
    pub visit: VisitId,
    /// Which setting.
    pub setting: Term,
    /// Whether it holds.
    pub held: bool,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// Something could not be brought back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShortfallNoted {
    /// At which visit.
    pub visit: VisitId,
    /// What.
    pub what: String,
    /// A correction that the owner can use; may be empty.
    #[serde(default)]
    pub correction: String,
}
