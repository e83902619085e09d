//! The exact curves of a tooth's outline, and points along them.

use serde::{Deserialize, Serialize};

/// A point in mm.
pub type Point = [f64; 2];

/// Halvings after which a curve counts as flat; a thousandth of a micron needs about 12.
const DEEPEST: u32 = 24;
/// Part of the tolerance that is used, since it is checked at places between and not everywhere.
const MARGIN: f64 = 0.9;

/// One smooth stretch of an outline about the wheel's centre.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Curve {
    /// A straight line.
    Line {
        /// Where it begins.
        from: Point,
        /// Where it ends.
        to: Point,
    },
    /// A circle's arc.
    Arc {
        /// The circle's centre; the wheel's for tips and bottoms of gaps.
        centre: Point,
        /// Its radius.
        radius_mm: f64,
        /// Angle where it begins.
        from_rad: f64,
        /// Angle where it ends.
        to_rad: f64,
    },
    /// An involute: the end of a thread unwound from the base circle, `t` radians of it.
    Involute {
        /// Radius of the base circle.
        base_radius_mm: f64,
        /// Angle where it leaves the base circle.
        origin_rad: f64,
        /// 1 unwinding with growing angles, -1 against.
        hand: f64,
        /// `t` where it begins.
        from_roll_rad: f64,
        /// `t` where it ends.
        to_roll_rad: f64,
    },
    /// An involute eased towards the tip: at the greater end of `t` the flank stands `relief_mm` back, normal to itself, before that with the square of the
    /// way from the lesser end.
    Relief {
        /// Radius of the base circle.
        base_radius_mm: f64,
        /// Angle where the involute leaves the base circle.
        origin_rad: f64,
        /// 1 unwinding with growing angles, -1 against.
        hand: f64,
        /// `t` where it begins.
        from_roll_rad: f64,
        /// `t` where it ends.
        to_roll_rad: f64,
        /// How far back at the tip.
        relief_mm: f64,
    },
    /// A parabola: the same on a rack's straight flank.
    Parabola {
        /// Where it begins.
        from: Point,
        /// Where the tangents of its ends cross.
        bend: Point,
        /// Where it ends.
        to: Point,
    },
    /// The path of a rack cutter's corner, `along` mm before the line of centres: radius `hypot(root, along)`, angle from the gap's middle
    /// `(corner - along)/pitch + atan(along/root)`.
    Trochoid {
        /// Radius of the pitch circle.
        pitch_radius_mm: f64,
        /// Radius of the root circle.
        root_radius_mm: f64,
        /// From the middle of the cutter's tooth to its corner.
        corner_mm: f64,
        /// Angle of the gap's middle.
        gap_rad: f64,
        /// 1 on the side of greater angles, -1 on the other.
        hand: f64,
        /// `along` where it begins.
        from_along_mm: f64,
        /// `along` where it ends.
        to_along_mm: f64,
    },
}

impl Curve {
    /// The point at `part` of the curve's parameter, 0 to 1.
    #[must_use]
    pub fn at(&self, part: f64) -> Point {
        match *self {
            Self::Line { from, to } => {
                [between(from[0], to[0], part), between(from[1], to[1], part)]
            }
            Self::Arc {
                centre,
                radius_mm,
                from_rad,
                to_rad,
            } => sum(centre, polar(radius_mm, between(from_rad, to_rad, part))),
            Self::Involute {
                base_radius_mm,
                origin_rad,
                hand,
                from_roll_rad,
                to_roll_rad,
            } => {
                let roll = between(from_roll_rad, to_roll_rad, part);
                polar(
                    base_radius_mm * 1_f64.hypot(roll),
                    origin_rad + hand * (roll - roll.atan()),
                )
            }
            Self::Relief {
                base_radius_mm,
                origin_rad,
                hand,
                from_roll_rad,
                to_roll_rad,
                relief_mm,
            } => {
                let roll = between(from_roll_rad, to_roll_rad, part);
                let way = way_to_tip(from_roll_rad, to_roll_rad, roll);
                let thread = eased_thread(base_radius_mm, roll, relief_mm, way);
                turned(origin_rad + hand * roll, base_radius_mm, -hand * thread)
            }
            Self::Parabola { from, bend, to } => {
                let blend = |axis: usize| {
                    let first = between(from[axis], bend[axis], part);
                    between(first, between(bend[axis], to[axis], part), part)
                };
                [blend(0), blend(1)]
            }
            Self::Trochoid {
                pitch_radius_mm,
                root_radius_mm,
                corner_mm,
                gap_rad,
                hand,
                from_along_mm,
                to_along_mm,
            } => {
                let along = between(from_along_mm, to_along_mm, part);
                let angle = trochoid_angle(corner_mm, pitch_radius_mm, root_radius_mm, along);
                polar(root_radius_mm.hypot(along), gap_rad + hand * angle)
            }
        }
    }

