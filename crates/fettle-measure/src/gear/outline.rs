//! Outlines of whole gears and racks.

use std::f64::consts::PI;

use super::curve::{Curve, Outline, Point, polar};
use super::wheel::{ADDENDUM, Cutter, DEDENDUM, Wheel, check_basics};
use crate::OptionError;

impl Wheel {
    /// The outline about the centre, counter-clockwise, the first tooth's middle on the x axis.
    #[must_use]
    pub fn outline(&self) -> Outline {
        let pitch = 2.0 * PI / f64::from(self.teeth());
        let mut curves = Vec::new();
        for n in 0..self.teeth() {
            let tooth = pitch * f64::from(n);
            let gap = tooth + pitch / 2.0;
            let half_root = self.half_gap_rad(self.root_mm());
            curves.extend(self.root_side(tooth - pitch / 2.0, 1.0, false));
            curves.push(self.flank(tooth, 1.0, false));
            let half_tip = self.half_tooth_rad(self.tip_radius_mm());
            if !self.is_pointed() {
                curves.push(Curve::Arc {
                    radius_mm: self.tip_radius_mm(),
                    from_rad: tooth - half_tip,
                    to_rad: tooth + half_tip,
                });
            }
            curves.push(self.flank(tooth, -1.0, true));
            curves.extend(self.root_side(gap, -1.0, true));
            curves.push(Curve::Arc {
                radius_mm: self.root_mm(),
                from_rad: gap - half_root,
                to_rad: gap + half_root,
            });
        }
        Outline { curves }
    }

    /// One flank, outwards or inwards: hand 1 unwinds with growing angles and lies before the tooth's middle.
    fn flank(&self, tooth: f64, hand: f64, inwards: bool) -> Curve {
        let base_radius_mm = self.base_radius_mm();
        let (inner, outer) = (
            self.action_from() / base_radius_mm,
            self.action_to() / base_radius_mm,
        );
        let (from_roll_rad, to_roll_rad) = if inwards {
            (outer, inner)
        } else {
            (inner, outer)
        };
        Curve::Involute {
            base_radius_mm,
            origin_rad: tooth - hand * self.involute_origin(),
            hand,
            from_roll_rad,
            to_roll_rad,
        }
    }

    /// From the root to the involute, beside a gap; nothing where the involute reaches the root.
    fn root_side(&self, gap: f64, hand: f64, inwards: bool) -> Option<Curve> {
        let (root, form) = (self.root_mm(), self.form_radius_mm());
        if form <= root {
            return None;
        }
        let ends = |from: f64, to: f64| if inwards { (to, from) } else { (from, to) };
        Some(match self.cutter() {
            Cutter::Sharp => {
                let (from_along_mm, to_along_mm) = ends(0.0, self.along(form));
                Curve::Trochoid {
                    pitch_radius_mm: self.pitch_radius_mm(),
                    root_radius_mm: root,
                    corner_mm: self.corner_mm(),
                    gap_rad: gap,
                    hand,
                    from_along_mm,
                    to_along_mm,
                }
            }
            Cutter::None => {
                let angle = gap + hand * self.half_gap_rad(form);
                let (from, to) = ends(root, form);
                Curve::Line {
                    from: polar(from, angle),
                    to: polar(to, angle),
                }
            }
        })
    }
}

/// A rack of whole teeth on a straight body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rack {
    module: f64,
    teeth: u32,
    angle: f64,
    body: f64,
    thinned: f64,
}

impl Rack {
    /// A rack of `teeth` teeth on a body `body_mm` high below the gaps, each tooth `thinned_mm` thinner than its gap's half of the pitch.
    ///
    /// # Errors
    /// [`OptionError`] for figures out of range.
    pub fn new(
        module_mm: f64,
        teeth: u32,
        angle_deg: f64,
        body_mm: f64,
        thinned_mm: f64,
    ) -> Result<Self, OptionError> {
        check_basics(module_mm, angle_deg)?;
        OptionError::check("--teeth", f64::from(teeth), 1.0..=1000.0, " teeth")?;
        OptionError::check("--body-mm", body_mm, 0.1..=200.0, " mm")?;
        OptionError::check(
            "--backlash-mm",
            thinned_mm,
            0.0..=0.25 * module_mm,
            " mm for this module",
        )?;
        Ok(Self {
            module: module_mm,
            teeth,
            angle: angle_deg.to_radians(),
            body: body_mm,
            thinned: thinned_mm,
        })
    }

    /// The outline, counter-clockwise: the pitch line is the x axis, the teeth point up, the first gap's middle is at 0.
    #[must_use]
    pub fn outline(&self) -> Outline {
        let pitch = PI * self.module;
        let half = |height: f64| pitch / 4.0 - self.thinned / 2.0 - height * self.angle.tan();
        let (top, bottom) = (ADDENDUM * self.module, -DEDENDUM * self.module);
        let back = bottom - self.body;
        let length = pitch * f64::from(self.teeth);
        let mut corners: Vec<Point> = vec![[0.0, back], [length, back], [length, bottom]];
        for n in (0..self.teeth).rev() {
            let middle = pitch * (f64::from(n) + 0.5);
            corners.extend([
                [middle + half(bottom), bottom],
                [middle + half(top), top],
                [middle - half(top), top],
                [middle - half(bottom), bottom],
            ]);
        }
        corners.push([0.0, bottom]);
        let next = corners.iter().cycle().skip(1);
        let curves = corners
            .iter()
            .zip(next)
            .map(|(from, to)| Curve::Line {
                from: *from,
                to: *to,
            })
            .collect();
        Outline { curves }
    }
}
