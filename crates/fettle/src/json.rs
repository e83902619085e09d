//! Results for machines: one JSON object on standard output.

use std::io::Write;

use serde::Serialize;

use crate::error::CliError;

/// Writes `value` as one indented JSON object and a line end.
pub(crate) fn write(out: &mut dyn Write, value: &impl Serialize) -> Result<(), CliError> {
    serde_json::to_writer_pretty(&mut *out, value).map_err(|error| {
        error.io_error_kind().map_or_else(
            || CliError::work(format!("cannot write the result as JSON: {error}")),
            |kind| CliError::Output(kind.into()),
        )
    })?;
    writeln!(out)?;
    Ok(())
}
