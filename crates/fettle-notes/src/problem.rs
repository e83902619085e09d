//! What is wrong with a file, where, and what would be right.

use std::fmt;

use serde::Serialize;

use crate::model::words;

words! {
    /// What sort of problem it is.
    ProblemKind {
        /// The file is too large to be service notes.
        TooLarge = "too-large",
        /// The file is not UTF-8 text.
        NotText = "not-text",
        /// The file is not TOML.
        Syntax = "syntax",
        /// A key or table stands twice.
        Duplicate = "duplicate",
        /// The file does not say that it is service notes of this format.
        Format = "format",
        /// A key that the format does not know.
        UnknownKey = "unknown-key",
        /// A key that must be there is not.
        Missing = "missing",
        /// A value of the wrong type.
        WrongType = "wrong-type",
        /// A figure outside its range.
        OutOfRange = "out-of-range",
        /// A text or list with nothing in it.
        Empty = "empty",
        /// A text that is too long or holds control characters.
        BadText = "bad-text",
        /// An id that does not follow the rule for ids.
        BadId = "bad-id",
        /// The model's id is not the file's name.
        NameMismatch = "name-mismatch",
        /// A word that is not one of those allowed.
        UnknownWord = "unknown-word",
        /// A mark that is not a speed.
        BadMark = "bad-mark",
        /// A reference to something that the file does not define.
        Unresolved = "unresolved",
        /// A reference that could mean two things.
        Ambiguous = "ambiguous",
        /// The same thing twice in one list.
        Repeated = "repeated",
        /// References that run in a circle.
        Circle = "circle",
        /// Figures that are not in the order asked for.
        Order = "order",
        /// Tolerances that leave part of the dial without one.
        Uncovered = "uncovered",
        /// Alternatives of which there is only one.
        OneWay = "one-way",
        /// Something moves a limit that has no number.
        NoNumber = "no-number",
        /// Something defined and used nowhere.
        Unused = "unused",
        /// A fault that no sign shows.
        Unseen = "unseen",
        /// A fault that can never be there.
        Never = "never",
        /// A part that a work replaces and that nothing says how to take off.
        NoWayIn = "no-way-in",
        /// A sign answered by an instrument for which there is no limit.
        NoLimit = "no-limit",
        /// A key that has no meaning beside the others.
        Needless = "needless",
        /// More problems than are shown.
        More = "more",
    }
}

words! {
    /// How much a problem matters.
    Severity {
        /// The file cannot be used.
        Error = "error",
        /// The file can be used; something in it is likely not meant.
        Warning = "warning",
    }
}

/// One problem of a file.
///
/// Shown as `FILE:LINE:COLUMN: MESSAGE`, the source line with a caret under the place, and what to do:
///
/// ```text
/// corran-66.toml:41:9: error: `removal.side-cover.after` names part `leathr`, which is not defined
///   41 | after = ["leathr"]
///      |          ^^^^^^^^
///      help: did you mean `leather`?
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Problem {
    /// What sort of problem it is.
    pub kind: ProblemKind,
    /// How much it matters.
    pub severity: Severity,
    /// The file's name; `None` when none was given.
    pub file: Option<String>,
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1; one more than the line is long when something is missing at its end.
    pub column: u32,
    /// What is wrong.
    pub message: String,
    /// What would be right; `None` when the message says it all.
    pub help: Option<String>,
    /// A second place that belongs to it, such as the first of two that are alike.
    pub also: Option<OtherPlace>,
    /// The source line, shortened round the place when it is very long.
    pub source_line: String,
    /// How many characters of the source line stand before the caret.
    #[serde(skip)]
    pub(crate) indent: usize,
    /// How many characters the caret marks, from 1.
    #[serde(skip)]
    pub(crate) width: usize,
}

/// A second place that belongs to a problem.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct OtherPlace {
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
    /// What stands there.
    pub what: String,
}

impl Problem {
    /// Whether the file cannot be used because of it.
    #[must_use]
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let file = self.file.as_deref().unwrap_or("service notes");
        let Self {
            line,
            column,
            severity,
            message,
            ..
        } = self;
        writeln!(f, "{file}:{line}:{column}: {severity}: {message}")?;
        let gutter = line.to_string().len();
        writeln!(f, "  {line} | {}", self.source_line)?;
        let before = |c: char| if c == '\t' { '\t' } else { ' ' };
        let indent: String = self
            .source_line
            .chars()
            .take(self.indent)
            .map(before)
            .collect();
        write!(f, "  {:gutter$} | {indent}{}", "", "^".repeat(self.width))?;
        if let Some(also) = &self.also {
            write!(
                f,
                "\n  {:gutter$} also: {file}:{}:{}: {}",
                "", also.line, also.column, also.what
            )?;
        }
        if let Some(help) = &self.help {
            write!(f, "\n  {:gutter$} help: {help}", "")?;
        }
        Ok(())
    }
}

/// Every problem of a file that cannot be used, in the file's order; warnings are among them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, thiserror::Error)]
#[serde(transparent)]
pub struct Problems(pub(crate) Vec<Problem>);

impl Problems {
    /// The problems in the file's order.
    pub fn iter(&self) -> std::slice::Iter<'_, Problem> {
        self.0.iter()
    }

    /// The problems as a slice, in the file's order.
    #[must_use]
    pub fn as_slice(&self) -> &[Problem] {
        &self.0
    }

    /// The problems themselves, in the file's order.
    #[must_use]
    pub fn into_vec(self) -> Vec<Problem> {
        self.0
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, problem) in self.0.iter().enumerate() {
            if n > 0 {
                f.write_str("\n\n")?;
            }
            problem.fmt(f)?;
        }
        Ok(())
    }
}
