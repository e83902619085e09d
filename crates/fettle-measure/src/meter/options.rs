//! What the mechanic asks of a meter.

/// Limits, clicks and resolutions beyond this are no such thing.
const MOST_STOPS: f64 = 10.0;

/// How a meter is judged and how its card is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    pub(super) limit_stops: f64,
    pub(super) click_stops: Option<f64>,
    pub(super) resolution_stops: Option<f64>,
    pub(super) card_step: CardStep,
}

/// How far the rows of a correction card lie apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CardStep {
    /// A row for each whole EV indicated.
    #[default]
    Whole,
    /// A row for each half EV indicated.
    Half,
}

impl CardStep {
    /// The step in EV.
    #[must_use]
    pub const fn ev(self) -> f64 {
        match self {
            Self::Whole => 1.0,
            Self::Half => 0.5,
        }
    }
}

/// A value that its option cannot have.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{what} of {value} stops cannot be: write a number above 0 and up to {MOST_STOPS}")]
pub struct OptionsError {
    /// Which option: `a limit`, `a click`, `a resolution`.
    pub what: &'static str,
    /// What was given.
    pub value: f64,
}

impl Default for Options {
    /// Half a stop either way, no click, the resolution from the readings, a card in whole EV.
    fn default() -> Self {
        Self {
            limit_stops: 0.5,
            click_stops: None,
            resolution_stops: None,
            card_step: CardStep::Whole,
        }
    }
}

impl Options {
    /// With the greatest error allowed either way, in stops.
    ///
    /// # Errors
    /// What is not above 0 and up to 10.
    pub fn with_limit(self, limit_stops: f64) -> Result<Self, OptionsError> {
        Ok(Self {
            limit_stops: checked("a limit", limit_stops)?,
            ..self
        })
    }

    /// With the least step in which the scale or dial can be set, in stops.
    ///
    /// # Errors
    /// What is not above 0 and up to 10.
    pub fn with_click(self, click_stops: f64) -> Result<Self, OptionsError> {
        Ok(Self {
            click_stops: Some(checked("a click", click_stops)?),
            ..self
        })
    }

    /// With the step in which the meter was read, in stops.
    ///
    /// # Errors
    /// What is not above 0 and up to 10.
    pub fn with_resolution(self, resolution_stops: f64) -> Result<Self, OptionsError> {
        Ok(Self {
            resolution_stops: Some(checked("a resolution", resolution_stops)?),
            ..self
        })
    }

    /// With another distance of the card's rows.
    #[must_use]
    pub const fn with_card_step(self, card_step: CardStep) -> Self {
        Self { card_step, ..self }
    }
}

fn checked(what: &'static str, value: f64) -> Result<f64, OptionsError> {
    if value > 0.0 && value <= MOST_STOPS {
        Ok(value)
    } else {
        Err(OptionsError { what, value })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_outside_their_meaning_are_refused() {
        for bad in [0.0, -0.5, 10.5, f64::NAN, f64::INFINITY] {
            assert!(Options::default().with_limit(bad).is_err(), "{bad}");
            assert!(Options::default().with_click(bad).is_err(), "{bad}");
            assert!(Options::default().with_resolution(bad).is_err(), "{bad}");
        }
        let error = Options::default().with_click(-1.0).unwrap_err().to_string();
        assert_eq!(
            error,
            "a click of -1 stops cannot be: write a number above 0 and up to 10"
        );
    }
}
