//! From the photograph to the part: where a tooth lies, turned upright.
//!
//! A pixel is freed of the lens's bending (`1 + k ρ²` about the photograph's middle, ρ = 1 in the corner), then of perspective
//! (`1 + g·d`), turned, and for what remains of looking askew sheared (rack) or stretched (gear). Lengths stay pixels at the part's middle.
//! Foreshortening across a rack cannot be told from teeth that are less high, and is left: 5 degrees are 0.4 %.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};

use super::Kind;

/// Parameters of the mapping, before those of the lattice.
const MAPPING: usize = 8;
/// The far rim's place among the values.
const RIM: usize = 9;
/// What the parameters may be before the photograph was looked at, standard deviations: turn, two of shear or stretch, two of perspective,
/// bending, and the far rim; places and pitch are free.
const PRIOR: [Option<f64>; RIM + 1] = [
    None,
    Some(0.03),
    Some(0.03),
    None,
    None,
    Some(0.1),
    Some(0.1),
    Some(0.03),
    None,
    Some(0.01),
];
/// Tukey's constant: residuals beyond this many standard deviations do not count.
const TUKEY: f64 = 4.7;
/// Residuals are never reckoned with a smaller scale.
const LEAST_SCALE_PX: f64 = 0.02;

/// The mapping and the lattice of teeth.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    pub(super) kind: Kind,
    /// Teeth of a gear.
    pub(super) count: u32,
    /// The photograph's middle, and from there to a corner.
    middle: [f64; 2],
    corner: f64,
    /// A place in the part's middle, and the part's reach from there.
    origin: [f64; 2],
    reach: f64,
    /// Turn (tooth 0 of a gear upwards at 0), shears, place, perspective, bending; then the pitch of a rack, and the far rim.
    pub(super) values: Vec<f64>,
}

/// Something seen that the lattice says the place of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    pub(super) at: [f64; 2],
    /// Out of the part, of length 1, where it is known.
    pub(super) outward: [f64; 2],
    pub(super) tooth: i64,
    pub(super) what: Mark,
}

impl Seen {
    pub(super) const fn new(at: [f64; 2], tooth: i64, what: Mark) -> Self {
        Self {
            at,
            outward: [0.0, 0.0],
            tooth,
            what,
        }
    }
}

/// What is seen.
#[derive(Clone, Copy, Debug)]
pub(super) enum Mark {
    /// Middle of the tooth, sideways.
    Middle,
    /// Its height.
    Tip(f64),
    /// The gap's height.
    Root(f64),
    /// A flank's place: form at x, y with the normal.
    Flank { x: f64, y: f64, nx: f64, ny: f64 },
}

impl Frame {
    pub(super) fn new(
        kind: Kind,
        count: u32,
        size: (usize, usize),
        origin: [f64; 2],
        reach: f64,
        turn: f64,
        pitch: f64,
    ) -> Self {
        let middle = [size.0 as f64 / 2.0, size.1 as f64 / 2.0];
        Self {
            kind,
            count,
            middle,
            corner: middle[0].hypot(middle[1]),
            origin,
            reach,
            values: vec![turn, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, pitch, 0.0],
        }
    }

    fn value(&self, index: usize) -> f64 {
        self.values.get(index).copied().unwrap_or(0.0)
    }

    /// Pitch of a rack in pixels at its middle.
    pub(super) fn pitch(&self) -> f64 {
        self.value(MAPPING)
    }

    /// By how much the scale differs over the part.
    pub(super) fn scale_change(&self) -> f64 {
        2.0 * self.value(5).hypot(self.value(6))
    }

    /// The lens's bending in the corner.
    pub(super) fn bending(&self) -> f64 {
        self.value(7)
    }

    /// How far the far rim of a thick part stands out beside the near one: it is seen smaller about the photograph's middle, so on edges that face
    /// the middle.
    pub(super) fn rim(&self, pixel: [f64; 2], outward: [f64; 2]) -> f64 {
        let (ex, ey) = (pixel[0] - self.middle[0], pixel[1] - self.middle[1]);
        self.value(RIM) * (-(ex * outward[0] + ey * outward[1])).max(0.0)
    }

