//! The bench book for people who repair mechanical cameras.
//!
//! This crate turns arguments into calls and results into text or JSON; it computes nothing itself.
//! Each command is a module of [`command`] with its arguments beside what it does.

mod cli;
mod command;
mod error;
mod input;
mod json;
mod notes_file;
mod progress;
mod table;

use std::io::{self, Write};
use std::process::ExitCode;

use clap::Parser;

use crate::cli::Cli;
use crate::error::CliError;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let mut out = io::BufWriter::new(io::stdout().lock());
    let mut remarks = io::stderr();
    let done = command::run(&cli.command, &mut out, &mut remarks)
        .and_then(|()| out.flush().map_err(CliError::from));
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => error.report(&mut remarks),
    }
}
