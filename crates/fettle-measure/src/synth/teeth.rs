//! Photographs of parts that never were: teeth with known damage before a lamp.
//!
//! The part's outline in mm is seen by a pinhole camera that stands askew and whose lens bends; the pixels' covered areas are exact, then come
//! blur, uneven light, stray light, noise, and eight bits of sRGB. The camera here is a true projection, not the mapping that the analysis fits.

use std::f64::consts::{PI, TAU};

use super::Gauss;
use super::cover::Cover;
use crate::OptionError;
use crate::gear::{ADDENDUM, Cutter, DEDENDUM, Point, Rack, Wheel};
use crate::photograph::{Photograph, to_linear};

/// Body of a rack below its gaps, in modules.
const BODY: f64 = 4.0;
/// Flank damage spans this part of the tooth's height.
const WORN_FROM: f64 = 0.22;
const WORN_TO: f64 = 0.78;
/// Where a burr sits and how long it is, in heights.
const BURR_AT: f64 = 0.72;
const BURR_HALF: f64 = 0.09;
/// What is left of a broken tooth, in heights.
const STUMP: f64 = 0.12;

/// What is wrong with a tooth. Lengths are pixels in the photograph's middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ToothDamage {
    /// Worn hollow on the left (-1) or right (1) flank, this deep normal to it.
    Flank(f64, f64),
    /// This much of its height is gone.
    Tip(f64),
    /// The tip is pushed aside by this much, the rest of the tooth in proportion to its height.
    Bent(f64),
    /// Broken off.
    Missing,
    /// A burr stands out of the left (-1) or right (1) flank.
    Burr(f64, f64),
}

/// The part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ToothedPart {
    /// A rack of standard teeth.
    Rack,
    /// A spur gear, profile shifted by this many modules.
    Gear(f64),
}

/// A photograph to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct TeethScene {
    /// What lies there.
    pub part: ToothedPart,
    /// How many teeth.
    pub teeth: u32,
    /// Module.
    pub module_mm: f64,
    /// Pressure angle.
    pub angle_deg: f64,
    /// Pixels for a millimetre where the camera looks straight at.
    pub px_per_mm: f64,
    /// The photograph's width.
    pub width: usize,
    /// Its height.
    pub height: usize,
    /// Where the part's middle lies, from the photograph's middle.
    pub place_px: [f64; 2],
    /// Turn in the photograph, clockwise.
    pub turn_rad: f64,
    /// How far askew the camera stands, about the photograph's horizontal and its upright.
    pub askew_rad: [f64; 2],
    /// Camera's distance over the photograph's width on the part.
    pub distance: f64,
    /// Bending of the lens in the corner.
    pub bending: f64,
    /// Thickness of the part in modules: its far rim shows beside the near one.
    pub thickness: f64,
    /// Damage by tooth, from 0 along the rack or counter-clockwise.
    pub damage: Vec<(u32, ToothDamage)>,
    /// Standard deviation of the blur.
    pub blur_px: f64,
    /// Bright light, of white.
    pub bright: f64,
    /// Dark over bright: stray light.
    pub stray: f64,
    /// How much the light falls off and leans over the photograph.
    pub uneven: f64,
    /// Standard deviation of the noise over the bright light.
    pub noise: f64,
    /// Specks of dust on the ground.
    pub dust: u32,
    /// Shining places on flanks, and their light over the bright.
    pub shine: (u32, f64),
    /// Drops of oil in the gaps, and how much light they take.
    pub oil: (u32, f64),
    /// Draws all that is drawn by lot.
    pub seed: u64,
}

/// What is true of a tooth.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ToothTruth {
    /// Its middle at mid height in the photograph.
    pub at_px: [f64; 2],
    /// Greatest loss on a flank.
    pub flank_px: f64,
    /// Height lost.
    pub tip_px: f64,
    /// The tip's place against the foot's, its amount.
    pub bend_px: f64,
    /// A burr's height.
    pub burr_px: f64,
    /// Whether it is broken off.
    pub is_missing: bool,
}

impl ToothTruth {
    /// Whether nothing is wrong with it.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        !self.is_missing && self.flank_px + self.tip_px + self.bend_px + self.burr_px == 0.0
    }
}

/// The photograph and the truth beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct TeethShot {
    /// As taken.
    pub photograph: Photograph,
    /// The same as 8-bit sRGB grey, row by row.
    pub grey: Vec<u8>,
    /// The teeth.
    pub truth: Vec<ToothTruth>,
}

