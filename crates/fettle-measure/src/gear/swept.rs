//! Teeth cut by brute force, for the tests: a polygon of the cutter rolled past the blank, and two such teeth rolled on one another. Nothing here knows an
//! involute or a trochoid.

use std::f64::consts::PI;

/// A tooth gap as the cutter's sweep leaves it: half its angle at evenly spaced radii from root to tip.
pub(super) struct Swept {
    pub(super) module: f64,
    pub(super) teeth: u32,
    pub(super) pitch_radius: f64,
    angle: f64,
    root: f64,
    pub(super) tip: f64,
    half_gaps: Vec<f64>,
}

const RADII: usize = 3000;

impl Swept {
    pub(super) fn cut(module: f64, teeth: u32, angle_deg: f64, shift: f64) -> Self {
        let pitch_radius = module * f64::from(teeth) / 2.0;
        let root = pitch_radius - module * (1.25 - shift);
        let tip = pitch_radius + module * (1.0 + shift);
        let mut swept = Self {
            module,
            teeth,
            pitch_radius,
            angle: angle_deg.to_radians(),
            root,
            tip,
            half_gaps: Vec::new(),
        };
        swept.half_gaps = (0..=RADII)
            .map(|i| swept.sweep(root + (tip - root) * i as f64 / RADII as f64))
            .collect();
        swept
    }

    /// The farthest angle at which any position of the cutter crosses the circle.
    fn sweep(&self, radius: f64) -> f64 {
        let corner = self.module * (PI / 4.0 - 1.25 * self.angle.tan());
        let reach = (corner + (self.tip.powi(2) - self.root.powi(2)).sqrt()) / self.pitch_radius;
        let crossing = |roll: f64| self.crossing(radius, roll, corner);
        let step = 1.2 * reach / 200.0;
        let rolls: Vec<f64> = (-200..=200).map(|i| f64::from(i) * step).collect();
        let angles: Vec<f64> = rolls.iter().map(|roll| crossing(*roll)).collect();
        let peaks = (1..400)
            .filter(|i| angles[*i].is_finite() && angles[*i] >= angles[i - 1].max(angles[i + 1]));
        let mut farthest = f64::NEG_INFINITY;
        for (peak, at) in peaks.map(|i| (angles[i], rolls[i])) {
            let (mut highest, mut middle, mut half) = (peak, at, step);
            for _ in 0..6 {
                for i in -15..=15 {
                    let roll = middle + half * f64::from(i) / 15.0;
                    let angle = crossing(roll);
                    if angle > highest {
                        (highest, middle) = (angle, roll);
                    }
                }
                half /= 10.0;
            }
            farthest = farthest.max(highest);
        }
        farthest
    }

    /// Where the cutter's edge and end, at one roll, cross the circle.
    fn crossing(&self, radius: f64, roll: f64, corner: f64) -> f64 {
        let tan = self.angle.tan();
        let start = corner - self.pitch_radius * roll;
        let mut farthest = f64::NEG_INFINITY;
        let mut take = |across: f64, up: f64| farthest = farthest.max(roll + across.atan2(up));
        // The edge: (start + u tan, root + u), u from 0.
        let (a, b) = (1.0 + tan * tan, start * tan + self.root);
        let c = start * start + self.root * self.root - radius * radius;
        let square = b * b - a * c;
        if square >= 0.0 {
            for u in [(-b - square.sqrt()) / a, (-b + square.sqrt()) / a] {
                if u >= 0.0 && u <= 4.0 * self.module {
                    take(start + u * tan, self.root + u);
                }
            }
        }
        // The end: straight, at root height.
        let along = (radius * radius - self.root * self.root).max(0.0).sqrt();
        for across in [-along, along] {
            if (across + self.pitch_radius * roll).abs() <= corner {
                take(across, self.root);
            }
        }
        farthest
    }

    pub(super) fn radii(&self) -> impl Iterator<Item = (f64, f64)> {
        let step = (self.tip - self.root) / RADII as f64;
        (0..)
            .zip(&self.half_gaps)
            .map(move |(i, half)| (self.root + step * f64::from(i), *half))
    }