    /// To the part: x along, y upwards.
    pub(super) fn to_part(&self, pixel: [f64; 2]) -> [f64; 2] {
        let (ex, ey) = (pixel[0] - self.middle[0], pixel[1] - self.middle[1]);
        let grown = 1.0 + self.value(7) * (ex * ex + ey * ey) / (self.corner * self.corner);
        let dx = self.middle[0] + ex * grown - self.origin[0];
        let dy = self.middle[1] + ey * grown - self.origin[1];
        let by = 1.0 + (self.value(5) * dx + self.value(6) * dy) / self.reach;
        let (dx, dy) = (dx / by, dy / by);
        let (sin, cos) = self.value(0).sin_cos();
        let (x, y) = (cos * dx + sin * dy, sin * dx - cos * dy);
        let (a, b) = (self.value(1), self.value(2));
        let (x, y) = match self.kind {
            Kind::Rack => (x + b * y, y),
            Kind::Gear => (x * (1.0 + a) + b * y, y * (1.0 - a) + b * x),
        };
        [x + self.value(3), y + self.value(4)]
    }

    /// Back to the photograph.
    pub(super) fn to_pixel(&self, part: [f64; 2]) -> [f64; 2] {
        let (x, y) = (part[0] - self.value(3), part[1] - self.value(4));
        let (a, b) = (self.value(1), self.value(2));
        let (x, y) = match self.kind {
            Kind::Rack => (x - b * y, y),
            Kind::Gear => {
                let det = 1.0 - a * a - b * b;
                (((1.0 - a) * x - b * y) / det, ((1.0 + a) * y - b * x) / det)
            }
        };
        let (sin, cos) = self.value(0).sin_cos();
        let (dx, dy) = (cos * x + sin * y, sin * x - cos * y);
        let by = 1.0 - (self.value(5) * dx + self.value(6) * dy) / self.reach;
        let ux = dx / by + self.origin[0] - self.middle[0];
        let uy = dy / by + self.origin[1] - self.middle[1];
        let (mut ex, mut ey) = (ux, uy);
        for _ in 0..8 {
            let grown = 1.0 + self.value(7) * (ex * ex + ey * ey) / (self.corner * self.corner);
            (ex, ey) = (ux / grown, uy / grown);
        }
        [self.middle[0] + ex, self.middle[1] + ey]
    }

    /// From the part to a tooth turned upright.
    pub(super) fn to_tooth(&self, tooth: i64, part: [f64; 2]) -> [f64; 2] {
        match self.kind {
            Kind::Rack => [part[0] - tooth as f64 * self.pitch(), part[1]],
            Kind::Gear => turned(part, tooth as f64 * TAU / f64::from(self.count)),
        }
    }

    /// Back to the part.
    pub(super) fn out_of_tooth(&self, tooth: i64, at: [f64; 2]) -> [f64; 2] {
        match self.kind {
            Kind::Rack => [at[0] + tooth as f64 * self.pitch(), at[1]],
            Kind::Gear => turned(at, -(tooth as f64) * TAU / f64::from(self.count)),
        }
    }

    /// Height in the tooth: over the line of a rack, from the centre of a gear.
    pub(super) fn height(&self, at: [f64; 2]) -> f64 {
        match self.kind {
            Kind::Rack => at[1],
            Kind::Gear => at[0].hypot(at[1]),
        }
    }

    /// The tooth whose sector a place lies in.
    pub(super) fn tooth_of(&self, part: [f64; 2]) -> i64 {
        match self.kind {
            Kind::Rack => (part[0] / self.pitch()).round() as i64,
            Kind::Gear => {
                let clockwise = part[0].atan2(part[1]) / TAU * f64::from(self.count);
                (clockwise.round() as i64).rem_euclid(i64::from(self.count.max(1)))
            }
        }
    }

    /// A direction in the photograph, turned into a tooth.
    pub(super) fn direction(&self, tooth: i64, way: [f64; 2]) -> [f64; 2] {
        let (sin, cos) = self.value(0).sin_cos();
        let part = [cos * way[0] + sin * way[1], sin * way[0] - cos * way[1]];
        match self.kind {
            Kind::Rack => part,
            Kind::Gear => turned(part, tooth as f64 * TAU / f64::from(self.count)),
        }
    }

