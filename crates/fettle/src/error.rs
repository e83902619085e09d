//! Why a command did not do what was asked, and the exit status that tells it.

use std::fmt;
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

/// A command that ended before its work was done.
#[derive(Debug)]
pub(crate) enum CliError {
    /// The arguments do not go together; exit status 2.
    Arguments(String),
    /// The work could not be done: what, where, why and what to do; exit status 1.
    Work(String),
    /// The result could not be written; exit status 1, or 0 when nobody reads it any more.
    Output(io::Error),
}

impl CliError {
    /// The work could not be done; `error` already says what, where, why and what to do.
    pub(crate) fn work(error: impl fmt::Display) -> Self {
        Self::Work(error.to_string())
    }

    /// A file or folder could not be used.
    pub(crate) fn file(doing: &str, path: &Path, error: &io::Error) -> Self {
        let remedy = match error.kind() {
            io::ErrorKind::NotFound => "check the name and the folder",
            io::ErrorKind::PermissionDenied => "check who may read and write there",
            io::ErrorKind::StorageFull => "make room on the disk",
            io::ErrorKind::IsADirectory => "name a file, not a folder",
            _ => "check that the file is whole and the disk sound",
        };
        Self::Work(format!(
            "cannot {doing} {}: {}; {remedy}",
            path.display(),
            reason(error)
        ))
    }

    /// Tells the error on `remarks` and gives the exit status.
    pub(crate) fn report(&self, remarks: &mut dyn Write) -> ExitCode {
        let (code, text) = match self {
            Self::Output(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                return ExitCode::SUCCESS;
            }
            Self::Output(error) => (1, format!("cannot write the result: {}", reason(error))),
            Self::Work(text) => (1, text.clone()),
            Self::Arguments(text) => (2, text.clone()),
        };
        // Nobody is left to tell when even this cannot be written.
        let _ = writeln!(remarks, "fettle: {text}");
        ExitCode::from(code)
    }
}

impl From<io::Error> for CliError {
    fn from(error: io::Error) -> Self {
        Self::Output(error)
    }
}

/// The reason in plain words, without the system's error number.
pub(crate) fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        io::ErrorKind::AlreadyExists => "it exists already".to_owned(),
        _ => {
            let text = error.to_string();
            let bare = text.split(" (os error").next().unwrap_or(&text);
            let mut letters = bare.chars();
            letters.next().map_or_else(String::new, |first| {
                first.to_lowercase().chain(letters).collect()
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(error: &CliError) -> String {
        let mut remarks = Vec::new();
        let _ = error.report(&mut remarks);
        String::from_utf8(remarks).unwrap()
    }

    #[test]
    fn a_file_error_says_what_where_why_and_what_to_do() {
        let missing = io::Error::from(io::ErrorKind::NotFound);
        let text = told(&CliError::file("read", Path::new("roll.wav"), &missing));
        assert_eq!(
            text,
            "fettle: cannot read roll.wav: there is no such file or folder; check the name and the folder\n"
        );
    }

    #[test]
    fn the_system_s_number_is_left_out() {
        let error = io::Error::from_raw_os_error(5);
        assert!(!reason(&error).contains("os error"), "{}", reason(&error));
    }

    #[test]
    fn a_reader_that_went_away_is_told_nothing() {
        assert_eq!(
            told(&CliError::Output(io::ErrorKind::BrokenPipe.into())),
            ""
        );
    }
}
