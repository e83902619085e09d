//! How a part comes off, and how it goes back.

use serde::Serialize;

use super::id::{PartId, SettingId};
use super::quantity::Minutes;
use super::words::words;

/// How one part comes off.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Removal {
    /// Parts that must all be off before.
    pub after: Vec<PartId>,
    /// Groups of which one must be wholly off before; empty, or two groups and more.
    pub either: Vec<Vec<PartId>>,
    /// Bench time of this step alone.
    pub minutes: Minutes,
    /// Which side of the camera is up; equal words mean that it is not turned over.
    pub side: String,
    /// The tool; `None` when it comes off by hand.
    pub tool: Option<String>,
    /// What holds it.
    pub fasteners: Vec<Fastener>,
    /// What to beware of in this step.
    pub caution: Option<String>,
    /// Settings that must be proved again afterwards.
    pub disturbs: Vec<SettingId>,
    /// What to mind when it goes back.
    pub back: WayBack,
}

/// What to mind when a part goes back.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct WayBack {
    /// Which lubricant, how much and where.
    pub lubricant: Option<String>,
    /// How it is brought to its old place.
    pub align: Option<String>,
    /// What to beware of.
    pub caution: Option<String>,
}

/// Fasteners of one sort that hold a part.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Fastener {
    /// What it is.
    pub kind: FastenerKind,
    /// Thread in free words, such as `M1.7`; `None` when it has none or it is not known.
    pub thread: Option<String>,
    /// Length in millimetres, under the head where there is one.
    pub length_mm: Option<f64>,
    /// Form of the head.
    pub head: Option<Head>,
    /// How many, from 1.
    pub count: u32,
    /// Which way it is turned.
    pub handed: Hand,
    /// What else to know of it.
    pub note: Option<String>,
}

words! {
    /// What holds a part.
    FastenerKind {
        /// Screw.
        Screw = "screw",
        /// Nut.
        Nut = "nut",
        /// Threaded or sprung ring.
        Ring = "ring",
        /// Pin.
        Pin = "pin",
        /// Clip.
        Clip = "clip",
        /// Spring.
        Spring = "spring",
        /// Ball.
        Ball = "ball",
        /// Washer.
        Washer = "washer",
        /// Glue.
        Glue = "glue",
        /// Solder joint.
        Solder = "solder",
    }
}

words! {
    /// Form of a fastener's head.
    Head {
        /// Cheese head: flat top, straight sides.
        Cheese = "cheese",
        /// Countersunk.
        Countersunk = "countersunk",
        /// Pan head.
        Pan = "pan",
        /// Round head.
        Round = "round",
        /// None; a grub screw.
        Headless = "headless",
        /// Hexagon.
        Hexagon = "hexagon",
        /// A slot across a nut or ring.
        Slotted = "slotted",
        /// Holes or notches for a face spanner.
        FaceSpanner = "face-spanner",
    }
}

words! {
    /// Which way a thread is wound.
    Hand {
        /// Loosened anticlockwise.
        Right = "right",
        /// Loosened clockwise.
        Left = "left",
    }
}
