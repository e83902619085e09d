//! From cells to values: days, amounts, minutes, counts, answers. Each says why a cell is none and what would be one.

mod date;
mod number;

pub(crate) use self::{
    date::day,
    number::{amount, count, minutes},
};

use crate::{map::plain, problem::Problem};

/// How to read what can be read in two ways.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Habits {
    /// In which order day and month stand; `None` refuses days that can be read in two ways.
    pub dates: Option<DateOrder>,
    /// The decimal sign; `None` refuses numbers that can be read in two ways.
    pub decimal: Option<DecimalSign>,
}

/// In which order day and month stand before the year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// Day, month, year.
    Dmy,
    /// Month, day, year.
    Mdy,
}

/// The sign before the decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalSign {
    /// `12,50`
    Comma,
    /// `12.50`
    Point,
}

/// Why a cell does not hold what it should.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Unfit {
    pub(crate) why: String,
    pub(crate) remedy: String,
}

impl Unfit {
    pub(crate) fn new(why: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            why: why.into(),
            remedy: remedy.into(),
        }
    }

    pub(crate) fn at(self, place: (u32, u32)) -> Problem {
        Problem::at(place, self.why, self.remedy)
    }
}

/// Yes or no; an empty cell is no.
pub(crate) fn yes(cell: &str) -> Result<bool, Unfit> {
    match plain(cell).as_str() {
        "yes" | "y" | "true" | "1" | "x" | "ja" | "j" | "wahr" => Ok(true),
        "" | "no" | "n" | "false" | "0" | "nein" | "falsch" => Ok(false),
        _ => Err(Unfit::new("is neither yes nor no", "write yes or no")),
    }
}

/// Several things in one cell, divided by semicolons or lines.
pub(crate) fn several(cell: &str) -> Vec<&str> {
    let parts = cell.split([';', '\n', '\r']).map(str::trim);
    parts.filter(|part| !part.is_empty()).collect()
}
