//! Paths of outlines for SVG, y downwards, and what area they fill.

use fettle_measure::gear::{Curve, Outline, Point};

use super::decimal;

/// An upright rectangle in the part's own axes, y upwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bounds {
    pub(crate) least: Point,
    pub(crate) most: Point,
}

impl Bounds {
    pub(crate) fn of(outline: &Outline) -> Self {
        let start = Self {
            least: [f64::INFINITY; 2],
            most: [f64::NEG_INFINITY; 2],
        };
        outline
            .polygon(super::OFF_MM)
            .iter()
            .fold(start, |bounds, point| Self {
                least: [bounds.least[0].min(point[0]), bounds.least[1].min(point[1])],
                most: [bounds.most[0].max(point[0]), bounds.most[1].max(point[1])],
            })
    }

    pub(crate) fn width(&self) -> f64 {
        self.most[0] - self.least[0]
    }

    pub(crate) fn height(&self) -> f64 {
        self.most[1] - self.least[1]
    }
}

/// From a part's axes to a drawing's: enlarged, then moved; y turns downwards.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Placing {
    pub(crate) scale: f64,
    pub(crate) origin: Point,
    /// Decimals of a coordinate.
    pub(crate) places: usize,
}

impl Placing {
    pub(crate) fn at(&self, point: Point) -> Point {
        [
            self.origin[0] + self.scale * point[0],
            self.origin[1] - self.scale * point[1],
        ]
    }

    fn write(&self, point: Point) -> String {
        let [x, y] = self.at(point);
        format!("{} {}", decimal(x, self.places), decimal(y, self.places))
    }
}

/// The path's data: lines, arcs and cubics within `off_mm` of the curves.
pub(crate) fn path(curves: &[Curve], off_mm: f64, placing: Placing, closed: bool) -> String {
    let mut path = String::new();
    let Some(first) = curves.first() else {
        return path;
    };
    path.push('M');
    path.push_str(&placing.write(first.at(0.0)));
    for curve in curves {
        match curve {
            Curve::Line { to, .. } => {
                path.push('L');
                path.push_str(&placing.write(*to));
            }
            Curve::Arc {
                radius_mm,
                from_rad,
                to_rad,
                ..
            } => {
                let turn = to_rad - from_rad;
                let radius = decimal(radius_mm * placing.scale, placing.places);
                path.push_str(&format!(
                    "A{radius} {radius} 0 {} {} {}",
                    u8::from(turn.abs() > std::f64::consts::PI),
                    // Growing angles turn against the clock, which downward y calls negative.
                    u8::from(turn < 0.0),
                    placing.write(curve.at(1.0))
                ));
            }
            _ => {
                for [_, a, b, to] in curve.cubics(off_mm) {
                    path.push_str(&format!(
                        "C{} {} {}",
                        placing.write(a),
                        placing.write(b),
                        placing.write(to)
                    ));
                }
            }
        }
    }
    if closed {
        path.push('Z');
    }
    path
}
