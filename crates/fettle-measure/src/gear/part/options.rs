//! What is to be made.

use serde::{Deserialize, Serialize};

use super::{Hole, Part, Shape, Slot};
use crate::OptionError;
use crate::gear::mesh::{self, Mate};
use crate::gear::{Cutter, Rack, Wheel};

/// The older and the present pressure angle are both in use; this is the present one.
const USUAL_ANGLE_DEG: f64 = 20.0;
/// Height of a rack's body below the gaps where none is given, in modules.
const USUAL_HEIGHT: f64 = 3.0;
/// More openings than this are no bench's part.
const MOST_OPENINGS: f64 = 100.0;
/// Nearer than this openings touch one another or the teeth.
const TOUCH_MM: f64 = 0.01;

/// What has the teeth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    /// A rack.
    Rack,
    /// A spur gear.
    Gear,
}

/// What is to be made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// Rack or gear.
    pub form: Form,
    /// The module.
    pub module_mm: f64,
    /// How many teeth.
    pub teeth: u32,
    /// The pressure angle.
    pub angle_rad: f64,
    /// Thickness of the stuff it is cut from.
    pub thickness_mm: f64,
    /// A gear's bore.
    pub bore_mm: Option<f64>,
    /// A gear's profile shift, in modules.
    pub shift: f64,
    /// How much thinner each tooth is along the pitch line, for backlash at the standard distance.
    pub backlash_mm: f64,
    /// How far the flanks are eased at the tips, normal to themselves.
    pub tip_relief_mm: f64,
    /// Height of a rack's body below the gaps.
    pub height_mm: f64,
    /// Round holes.
    pub holes: Vec<Hole>,
    /// Slots.
    pub slots: Vec<Slot>,
}

impl Options {
    /// A part of 20 degrees in standard proportions, without bore, holes, backlash or relief; a rack's body is 3 modules high below the gaps.
    #[must_use]
    pub fn new(form: Form, module_mm: f64, teeth: u32, thickness_mm: f64) -> Self {
        Self {
            form,
            module_mm,
            teeth,
            angle_rad: USUAL_ANGLE_DEG.to_radians(),
            thickness_mm,
            bore_mm: None,
            shift: 0.0,
            backlash_mm: 0.0,
            tip_relief_mm: 0.0,
            height_mm: Self::usual_height_mm(module_mm),
            holes: Vec::new(),
            slots: Vec::new(),
        }
    }

    /// Height of a rack's body below the gaps where none is given: 3 modules.
    #[must_use]
    pub fn usual_height_mm(module_mm: f64) -> f64 {
        USUAL_HEIGHT * module_mm
    }

    /// The part that was measured: module, pressure angle and profile shift (0 for a rack) as they were found.
    #[must_use]
    pub fn measured(
        form: Form,
        module_mm: f64,
        teeth: u32,
        angle_rad: f64,
        shift: f64,
        thickness_mm: f64,
    ) -> Self {
        Self {
            angle_rad,
            shift: match form {
                Form::Rack => 0.0,
                Form::Gear => shift,
            },
            ..Self::new(form, module_mm, teeth, thickness_mm)
        }
    }

    /// This gear as the pinion of a pair, at the distance without backlash: [`Part::span_in`] takes its limits from there.
    #[must_use]
    pub const fn pair(&self, mate: Mate) -> mesh::Options {
        mesh::Options {
            angle_deg: self.angle_rad.to_degrees(),
            shift: self.shift,
            ..mesh::Options::new(self.module_mm, self.teeth, mate)
        }
    }

    /// Refuses what has no meaning or cannot be made.
    ///
    /// # Errors
    /// [`OptionError`] that names the command line's argument.
    pub fn check(&self) -> Result<(), OptionError> {
        self.part().map(|_| ())
    }

    /// The part.
    ///
    /// # Errors
    /// [`OptionError`] for figures out of range, teeth that no cutter leaves, and openings that do not lie in the body.
    pub fn part(&self) -> Result<Part, OptionError> {
        self.check_figures()?;
        match self.form {
            Form::Rack => {
                let rack = self.rack()?;
                self.check_openings(|shape| rack_wall(&rack, shape))?;
                Ok(Part::of_rack(self, &rack))
            }
            Form::Gear => {
                let wheel = self.wheel()?;
                let outline = wheel.relieved_outline(self.tip_relief_mm)?;
                let root = wheel.root_mm();
                self.check_openings(|shape| gear_wall(root, shape))?;
                Ok(Part::of_gear(self, &wheel, outline))
            }
        }
    }

    pub(super) fn wheel(&self) -> Result<Wheel, OptionError> {
        Wheel::with_thinner_teeth(
            self.module_mm,
            self.teeth,
            self.angle_rad.to_degrees(),
            self.shift,
            Cutter::Sharp,
            self.backlash_mm,
        )
    }

    pub(super) fn rack(&self) -> Result<Rack, OptionError> {
        Rack::new(
            self.module_mm,
            self.teeth,
            self.angle_rad.to_degrees(),
            self.height_mm,
            self.backlash_mm,
        )?
        .filleted()
        .relieved(self.tip_relief_mm)
    }

