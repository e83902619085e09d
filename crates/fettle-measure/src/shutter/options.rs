//! What the mechanic says about the camera and the recording.

use serde::{Deserialize, Serialize};

use super::{Limits, LostStretch, Said, ShutterError, focal};
use crate::{Marked, Millimetres, Series};

/// Widths a gate can have along the curtains' travel.
const GATES_MM: std::ops::RangeInclusive<f64> = 5.0..=120.0;
/// A sensor may stand beside the gate by this part of its width.
const BESIDE_GATE: f64 = 0.1;
/// Sensors stand at least so far apart.
const APART_MM: f64 = 0.1;

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
    /// The channel of the flash contact, counted from 1; it is not read for light.
    pub flash_channel: Option<u16>,
    /// The channels to read, counted from 1; empty for all.
    pub channels: Vec<u16>,
    /// Where each sensor stands along the gate, from one of its edges, one for each channel read in
    /// the order of `channels`; focal-plane shutters. Empty: one sensor, in the middle.
    pub sensors_mm: Vec<Millimetres>,
    /// The width of the gate along the curtains' travel; 36 mm when not given; focal-plane shutters.
    pub gate_mm: Option<Millimetres>,
    /// What the mechanic says of single shots.
    #[serde(default)]
    pub said: Vec<Said>,
    /// Where the recorder is known to have lost samples: shots that these stretches touch stay untold.
    #[serde(default)]
    pub lost: Vec<LostStretch>,
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
            said: Vec::new(),
            lost: Vec::new(),
        }
    }
}

impl Options {
    /// Refuses what has no meaning or is not measured.
    ///
    /// # Errors
    /// [`ShutterError::Option`] that names the command line's argument.
    pub fn check(&self) -> Result<(), ShutterError> {
        let refuse = |option, reason: &str| {
            Err(ShutterError::Option {
                option,
                reason: reason.to_owned(),
            })
        };
        if self.sense == Sense::Sound {
            self.check_sound()?;
        }
        self.check_gate()?;
        let is_stop = |f: f64| (0.5..=256.0).contains(&f);
        if self.fully_open_f.is_some_and(|f| !is_stop(f)) {
            return refuse(
                "--fully-open-f",
                "give an f-number from 0.5 to 256, such as 3.5",
            );
        }
        if !self.stops_f.iter().all(|f| is_stop(*f)) {
            return refuse(
                "--stops-f",
                "give f-numbers from 0.5 to 256, such as 3.5,4,5.6",
            );
        }
        if !self.stops_f.is_empty() && self.fully_open_f.is_none() {
            return refuse(
                "--stops-f",
                "give --fully-open-f too: the stop the sensor saw through",
            );
        }
        if self
            .clock_ppm
            .is_some_and(|ppm| ppm.is_nan() || ppm.abs() > 100_000.0)
        {
            return refuse(
                "--clock-ppm",
                "give parts per million within 100000 either way",
            );
        }
        Ok(())
    }

    /// Refuses what only light can show.
    fn check_sound(&self) -> Result<(), ShutterError> {
        let asked = [
            (
                "--flash-channel",
                self.flash_channel.is_some(),
                "a flash contact is not heard",
            ),
            (
                "--stops-f",
                !self.stops_f.is_empty(),
                "a click says nothing of how the blades open",
            ),
            (
                "--sensors-mm",
                !self.sensors_mm.is_empty(),
                "a microphone does not stand in the gate",
            ),
        ];
        let refused = asked.into_iter().find(|(_, is_asked, _)| *is_asked);
        refused.map_or(Ok(()), |(option, _, why)| {
            Err(ShutterError::Option {
                option,
                reason: format!("{why}: leave it out with --sense sound, or record light"),
            })
        })
    }

    /// The gate and where the sensors stand along it.
    fn check_gate(&self) -> Result<(), ShutterError> {
        let refuse = |option, reason: String| Err(ShutterError::Option { option, reason });
        let gate = self.gate_mm.map_or(focal::GATE_MM, Millimetres::to_mm);
        if !GATES_MM.contains(&gate) {
            let (least, most) = (GATES_MM.start(), GATES_MM.end());
            return refuse(
                "--gate-mm",
                format!("{gate} is no gate's width: give {least} to {most} mm, such as 36"),
            );
        }
        let places: Vec<f64> = self.sensors_mm.iter().map(|it| it.to_mm()).collect();
        if self.kind == Kind::Leaf && !places.is_empty() {
            return refuse(
                "--sensors-mm",
                "only a focal-plane shutter has sensors along its gate: give --kind focal-plane"
                    .to_owned(),
            );
        }
        let beside = BESIDE_GATE * gate;
        if let Some(x) = places
            .iter()
            .find(|x| !(-beside..=gate + beside).contains(*x))
        {
            return refuse(
                "--sensors-mm",
                format!(
                    "{x} mm lies outside the gate of {gate} mm: count from one edge of the gate, or give --gate-mm"
                ),
            );
        }
        let apart = |(i, x): (usize, &f64)| {
            places
                .iter()
                .take(i)
                .all(|other| (x - other).abs() >= APART_MM)
        };
        if !places.iter().enumerate().all(apart) {
            return refuse(
                "--sensors-mm",
                "two sensors cannot stand at the same place: give places at least 0.1 mm apart"
                    .to_owned(),
            );
        }
        Ok(())
    }
}
