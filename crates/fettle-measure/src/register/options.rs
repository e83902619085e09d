//! What is asked of a register.

use serde::{Deserialize, Serialize};

use super::Stock;
use crate::OptionError;
use crate::focus::{Depth, Lens};

/// A place in the film plane, from the frame's middle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// To the right, seen from the front.
    pub x_mm: f64,
    /// Upwards.
    pub y_mm: f64,
}

/// What the register should be and what there is to set it with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// What the register should be.
    pub target_mm: f64,
    /// How far it may be off anywhere in the frame.
    pub limit_mm: f64,
    /// The frame's width and height.
    pub frame_mm: (f64, f64),
    /// The shims in the drawer.
    pub shims: Stock,
    /// Where packing can be put under the lens's seat, at most 8 places; empty when it is one ring.
    pub seats: Vec<Place>,
    /// Standard deviation of one reading, known beforehand; without it the scatter about the plane tells.
    pub repeatability_mm: Option<f64>,
    /// The lens's focal length, for the distance that is sharp at its infinity setting.
    pub focal_mm: Option<f64>,
    /// The f-number, for the error in depths.
    pub f: Option<f64>,
    /// The circle of confusion, for the error in depths.
    pub coc_mm: Option<f64>,
}

impl Options {
    /// A register of `target_mm` that may be off by `limit_mm` in a frame of 36×24 mm, with nothing in the drawer.
    #[must_use]
    pub const fn new(target_mm: f64, limit_mm: f64) -> Self {
        Self {
            target_mm,
            limit_mm,
            frame_mm: (36.0, 24.0),
            shims: Stock::none(),
            seats: Vec::new(),
            repeatability_mm: None,
            focal_mm: None,
            f: None,
            coc_mm: None,
        }
    }

    /// Refuses what has no meaning.
    ///
    /// # Errors
    /// [`OptionError`] that names the command line's argument.
    pub fn check(&self) -> Result<(), OptionError> {
        OptionError::check("--target-mm", self.target_mm, 5.0..=500.0, " mm")?;
        OptionError::check("--limit-mm", self.limit_mm, 1e-4..=5.0, " mm")?;
        OptionError::check("--frame-mm", self.frame_mm.0, 4.0..=300.0, " mm")?;
        OptionError::check("--frame-mm", self.frame_mm.1, 4.0..=300.0, " mm")?;
        if let Some(mm) = self.repeatability_mm {
            OptionError::check("--repeatability-mm", mm, 1e-5..=1.0, " mm")?;
        }
        for seat in &self.seats {
            OptionError::check("--seats-mm", seat.x_mm, -300.0..=300.0, " mm")?;
            OptionError::check("--seats-mm", seat.y_mm, -300.0..=300.0, " mm")?;
        }
        OptionError::check("--seats-mm", self.seats.len() as f64, 0.0..=8.0, " seats")?;
        self.lens()?;
        self.depth()?;
        Ok(())
    }

    /// The lens, where its focal length is given.
    pub(super) fn lens(&self) -> Result<Option<Lens>, OptionError> {
        self.focal_mm.map(|mm| Lens::new(mm, 0.0)).transpose()
    }

    /// The depth, where opening and circle of confusion are given.
    pub(super) fn depth(&self) -> Result<Option<Depth>, OptionError> {
        match (self.f, self.coc_mm) {
            (Some(f), Some(coc_mm)) => Depth::new(f, coc_mm).map(Some),
            (None, None) => Ok(None),
            (Some(_), None) => Err(one_without("--f", "--coc-mm")),
            (None, Some(_)) => Err(one_without("--coc-mm", "--f")),
        }
    }
}

fn one_without(option: &'static str, other: &str) -> OptionError {
    OptionError {
        option,
        reason: format!("a depth needs {other} too"),
    }
}
