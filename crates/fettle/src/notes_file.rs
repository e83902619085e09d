//! Service notes from a file on disk.

use std::fs;
use std::io::Write;
use std::path::Path;

use fettle_notes::{Problem, Problems, ServiceNotes, parse_bytes};

use crate::error::CliError;

/// What a file of service notes holds: the notes and doubts about them, or what is wrong.
pub(crate) type Checked = Result<(ServiceNotes, Vec<Problem>), Problems>;

/// Reads and checks one file; its path stands in every problem.
pub(crate) fn check(path: &Path) -> Result<Checked, CliError> {
    let bytes = fs::read(path).map_err(|error| CliError::file("read", path, &error))?;
    Ok(parse_bytes(&bytes, Some(&path.to_string_lossy())))
}

/// The notes in a file; doubts about them go to `remarks`, and a file that cannot be used ends the
/// command.
pub(crate) fn usable(path: &Path, remarks: &mut dyn Write) -> Result<ServiceNotes, CliError> {
    match check(path)? {
        Ok((notes, doubts)) => {
            for doubt in &doubts {
                writeln!(remarks, "{doubt}")?;
            }
            Ok(notes)
        }
        Err(problems) => Err(CliError::work(format!(
            "these service notes cannot be used:\n{problems}"
        ))),
    }
}
