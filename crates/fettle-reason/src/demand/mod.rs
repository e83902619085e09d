//! How long a drawer lasts, and what its pieces are worth keeping for.
//!
//! Needs of a part are a Poisson process. Its rate is uncertain: a Gamma distribution from like parts ([`Prior`]), brought up to date by
//! what was used ([`History`]). One need takes one or more pieces. [`forecast()`] says how likely the drawer lasts, when it runs out, and
//! how many to buy; [`forecast_by_visits`] reckons with use per visit where more or fewer visits are expected than there were; [`keep()`]
//! says for which work the pieces of a scarce grade are to be kept.
//!
//! The distribution of the pieces that are needed is exact, nothing is sampled: see [`Pieces`].

mod error;
mod fan;
mod finding;
mod forecast;
mod history;
mod keep;
mod pieces;
mod pooled;
mod prior;
mod rates;
mod visits;

#[cfg(test)]
mod coverage;
#[cfg(test)]
mod drawn;
#[cfg(test)]
mod tests;

pub use error::{ForecastError, HistoryError};
pub use fan::FanPoint;
pub use finding::Finding;
pub use forecast::{Forecast, PerYear, RunsOut, Until, forecast, forecast_by_visits, pieces};
pub use history::{History, Need};
pub use keep::{Kept, Kind, keep};
pub use pieces::Pieces;
pub use prior::{Prior, SizeShare};
pub use visits::Visits;

/// Days in a year.
pub const DAYS_PER_YEAR: f64 = 365.25;
