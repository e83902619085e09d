//! One row while it is read: its cells as values, and what is wrong with them.

use fettle_bench::{LINE_MAX_BYTES, PROSE_MAX_BYTES};

use crate::{map::Columns, problem::Problem, table::Row, value::Unfit};

/// A row being read.
pub(super) struct Reading<'r> {
    pub(super) row: &'r Row,
    columns: &'r Columns,
    pub(super) wrong: Vec<Problem>,
}

impl<'r> Reading<'r> {
    pub(super) const fn new(row: &'r Row, columns: &'r Columns) -> Self {
        Self {
            row,
            columns,
            wrong: Vec::new(),
        }
    }

    /// Row and line.
    pub(super) const fn place(&self) -> (u32, u32) {
        (self.row.row, self.row.line)
    }

    /// What stands in a field's column; empty without one.
    pub(super) fn cell(&self, field: &str) -> &'r str {
        self.columns.cell(self.row, field)
    }

    /// A text on one line.
    pub(super) fn line(&mut self, field: &str) -> String {
        let text: String = self
            .cell(field)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        self.check(field, &text, LINE_MAX_BYTES, |_| false);
        text
    }

    /// A text on one line that must not be empty.
    pub(super) fn needed(&mut self, field: &str, what: &str) -> String {
        let text = self.line(field);
        if text.is_empty() {
            let unfit = Unfit::new(
                format!("{what} is missing"),
                "write it, or take the row out",
            );
            self.unfit(field, unfit);
        }
        text
    }

    /// A text of any number of lines.
    pub(super) fn prose(&mut self, field: &str) -> String {
        let text = self.cell(field).replace("\r\n", "\n").replace('\r', "\n");
        self.check(field, &text, PROSE_MAX_BYTES, |c| matches!(c, '\n' | '\t'));
        text
    }

    /// A value, when the cell holds one.
    pub(super) fn value<T>(
        &mut self,
        field: &str,
        read: impl FnOnce(&str) -> Result<T, Unfit>,
    ) -> Option<T> {
        let cell = self.cell(field);
        if cell.is_empty() {
            return None;
        }
        match read(cell) {
            Ok(value) => Some(value),
            Err(unfit) => {
                self.unfit(field, unfit);
                None
            }
        }
    }

    /// A value that must be there.
    pub(super) fn needed_value<T>(
        &mut self,
        field: &str,
        what: &str,
        read: impl FnOnce(&str) -> Result<T, Unfit>,
    ) -> Option<T> {
        if self.cell(field).is_empty() {
            let unfit = Unfit::new(
                format!("{what} is missing"),
                "write it, or take the row out",
            );
            self.unfit(field, unfit);
        }
        self.value(field, read)
    }

    /// Something is wrong with a field's cell.
    pub(super) fn unfit(&mut self, field: &str, unfit: Unfit) {
        let problem = unfit.at(self.place());
        let problem = problem.in_column(self.columns.called(field), self.cell(field));
        self.wrong.push(problem);
    }

    fn check(&mut self, field: &str, text: &str, most: usize, fits: impl Fn(char) -> bool) {
        if text.len() > most {
            let why = format!("has {} bytes, the most is {most}", text.len());
            self.unfit(field, Unfit::new(why, "write it shorter"));
        } else if let Some(bad) = text.chars().find(|c| c.is_control() && !fits(*c)) {
            let why = format!("holds the control character U+{:04X}", u32::from(bad));
            self.unfit(field, Unfit::new(why, "take it out"));
        }
    }
}