    fn half_gap(&self, radius: f64) -> f64 {
        let place = (radius - self.root) / (self.tip - self.root) * RADII as f64;
        let below = (place.max(0.0) as usize).min(RADII - 1);
        let part = place - below as f64;
        self.half_gaps[below] * (1.0 - part) + self.half_gaps[below + 1] * part
    }

    /// Outermost radius with any tooth left.
    pub(super) fn outermost(&self) -> f64 {
        let half_pitch = PI / f64::from(self.teeth);
        self.radii()
            .filter(|(_, half)| *half < half_pitch)
            .map(|(radius, _)| radius)
            .fold(0.0, f64::max)
    }
}

/// Two teeth on one another. The mate's tooth stands in the pinion's gap, the line of centres points up.
pub(super) struct Rolled<'a> {
    pub(super) pinion: &'a Swept,
    /// `None` for a rack.
    pub(super) mate: Option<&'a Swept>,
    /// Distance of the centres, or of the rack's pitch line.
    pub(super) distance: f64,
}

impl Rolled<'_> {
    /// Room between the flanks of one tooth and one gap, in mm along the pitch line, with the pinion turned and the mate following evenly.
    fn room(&self, roll: f64) -> f64 {
        let mut least = f64::INFINITY;
        let mut before: Option<(f64, f64)> = None;
        for (radius, half) in self.pinion.radii() {
            let (sin, cos) = (half + roll).sin_cos();
            let (reach, room) = self.against_mate(radius * sin, radius * cos, roll);
            if let Some((reach_before, room_before)) = before
                && (reach_before > 0.0) != (reach > 0.0)
            {
                let part = reach_before / (reach_before - reach);
                least = least.min(room_before + (room - room_before) * part);
            }
            if reach >= 0.0 {
                least = least.min(room);
            }
            before = Some((reach, room));
        }
        least
    }

    /// How far inside the mate's tip a point lies, and its room to the mate's flank.
    fn against_mate(&self, across: f64, up: f64, roll: f64) -> (f64, f64) {
        match self.mate {
            None => {
                let pinion = self.pinion;
                let (module, tan) = (pinion.module, pinion.angle.tan());
                let height = up - self.distance;
                let half = PI / 4.0 * module + height * tan;
                (height + module, across - pinion.pitch_radius * roll - half)
            }
            Some(mate) => {
                let down = self.distance - up;
                let radius = across.hypot(down);
                let (z1, z2) = (f64::from(self.pinion.teeth), f64::from(mate.teeth));
                let half = PI / z2 - mate.half_gap(radius);
                let angle = across.atan2(down) - roll * z1 / z2 - half;
                let operating = self.distance * z2 / (z1 + z2);
                (mate.tip - radius, angle * operating)
            }
        }
    }

    /// Play from flank to flank, and the part of a pitch over which one pair of flanks stays in touch.
    pub(super) fn play_and_contact(&self) -> (f64, f64) {
        let pitch = 2.0 * PI / f64::from(self.pinion.teeth);
        let rolls: Vec<f64> = (-60..=60).map(|i| f64::from(i) / 30.0 * pitch).collect();
        let rooms: Vec<f64> = rolls.iter().map(|roll| self.room(*roll)).collect();
        let at = (0..rooms.len())
            .min_by(|a, b| rooms[*a].total_cmp(&rooms[*b]))
            .unwrap();
        let touching = rooms[at];
        let end = |toward: f64| {
            // Flanks part with the square of the way, so two rooms tell where they began to.
            let passes = |room: f64| {
                let (mut inside, mut outside) = (rolls[at], rolls[at]);
                while self.room(outside) - touching <= room {
                    inside = outside;
                    outside += toward * pitch / 30.0;
                }
                for _ in 0..30 {
                    let middle = f64::midpoint(inside, outside);
                    if self.room(middle) - touching <= room {
                        inside = middle;
                    } else {
                        outside = middle;
                    }
                }
                inside
            };
            let room = 1e-6 * self.pinion.module;
            2.0 * passes(room) - passes(4.0 * room)
        };
        (2.0 * touching, (end(1.0) - end(-1.0)) / pitch)
    }
}