impl TeethScene {
    /// A sound part in the middle of an even ground, sharp and square to the camera.
    #[must_use]
    pub const fn plain(part: ToothedPart, teeth: u32, module_mm: f64, px_per_mm: f64) -> Self {
        Self {
            part,
            teeth,
            module_mm,
            angle_deg: 20.0,
            px_per_mm,
            width: 1500,
            height: 1000,
            place_px: [0.0, 0.0],
            turn_rad: 0.0,
            askew_rad: [0.0, 0.0],
            distance: 4.0,
            bending: 0.0,
            thickness: 0.0,
            damage: Vec::new(),
            blur_px: 1.0,
            bright: 0.8,
            stray: 0.02,
            uneven: 0.0,
            noise: 0.01,
            dust: 0,
            shine: (0, 0.0),
            oil: (0, 0.0),
            seed: 1,
        }
    }

    /// Takes the photograph.
    ///
    /// # Errors
    /// [`OptionError`] for a part that cannot be.
    pub fn take(&self) -> Result<TeethShot, OptionError> {
        let mut lots = Gauss::new(self.seed);
        let (outline, truth) = self.damaged()?;
        let see = |points: &[Point], depth: f64| -> Vec<[f64; 2]> {
            points.iter().map(|p| self.seen(*p, depth)).collect()
        };
        let mut cover = Cover::new(self.width, self.height);
        cover.add(&see(&outline, 0.0));
        if self.thickness > 0.0 {
            cover.add(&see(&outline, self.thickness * self.module_mm));
        }
        let mut light = self.smear(&mut cover, &outline, &mut lots);
        self.scatter_dust(&mut cover, &mut lots);
        let covered = cover.blurred(self.blur_px);
        light.blur(self.blur_px);
        let (grey, photograph) = self.expose(&covered, light.values(), &mut lots);
        Ok(TeethShot {
            photograph,
            grey,
            truth,
        })
    }

    /// Root and tip height in the upright tooth, and what half a pitch is, in mm.
    fn heights(&self, wheel: Option<&Wheel>) -> (f64, f64) {
        match wheel {
            Some(wheel) => (wheel.root_mm(), wheel.tip_radius_mm()),
            None => (-DEDENDUM * self.module_mm, ADDENDUM * self.module_mm),
        }
    }

    /// The outline with its damage, about the part's middle, y upwards; and what is true of each tooth.
    fn damaged(&self) -> Result<(Vec<Point>, Vec<ToothTruth>), OptionError> {
        let wheel = match self.part {
            ToothedPart::Rack => None,
            ToothedPart::Gear(shift) => Some(Wheel::new(
                self.module_mm,
                self.teeth,
                self.angle_deg,
                shift,
                Cutter::Sharp,
            )?),
        };
        let pitch = PI * self.module_mm;
        let length = pitch * f64::from(self.teeth);
        let corners = match &wheel {
            Some(wheel) => wheel.outline().polygon(1e-4 * self.module_mm),
            None => {
                let body = BODY * self.module_mm;
                Rack::new(self.module_mm, self.teeth, self.angle_deg, body, 0.0)?
                    .outline()
                    .polygon(1e-4)
            }
        };
        let dense = resampled(&corners, 0.2 / self.px_per_mm);
        let heights = self.heights(wheel.as_ref());
        let turn_of = |tooth: u32| TAU * f64::from(tooth) / f64::from(self.teeth) - PI / 2.0;
        let outline = dense
            .iter()
            .map(|(point, normal)| match wheel {
                Some(_) => {
                    let tooth = (point[1].atan2(point[0]) / TAU * f64::from(self.teeth))
                        .round()
                        .rem_euclid(f64::from(self.teeth)) as u32;
                    let turn = turn_of(tooth);
                    let upright = self.damage_point(
                        tooth,
                        turned(*point, -turn),
                        turned(*normal, -turn),
                        heights,
                    );
                    turned(upright, turn)
                }
                None => {
                    let tooth = (point[0] / pitch)
                        .floor()
                        .clamp(0.0, f64::from(self.teeth - 1));
                    let middle = pitch * (tooth + 0.5);
                    let at = [point[0] - middle, point[1]];
                    let [x, y] = self.damage_point(tooth as u32, at, *normal, heights);
                    [x + middle - length / 2.0, y]
                }
            })
            .collect();
        let mid = f64::midpoint(heights.0, heights.1);
        let truth = (0..self.teeth)
            .map(|tooth| {
                let at = match wheel {
                    Some(_) => turned([0.0, mid], turn_of(tooth)),
                    None => [pitch * (f64::from(tooth) + 0.5) - length / 2.0, mid],
                };
                self.truth(tooth, self.seen(at, 0.0))
            })
            .collect();
        Ok((outline, truth))
    }

