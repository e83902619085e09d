//! A spur gear's tooth: involute flanks and the root that its cutter leaves.
//!
//! Involute geometry as in ISO 21771: tip `m (1 + x)` above the pitch circle, root `m (1.25 - x)` below it, half the tooth's angle at radius `ρ`
//! `(π/2 + 2 x tan α)/z + inv α - inv α_ρ` with `cos α_ρ = r_b/ρ`. The root is the path of a sharp rack cutter's corner, a trochoid; where
//! that path runs above the base circle it cuts away part of the flank: undercut.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};

use crate::OptionError;

/// Height of the tooth above the pitch line, in modules.
pub const ADDENDUM: f64 = 1.0;
/// Depth of the gap below the pitch line, and reach of the cutter, in modules.
pub const DEDENDUM: f64 = 1.25;
/// A root radius below this part of the module leaves no body.
const LEAST_ROOT: f64 = 0.1;
/// Steps in which a crossing of trochoid and involute is looked for before it is halved down.
const STEPS: u32 = 2000;

/// What cut the roots.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cutter {
    /// A rack with sharp corners that reaches 1.25 modules deep.
    #[default]
    Sharp,
    /// None that undercuts: the flank runs radially below the base circle.
    None,
}

/// `inv α = tan α - α`.
#[must_use]
pub fn involute(angle_rad: f64) -> f64 {
    angle_rad.tan() - angle_rad
}

/// One spur gear in standard proportions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wheel {
    module: f64,
    teeth: u32,
    angle: f64,
    shift: f64,
    cutter: Cutter,
    thinned: f64,
    tip: f64,
    form: f64,
    undercut: bool,
}

impl Wheel {
    /// A gear of `teeth` teeth with profile shift `shift` in modules.
    ///
    /// # Errors
    /// [`OptionError`] for figures out of range, or when this cutter leaves no tooth.
    pub fn new(
        module_mm: f64,
        teeth: u32,
        angle_deg: f64,
        shift: f64,
        cutter: Cutter,
    ) -> Result<Self, OptionError> {
        Self::with_thinner_teeth(module_mm, teeth, angle_deg, shift, cutter, 0.0)
    }

    /// The same, each tooth `thinned_mm` thinner along the pitch circle, for backlash at the standard distance.
    ///
    /// # Errors
    /// As [`Wheel::new`].
    pub fn with_thinner_teeth(
        module_mm: f64,
        teeth: u32,
        angle_deg: f64,
        shift: f64,
        cutter: Cutter,
        thinned_mm: f64,
    ) -> Result<Self, OptionError> {
        check_basics(module_mm, angle_deg)?;
        OptionError::check("--teeth", f64::from(teeth), 4.0..=1000.0, " teeth")?;
        OptionError::check("--shift", shift, -1.0..=1.0, " modules")?;
        OptionError::check(
            "--backlash-mm",
            thinned_mm,
            0.0..=0.5 * module_mm,
            " mm for this module",
        )?;
        let mut wheel = Self {
            module: module_mm,
            teeth,
            angle: angle_deg.to_radians(),
            shift,
            cutter,
            thinned: thinned_mm,
            tip: 0.0,
            form: 0.0,
            undercut: false,
        };
        let refuse = |reason: &str| OptionError {
            option: "--teeth",
            reason: format!(
                "{teeth} teeth of {angle_deg} degrees with profile shift {shift} {reason}: give more teeth or a greater profile shift"
            ),
        };
        if wheel.root_mm() < LEAST_ROOT * module_mm {
            return Err(refuse("leave no body below the gaps"));
        }
        wheel.tip = wheel.outermost();
        wheel.undercut = cutter == Cutter::Sharp
            && wheel.depth() > wheel.pitch_radius_mm() * wheel.angle.sin().powi(2);
        wheel.form = wheel
            .innermost()
            .filter(|form| *form < wheel.tip)
            .ok_or_else(|| refuse("leave no flank"))?;
        if !wheel.is_whole() {
            return Err(refuse("leave no tooth at its foot, or no gap"));
        }
        Ok(wheel)
    }

    /// The module.
    #[must_use]
    pub const fn module_mm(&self) -> f64 {
        self.module
    }

    /// How many teeth.
    #[must_use]
    pub const fn teeth(&self) -> u32 {
        self.teeth
    }

    /// The pressure angle at the pitch circle.
    #[must_use]
    pub const fn angle_rad(&self) -> f64 {
        self.angle
    }

    /// The profile shift in modules.
    #[must_use]
    pub const fn shift(&self) -> f64 {
        self.shift
    }

    /// What cut it.
    #[must_use]
    pub const fn cutter(&self) -> Cutter {
        self.cutter
    }

    /// Radius of the pitch circle.
    #[must_use]
    pub fn pitch_radius_mm(&self) -> f64 {
        self.module * f64::from(self.teeth) / 2.0
    }

    /// Radius of the base circle, from which the flanks unwind.
    #[must_use]
    pub fn base_radius_mm(&self) -> f64 {
        self.pitch_radius_mm() * self.angle.cos()
    }

    /// Radius of the tips; less than standard where the flanks meet before.
    #[must_use]
    pub const fn tip_radius_mm(&self) -> f64 {
        self.tip
    }

    /// Radius at the bottom of the gaps.
    #[must_use]
    pub fn root_mm(&self) -> f64 {
        self.pitch_radius_mm() - self.depth()
    }

    /// Radius at which the involute begins.
    #[must_use]
    pub const fn form_radius_mm(&self) -> f64 {
        self.form
    }

    /// Whether the cutter took away part of the flank.
    #[must_use]
    pub const fn is_undercut(&self) -> bool {
        self.undercut
    }

