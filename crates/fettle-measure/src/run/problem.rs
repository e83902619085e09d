//! What is wrong with a run of readings, and where.

use std::fmt;

/// No more problems than this are told: by then the file is another than was meant.
pub(super) const MOST_PROBLEMS: usize = 20;

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Line of the file, from 1; `None` when the whole is meant.
    pub line: Option<usize>,
    /// Heading of the column; `None` when the whole line is meant.
    pub column: Option<String>,
    /// What is wrong, why, and what to do: lower case, no full stop.
    pub message: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}")?;
            f.write_str(if self.column.is_some() { ", " } else { ": " })?;
        }
        if let Some(column) = &self.column {
            write!(f, "column `{column}`: ")?;
        }
        f.write_str(&self.message)
    }
}

/// A run of readings that is refused, with every problem found in it, up to 20, in the order of the lines.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunError {
    problems: Vec<Problem>,
}

impl RunError {
    /// One problem of the whole run.
    #[must_use]
    pub fn whole(message: impl Into<String>) -> Self {
        Self {
            problems: vec![Problem {
                line: None,
                column: None,
                message: message.into(),
            }],
        }
    }

    /// One problem of a line, and of one column of it where one is named.
    #[must_use]
    pub fn at(line: usize, column: Option<&str>, message: impl Into<String>) -> Self {
        Self {
            problems: vec![Problem {
                line: Some(line),
                column: column.map(str::to_owned),
                message: message.into(),
            }],
        }
    }

    /// Several problems; `Ok` when there are none.
    ///
    /// # Errors
    /// All of them, in the order given, the first twenty.
    pub fn none_of(mut problems: Vec<Problem>) -> Result<(), Self> {
        problems.truncate(MOST_PROBLEMS);
        if problems.is_empty() {
            Ok(())
        } else {
            Err(Self { problems })
        }
    }

    /// The problems, at least one.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }
}

impl fmt::Display for RunError {
    /// One problem a line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, problem) in self.problems.iter().enumerate() {
            if i > 0 {
                f.write_str("\n")?;
            }
            problem.fmt(f)?;
        }
        Ok(())
    }
}

impl std::error::Error for RunError {}
