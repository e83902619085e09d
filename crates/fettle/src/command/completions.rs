//! `fettle completions`: what a shell needs to finish words.

use std::io::Write;

use clap::CommandFactory;
use clap_complete::Shell;

use crate::cli::Cli;
use crate::error::CliError;

/// Print what a shell needs to finish commands and options when Tab is pressed.
///
///   fettle completions bash > ~/.local/share/bash-completion/completions/fettle
///   fettle completions zsh > ~/.zfunc/_fettle   # a folder of your fpath
///   fettle completions fish > ~/.config/fish/completions/fettle.fish
///   fettle completions powershell >> $PROFILE
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The shell.
    shell: Shell,
}

/// Prints the shell's script.
pub(crate) fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "fettle", &mut script);
    out.write_all(&script)?;
    Ok(())
}
