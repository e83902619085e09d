//! A curve's cubic Bézier pieces joined to one B-spline.

use fettle_measure::gear::Point;

/// A cubic B-spline, clamped at its ends, with double knots between.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Spline {
    /// Control points, two for each knot.
    pub(super) points: Vec<Point>,
    /// Different knots, 0 to 1: they count four times at the ends, twice inside.
    pub(super) knots: Vec<f64>,
}

impl Spline {
    /// Joins pieces that follow one another without a kink; `None` for none. The joints are implied by their neighbours when the knots stand apart as
    /// the tangents' lengths: `h₂/h₁ = |c₁ - c₀|/|b₃ - b₂|`.
    pub(super) fn joined(pieces: &[[Point; 4]]) -> Option<Self> {
        let [start, ..] = pieces.first()?;
        let [.., end] = pieces.last()?;
        let mut points = vec![*start];
        let mut knots = vec![0.0];
        let (mut at, mut step) = (0.0, 1.0);
        let mut before: Option<f64> = None;
        for [from, leaves, arrives, to] in pieces {
            let tangent = distance(*from, *leaves);
            if let Some(before) = before {
                step *= tangent / before;
            }
            at += step;
            knots.push(at);
            points.extend([*leaves, *arrives]);
            before = Some(distance(*arrives, *to));
        }
        points.push(*end);
        for knot in &mut knots {
            *knot /= at;
        }
        Some(Self { points, knots })
    }

    pub(super) fn from(&self) -> Point {
        self.points.first().copied().unwrap_or_default()
    }
}

fn distance(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

#[cfg(test)]
mod tests {
    use super::*;
    use fettle_measure::gear::part::{Form, Options};

    /// The spline at a parameter, by de Boor's recursion.
    fn at(spline: &Spline, t: f64) -> Point {
        let mut knots = Vec::new();
        for (n, knot) in spline.knots.iter().enumerate() {
            let times = if n == 0 || n + 1 == spline.knots.len() {
                4
            } else {
                2
            };
            knots.extend(std::iter::repeat_n(*knot, times));
        }
        assert_eq!(knots.len(), spline.points.len() + 4);
        let k = (3..spline.points.len()).rfind(|k| knots[*k] <= t).unwrap();
        let mut d: Vec<Point> = (0..4).map(|j| spline.points[k - 3 + j]).collect();
        for r in 1..4 {
            for j in (r..4).rev() {
                let (low, high) = (knots[j + k - 3], knots[j + 1 + k - r]);
                let part = (t - low) / (high - low);
                d[j] = [0, 1].map(|a| d[j - 1][a] * (1.0 - part) + d[j][a] * part);
            }
        }
        d[3]
    }

    #[test]
    fn a_spline_keeps_to_the_pieces_of_root_and_flank() {
        for teeth in [12, 30] {
            let part = Options::new(Form::Gear, 1.0, teeth, 1.0).part().unwrap();
            for curve in part.outer.curves.iter().take(2) {
                keeps_to(&curve.cubics(1e-5));
            }
        }
        assert_eq!(Spline::joined(&[]), None);
    }

    fn keeps_to(pieces: &[[Point; 4]]) {
        assert!(pieces.len() > 2, "{} pieces", pieces.len());
        let spline = Spline::joined(pieces).unwrap();
        for (n, piece) in pieces.iter().enumerate() {
            let (from, to) = (spline.knots[n], spline.knots[n + 1]);
            for part in [0.0_f64, 0.3, 0.7] {
                let left = 1.0 - part;
                let weights = [
                    left.powi(3),
                    3.0 * left * left * part,
                    3.0 * left * part * part,
                    part.powi(3),
                ];
                let want = [0, 1].map(|a| {
                    piece
                        .iter()
                        .zip(weights)
                        .map(|(p, w)| p[a] * w)
                        .sum::<f64>()
                });
                let got = at(&spline, from + (to - from) * part);
                let off = distance(want, got);
                assert!(off < 1e-9, "piece {n} at {part}: {off}");
            }
        }
    }
}
