//! The commands, one module each: its arguments, and what it does with them.

pub(crate) mod backup;
pub(crate) mod cause;
pub(crate) mod completions;
pub(crate) mod demo;
pub(crate) mod draw;
pub(crate) mod export;
pub(crate) mod forecast;
pub(crate) mod hands;
pub(crate) mod import;
pub(crate) mod man;
pub(crate) mod mesh;
pub(crate) mod meter;
pub(crate) mod new;
pub(crate) mod notes;
pub(crate) mod rangefinder;
pub(crate) mod register;
pub(crate) mod restore;
pub(crate) mod serve;
pub(crate) mod shutter;
pub(crate) mod teeth;
pub(crate) mod trim;
pub(crate) mod verify;
pub(crate) mod way;

use std::io::Write;

use crate::cli::Command;
use crate::error::CliError;

/// Does what was asked: the result on `out`, everything else on `remarks`.
pub(crate) fn run(
    command: &Command,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    match command {
        Command::Cause(args) => cause::run(args, out, remarks),
        Command::Completions(args) => completions::run(args, out),
        Command::Demo(args) => demo::run(args, out, remarks),
        Command::New(args) => new::run(args, out),
        Command::Notes(args) => notes::run(args, out, remarks),
        Command::Hands(args) => hands::run(args, out, remarks),
        Command::Serve(args) => serve::run(args, out, remarks),
        Command::Shutter(args) => shutter::run(args, out, remarks),
        Command::Meter(args) => meter::run(args, out),
        Command::Register(args) => register::run(args, out),
        Command::Rangefinder(args) => rangefinder::run(args, out),
        Command::Teeth(args) => teeth::run(args, out),
        Command::Trim(args) => trim::run(args, out),
        Command::Draw(args) => draw::run(args, out),
        Command::Forecast(args) => forecast::run(args, out),
        Command::Export(args) => export::run(args, out),
        Command::Import(args) => import::run(args, out, remarks),
        Command::Man(args) => man::run(args, out),
        Command::Mesh(args) => mesh::run(args, out),
        Command::Way(args) => way::run(args, out, remarks),
        Command::Backup(args) => backup::run(args, out, remarks),
        Command::Restore(args) => restore::run(args, out, remarks),
        Command::Verify(args) => verify::run(args, out),
    }
}