    /// Whether the flanks meet before the standard tip.
    #[must_use]
    pub fn is_pointed(&self) -> bool {
        self.tip < self.standard_tip()
    }

    /// The fewest teeth of this profile shift that a sharp cutter leaves whole: `2 (1.25 - x)/sin² α`.
    #[must_use]
    pub fn least_teeth(&self) -> u32 {
        let least = 2.0 * (DEDENDUM - self.shift) / self.angle.sin().powi(2);
        least.ceil() as u32
    }

    /// Half the angle of a tooth at a radius on the involute.
    #[must_use]
    pub fn half_tooth_rad(&self, radius_mm: f64) -> f64 {
        let at = (self.base_radius_mm() / radius_mm).min(1.0).acos();
        self.involute_origin() - involute(at)
    }

    /// Half the angle of a gap at a radius between root and tip.
    #[must_use]
    pub fn half_gap_rad(&self, radius_mm: f64) -> f64 {
        let half_pitch = PI / f64::from(self.teeth);
        if radius_mm >= self.form {
            return half_pitch - self.half_tooth_rad(radius_mm);
        }
        match self.cutter {
            Cutter::Sharp => self.corner_path_rad(self.along(radius_mm)),
            Cutter::None => half_pitch - self.half_tooth_rad(self.form),
        }
    }

    /// Half the angle of a tooth where its involute leaves the base circle.
    pub(super) fn involute_origin(&self) -> f64 {
        let half_width =
            self.module * (PI / 4.0 + self.shift * self.angle.tan()) - self.thinned / 2.0;
        half_width / self.pitch_radius_mm() + involute(self.angle)
    }

    /// How far the cutter's corner is from the middle of its tooth.
    pub(super) fn corner_mm(&self) -> f64 {
        self.module * (PI / 4.0 - DEDENDUM * self.angle.tan()) + self.thinned / 2.0
    }

    /// How far the corner has still to go along the pitch line to the line of centres, when it passes a radius.
    pub(super) fn along(&self, radius_mm: f64) -> f64 {
        (radius_mm.powi(2) - self.root_mm().powi(2)).max(0.0).sqrt()
    }

    /// Place on the line of action, from the base tangent, where contact can begin: `sqrt(ρ² - r_b²)`.
    pub(super) fn action_from(&self) -> f64 {
        self.on_action(self.form)
    }

    /// Place on the line of action where the tip leaves it.
    pub(super) fn action_to(&self) -> f64 {
        self.on_action(self.tip)
    }

    pub(super) fn on_action(&self, radius: f64) -> f64 {
        (radius.powi(2) - self.base_radius_mm().powi(2))
            .max(0.0)
            .sqrt()
    }

    fn depth(&self) -> f64 {
        self.module * (DEDENDUM - self.shift)
    }

    fn standard_tip(&self) -> f64 {
        self.pitch_radius_mm() + self.module * (ADDENDUM + self.shift)
    }

    /// Angle from the middle of the gap to the corner's path. The pitch line rolls on the pitch circle: with the corner `along` short of the line of
    /// centres the cutter has gone `corner - along`, and the wheel that over `r`.
    fn corner_path_rad(&self, along: f64) -> f64 {
        (self.corner_mm() - along) / self.pitch_radius_mm() + along.atan2(self.root_mm())
    }

    fn outermost(&self) -> f64 {
        let standard = self.standard_tip();
        if self.half_tooth_rad(standard) >= 0.0 {
            return standard;
        }
        halve(self.base_radius_mm(), standard, |radius| {
            self.half_tooth_rad(radius) > 0.0
        })
    }

    fn innermost(&self) -> Option<f64> {
        let base = self.base_radius_mm();
        if self.cutter == Cutter::None {
            return Some(base.max(self.root_mm()));
        }
        if !self.undercut {
            // The corner's own contact, where the straight edge ends.
            let sin = self.angle.sin();
            return Some(base.hypot(self.pitch_radius_mm() * sin - self.depth() / sin));
        }
        let half_pitch = PI / f64::from(self.teeth);
        let cut = |radius: f64| {
            self.corner_path_rad(self.along(radius)) > half_pitch - self.half_tooth_rad(radius)
        };
        let step = (self.tip - base) / f64::from(STEPS);
        let whole = (1..=STEPS)
            .map(|i| base + step * f64::from(i))
            .find(|radius| !cut(*radius))?;
        Some(halve(whole - step, whole, cut))
    }

    /// Whether every tooth has thickness and every gap width, from root to tip.
    fn is_whole(&self) -> bool {
        let half_pitch = PI / f64::from(self.teeth);
        let root = self.root_mm();
        (0..=STEPS)
            .map(|i| root + (self.tip - root) * f64::from(i) / f64::from(STEPS))
            .all(|radius| {
                let half_gap = self.half_gap_rad(radius);
                half_gap > 0.0 && (half_gap < half_pitch || radius >= self.tip)
            })
    }
}

/// Module and pressure angle that gears and racks share.
pub(super) fn check_basics(module_mm: f64, angle_deg: f64) -> Result<(), OptionError> {
    OptionError::check("--module-mm", module_mm, 0.05..=10.0, " mm")?;
    OptionError::check("--angle-deg", angle_deg, 10.0..=30.0, " degrees")
}

/// Where `holds` stops, between a place where it does and one where it does not.
pub(super) fn halve(mut holds_at: f64, mut fails_at: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(holds_at, fails_at);
        if holds(middle) {
            holds_at = middle;
        } else {
            fails_at = middle;
        }
    }
    f64::midpoint(holds_at, fails_at)
}
