//! What is asked of a photograph of teeth.

use serde::{Deserialize, Serialize};

use crate::OptionError;

/// The fewest teeth that tell each other's form.
pub(super) const LEAST_TEETH: u32 = 4;

/// What the photograph shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Teeth in a straight row.
    Rack,
    /// A whole gear from the side.
    Gear,
}

/// What tells pixels from millimetres.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scale {
    /// The pitch of the teeth, along the rack or on the pitch circle.
    PitchMm(f64),
    /// Pixels for one millimetre at the part.
    PxPerMm(f64),
    /// The length of a straight bar that lies beside the part, and is in the photograph.
    BarMm(f64),
}

/// What is known of the part and its photograph.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// What the photograph shows.
    pub kind: Kind,
    /// What tells pixels from millimetres.
    pub scale: Scale,
    /// What the scale may be off, as a part of it: half-width of a 95 % interval.
    pub scale_rel_u: f64,
    /// The count of teeth: all of a gear, the whole ones in sight of a rack.
    pub teeth: Option<u32>,
    /// The pitch as the service notes have it, to hold another scale against.
    pub pitch_mm: Option<f64>,
    /// A length read with a caliper, to hold the scale against: over a gear's tips, or over the outer flanks of the rack's teeth in sight at their
    /// tips.
    pub across_mm: Option<f64>,
    /// What a tooth may be off; without it the scatter of the sound teeth tells.
    pub limit_mm: Option<f64>,
    /// The pressure angle.
    pub angle_rad: f64,
}

impl Options {
    /// Teeth of 20° with nothing known but the scale, which may be off by half a per cent.
    #[must_use]
    pub const fn new(kind: Kind, scale: Scale) -> Self {
        Self {
            kind,
            scale,
            scale_rel_u: 0.005,
            teeth: None,
            pitch_mm: None,
            across_mm: None,
            limit_mm: None,
            angle_rad: 20.0 * std::f64::consts::PI / 180.0,
        }
    }

    /// Refuses what has no meaning.
    ///
    /// # Errors
    /// [`OptionError`] that names the command line's argument.
    pub fn check(&self) -> Result<(), OptionError> {
        let check = OptionError::check;
        match self.scale {
            Scale::PitchMm(mm) => check("--pitch-mm", mm, PITCH_MM, " mm")?,
            Scale::PxPerMm(px) => {
                check("--px-per-mm", px, 1.0..=2000.0, " pixels for a millimetre")?;
            }
            Scale::BarMm(mm) => check("--bar-mm", mm, 0.5..=500.0, " mm")?,
        }
        check(
            "--scale-rel-u",
            self.scale_rel_u,
            0.0..=0.2,
            " of the scale",
        )?;
        if let Some(teeth) = self.teeth {
            let least = f64::from(LEAST_TEETH);
            check("--teeth", f64::from(teeth), least..=1000.0, " teeth")?;
        }
        if let Some(mm) = self.pitch_mm {
            check("--pitch-mm", mm, PITCH_MM, " mm")?;
        }
        if let Some(mm) = self.across_mm {
            check("--across-mm", mm, 0.2..=2000.0, " mm")?;
        }
        if let Some(mm) = self.limit_mm {
            check("--limit-mm", mm, 1e-4..=5.0, " mm")?;
        }
        check(
            "--angle-deg",
            self.angle_rad.to_degrees(),
            10.0..=30.0,
            " degrees",
        )
    }
}

/// Pitches of modules 0.032 to 16 mm.
const PITCH_MM: std::ops::RangeInclusive<f64> = 0.1..=50.0;