    /// The derivative of [`Curve::at`] by `part`, in mm.
    #[must_use]
    pub fn slope(&self, part: f64) -> Point {
        match *self {
            Self::Line { from, to } => [to[0] - from[0], to[1] - from[1]],
            Self::Arc {
                radius_mm,
                from_rad,
                to_rad,
                ..
            } => turned(
                between(from_rad, to_rad, part),
                0.0,
                radius_mm * (to_rad - from_rad),
            ),
            Self::Involute {
                base_radius_mm,
                origin_rad,
                hand,
                from_roll_rad,
                to_roll_rad,
            } => {
                let roll = between(from_roll_rad, to_roll_rad, part);
                let by_part = to_roll_rad - from_roll_rad;
                polar(base_radius_mm * roll * by_part, origin_rad + hand * roll)
            }
            Self::Relief {
                base_radius_mm,
                origin_rad,
                hand,
                from_roll_rad,
                to_roll_rad,
                relief_mm,
            } => {
                let roll = between(from_roll_rad, to_roll_rad, part);
                let by_part = to_roll_rad - from_roll_rad;
                let way = way_to_tip(from_roll_rad, to_roll_rad, roll);
                let thread = eased_thread(base_radius_mm, roll, relief_mm, way);
                let easing = 2.0 * relief_mm * way / by_part.abs();
                turned(
                    origin_rad + hand * roll,
                    thread * by_part,
                    hand * easing * by_part,
                )
            }
            Self::Parabola { from, bend, to } => {
                let blend = |axis: usize| {
                    2.0 * between(bend[axis] - from[axis], to[axis] - bend[axis], part)
                };
                [blend(0), blend(1)]
            }
            Self::Trochoid {
                pitch_radius_mm,
                root_radius_mm,
                corner_mm,
                gap_rad,
                hand,
                from_along_mm,
                to_along_mm,
            } => {
                let along = between(from_along_mm, to_along_mm, part);
                let by_part = to_along_mm - from_along_mm;
                let radius = root_radius_mm.hypot(along);
                let angle = trochoid_angle(corner_mm, pitch_radius_mm, root_radius_mm, along);
                let turning = root_radius_mm / radius.powi(2) - 1.0 / pitch_radius_mm;
                turned(
                    gap_rad + hand * angle,
                    along / radius * by_part,
                    radius * hand * turning * by_part,
                )
            }
        }
    }

    /// Points along the curve, without its first: the curve is nowhere farther than `chord_mm` from the lines between them.
    #[must_use]
    pub fn points(&self, chord_mm: f64) -> Vec<Point> {
        let mut points = Vec::new();
        if let Self::Line { to, .. } = self {
            points.push(*to);
        } else {
            let flat = |a: f64, b: f64| {
                let (from, to) = (self.at(a), self.at(b));
                (1..8).all(|i| {
                    let between = self.at(between(a, b, f64::from(i) / 8.0));
                    distance_to_line(between, from, to) <= MARGIN * chord_mm
                })
            };
            split(0.0, 1.0, DEEPEST, &flat, &mut |_, b| {
                points.push(self.at(b));
            });
        }
        points
    }

    /// The curve as cubic Bézier pieces, four points each, joined without a kink and within `off_mm` of it: what a solid's format without involutes
    /// carries as one B-spline.
    #[must_use]
    pub fn cubics(&self, off_mm: f64) -> Vec<[Point; 4]> {
        let mut pieces = Vec::new();
        let near = |a: f64, b: f64| {
            let cubic = self.cubic(a, b);
            (1..8).all(|i| {
                let part = f64::from(i) / 8.0;
                let (want, got) = (self.at(between(a, b, part)), bezier(&cubic, part));
                (want[0] - got[0]).hypot(want[1] - got[1]) <= MARGIN * off_mm
            })
        };
        split(0.0, 1.0, DEEPEST, &near, &mut |a, b| {
            pieces.push(self.cubic(a, b));
        });
        pieces
    }

