//! Openings in a part: round, or with round ends.

use std::f64::consts::{FRAC_PI_2, PI};

use serde::{Deserialize, Serialize};

use crate::gear::{Curve, Outline, Point};

/// A round hole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hole {
    /// Its diameter.
    pub diameter_mm: f64,
    /// Where its middle is.
    pub x_mm: f64,
    /// Where its middle is.
    pub y_mm: f64,
}

/// A slot with round ends, along the longer of its two measures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Slot {
    /// Along x, over all.
    pub length_mm: f64,
    /// Along y, over all.
    pub width_mm: f64,
    /// Where its middle is.
    pub x_mm: f64,
    /// Where its middle is.
    pub y_mm: f64,
}

impl Hole {
    /// Reads a diameter and a place in mm, `1.7@4,-2`.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let (diameter, at) = text.split_once('@')?;
        let [x_mm, y_mm] = pair(at, &[','])?;
        Some(Self {
            diameter_mm: diameter.trim().parse().ok()?,
            x_mm,
            y_mm,
        })
    }
}

impl Slot {
    /// Reads length along x, width along y and a place in mm, `4x1.7@20,-2`.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let (size, at) = text.split_once('@')?;
        let [length_mm, width_mm] = pair(size, &['x', 'X', '×'])?;
        let [x_mm, y_mm] = pair(at, &[','])?;
        Some(Self {
            length_mm,
            width_mm,
            x_mm,
            y_mm,
        })
    }
}

fn pair(text: &str, between: &[char]) -> Option<[f64; 2]> {
    let (a, b) = text.split_once(between)?;
    Some([a.trim().parse().ok()?, b.trim().parse().ok()?])
}

/// What an opening is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Shape {
    /// A gear's bore.
    Bore(Hole),
    /// A hole.
    Hole(Hole),
    /// A slot.
    Slot(Slot),
}

/// An opening, with its edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Opening {
    /// What it is.
    pub shape: Shape,
    /// Its edge, clockwise: the material is to the left.
    pub outline: Outline,
}

impl Shape {
    /// Where its middle is.
    #[must_use]
    pub const fn middle(&self) -> Point {
        match self {
            Self::Bore(hole) | Self::Hole(hole) => [hole.x_mm, hole.y_mm],
            Self::Slot(slot) => [slot.x_mm, slot.y_mm],
        }
    }

    /// Its radius, or that of its ends.
    #[must_use]
    pub const fn radius_mm(&self) -> f64 {
        match self {
            Self::Bore(hole) | Self::Hole(hole) => hole.diameter_mm / 2.0,
            Self::Slot(slot) => slot.length_mm.min(slot.width_mm) / 2.0,
        }
    }

    /// The middles of its two ends, the same for a round one.
    #[must_use]
    pub fn ends(&self) -> [Point; 2] {
        let [x, y] = self.middle();
        match self {
            Self::Bore(_) | Self::Hole(_) => [[x, y]; 2],
            Self::Slot(slot) => {
                let half = (slot.length_mm - slot.width_mm) / 2.0;
                if half > 0.0 {
                    [[x - half, y], [x + half, y]]
                } else {
                    [[x, y + half], [x, y - half]]
                }
            }
        }
    }

    /// What it is called, with its measures.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::Bore(hole) => format!("the bore of {} mm", hole.diameter_mm),
            Self::Hole(hole) => format!(
                "the hole of {} mm at {}, {}",
                hole.diameter_mm, hole.x_mm, hole.y_mm
            ),
            Self::Slot(slot) => format!(
                "the slot of {} x {} mm at {}, {}",
                slot.length_mm, slot.width_mm, slot.x_mm, slot.y_mm
            ),
        }
    }

    /// What wall is left between this and another; below 0 they run into one another.
    pub(super) fn wall_to(&self, other: &Self) -> f64 {
        stretch_distance(self.ends(), other.ends()) - self.radius_mm() - other.radius_mm()
    }

    pub(super) fn outline(&self) -> Outline {
        let [a, b] = self.ends();
        let radius_mm = self.radius_mm();
        let along = (b[1] - a[1]).atan2(b[0] - a[0]);
        let end = |centre: Point, from_rad: f64| Curve::Arc {
            centre,
            radius_mm,
            from_rad,
            to_rad: from_rad - PI,
        };
        let aside = |centre: Point, angle: f64| {
            [
                centre[0] + radius_mm * angle.cos(),
                centre[1] + radius_mm * angle.sin(),
            ]
        };
        let (left, right) = (along + FRAC_PI_2, along - FRAC_PI_2);
        let mut curves = vec![end(b, left)];
        if matches!(self, Self::Slot(_)) {
            curves.push(Curve::Line {
                from: aside(b, right),
                to: aside(a, right),
            });
        }
        curves.push(end(a, right));
        if matches!(self, Self::Slot(_)) {
            curves.push(Curve::Line {
                from: aside(a, left),
                to: aside(b, left),
            });
        }
        Outline { curves }
    }
}

/// Least distance of two stretches of a line, 0 where they cross.
fn stretch_distance(a: [Point; 2], b: [Point; 2]) -> f64 {
    if cross(a, b) {
        return 0.0;
    }
    [
        to_stretch(a[0], b),
        to_stretch(a[1], b),
        to_stretch(b[0], a),
        to_stretch(b[1], a),
    ]
    .into_iter()
    .fold(f64::INFINITY, f64::min)
}

fn cross(a: [Point; 2], b: [Point; 2]) -> bool {
    let side = |of: [Point; 2], p: Point| {
        (of[1][0] - of[0][0]) * (p[1] - of[0][1]) - (of[1][1] - of[0][1]) * (p[0] - of[0][0])
    };
    side(a, b[0]) * side(a, b[1]) < 0.0 && side(b, a[0]) * side(b, a[1]) < 0.0
}

fn to_stretch(p: Point, of: [Point; 2]) -> f64 {
    let [from, to] = of;
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let squared = dx * dx + dy * dy;
    let part = if squared > 0.0 {
        (((p[0] - from[0]) * dx + (p[1] - from[1]) * dy) / squared).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (p[0] - from[0] - part * dx).hypot(p[1] - from[1] - part * dy)
}
