//! The readings of one gear, and of the rack that it drives.

use serde::{Deserialize, Serialize};

use crate::OptionError;

/// A length over several teeth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Over {
    /// Over how many.
    pub teeth: u32,
    /// The reading.
    pub mm: f64,
}

/// What was read and counted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// The gear's teeth, counted; needed with `tip_mm` and `spans`.
    pub teeth: Option<u32>,
    /// Diameter over the tips.
    pub tip_mm: Option<f64>,
    /// Spans between the caliper's jaws, over k and k + 1 teeth, or more of them.
    pub spans: Vec<Over>,
    /// Length over n pitches of the rack, from a flank to the like flank.
    pub rack: Option<Over>,
    /// The pressure angle, when it is known.
    pub angle_deg: Option<f64>,
    /// What a reading of the caliper may be off: half-width of a 95 % interval.
    pub caliper_mm: f64,
}

impl Options {
    /// No readings yet, by a caliper good to 0.02 mm.
    #[must_use]
    pub const fn new(teeth: Option<u32>) -> Self {
        Self {
            teeth,
            tip_mm: None,
            spans: Vec::new(),
            rack: None,
            angle_deg: None,
            caliper_mm: 0.02,
        }
    }

    /// Refuses what has no meaning.
    ///
    /// # Errors
    /// [`OptionError`] that names the command line's argument.
    pub fn check(&self) -> Result<(), OptionError> {
        let check = OptionError::check;
        check("--caliper-mm", self.caliper_mm, 0.0005..=1.0, " mm")?;
        if let Some(deg) = self.angle_deg {
            check("--angle-deg", deg, 10.0..=30.0, " degrees")?;
        }
        if let Some(mm) = self.tip_mm {
            check("--tip-mm", mm, 0.2..=2000.0, " mm")?;
        }
        if let Some(teeth) = self.teeth {
            check("--teeth", f64::from(teeth), 4.0..=1000.0, " teeth")?;
        }
        check("--span-mm", self.spans.len() as f64, 0.0..=20.0, " spans")?;
        for span in &self.spans {
            let most = self.teeth.map_or(500, |teeth| teeth / 2 + 1);
            check(
                "--span-mm",
                f64::from(span.teeth),
                1.0..=f64::from(most),
                " teeth between the jaws",
            )?;
            check("--span-mm", span.mm, 0.05..=2000.0, " mm")?;
        }
        if let Some(rack) = self.rack {
            check("--rack-mm", f64::from(rack.teeth), 1.0..=2000.0, " pitches")?;
            check("--rack-mm", rack.mm, 0.1..=5000.0, " mm")?;
        }
        self.check_enough()
    }

    fn check_enough(&self) -> Result<(), OptionError> {
        let refuse = |option, reason: &str| {
            Err(OptionError {
                option,
                reason: reason.to_owned(),
            })
        };
        let of_gear = self.spans.len() + usize::from(self.tip_mm.is_some());
        if of_gear == 0 {
            return if self.rack.is_some() {
                Ok(())
            } else {
                refuse(
                    "--tip-mm",
                    "missing: give the tip diameter, spans over k and k + 1 teeth, or a rack's length over n pitches",
                )
            };
        }
        if self.teeth.is_none() {
            return refuse("--teeth", "missing: count the gear's teeth");
        }
        let mut over: Vec<u32> = self.spans.iter().map(|s| s.teeth).collect();
        over.sort_unstable();
        over.dedup();
        let different =
            over.len() + usize::from(self.tip_mm.is_some()) + usize::from(self.rack.is_some());
        if different < 2 {
            return refuse(
                "--span-mm",
                "one reading tells neither module nor profile shift: give the tip diameter and spans over k and k + 1 teeth",
            );
        }
        Ok(())
    }
}
