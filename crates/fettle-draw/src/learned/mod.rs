//! What past visits taught, drawn: how often, how long against what was quoted, how many days, how much a month.

mod days;
mod minutes;
mod months;
mod shares;

pub use days::{DaysChart, days_chart};
pub use minutes::{QuotedMinutes, minutes_chart};
pub use months::{MonthBar, MonthsChart, months_chart};
pub use shares::{Share, SharesChart, shares_chart};

/// Width of these charts.
const WIDTH: f64 = 640.0;
/// Size of their letters.
const LETTERS: f64 = 11.0;