    /// The cubic with the curve's ends and slopes between two parts.
    fn cubic(&self, a: f64, b: f64) -> [Point; 4] {
        let (from, to) = (self.at(a), self.at(b));
        let (leaves, arrives) = (self.slope(a), self.slope(b));
        let third = (b - a) / 3.0;
        [
            from,
            [from[0] + third * leaves[0], from[1] + third * leaves[1]],
            [to[0] - third * arrives[0], to[1] - third * arrives[1]],
            to,
        ]
    }
}

/// Curves end to end, closed: the material lies to the left, so counter-clockwise about a part and clockwise about an opening in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outline {
    /// In order; each begins where the one before ends.
    pub curves: Vec<Curve>,
}

impl Outline {
    /// A closed polygon, its first point not repeated, that the outline leaves by no more than `chord_mm`.
    #[must_use]
    pub fn polygon(&self, chord_mm: f64) -> Vec<Point> {
        self.curves
            .iter()
            .flat_map(|curve| curve.points(chord_mm))
            .collect()
    }

    /// The area inside, by a polygon that the outline leaves by no more than `chord_mm`; below 0 when it runs clockwise.
    #[must_use]
    pub fn area_mm2(&self, chord_mm: f64) -> f64 {
        let polygon = self.polygon(chord_mm);
        let next = polygon.iter().cycle().skip(1);
        let twice: f64 = polygon
            .iter()
            .zip(next)
            .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
            .sum();
        twice / 2.0
    }
}

/// Angle of a trochoid's point from the middle of its gap.
fn trochoid_angle(corner_mm: f64, pitch_radius_mm: f64, root_radius_mm: f64, along: f64) -> f64 {
    (corner_mm - along) / pitch_radius_mm + along.atan2(root_radius_mm)
}

/// Length of the unwound thread where the flank is eased, `way` of the way to the tip.
fn eased_thread(base_radius_mm: f64, roll: f64, relief_mm: f64, way: f64) -> f64 {
    base_radius_mm * roll - relief_mm * way.powi(2)
}

fn split(
    a: f64,
    b: f64,
    deeper: u32,
    enough: &impl Fn(f64, f64) -> bool,
    take: &mut impl FnMut(f64, f64),
) {
    if deeper == 0 || enough(a, b) {
        take(a, b);
    } else {
        let middle = f64::midpoint(a, b);
        split(a, middle, deeper - 1, enough, take);
        split(middle, b, deeper - 1, enough, take);
    }
}

/// How far along an eased stretch, 0 at its lesser roll and 1 at its greater.
fn way_to_tip(a: f64, b: f64, roll: f64) -> f64 {
    let (least, most) = (a.min(b), a.max(b));
    (roll - least) / (most - least)
}

fn sum(a: Point, b: Point) -> Point {
    [a[0] + b[0], a[1] + b[1]]
}

fn between(from: f64, to: f64, part: f64) -> f64 {
    from + (to - from) * part
}

pub(super) fn polar(radius: f64, angle: f64) -> Point {
    [radius * angle.cos(), radius * angle.sin()]
}

/// A vector of radial and tangential parts at an angle.
fn turned(angle: f64, radial: f64, tangential: f64) -> Point {
    let (sin, cos) = angle.sin_cos();
    [
        radial * cos - tangential * sin,
        radial * sin + tangential * cos,
    ]
}

pub(super) fn distance_to_line(point: Point, from: Point, to: Point) -> f64 {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let (px, py) = (point[0] - from[0], point[1] - from[1]);
    let length = dx.hypot(dy);
    if length == 0.0 {
        px.hypot(py)
    } else {
        (dx * py - dy * px).abs() / length
    }
}

fn bezier(cubic: &[Point; 4], part: f64) -> Point {
    let left = 1.0 - part;
    let weights = [
        left.powi(3),
        3.0 * left.powi(2) * part,
        3.0 * left * part.powi(2),
        part.powi(3),
    ];
    let along = |axis: usize| -> f64 { cubic.iter().zip(weights).map(|(p, w)| w * p[axis]).sum() };
    [along(0), along(1)]
}
