//! Outlines of whole gears.

use std::f64::consts::PI;

use super::curve::{Curve, Outline, polar};
use super::wheel::{Cutter, Wheel};
use crate::OptionError;

/// From here below the tip on, in modules, an eased flank leaves its true form.
pub const RELIEVED_FROM: f64 = 0.6;
/// Curves shorter than this are left out.
pub(super) const NOTHING_MM: f64 = 1e-9;

impl Wheel {
    /// The outline about the centre, counter-clockwise, the first tooth's middle on the x axis.
    #[must_use]
    pub fn outline(&self) -> Outline {
        self.outline_with(0.0)
    }

    /// The same, the flanks eased towards the tips: `relief_mm` at the tip, beginning [`RELIEVED_FROM`] modules below it.
    ///
    /// # Errors
    /// [`OptionError`] when the relief is out of range or leaves no tip.
    pub fn relieved_outline(&self, relief_mm: f64) -> Result<Outline, OptionError> {
        check_relief(self.module_mm(), relief_mm)?;
        let tip = 2.0 * self.half_relieved_tip(relief_mm) * self.tip_radius_mm();
        if relief_mm > 0.0 && tip <= NOTHING_MM {
            return Err(no_tip(tip));
        }
        Ok(self.outline_with(relief_mm))
    }

    /// Half the angle of a tip: what is taken off normal to the flank is that far round the base circle.
    pub(super) fn half_relieved_tip(&self, relief_mm: f64) -> f64 {
        self.half_tooth_rad(self.tip_radius_mm()) - relief_mm / self.base_radius_mm()
    }

    fn outline_with(&self, relief_mm: f64) -> Outline {
        let pitch = 2.0 * PI / f64::from(self.teeth());
        let mut curves = Vec::new();
        for n in 0..self.teeth() {
            let tooth = pitch * f64::from(n);
            let gap = tooth + pitch / 2.0;
            let half_root = self.half_gap_rad(self.root_mm());
            curves.extend(self.root_side(tooth - pitch / 2.0, 1.0, false));
            curves.extend(self.flank(tooth, 1.0, relief_mm));
            let half_tip = self.half_relieved_tip(relief_mm);
            if !self.is_pointed() {
                curves.push(Curve::Arc {
                    centre: [0.0; 2],
                    radius_mm: self.tip_radius_mm(),
                    from_rad: tooth - half_tip,
                    to_rad: tooth + half_tip,
                });
            }
            curves.extend(self.flank(tooth, -1.0, relief_mm));
            curves.extend(self.root_side(gap, -1.0, true));
            curves.push(Curve::Arc {
                centre: [0.0; 2],
                radius_mm: self.root_mm(),
                from_rad: gap - half_root,
                to_rad: gap + half_root,
            });
        }
        Outline { curves }
    }

    /// One flank: hand 1 unwinds with growing angles, lies before the tooth's middle and is followed outwards, -1 inwards.
    fn flank(&self, tooth: f64, hand: f64, relief_mm: f64) -> Vec<Curve> {
        let base_radius_mm = self.base_radius_mm();
        let origin_rad = tooth - hand * self.involute_origin();
        let form = self.action_from() / base_radius_mm;
        // Eased by `relief_mm` the flank must come out at the tip's radius, where its thread is as long as a true involute's.
        let tip = (self.action_to() + relief_mm) / base_radius_mm;
        let relieved = if relief_mm > 0.0 {
            let from = self.tip_radius_mm() - RELIEVED_FROM * self.module_mm();
            (self.on_action(from) / base_radius_mm).max(form)
        } else {
            tip
        };
        let ends = |from, to| if hand > 0.0 { (from, to) } else { (to, from) };
        let mut curves = Vec::new();
        if relieved > form {
            let (from_roll_rad, to_roll_rad) = ends(form, relieved);
            curves.push(Curve::Involute {
                base_radius_mm,
                origin_rad,
                hand,
                from_roll_rad,
                to_roll_rad,
            });
        }
        if relief_mm > 0.0 {
            let (from_roll_rad, to_roll_rad) = ends(relieved, tip);
            curves.push(Curve::Relief {
                base_radius_mm,
                origin_rad,
                hand,
                from_roll_rad,
                to_roll_rad,
                relief_mm,
            });
        }
        if hand < 0.0 {
            curves.reverse();
        }
        curves
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

/// What easing takes off normal to the flank: no more than a twentieth of a tooth.
pub(super) fn check_relief(module_mm: f64, relief_mm: f64) -> Result<(), OptionError> {
    OptionError::check(
        "--tip-relief-mm",
        relief_mm,
        0.0..=0.1 * module_mm,
        " mm for this module",
    )
}

pub(super) fn no_tip(tip_mm: f64) -> OptionError {
    OptionError {
        option: "--tip-relief-mm",
        reason: format!(
            "too much: tips that are to be {:.3} mm thick would be left nothing; give less or none",
            tip_mm.max(0.0)
        ),
    }
}