    fn truth(&self, tooth: u32, at_px: [f64; 2]) -> ToothTruth {
        let mut truth = ToothTruth {
            at_px,
            ..ToothTruth::default()
        };
        for (_, damage) in self.damage.iter().filter(|(n, _)| *n == tooth) {
            match *damage {
                ToothDamage::Flank(_, px) => truth.flank_px = truth.flank_px.max(px),
                ToothDamage::Tip(px) => truth.tip_px = px,
                ToothDamage::Bent(px) => truth.bend_px = px.abs(),
                ToothDamage::Burr(_, px) => truth.burr_px = px,
                ToothDamage::Missing => truth.is_missing = true,
            }
        }
        truth
    }

    /// Moves a point of an upright tooth as its damage has it.
    fn damage_point(&self, tooth: u32, at: Point, normal: Point, (root, tip): (f64, f64)) -> Point {
        let is_gear = matches!(self.part, ToothedPart::Gear(_));
        let height = |p: Point| if is_gear { p[0].hypot(p[1]) } else { p[1] };
        let cut = |p: Point, most: f64| {
            let h = height(p);
            if h <= most {
                p
            } else if is_gear {
                [p[0] * most / h, p[1] * most / h]
            } else {
                [p[0], most]
            }
        };
        let part = (height(at) - root) / (tip - root);
        if part < -0.01 {
            return at;
        }
        let mut moved = at;
        let mut lean = 0.0;
        for (_, damage) in self.damage.iter().filter(|(n, _)| *n == tooth) {
            let mm = |px: f64| px / self.px_per_mm;
            match *damage {
                ToothDamage::Flank(side, px)
                    if at[0] * side > 0.0 && (WORN_FROM..WORN_TO).contains(&part) =>
                {
                    let wave = TAU * (part - WORN_FROM) / (WORN_TO - WORN_FROM);
                    let depth = 0.5 * mm(px) * (1.0 - wave.cos());
                    moved = [moved[0] - depth * normal[0], moved[1] - depth * normal[1]];
                }
                ToothDamage::Burr(side, px) if at[0] * side > 0.0 => {
                    let rise = (1.0 - (part - BURR_AT).abs() / BURR_HALF).max(0.0) * mm(px);
                    moved = [moved[0] + rise * normal[0], moved[1] + rise * normal[1]];
                }
                ToothDamage::Tip(px) => moved = cut(moved, tip - mm(px)),
                ToothDamage::Missing => moved = cut(moved, root + STUMP * (tip - root)),
                ToothDamage::Bent(px) => lean += mm(px),
                ToothDamage::Flank(..) | ToothDamage::Burr(..) => {}
            }
        }
        [
            moved[0] + lean * ((height(moved) - root) / (tip - root)).max(0.0),
            moved[1],
        ]
    }

    /// Where the camera sees a point of the part; `depth` mm behind its near face.
    fn seen(&self, point: Point, depth: f64) -> [f64; 2] {
        let [x, y] = turned([point[0], -point[1]], self.turn_rad);
        let (x, y) = (
            x + self.place_px[0] / self.px_per_mm,
            y + self.place_px[1] / self.px_per_mm,
        );
        let distance = self.distance * self.width as f64 / self.px_per_mm;
        let (sa, ca) = self.askew_rad[0].sin_cos();
        let (sb, cb) = self.askew_rad[1].sin_cos();
        let (y, z) = (y * ca - depth * sa, y * sa + depth * ca);
        let (x, z) = (x * cb - z * sb, x * sb + z * cb);
        let by = self.px_per_mm * distance / (distance + z);
        let (u, v) = (x * by, y * by);
        let (w, h) = (self.width as f64 / 2.0, self.height as f64 / 2.0);
        let bent = 1.0 + self.bending * (u * u + v * v) / (w * w + h * h);
        [w + u * bent, h + v * bent]
    }

