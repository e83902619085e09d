//! Two wheels, or a wheel and a rack, a given withdrawal apart.
//!
//! Contact runs along the common tangent of the base circles; places on it are told from the pinion's base tangent point. The pinion's flank can touch
//! from where its involute begins to its tip, the mate's likewise from its own end.

use std::f64::consts::PI;

use crate::OptionError;
use crate::gear::wheel::halve;
use crate::gear::{ADDENDUM, Wheel, involute};

#[derive(Clone, Copy, Debug)]
pub(super) struct Pair {
    pub(super) pinion: Wheel,
    pub(super) mate: Option<Wheel>,
    /// Distance of the centres, or of the rack's pitch line from the pinion's centre, without backlash.
    pub(super) free_mm: f64,
}

/// The stretch of the line of action in which flanks touch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Action {
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Pair {
    pub(super) fn new(pinion: Wheel, mate: Option<Wheel>) -> Result<Self, OptionError> {
        let free_mm = match &mate {
            None => pinion.pitch_radius_mm() + pinion.shift() * pinion.module_mm(),
            Some(mate) => free_distance(&pinion, mate).ok_or_else(|| OptionError {
                option: "--shift",
                reason: "the teeth are too thin together to touch without backlash at any distance: give greater profile shifts".to_owned(),
            })?,
        };
        Ok(Self {
            pinion,
            mate,
            free_mm,
        })
    }

    /// Length of one pitch along the line of action.
    pub(super) fn base_pitch(&self) -> f64 {
        PI * self.pinion.module_mm() * self.pinion.angle_rad().cos()
    }

    fn base_radii(&self, mate: &Wheel) -> f64 {
        self.pinion.base_radius_mm() + mate.base_radius_mm()
    }

    /// Length of the common tangent between the base circles.
    fn tangent(&self, mate: &Wheel, apart: f64) -> f64 {
        let (distance, radii) = (self.free_mm + apart, self.base_radii(mate));
        (distance.powi(2) - radii.powi(2)).max(0.0).sqrt()
    }

    /// The pressure angle at which the pair works; a rack's never changes.
    pub(super) fn working_angle(&self, apart: f64) -> f64 {
        match &self.mate {
            None => self.pinion.angle_rad(),
            Some(mate) => (self.base_radii(mate) / (self.free_mm + apart))
                .min(1.0)
                .acos(),
        }
    }

    /// Rack: `2 Δ tan α`. Gears, on the operating pitch circle: `2 a (inv α' - inv α₀)` with `a = (r_b1 + r_b2)/cos α'` and `α₀` without backlash.
    pub(super) fn backlash(&self, apart: f64) -> f64 {
        let angle = self.working_angle(apart);
        match &self.mate {
            None => 2.0 * apart * angle.tan(),
            Some(_) => {
                let free = involute(self.working_angle(0.0));
                2.0 * (self.free_mm + apart) * (involute(angle) - free)
            }
        }
    }

    /// How deep the teeth stand in one another.
    pub(super) fn working_depth(&self, apart: f64) -> f64 {
        let tips = match &self.mate {
            None => self.pinion.tip_radius_mm() + ADDENDUM * self.pinion.module_mm(),
            Some(mate) => self.pinion.tip_radius_mm() + mate.tip_radius_mm(),
        };
        tips - self.free_mm - apart
    }

    /// Room between each one's tips and the bottom of the other's gaps: the pinion's gaps first.
    pub(super) fn clearances(&self, apart: f64) -> [f64; 2] {
        let distance = self.free_mm + apart;
        match &self.mate {
            None => {
                let module = self.pinion.module_mm();
                [
                    distance - ADDENDUM * module - self.pinion.root_mm(),
                    distance + crate::gear::DEDENDUM * module - self.pinion.tip_radius_mm(),
                ]
            }
            Some(mate) => [
                distance - mate.tip_radius_mm() - self.pinion.root_mm(),
                distance - self.pinion.tip_radius_mm() - mate.root_mm(),
            ],
        }
    }

    /// Where the mate's tip meets the line of action; below 0 it reaches beyond the pinion's base tangent point.
    pub(super) fn mate_tip(&self, apart: f64) -> f64 {
        match &self.mate {
            None => {
                let sin = self.pinion.angle_rad().sin();
                let reach = ADDENDUM * self.pinion.module_mm() + self.pinion.pitch_radius_mm()
                    - self.free_mm
                    - apart;
                self.pinion.pitch_radius_mm() * sin - reach / sin
            }
            Some(mate) => self.tangent(mate, apart) - mate.action_to(),
        }
    }

    /// Where the mate's flank begins, beyond the pinion's tip unless the mate is undercut; `from_base` takes its whole involute.
    fn mate_begins(&self, apart: f64, from_base: bool) -> f64 {
        match &self.mate {
            None => f64::INFINITY,
            Some(mate) if from_base => self.tangent(mate, apart),
            Some(mate) => self.tangent(mate, apart) - mate.action_from(),
        }
    }

    /// How far past the beginning of a flank the other's tip reaches: the pinion's flank first.
    pub(super) fn reaches(&self, apart: f64) -> [f64; 2] {
        [
            self.pinion.action_from() - self.mate_tip(apart),
            self.pinion.action_to() - self.mate_begins(apart, false),
        ]
    }

    /// The stretch of contact; `from_base` as if no cutter had taken any flank above the base circles.
    pub(super) fn action(&self, apart: f64, from_base: bool) -> Action {
        let begins = if from_base {
            0.0
        } else {
            self.pinion.action_from()
        };
        Action {
            from: self.mate_tip(apart).max(begins),
            to: self
                .pinion
                .action_to()
                .min(self.mate_begins(apart, from_base)),
        }
    }

    pub(super) fn contact_ratio(&self, apart: f64, from_base: bool) -> f64 {
        let action = self.action(apart, from_base);
        ((action.to - action.from) / self.base_pitch()).max(0.0)
    }

    /// The greatest withdrawal at which contact spans one pitch: there the tips end it at both ends.
    pub(super) fn apart_limit(&self) -> Option<f64> {
        let pitch = self.base_pitch();
        let (pinion, tips) = (&self.pinion, self.pinion.action_to());
        let apart = match &self.mate {
            None => {
                // mate_tip is straight in the withdrawal: it must come to `tips - pitch`.
                (tips - pitch - self.mate_tip(0.0)) * pinion.angle_rad().sin()
            }
            Some(mate) => {
                let tangent = tips + mate.action_to() - pitch;
                tangent.max(0.0).hypot(self.base_radii(mate)) - self.free_mm
            }
        };
        // Where undercut ends contact instead, no withdrawal or a smaller one may do.
        let drives = |apart: f64| self.contact_ratio(apart, false) >= 1.0 - 1e-9;
        (apart >= 0.0 && drives(apart)).then_some(apart)
    }

    pub(super) fn ride_over(&self) -> f64 {
        self.working_depth(0.0)
    }
}

/// `inv α₀ = inv α + 2 (x₁ + x₂) tan α/(z₁ + z₂)`, `a₀ = (r_b1 + r_b2)/cos α₀`.
fn free_distance(pinion: &Wheel, mate: &Wheel) -> Option<f64> {
    let angle = pinion.angle_rad();
    let teeth = f64::from(pinion.teeth()) + f64::from(mate.teeth());
    let wanted = involute(angle) + 2.0 * (pinion.shift() + mate.shift()) * angle.tan() / teeth;
    if wanted < 0.0 {
        return None;
    }
    let working = halve(0.0, 1.5, |angle| involute(angle) < wanted);
    Some((pinion.base_radius_mm() + mate.base_radius_mm()) / working.cos())
}
