//! What makes a forecast impossible.

use jiff::civil::Date;
use thiserror::Error;

use super::history::{EARLIEST_YEAR, MOST_PIECES};

/// Why rows are no history; [`HistoryError::row`] tells which.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum HistoryError {
    /// There is no row.
    #[error(
        "there is no row of use, so there is nothing to reckon from: give the date on which watching began with the quantity 0"
    )]
    Empty,
    /// A row is earlier than the one before.
    #[error("{date} is before {before} in the row above: sort the rows by date")]
    OutOfOrder {
        /// Which row.
        row: usize,
        /// Its date.
        date: Date,
        /// The date above.
        before: Date,
    },
    /// A row lies after today.
    #[error("{date} is after today, {today}: correct the date, or say what today is")]
    Future {
        /// Which row.
        row: usize,
        /// Its date.
        date: Date,
        /// The day of the forecast.
        today: Date,
    },
    /// No drawer was watched so long ago.
    #[error("{date} is before the year {EARLIEST_YEAR}: correct the date")]
    LongAgo {
        /// Which row.
        row: usize,
        /// Its date.
        date: Date,
    },
    /// Nobody takes so many pieces at once.
    #[error("{quantity} pieces in one need are more than {MOST_PIECES}: correct the quantity")]
    Quantity {
        /// Which row.
        row: usize,
        /// Its quantity.
        quantity: u32,
    },
}

impl HistoryError {
    /// The row at fault, counting from 1.
    #[must_use]
    pub const fn row(&self) -> Option<usize> {
        match self {
            Self::Empty => None,
            Self::OutOfOrder { row, .. }
            | Self::Future { row, .. }
            | Self::LongAgo { row, .. }
            | Self::Quantity { row, .. } => Some(*row),
        }
    }
}

/// What was asked has no meaning.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ForecastError {
    /// A number is outside its meaning.
    #[error("{what} must be {must}, and {value} is not")]
    OutOfRange {
        /// Which number.
        what: &'static str,
        /// Its range.
        must: &'static str,
        /// What was given.
        value: f64,
    },
    /// The date to last until is not ahead.
    #[error(
        "the drawer is to last until {until}, which is not after today, {today}: give a later date"
    )]
    NotAhead {
        /// The date asked for.
        until: Date,
        /// The day of the forecast.
        today: Date,
    },
    /// Needs were seen in no visit.
    #[error("{needs} needs were seen in no visit: count the visits of the time watched")]
    NoVisits {
        /// Needs seen.
        needs: usize,
    },
}

/// Refuses a number outside its meaning.
pub(super) fn within(
    what: &'static str,
    must: &'static str,
    value: f64,
    is_within: bool,
) -> Result<(), ForecastError> {
    if is_within {
        Ok(())
    } else {
        Err(ForecastError::OutOfRange { what, must, value })
    }
}
