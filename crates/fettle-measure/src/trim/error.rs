//! What is wrong with a state, and where.

use std::fmt;

/// No more problems than this are gathered.
const MOST_PROBLEMS: usize = 20;

/// Everything found wrong with a state, up to 20 problems; at least one.
#[derive(Clone, Debug, Default, PartialEq, Eq, thiserror::Error)]
pub struct StateError {
    /// The problems in the order of the file.
    pub problems: Vec<Problem>,
}

/// One problem: where, what, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The line, counted from 1; `None` for a state that was not read from text.
    pub line: Option<usize>,
    /// The place, as in `adjusters[0].effects.rate.rel_u`; empty for the whole.
    pub path: String,
    /// The rule, the value and the remedy.
    pub message: String,
}

impl StateError {
    pub(super) fn add(&mut self, path: impl Into<String>, message: impl Into<String>) {
        if self.problems.len() < MOST_PROBLEMS {
            self.problems.push(Problem {
                line: None,
                path: path.into(),
                message: message.into(),
            });
        }
    }

    pub(super) fn into_result(self) -> Result<(), Self> {
        if self.problems.is_empty() {
            Ok(())
        } else {
            Err(self)
        }
    }
}

impl fmt::Display for StateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, problem) in self.problems.iter().enumerate() {
            if n > 0 {
                writeln!(f)?;
            }
            problem.fmt(f)?;
        }
        Ok(())
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, self.path.as_str()) {
            (Some(line), "") => write!(f, "line {line}: ")?,
            (Some(line), path) => write!(f, "line {line}, {path}: ")?,
            (None, "") => {}
            (None, path) => write!(f, "{path}: ")?,
        }
        f.write_str(&self.message)
    }
}
