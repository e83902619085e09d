//! What is proved, and how far it may be off.

use serde::Serialize;

use super::dial::{DialMark, DialSeries, DialTolerance};
use super::id::{PartId, SignId};
use super::words::words;

/// What is proved, and how far it may be off.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Limit {
    /// Exposure times.
    Shutter(ShutterLimit),
    /// Register: lens seat to film plane.
    Register(RegisterLimit),
    /// Rangefinder against the lens.
    Rangefinder(RangefinderLimit),
    /// Exposure meter over its range.
    Meter(MeterLimit),
    /// Teeth of a rack or gear.
    Teeth(TeethLimit),
    /// Any other number.
    Reading(ReadingLimit),
    /// A yes or no.
    Check(CheckLimit),
}

words! {
    /// What sort of limit it is.
    LimitKind {
        /// Exposure times.
        Shutter = "shutter",
        /// Register.
        Register = "register",
        /// Rangefinder.
        Rangefinder = "rangefinder",
        /// Exposure meter.
        Meter = "meter",
        /// Teeth of a rack or gear.
        Teeth = "teeth",
        /// Any other number.
        Reading = "reading",
        /// A yes or no.
        Check = "check",
    }
}

impl Limit {
    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Shutter(l) => &l.name,
            Self::Register(l) => &l.name,
            Self::Rangefinder(l) => &l.name,
            Self::Meter(l) => &l.name,
            Self::Teeth(l) => &l.name,
            Self::Reading(l) => &l.name,
            Self::Check(l) => &l.name,
        }
    }

    /// What sort it is.
    #[must_use]
    pub const fn kind(&self) -> LimitKind {
        match self {
            Self::Shutter(_) => LimitKind::Shutter,
            Self::Register(_) => LimitKind::Register,
            Self::Rangefinder(_) => LimitKind::Rangefinder,
            Self::Meter(_) => LimitKind::Meter,
            Self::Teeth(_) => LimitKind::Teeth,
            Self::Reading(_) => LimitKind::Reading,
            Self::Check(_) => LimitKind::Check,
        }
    }

    /// Unit of the error that an adjuster moves; `None` for a yes or no, and for teeth, which no adjuster mends.
    #[must_use]
    pub fn unit(&self) -> Option<&str> {
        match self {
            Self::Shutter(_) | Self::Meter(_) => Some("stops"),
            Self::Register(_) => Some("mm"),
            Self::Rangefinder(_) => Some("depths"),
            Self::Reading(l) => Some(&l.unit),
            Self::Teeth(_) | Self::Check(_) => None,
        }
    }
}

/// Exposure times of the marked speeds.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ShutterLimit {
    /// What it is called.
    pub name: String,
    /// Marks of the dial, slowest first, each once.
    pub marks: Vec<DialMark>,
    /// What the marks mean.
    pub series: DialSeries,
    /// How far they may be off, in the dial's order; the last reaches the fastest mark.
    pub tolerances: Vec<DialTolerance>,
    /// F-number at which the lens is fully open; leaf shutters.
    pub fully_open_f: Option<f64>,
    /// Marked f-numbers, widest first; empty when not given.
    pub stops_f: Vec<f64>,
    /// Where the sensors sit along the curtain's travel, in millimetres from the edge of the gate where it starts; empty
    /// when not given.
    pub sensors_mm: Vec<f64>,
    /// Width of the gate along the curtain's travel, in millimetres; focal-plane shutters.
    pub gate_mm: Option<f64>,
}

impl ShutterLimit {
    /// Greatest error of a mark in stops either way; `None` when the dial has no such mark.
    #[must_use]
    pub fn tolerance_stops(&self, mark: DialMark) -> Option<f64> {
        if !self.marks.contains(&mark) {
            return None;
        }
        self.tolerances
            .iter()
            .find(|t| mark >= t.to)
            .map(|t| t.stops)
    }
}

/// Register: the distance from lens seat to film plane.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct RegisterLimit {
    /// What it is called.
    pub name: String,
    /// The right distance in millimetres.
    pub target_mm: f64,
    /// Greatest error either way in millimetres.
    pub limit_mm: f64,
    /// Width and height of the picture in millimetres.
    pub frame_mm: [f64; 2],
    /// Where shims can be laid, x and y in millimetres from the picture's centre; empty when not given.
    pub seats_mm: Vec<[f64; 2]>,
}

/// Rangefinder against the lens.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct RangefinderLimit {
    /// What it is called.
    pub name: String,
    /// Focal length in millimetres.
    pub focal_mm: f64,
    /// F-number at which it is judged.
    pub f: f64,
    /// Circle of confusion in millimetres.
    pub coc_mm: f64,
    /// Greatest error either way in depths of focus, one being the f-number times the circle of confusion.
    pub limit_depths: f64,
    /// Distances at which it is read, in metres from the film plane, nearest first.
    pub distances_m: Vec<f64>,
    /// Base in millimetres; `None` when not known.
    pub base_mm: Option<f64>,
    /// Magnification of the finder; `None` when not known.
    pub magnification: Option<f64>,
    /// Separation of the lens's nodal points in millimetres; `None` when not known.
    pub nodal_mm: Option<f64>,
    /// How finely the eye sets it, in seconds of arc; `None` when not given.
    pub eye_arcsec: Option<f64>,
}

/// Exposure meter over its range.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct MeterLimit {
    /// What it is called.
    pub name: String,
    /// Greatest error either way in stops.
    pub limit_stops: f64,
    /// Lower end of the range, as exposure value at ISO 100.
    pub from_ev: f64,
    /// Upper end of the range, as exposure value at ISO 100.
    pub to_ev: f64,
    /// Step of the scale's setting in stops; `None` when it has no clicks.
    pub click_stops: Option<f64>,
}

words! {
    /// Where teeth stand.
    Toothed {
        /// Along a rack.
        Rack = "rack",
        /// Round a gear.
        Gear = "gear",
    }
}

/// Teeth of a rack or gear, from a photograph.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct TeethLimit {
    /// What it is called.
    pub name: String,
    /// The part.
    pub part: PartId,
    /// Where its teeth stand.
    pub form: Toothed,
    /// Its pitch in millimetres: along a rack, or on a gear's pitch circle; gives the photograph's scale.
    pub pitch_mm: f64,
    /// How many teeth it has; `None` when not given.
    pub teeth: Option<u32>,
    /// Its pressure angle in degrees.
    pub angle_deg: f64,
    /// How far a tooth may be off in millimetres: wear of a flank, loss of its tip, place, lean.
    pub wear_mm: f64,
    /// The sign that worn teeth answer with yes and sound ones with no; `None` when not given.
    pub sign: Option<SignId>,
}

/// Any other number: inside when |reading − target| ≤ limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ReadingLimit {
    /// What it is called.
    pub name: String,
    /// Unit of the reading, in free words.
    pub unit: String,
    /// The right reading, in the unit.
    pub target: f64,
    /// Greatest error either way, in the unit, more than 0.
    pub limit: f64,
}

/// A yes or no; yes means that it is right.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct CheckLimit {
    /// What it is called.
    pub name: String,
    /// The question, to which yes is right.
    pub question: String,
}
