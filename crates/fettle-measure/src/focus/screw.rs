//! How far to turn what moves the focus.

use crate::OptionError;

/// What moves the image along the axis when it is turned: a helicoid, or the front cell of a lens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FocusScrew {
    mm_per_turn: f64,
}

impl FocusScrew {
    /// A helicoid whose lens advances `pitch_mm` a turn (the lead: with several starts, their number times the spacing of the threads).
    ///
    /// # Errors
    /// [`OptionError`] for a pitch outside 0.05 to 200 mm.
    pub fn helicoid(pitch_mm: f64) -> Result<Self, OptionError> {
        OptionError::check("--pitch-mm", pitch_mm, 0.05..=200.0, " mm a turn")?;
        Ok(Self {
            mm_per_turn: pitch_mm,
        })
    }

    /// A front cell whose turn outwards moves the image back by `mm_per_turn`, from the service notes.
    ///
    /// # Errors
    /// [`OptionError`] for a factor outside 0.01 to 50 mm either way.
    pub fn front_cell(mm_per_turn: f64) -> Result<Self, OptionError> {
        OptionError::check(
            "--per-turn-mm",
            mm_per_turn.abs(),
            0.01..=50.0,
            " mm a turn",
        )?;
        Ok(Self { mm_per_turn })
    }

    /// A front cell tried out: `turns` of it moved the image by `moved_mm`.
    ///
    /// # Errors
    /// [`OptionError`] when it was hardly turned or the factor cannot be.
    pub fn from_trial(turns: f64, moved_mm: f64) -> Result<Self, OptionError> {
        OptionError::check("--trial-turns", turns.abs(), 0.01..=20.0, " turns")?;
        Self::front_cell(moved_mm / turns)
    }

    /// Millimetres of the image for a turn outwards.
    #[must_use]
    pub const fn mm_per_turn(&self) -> f64 {
        self.mm_per_turn
    }

    /// Turns that move the image back from the lens by `mm`; negative ones go inwards.
    #[must_use]
    pub fn turns(&self, mm: f64) -> f64 {
        mm / self.mm_per_turn
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_move_the_image_by_what_was_asked() {
        let helicoid = FocusScrew::helicoid(7.5).unwrap();
        assert!((helicoid.turns(0.3) - 0.04).abs() < 1e-12);
        let cell = FocusScrew::from_trial(0.25, -0.2).unwrap();
        assert!((cell.mm_per_turn() + 0.8).abs() < 1e-12);
        assert!((cell.turns(0.4) + 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_screw_that_does_not_move_the_focus_is_refused() {
        assert!(FocusScrew::helicoid(0.0).is_err());
        assert!(FocusScrew::helicoid(-1.0).is_err());
        assert!(FocusScrew::front_cell(0.0).is_err());
        assert!(FocusScrew::from_trial(0.0, 0.1).is_err());
        assert!(FocusScrew::from_trial(1.0, f64::NAN).is_err());
    }
}
