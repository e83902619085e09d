//! What the mechanic says about the camera and the recording.

use serde::{Deserialize, Serialize};

use super::Limits;
use crate::{Marked, Millimetres, Series};

/// How the shutter is built.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Blades between the lens elements, opening from the centre.
    #[default]
    Leaf,
    /// Two curtains before the film.
    FocalPlane,
}

/// What the recording senses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sense {
    /// A light sensor behind the shutter.
    #[default]
    Light,
    /// A microphone near the camera.
    Sound,
}

/// How a session of recordings is to be read. `Options::default()` is a leaf shutter with an unknown
/// dial and the bench's rule for limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// How the shutter is built.
    pub kind: Kind,
    /// What the recordings sense.
    pub sense: Sense,
    /// The marks on the dial in any order; empty when not known: the common dial is then tried and
    /// marks are flagged as guessed.
    pub speeds: Vec<Marked>,
    /// What a mark means.
    pub series: Series,
    /// How far a speed may be off.
    pub limits: Limits,
    /// The f-number at which the sensor saw the shutter's whole opening; needed for `stops_f`.
    pub fully_open_f: Option<f64>,
    /// The f-numbers for which effective times are wanted, for leaf shutters.
    pub stops_f: Vec<f64>,
    /// By how many parts per million the recorder's clock runs fast; `None` when not known, which
    /// puts ±200 ppm into the uncertainty.
    pub clock_ppm: Option<f64>,
    /// The channel of the flash contact, counted from 1.
    pub flash_channel: Option<u16>,
    /// The channels to read, counted from 1; empty for all.
    pub channels: Vec<u16>,
    /// Where each sensor stands along the gate, one for each channel read; focal-plane shutters.
    pub sensors_mm: Vec<Millimetres>,
    /// The width of the gate along the curtains' travel; focal-plane shutters.
    pub gate_mm: Option<Millimetres>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            kind: Kind::Leaf,
            sense: Sense::Light,
            speeds: Vec::new(),
            series: Series::Marked,
            limits: Limits::bench_rule(),
            fully_open_f: None,
            stops_f: Vec::new(),
            clock_ppm: None,
            flash_channel: None,
            channels: Vec::new(),
            sensors_mm: Vec::new(),
            gate_mm: None,
        }
    }
}