    /// The openings, the bore first.
    pub(super) fn shapes(&self) -> Vec<Shape> {
        let bore = self.bore_mm.map(|diameter_mm| {
            Shape::Bore(Hole {
                diameter_mm,
                x_mm: 0.0,
                y_mm: 0.0,
            })
        });
        let holes = self.holes.iter().copied().map(Shape::Hole);
        let slots = self.slots.iter().copied().map(Shape::Slot);
        bore.into_iter().chain(holes).chain(slots).collect()
    }

    fn check_figures(&self) -> Result<(), OptionError> {
        let check = OptionError::check;
        check("--thickness-mm", self.thickness_mm, 0.05..=200.0, " mm")?;
        if self.form == Form::Rack {
            check("--height-mm", self.height_mm, 0.1..=200.0, " mm")?;
            check("--teeth", f64::from(self.teeth), 2.0..=1000.0, " teeth")?;
            let no_shift = ", since a rack has no profile shift";
            check("--shift", self.shift, 0.0..=0.0, no_shift)?;
            if let Some(mm) = self.bore_mm {
                return Err(OptionError {
                    option: "--bore-mm",
                    reason: format!(
                        "{mm} cannot be: a rack has no bore; give a hole as DIAMETER@X,Y"
                    ),
                });
            }
        }
        if let Some(mm) = self.bore_mm {
            check("--bore-mm", mm, 0.1..=1000.0, " mm")?;
        }
        let count = (self.holes.len() + self.slots.len()) as f64;
        check("--hole-mm", count, 0.0..=MOST_OPENINGS, " holes and slots")?;
        let place = |option, x: f64, y: f64| {
            check(option, x, -10_000.0..=10_000.0, " mm")?;
            check(option, y, -10_000.0..=10_000.0, " mm")
        };
        for hole in &self.holes {
            check("--hole-mm", hole.diameter_mm, 0.1..=1000.0, " mm")?;
            place("--hole-mm", hole.x_mm, hole.y_mm)?;
        }
        for slot in &self.slots {
            check("--slot-mm", slot.length_mm, 0.1..=10_000.0, " mm")?;
            check("--slot-mm", slot.width_mm, 0.1..=10_000.0, " mm")?;
            place("--slot-mm", slot.x_mm, slot.y_mm)?;
            if (slot.length_mm - slot.width_mm).abs() < TOUCH_MM {
                return Err(OptionError {
                    option: "--slot-mm",
                    reason: format!(
                        "{} x {} mm is round: give it as a hole",
                        slot.length_mm, slot.width_mm
                    ),
                });
            }
        }
        Ok(())
    }

    /// `wall` is what is left between an opening and the teeth or the edge.
    fn check_openings(&self, wall: impl Fn(&Shape) -> f64) -> Result<(), OptionError> {
        let shapes = self.shapes();
        for (n, shape) in shapes.iter().enumerate() {
            let option = match shape {
                Shape::Bore(_) => "--bore-mm",
                Shape::Hole(_) => "--hole-mm",
                Shape::Slot(_) => "--slot-mm",
            };
            let left = wall(shape);
            if left < TOUCH_MM {
                let (body, remedy) = match (self.form, shape) {
                    (Form::Gear, Shape::Bore(_)) => (
                        "the gaps between the teeth",
                        "give a smaller bore, or more teeth",
                    ),
                    (Form::Gear, _) => (
                        "the gaps between the teeth",
                        "places are told from the gear's centre",
                    ),
                    (Form::Rack, _) => (
                        "the gaps or the edge of the body",
                        "x is told from the left end, y from the pitch line, below 0 in the body; a greater height of the body makes room",
                    ),
                };
                return Err(OptionError {
                    option,
                    reason: format!(
                        "{} reaches {:.3} mm past {body}: {remedy}",
                        shape.describe(),
                        (-left).max(0.0)
                    ),
                });
            }
            for before in shapes.iter().take(n) {
                let left = before.wall_to(shape);
                if left < TOUCH_MM {
                    return Err(OptionError {
                        option,
                        reason: format!(
                            "{} runs into {}: leave some material between them",
                            shape.describe(),
                            before.describe()
                        ),
                    });
                }
            }
        }
        Ok(())
    }
}

/// What is left between an opening and the bottoms of a gear's gaps.
pub(super) fn gear_wall(root_mm: f64, shape: &Shape) -> f64 {
    let farthest = shape
        .ends()
        .into_iter()
        .map(|[x, y]| x.hypot(y))
        .fold(0.0, f64::max);
    root_mm - farthest - shape.radius_mm()
}

/// What is left between an opening and the bottoms of a rack's gaps, its back or its ends.
pub(super) fn rack_wall(rack: &Rack, shape: &Shape) -> f64 {
    shape
        .ends()
        .into_iter()
        .flat_map(|[x, y]| {
            [
                x,
                rack.length_mm() - x,
                rack.bottom_mm() - y,
                y - rack.back_mm(),
            ]
        })
        .fold(f64::INFINITY, f64::min)
        - shape.radius_mm()
}
