//! What is wrong with a table, and where.

use std::fmt;

use serde::Serialize;

/// The most characters of a cell that a problem shows.
const SHOWN_MAX: usize = 80;

/// One thing that is wrong with a table or a file of contacts.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// The row as a spreadsheet counts: the headings are row 1. Of contacts, which card. `None` when it is about the whole file.
    pub row: Option<u32>,
    /// The line of the file on which the row begins.
    pub line: Option<u32>,
    /// The heading of the column; `None` when it is about the whole row.
    pub column: Option<String>,
    /// What stands there, cut short when it is long.
    pub value: String,
    /// Why that cannot be taken in.
    pub why: String,
    /// What to do.
    pub remedy: String,
}

impl Problem {
    /// Something wrong with the whole file.
    pub(crate) fn whole(why: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            why: why.into(),
            remedy: remedy.into(),
            ..Self::default()
        }
    }

    /// Something wrong with a row.
    pub(crate) fn at(
        (row, line): (u32, u32),
        why: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            row: Some(row),
            line: Some(line),
            ..Self::whole(why, remedy)
        }
    }

    /// The same, in this column, where this stands.
    #[must_use]
    pub(crate) fn in_column(mut self, column: &str, value: &str) -> Self {
        self.column = Some(cut(column));
        self.value = cut(value);
        self
    }
}

/// A text on one line and not too long to be shown.
pub(crate) fn cut(text: &str) -> String {
    let mut shown: String = text
        .chars()
        .take(SHOWN_MAX)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().nth(SHOWN_MAX).is_some() {
        shown.push('…');
    }
    shown
}

/// `row 3, column Serial: “K 10482” stands in row 2 too; give each camera its own number`.
impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.row, self.line) {
            (Some(row), Some(line)) if row != line => write!(f, "row {row} (line {line})")?,
            (Some(row), _) => write!(f, "row {row}")?,
            (None, Some(line)) => write!(f, "line {line}")?,
            (None, None) => {}
        }
        if let Some(column) = &self.column {
            write!(f, ", column {column}")?;
        }
        if self.row.is_some() || self.line.is_some() {
            write!(f, ": ")?;
        }
        if !self.value.is_empty() {
            write!(f, "“{}” ", self.value)?;
        }
        write!(f, "{}; {}", self.why, self.remedy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_problem_says_where_what_why_and_what_to_do() {
        let problem = Problem::at((3, 5), "is not an amount", "write a number such as 12.50");
        assert_eq!(
            problem.clone().in_column("Price", "free").to_string(),
            "row 3 (line 5), column Price: “free” is not an amount; write a number such as 12.50"
        );
        assert_eq!(
            Problem::whole("the file is empty", "choose the file again").to_string(),
            "the file is empty; choose the file again"
        );
        // A heading that an open quote ran away with is no longer than a cell.
        let long = problem.in_column(&"ü\n".repeat(90), &"é\n".repeat(90));
        for shown in [long.column.unwrap(), long.value] {
            assert_eq!(shown.chars().count(), SHOWN_MAX + 1);
            assert!(!shown.contains('\n'));
        }
    }
}
