//! What a table would bring: the changes, the problems, and the rows that are known already. Nothing is written.

mod cameras;
mod owners;
mod parts;
mod row;
mod visits;

use fettle_bench::Change;
use jiff::civil::Date;
use serde::Serialize;

use crate::{kind::Kind, known::Known, map::Map, problem::Problem, table::Table, value::Habits};

/// How rows are read and what is let through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Terms {
    /// How days and numbers are written.
    pub habits: Habits,
    /// Today: no visit can have come later.
    pub today: Date,
    /// Whether cameras of different models may have the same serial number.
    pub same_serials: bool,
}

impl Terms {
    /// Nothing is told: what can be read in two ways is refused, and so is a serial number that stands twice.
    #[must_use]
    pub fn strict(today: Date) -> Self {
        Self {
            habits: Habits::default(),
            today,
            same_serials: false,
        }
    }
}

/// What a table would bring.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What the table brings.
    pub kind: Kind,
    /// How many rows it has.
    pub rows: usize,
    /// The changes, in the order in which they are to be applied.
    pub groups: Vec<Group>,
    /// What is wrong, in the order of the rows. With a single one nothing can be taken in.
    pub problems: Vec<Problem>,
    /// Rows that are known already, and bring nothing.
    pub same: Vec<Same>,
    /// What should be known of the whole, in words.
    pub remarks: Vec<String>,
}

/// Changes that are applied together, each with the row that it comes from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// For each change its row and the line on which that begins.
    pub rows: Vec<(u32, u32)>,
    /// The changes.
    pub changes: Vec<Change>,
}

/// A row that is known already.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Same {
    /// The row.
    pub row: u32,
    /// The line on which it begins.
    pub line: u32,
    /// As what it is known: `owner 12`, `row 3`.
    pub known_as: String,
    /// The fields in which it differs; what was known stays.
    pub differs: Vec<String>,
}

impl Plan {
    fn new(kind: Kind, rows: usize) -> Self {
        Self {
            kind,
            rows,
            groups: Vec::new(),
            problems: Vec::new(),
            same: Vec::new(),
            remarks: Vec::new(),
        }
    }

    /// How many rows would be taken in.
    #[must_use]
    pub fn new_rows(&self) -> usize {
        let mut rows: Vec<u32> = self
            .groups
            .iter()
            .flat_map(|group| &group.rows)
            .map(|(row, _)| *row)
            .collect();
        rows.sort_unstable();
        rows.dedup();
        rows.len()
    }
}

impl Group {
    fn push(&mut self, place: (u32, u32), change: impl Into<Change>) {
        self.rows.push(place);
        self.changes.push(change.into());
    }
}

/// Plans what a table would bring to a bench. A pure function: the bench is only what `known` holds of it.
#[must_use]
pub fn plan(table: &Table, map: &Map, known: &Known, terms: &Terms) -> Plan {
    let mut plan = Plan::new(map.kind, table.rows.len());
    let columns = match map.columns(table) {
        Ok(columns) => columns,
        Err(problems) => {
            plan.problems = problems;
            return plan;
        }
    };
    match map.kind {
        Kind::Owners => owners::plan(table, &columns, known, &mut plan),
        Kind::Cameras => cameras::plan(table, &columns, known, terms, &mut plan),
        Kind::Visits => visits::plan(table, &columns, known, terms, &mut plan),
        Kind::Parts => parts::plan(table, &columns, known, terms, &mut plan),
    }
    plan.problems.sort_by_key(|problem| problem.row);
    plan
}

/// What the bench, or an earlier row, knows a row as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum As {
    /// It stands in the record under this number.
    Known(i64),
    /// It stands in this row, whose thing is the one with this place among the new ones.
    Row(u32, usize),
}

impl As {
    fn told(self, what: &str) -> String {
        match self {
            Self::Known(id) => format!("{what} {id}"),
            Self::Row(row, _) => format!("row {row}"),
        }
    }
}
