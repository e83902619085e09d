//! Use per visit, where other visits are expected than there were.

use serde::{Deserialize, Serialize};

use super::error::{ForecastError, within};
use super::history::History;

/// The visits of the models that a part goes into.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Visits {
    /// Visits in the time watched.
    pub seen: u32,
    /// Visits expected in a year from now on.
    pub per_year: f64,
    /// How many visits this expectation rests on; the fewer, the less it is trusted: its relative standard deviation is one over the
    /// square root of this.
    pub worth: f64,
}

/// The sum over the visits in a year ends where their density is e to this power below its top, which is 1e-10, and goes by this part
/// of their standard deviation, at most by so much of the logarithm.
const REACH: f64 = 23.0;
const STEP: f64 = 0.8;
const MOST_STEP: f64 = 0.4;

impl Visits {
    /// # Errors
    /// [`ForecastError`] when a number is outside its meaning, or needs were seen without a visit.
    pub(super) fn check(&self, history: &History) -> Result<(), ForecastError> {
        let (per_year, worth) = (self.per_year, self.worth);
        let sane = per_year > 1e-6 && per_year <= 1e6;
        within(
            "visits in a year",
            "above 0 and at most 1000000",
            per_year,
            sane,
        )?;
        let sane = (1.0..=1e6).contains(&worth);
        within("visits that this rests on", "1 to 1000000", worth, sane)?;
        let needs = history.needs().len();
        if self.seen == 0 && needs > 0 {
            return Err(ForecastError::NoVisits { needs });
        }
        Ok(())
    }

    /// Years of watching that the visits seen are worth, with the chance of each: the more visits a year brings from now on, the fewer
    /// years is what was seen. The expectation is a Gamma distribution, taken by the trapezoidal rule over the logarithm, where its
    /// density is smooth and vanishes at both ends, so that the rule converges faster than any power of the step.
    pub(super) fn exposure(&self, prior_years: f64) -> Vec<(f64, f64)> {
        // A need in so many visits: the prior's years had as many visits as are expected.
        let visits = f64::from(self.seen) + prior_years * self.per_year;
        let high = (2.0 * REACH / self.worth).sqrt();
        let low = -high - REACH / self.worth;
        let step = (STEP / self.worth.sqrt()).min(MOST_STEP);
        let steps = ((high - low) / step).ceil() as u32;
        let log_density = |x: f64| self.worth * (x - x.exp() + 1.0);
        let nodes = (0..=steps).map(|n| low + f64::from(n) * step);
        let mut exposure: Vec<(f64, f64)> = nodes
            .map(|x| (log_density(x).exp(), visits / (self.per_year * x.exp())))
            .filter(|(weight, _)| *weight > 1e-10)
            .collect();
        let sum: f64 = exposure.iter().map(|(weight, _)| weight).sum();
        for (weight, _) in &mut exposure {
            *weight /= sum;
        }
        exposure
    }
}
