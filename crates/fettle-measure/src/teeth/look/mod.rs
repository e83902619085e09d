//! The first look: which way the teeth lie, how many there are, and where.
//!
//! The height of the outline over its length (a rack) or round its centre (a gear) goes up and down once a tooth.

mod gear;
mod profile;
mod rack;

use super::frame::{Frame, Mark, Seen, median};

pub(super) use self::{gear::gear, rack::rack};

/// A profile that goes up and down by less has no teeth.
const LEAST_DEPTH_PX: f64 = 6.0;
/// Least pitch that is measured at all.
const LEAST_PITCH_PX: f64 = 24.0;

/// Where the teeth are.
#[derive(Debug)]
pub(super) struct Look {
    pub(super) frame: Frame,
    pub(super) seen: Vec<Seen>,
    /// The teeth that stand at mid height.
    pub(super) present: Vec<i64>,
    /// Lattice places, first and last, missing ones between included.
    pub(super) span: (i64, i64),
    /// Root and tip in the part.
    pub(super) root: f64,
    pub(super) tip: f64,
    /// Pitch at mid height.
    pub(super) pitch: f64,
    /// Whether the row goes on beyond the photograph.
    pub(super) is_cut: bool,
    /// Room for more teeth before the first and after the last.
    pub(super) room: (u32, u32),
}

/// Median heights of roots and tips as seen.
fn heights(seen: &[Seen]) -> [f64; 2] {
    let of = |pick: fn(&Mark) -> Option<f64>| {
        let values: Vec<f64> = seen.iter().filter_map(|s| pick(&s.what)).collect();
        median(&values).unwrap_or(0.0)
    };
    [
        of(|m| {
            if let Mark::Root(h) = m {
                Some(*h)
            } else {
                None
            }
        }),
        of(|m| if let Mark::Tip(h) = m { Some(*h) } else { None }),
    ]
}
