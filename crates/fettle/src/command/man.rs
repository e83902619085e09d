//! `fettle man`: the pages of the manual.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::CommandFactory;
use clap_mangen::Man;

use crate::cli::Cli;
use crate::error::{CliError, reason};

/// Print the manual page, or write one for every command.
///
///   fettle man | man -l -
///   fettle man ~/.local/share/man/man1
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// A folder for the pages of all commands, made if it is not there; pages of an earlier version
    /// are replaced.
    dir: Option<PathBuf>,
}

/// Prints the page of the program, or writes all pages.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let mut program = Cli::command();
    // Gives each command its full name.
    program.build();
    let Some(dir) = &args.dir else {
        out.write_all(&page(program)?)?;
        return Ok(());
    };
    let told = |path: &Path, error: &io::Error| {
        CliError::work(format!(
            "cannot write {}: {}; name a folder that you may write to",
            path.display(),
            reason(error)
        ))
    };
    fs::create_dir_all(dir).map_err(|error| told(dir, &error))?;
    let pages = pages(program)?;
    for (name, text) in &pages {
        let path = dir.join(name);
        fs::write(&path, text).map_err(|error| told(&path, &error))?;
    }
    writeln!(out, "{} pages written to {}", pages.len(), dir.display())?;
    Ok(())
}

/// The pages of a command and of all below it, each with the name of its file.
fn pages(command: clap::Command) -> io::Result<Vec<(String, Vec<u8>)>> {
    let mut found = Vec::new();
    for below in command.get_subcommands().filter(|it| !it.is_hide_set()) {
        found.extend(pages(below.clone())?);
    }
    let name = format!("{}.1", full_name(&command));
    found.push((name, page(command)?));
    Ok(found)
}

/// A command's words joined by hyphens, as manuals name their pages.
fn full_name(command: &clap::Command) -> String {
    command
        .get_display_name()
        .unwrap_or_else(|| command.get_name())
        .replace(' ', "-")
}

fn page(command: clap::Command) -> io::Result<Vec<u8>> {
    let name = full_name(&command);
    let mut text = Vec::new();
    Man::new(command)
        .title(name)
        // A date would make the same version give another page each day.
        .date("")
        .render(&mut text)?;
    Ok(text)
}
