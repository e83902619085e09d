//! The pair, and how far apart it stands.

use serde::{Deserialize, Serialize};

use crate::OptionError;
use crate::gear::identify::Usual;
use crate::gear::{Cutter, Wheel};

/// Withdrawals farther than this many modules are no mesh: teeth are two modules high.
const FARTHEST_MODULES: f64 = 4.0;

/// What the pinion turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Mate {
    /// A rack.
    Rack,
    /// A gear.
    Gear {
        /// How many teeth it has.
        teeth: u32,
    },
}

/// A pinion, its mate, and what holds them apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// The module.
    pub module_mm: f64,
    /// The pinion's teeth.
    pub teeth: u32,
    /// Its mate.
    pub mate: Mate,
    /// The pressure angle.
    pub angle_deg: f64,
    /// The pinion's profile shift, in modules.
    pub shift: f64,
    /// The mate's; 0 for a rack, which has none.
    pub mate_shift: f64,
    /// What cut the gears.
    pub cutter: Cutter,
    /// Withdrawal from the distance without backlash, with the bearing's play pressed in.
    pub apart_mm: f64,
    /// Play of a bearing or screw, end to end, in the direction in which the teeth part.
    pub play_mm: f64,
    /// From the place about which the part tilts to that bearing or screw.
    pub arm_mm: Option<f64>,
    /// From the same place to the mesh.
    pub mesh_arm_mm: Option<f64>,
}

impl Options {
    /// A pair of 20 degrees in standard proportions, cut by a sharp rack, at the distance without backlash, nothing loose.
    #[must_use]
    pub const fn new(module_mm: f64, teeth: u32, mate: Mate) -> Self {
        Self {
            module_mm,
            teeth,
            mate,
            angle_deg: 20.0,
            shift: 0.0,
            mate_shift: 0.0,
            cutter: Cutter::Sharp,
            apart_mm: 0.0,
            play_mm: 0.0,
            arm_mm: None,
            mesh_arm_mm: None,
        }
    }

    /// The same pair with a pinion that was identified.
    #[must_use]
    pub const fn of(self, pinion: &Usual) -> Self {
        Self {
            module_mm: pinion.module_mm,
            angle_deg: pinion.angle_deg,
            shift: pinion.shift,
            ..self
        }
    }

    /// Refuses what has no meaning.
    ///
    /// # Errors
    /// [`OptionError`] that names the command line's argument.
    pub fn check(&self) -> Result<(), OptionError> {
        self.pinion()?;
        self.mate_wheel()?;
        let check = OptionError::check;
        let farthest = FARTHEST_MODULES * self.module_mm;
        check(
            "--apart-mm",
            self.apart_mm,
            0.0..=farthest,
            " mm for this module",
        )?;
        check("--play-mm", self.play_mm, 0.0..=20.0, " mm")?;
        if let Some(mm) = self.arm_mm {
            check("--arm-mm", mm, 0.1..=2000.0, " mm")?;
        }
        if let Some(mm) = self.mesh_arm_mm {
            check("--mesh-arm-mm", mm, 0.1..=2000.0, " mm")?;
        }
        let refuse = |option, reason: &str| {
            Err(OptionError {
                option,
                reason: reason.to_owned(),
            })
        };
        match (self.arm_mm, self.mesh_arm_mm) {
            (Some(_), None) => refuse(
                "--mesh-arm-mm",
                "missing: give how far the mesh is from the place about which the part tilts",
            ),
            (None, Some(_)) => refuse(
                "--arm-mm",
                "missing: give how far the loose bearing is from the place about which the part tilts",
            ),
            (None, None) if self.play_mm > 0.0 => refuse(
                "--arm-mm",
                "missing: without the lever arms a bearing's play says nothing about the mesh",
            ),
            _ => Ok(()),
        }
    }

    /// The pinion.
    ///
    /// # Errors
    /// [`OptionError`] when there is no such gear.
    pub fn pinion(&self) -> Result<Wheel, OptionError> {
        Wheel::new(
            self.module_mm,
            self.teeth,
            self.angle_deg,
            self.shift,
            self.cutter,
        )
    }

    /// Its mate, `None` for a rack.
    ///
    /// # Errors
    /// [`OptionError`] when there is no such gear.
    pub fn mate_wheel(&self) -> Result<Option<Wheel>, OptionError> {
        match self.mate {
            Mate::Rack => OptionError::check(
                "--mate-shift",
                self.mate_shift,
                0.0..=0.0,
                ", since a rack has no profile shift",
            )
            .map(|()| None),
            Mate::Gear { teeth } => Wheel::new(
                self.module_mm,
                teeth,
                self.angle_deg,
                self.mate_shift,
                self.cutter,
            )
            .map(Some)
            .map_err(|error| OptionError {
                option: match error.option {
                    "--teeth" => "--mate-teeth",
                    "--shift" => "--mate-shift",
                    other => other,
                },
                reason: error.reason,
            }),
        }
    }

    /// What a millimetre of the bearing's play is at the mesh.
    pub(super) fn lever(&self) -> Option<f64> {
        Some(self.mesh_arm_mm? / self.arm_mm?)
    }
}