    /// Oil covers a part of the light in gaps; what shines lies on flanks.
    fn smear(&self, cover: &mut Cover, outline: &[Point], lots: &mut Gauss) -> Cover {
        let mut light = Cover::new(self.width, self.height);
        let pitch_px = PI * self.module_mm * self.px_per_mm;
        let mut blobs = |count: u32, value: f64, into: &mut Cover| {
            for _ in 0..count {
                let i = (lots.uniform() * outline.len() as f64) as usize % outline.len();
                let at = self.seen(outline[i], 0.0);
                let radius = pitch_px * (0.04 + 0.08 * lots.uniform());
                into.blob(at, radius, value);
            }
        };
        blobs(self.oil.0, self.oil.1, cover);
        blobs(self.shine.0, self.shine.1, &mut light);
        light
    }

    fn scatter_dust(&self, cover: &mut Cover, lots: &mut Gauss) {
        for _ in 0..self.dust {
            let at = [
                lots.uniform() * self.width as f64,
                lots.uniform() * self.height as f64,
            ];
            let size = 1.0 + 3.5 * lots.uniform();
            let (long, turn) = (1.0 + lots.uniform(), PI * lots.uniform());
            let speck: Vec<[f64; 2]> = (0..12)
                .map(|i| {
                    let (sin, cos) = (TAU * f64::from(i) / 12.0).sin_cos();
                    let rough = 0.8 + 0.4 * lots.uniform();
                    let [x, y] = turned([long * size * cos * rough, size * sin * rough], turn);
                    [at[0] + x, at[1] + y]
                })
                .collect();
            cover.add(&speck);
        }
    }

    /// Light, noise and bits.
    fn expose(&self, covered: &[f32], shining: &[f32], lots: &mut Gauss) -> (Vec<u8>, Photograph) {
        let back: Vec<u16> = (0..=255_u8)
            .map(|v| (to_linear(f32::from(v) / 255.0) * 65_535.0).round() as u16)
            .collect();
        // Finer than the bits anywhere on the curve.
        const FINE: usize = 1 << 14;
        let coded: Vec<u8> = (0..=FINE)
            .map(|i| {
                let v = i as f64 / FINE as f64;
                let c = if v <= 0.003_130_8 {
                    12.92 * v
                } else {
                    1.055 * v.powf(1.0 / 2.4) - 0.055
                };
                (c * 255.0).round() as u8
            })
            .collect();
        let lamp = [0.5 * (lots.uniform() - 0.5), 0.5 * (lots.uniform() - 0.5)];
        let lean = TAU * lots.uniform();
        let mut grey = Vec::with_capacity(covered.len());
        for (i, (covered, shining)) in covered.iter().zip(shining).enumerate() {
            let x = (i % self.width) as f64 / self.width as f64 - 0.5;
            let y = (i / self.width) as f64 / self.width as f64
                - 0.5 * self.height as f64 / self.width as f64;
            let fall = (-2.0 * self.uneven * ((x - lamp[0]).powi(2) + (y - lamp[1]).powi(2))).exp();
            let slope = 1.0 + 0.4 * self.uneven * (x * lean.cos() + y * lean.sin());
            let bright = self.bright * fall * slope;
            let covered = f64::from(*covered);
            let clear = (1.0 - covered) * (1.0 - self.stray) + self.stray;
            let light = bright * clear + self.bright * covered * f64::from(*shining);
            let noise =
                self.noise * self.bright * (0.25 + 0.75 * light / self.bright).max(0.0).sqrt();
            let value = (light + noise * lots.normal()).clamp(0.0, 1.0);
            let code = coded.get((value * FINE as f64).round() as usize);
            grey.push(code.copied().unwrap_or(0));
        }
        let light = grey
            .iter()
            .map(|v| back.get(usize::from(*v)).copied().unwrap_or(0))
            .collect();
        let photograph = Photograph::from_light(self.width, self.height, light);
        (grey, photograph.unwrap_or_else(Photograph::black))
    }
}

fn turned(at: Point, by: f64) -> Point {
    let (sin, cos) = by.sin_cos();
    [at[0] * cos - at[1] * sin, at[0] * sin + at[1] * cos]
}

/// Points no farther apart than `step` along a closed polygon, with the normals outwards.
fn resampled(corners: &[Point], step: f64) -> Vec<(Point, Point)> {
    let mut dense = Vec::new();
    let next = corners.iter().cycle().skip(1);
    for (a, b) in corners.iter().zip(next) {
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = dx.hypot(dy);
        if length == 0.0 {
            continue;
        }
        let normal = [dy / length, -dx / length];
        let count = (length / step).ceil().max(1.0) as usize;
        dense.extend((0..count).map(|i| {
            let part = i as f64 / count as f64;
            ([a[0] + dx * part, a[1] + dy * part], normal)
        }));
    }
    dense
}
