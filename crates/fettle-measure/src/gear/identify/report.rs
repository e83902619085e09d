//! What gear it was.

use serde::{Deserialize, Serialize};

use super::{Finding, Options};

/// The gear at a usual pressure angle that the readings bear.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Usual {
    /// The pressure angle.
    pub angle_deg: f64,
    /// The module with it.
    pub module_mm: f64,
    /// Its uncertainty.
    pub module_mm_u: f64,
    /// The profile shift with it.
    pub shift: f64,
    /// Its uncertainty.
    pub shift_u: f64,
}

/// What gear it was. `_u` is the half-width of a 95 % interval by the caliper's uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// What was asked.
    pub options: Options,
    /// The module.
    pub module_mm: f64,
    /// Its uncertainty.
    pub module_mm_u: f64,
    /// The pressure angle, between 10 and 30 degrees; `None` from a rack alone.
    pub angle_deg: Option<f64>,
    /// Its uncertainty; `None` when it was given, or when the readings bear an end of that range.
    pub angle_deg_u: Option<f64>,
    /// The profile shift in modules; `None` from a rack alone.
    pub shift: Option<f64>,
    /// Its uncertainty.
    pub shift_u: Option<f64>,
    /// The gear at each usual angle that the readings bear.
    pub usual: Vec<Usual>,
    /// What is noticed.
    pub findings: Vec<Finding>,
}

impl Report {
    /// The gear to go on with: at the pressure angle given, else at the one usual angle that the readings bear. `None` when they bear both
    /// or neither, and from a rack alone, whose angle must be given.
    #[must_use]
    pub fn settled(&self) -> Option<Usual> {
        let given = self.options.angle_deg;
        match (given, self.usual.as_slice()) {
            (Some(angle_deg), _) => Some(Usual {
                angle_deg,
                module_mm: self.module_mm,
                module_mm_u: self.module_mm_u,
                shift: self.shift.unwrap_or(0.0),
                shift_u: self.shift_u.unwrap_or(0.0),
            }),
            (None, [one]) => Some(*one),
            (None, _) => None,
        }
    }
}
