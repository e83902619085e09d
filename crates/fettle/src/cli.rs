//! What can be typed.

use clap::{Parser, Subcommand};

use crate::command::{
    backup, cause, completions, demo, draw, export, forecast, hands, import, man, mesh, meter, new,
    notes, rangefinder, register, restore, serve, shutter, teeth, trim, verify, way,
};

/// The bench book for people who repair mechanical cameras.
///
/// A bench is a folder that holds everything: the record of cameras, visits and readings, the
/// photographs and recordings, and the service notes of each model. `fettle serve` opens it in the
/// browser; the other commands do one thing each and print the result.
///
/// To look round first:
///
///   fettle demo
///
/// To begin a bench of your own:
///
///   fettle new my-bench --name "The bench at home" --place "Where it stands" --currency EUR
///   fettle serve --bench my-bench
#[derive(Debug, Parser)]
#[command(
    name = "fettle",
    version,
    verbatim_doc_comment,
    max_term_width = 100,
    propagate_version = true,
    disable_help_subcommand = true,
    after_long_help = "Results go to standard output, everything else to standard error. With --json, \
                       standard output is one JSON object.\n\
                       Exit status: 0 done; 1 the work could not be done (the message says which file, where, \
                       why and what to do); 2 wrong arguments."
)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// The commands, in the order in which one meets them.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Demo(demo::Args),
    New(new::Args),
    Serve(serve::Args),
    Hands(hands::Args),
    Shutter(Box<shutter::Args>),
    Meter(meter::Args),
    Register(register::Args),
    Rangefinder(rangefinder::Args),
    Trim(trim::Args),
    Mesh(Box<mesh::Args>),
    Teeth(teeth::Args),
    Draw(Box<draw::Args>),
    Forecast(forecast::Args),
    Cause(cause::Args),
    Way(way::Args),
    Notes(notes::Args),
    Import(Box<import::Args>),
    Export(export::Args),
    Backup(backup::Args),
    Restore(restore::Args),
    Verify(verify::Args),
    Completions(completions::Args),
    Man(man::Args),
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    fn every_command(command: clap::Command, seen: &mut Vec<clap::Command>) {
        for sub in command.get_subcommands() {
            every_command(sub.clone(), seen);
        }
        seen.push(command);
    }

    fn commands() -> Vec<clap::Command> {
        let mut seen = Vec::new();
        every_command(Cli::command(), &mut seen);
        seen
    }

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_command_and_argument_has_help() {
        for command in commands() {
            let name = command.get_name();
            assert!(command.get_about().is_some(), "{name} has no help");
            for argument in command.get_arguments() {
                let help = argument.get_help().map(ToString::to_string);
                assert!(
                    help.is_some_and(|text| !text.is_empty()),
                    "{name} {} has no help",
                    argument.get_id()
                );
            }
        }
    }

    #[test]
    fn every_command_shows_an_example() {
        for command in commands() {
            if command.get_subcommands().next().is_none() {
                let long = command.clone().render_long_help().to_string();
                let call = format!("  fettle {}", command.get_name());
                let nested = ["notes", "hands"]
                    .map(|above| format!("  fettle {above} {}", command.get_name()));
                assert!(
                    long.contains(&call) || nested.iter().any(|call| long.contains(call)),
                    "{} has no example in its long help",
                    command.get_name()
                );
            }
        }
    }
}
