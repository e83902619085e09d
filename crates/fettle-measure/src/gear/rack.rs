//! A rack: straight flanks, sharp or rounded at the root, whole or eased at the tip.
//!
//! Proportions as in ISO 53: tips 1 module above the pitch line, bottoms 1.25 below, and a fillet that ends where the mate's tips reach, so of radius
//! `0.25 m/(1 - sin α)`, or as much as the gap's bottom has room for.

use std::f64::consts::{FRAC_PI_2, PI};

use super::curve::{Curve, Outline, Point};
use super::outline::{NOTHING_MM, RELIEVED_FROM, check_relief, no_tip};
use super::wheel::{ADDENDUM, DEDENDUM, check_basics};
use crate::OptionError;

/// A rack of whole teeth on a straight body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rack {
    module: f64,
    teeth: u32,
    angle: f64,
    body: f64,
    thinned: f64,
    fillet: f64,
    relief: f64,
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
            fillet: 0.0,
            relief: 0.0,
        })
    }

    /// The same with rounded roots.
    #[must_use]
    pub fn filleted(self) -> Self {
        let fillet = (DEDENDUM - ADDENDUM) * self.module / (1.0 - self.angle.sin());
        let room = self.half_bottom_mm() / half_turn(self.angle).tan();
        Self {
            fillet: fillet.min(room),
            ..self
        }
    }

    /// The same, the flanks eased towards the tips: `relief_mm` at the tip, beginning [`RELIEVED_FROM`] modules below it.
    ///
    /// # Errors
    /// [`OptionError`] when the relief is out of range or leaves no tip.
    pub fn relieved(self, relief_mm: f64) -> Result<Self, OptionError> {
        check_relief(self.module, relief_mm)?;
        let relieved = Self {
            relief: relief_mm,
            ..self
        };
        let tip = relieved.tip_thickness_mm();
        if tip > NOTHING_MM {
            Ok(relieved)
        } else {
            Err(no_tip(tip))
        }
    }

    /// From one tooth to the next.
    #[must_use]
    pub fn pitch_mm(&self) -> f64 {
        PI * self.module
    }

    /// From end to end: half a gap stands at either.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.pitch_mm() * f64::from(self.teeth)
    }

    /// Thickness of a tooth on the pitch line.
    #[must_use]
    pub fn tooth_thickness_mm(&self) -> f64 {
        2.0 * self.half_tooth_mm(0.0)
    }

    /// Thickness of a tooth at its tip.
    #[must_use]
    pub fn tip_thickness_mm(&self) -> f64 {
        2.0 * (self.half_tooth_mm(self.top_mm()) - self.relief / self.angle.cos())
    }

    /// Radius of the rounded roots, 0 when they are sharp.
    #[must_use]
    pub const fn fillet_mm(&self) -> f64 {
        self.fillet
    }

    /// Height of the tips above the pitch line.
    #[must_use]
    pub const fn top_mm(&self) -> f64 {
        ADDENDUM * self.module
    }

    /// Height of the bottoms of the gaps, below 0.
    #[must_use]
    pub const fn bottom_mm(&self) -> f64 {
        -DEDENDUM * self.module
    }

    /// Height of the back, below 0.
    #[must_use]
    pub const fn back_mm(&self) -> f64 {
        self.bottom_mm() - self.body
    }

    fn half_tooth_mm(&self, height: f64) -> f64 {
        self.pitch_mm() / 4.0 - self.thinned / 2.0 - height * self.angle.tan()
    }

    fn half_bottom_mm(&self) -> f64 {
        self.pitch_mm() / 2.0 - self.half_tooth_mm(self.bottom_mm())
    }

    /// The outline, counter-clockwise: the pitch line is the x axis, the teeth point up, the first gap's middle is at 0.
    #[must_use]
    pub fn outline(&self) -> Outline {
        let (bottom, back, length) = (self.bottom_mm(), self.back_mm(), self.length_mm());
        let mut pen = Pen {
            at: [0.0, back],
            curves: Vec::new(),
        };
        pen.line_to([length, back]);
        pen.line_to([length, bottom]);
        for n in (0..self.teeth).rev() {
            let middle = self.pitch_mm() * (f64::from(n) + 0.5);
            self.side(&mut pen, middle, false);
            self.side(&mut pen, middle, true);
        }
        pen.line_to([0.0, bottom]);
        pen.line_to([0.0, back]);
        Outline { curves: pen.curves }
    }

    /// One side of a tooth with its root: upwards on the right of the middle, or downwards on the left.
    fn side(&self, pen: &mut Pen, middle: f64, down: bool) {
        let (sin, cos) = self.angle.sin_cos();
        let hand = if down { -1.0 } else { 1.0 };
        // From the right side of a tooth at 0 to this one.
        let place = |x: f64, y: f64| [middle + hand * x, y];
        let (top, bottom) = (self.top_mm(), self.bottom_mm());
        let foot = self.half_tooth_mm(bottom);
        let tangent = self.fillet * half_turn(self.angle).tan();
        let on_flank = place(foot - tangent * sin, bottom + tangent * cos);
        let fillet = Curve::Arc {
            centre: place(foot + tangent, bottom + self.fillet),
            radius_mm: self.fillet,
            from_rad: if down { -self.angle } else { -FRAC_PI_2 },
            to_rad: if down { -FRAC_PI_2 } else { self.angle - PI },
        };
        let eased_from = top
            - if self.relief > 0.0 {
                RELIEVED_FROM * self.module
            } else {
                0.0
            };
        let from = place(self.half_tooth_mm(eased_from), eased_from);
        let tip = place(self.tip_thickness_mm() / 2.0, top);
        // Up the flank until it has come back to the tip's height after the easing.
        let way = (top - eased_from + self.relief * sin) / cos / 2.0;
        let bend = place(
            self.half_tooth_mm(eased_from) - way * sin,
            eased_from + way * cos,
        );
        let root = place(foot + tangent, bottom);
        let eased = self.relief > 0.0;
        if down {
            pen.line_to(tip);
            if eased {
                pen.curve(
                    Curve::Parabola {
                        from: tip,
                        bend,
                        to: from,
                    },
                    from,
                );
            }
            pen.line_to(on_flank);
            pen.curve(fillet, root);
        } else {
            pen.line_to(root);
            pen.curve(fillet, on_flank);
            pen.line_to(from);
            if eased {
                pen.curve(
                    Curve::Parabola {
                        from,
                        bend,
                        to: tip,
                    },
                    tip,
                );
            }
        }
    }
}

/// Half of what the outline turns from the gap's bottom into the flank.
fn half_turn(angle: f64) -> f64 {
    (FRAC_PI_2 - angle) / 2.0
}

/// Draws curve after curve.
struct Pen {
    at: Point,
    curves: Vec<Curve>,
}

impl Pen {
    fn line_to(&mut self, to: Point) {
        if (to[0] - self.at[0]).hypot(to[1] - self.at[1]) > NOTHING_MM {
            self.curves.push(Curve::Line { from: self.at, to });
            self.at = to;
        }
    }

    fn curve(&mut self, curve: Curve, to: Point) {
        if !matches!(curve, Curve::Arc { radius_mm, .. } if radius_mm <= NOTHING_MM) {
            self.curves.push(curve);
            self.at = to;
        }
    }
}