    fn residual(&self, seen: &Seen) -> f64 {
        let at = self.to_tooth(seen.tooth, self.to_part(seen.at));
        match seen.what {
            Mark::Middle => at[0],
            Mark::Tip(height) | Mark::Root(height) => {
                self.height(at) - height - self.rim(seen.at, seen.outward)
            }
            Mark::Flank { x, y, nx, ny } => {
                (at[0] - x) * nx + (at[1] - y) * ny - self.rim(seen.at, seen.outward)
            }
        }
    }

    /// Fits the mapping to what is seen, residuals far off counting less and less; gives the scatter of the residuals.
    ///
    /// Gauss and Newton's method with weights after Tukey; the scale of the residuals is their median absolute deviation, and not below `least`: before
    /// perspective is known, places are off by more than heights, and must not all be taken for strays.
    pub(super) fn fit(&mut self, seen: &[Seen], rounds: usize, least: f64) -> f64 {
        let free: Vec<usize> = match self.kind {
            Kind::Rack => vec![0, 2, 3, 4, 5, 6, 7, 8, RIM],
            Kind::Gear => vec![0, 1, 2, 3, 4, 5, 6, 7, RIM],
        };
        let steps = [1e-5, 1e-5, 1e-5, 0.01, 0.01, 1e-5, 1e-5, 1e-5, 1e-3, 1e-5];
        let mut scatter = f64::INFINITY;
        for _ in 0..rounds {
            let now: Vec<f64> = seen.iter().map(|s| self.residual(s)).collect();
            scatter = deviation(&now);
            let scale = scatter.max(least).max(LEAST_SCALE_PX);
            let weights: Vec<f64> = now.iter().map(|r| tukey(r / scale)).collect();
            let mut changed = self.clone();
            let columns: Vec<Vec<f64>> = free
                .iter()
                .map(|&index| {
                    changed.values[index] += steps[index];
                    let column = seen
                        .iter()
                        .zip(&now)
                        .map(|(s, r)| (changed.residual(s) - r) / steps[index])
                        .collect();
                    changed.values[index] = self.values[index];
                    column
                })
                .collect();
            let n = free.len();
            let mut normal = DMatrix::<f64>::zeros(n, n);
            let mut right = DVector::<f64>::zeros(n);
            for i in 0..n {
                for j in 0..=i {
                    let sum: f64 = columns[i]
                        .iter()
                        .zip(&columns[j])
                        .zip(&weights)
                        .map(|((a, b), w)| w * a * b)
                        .sum();
                    normal[(i, j)] = sum;
                    normal[(j, i)] = sum;
                }
                right[i] = -columns[i]
                    .iter()
                    .zip(&now)
                    .zip(&weights)
                    .map(|((a, r), w)| w * a * r)
                    .sum::<f64>();
                if let Some(prior) = PRIOR.get(free[i]).copied().flatten() {
                    let weight = (scale / prior).powi(2);
                    normal[(i, i)] += weight;
                    right[i] -= weight * self.values[free[i]];
                }
            }
            let Some(change) = normal.cholesky().map(|c| c.solve(&right)) else {
                break;
            };
            if change.iter().any(|c| !c.is_finite()) {
                break;
            }
            for (index, change) in free.iter().zip(change.iter()) {
                self.values[*index] += change;
            }
            if let Some(rim) = self.values.get_mut(RIM) {
                *rim = rim.max(0.0);
            }
        }
        scatter
    }
}

fn turned(at: [f64; 2], by: f64) -> [f64; 2] {
    let (sin, cos) = by.sin_cos();
    [at[0] * cos - at[1] * sin, at[0] * sin + at[1] * cos]
}

fn tukey(ratio: f64) -> f64 {
    let part = ratio / TUKEY;
    if part.abs() < 1.0 {
        (1.0 - part * part).powi(2)
    } else {
        0.0
    }
}

/// Median, `None` of nothing.
pub(super) fn median(values: &[f64]) -> Option<f64> {
    let mut values: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    let (_, m, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    Some(*m)
}

/// Standard deviation about zero as the median absolute value tells it, of values scattered normally.
pub(super) fn deviation(values: &[f64]) -> f64 {
    let absolute: Vec<f64> = values.iter().map(|v| v.abs()).collect();
    1.4826 * median(&absolute).unwrap_or(0.0)
}
