//! `fettle hands`: who may come in to a bench from its network.

use std::io::{self, BufRead, IsTerminal, Read, Write};
use std::path::PathBuf;

use clap::Subcommand;
use fettle_door::{Chance, Door, DoorError, Passphrase};
use jiff::Timestamp;
use serde_json::json;

use super::serve::{bench_or_here, hand};
use crate::error::{CliError, reason};

/// A line that holds a passphrase is no longer than this, in bytes.
const LINE_BYTES: u64 = 4096;

/// Say who may come in from the network.
///
/// Bench-hands come in with their name and passphrase, or by a code that somebody who is in had made on
/// the page /pair. What they write stands in the journal under their name. Passphrases are asked for in
/// the terminal, or read from standard input; they are never an argument. A bench that is being served
/// follows at once.
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Let a bench-hand come in.
    ///
    ///   fettle hands add Ines --bench my-bench
    #[command(verbatim_doc_comment)]
    Add(Named),
    /// List who may come in and which devices are in.
    ///
    ///   fettle hands list --bench my-bench
    #[command(verbatim_doc_comment)]
    List(List),
    /// Let a bench-hand come in no more; their devices are sent out, what they wrote stays.
    ///
    ///   fettle hands remove Ines --bench my-bench
    #[command(verbatim_doc_comment)]
    Remove(Named),
    /// Give a bench-hand another passphrase; their devices are sent out.
    ///
    ///   fettle hands passphrase Ines --bench my-bench
    #[command(verbatim_doc_comment)]
    Passphrase(Named),
}

#[derive(Debug, clap::Args)]
struct Named {
    /// The name that stands in the journal.
    #[arg(value_parser = hand)]
    name: String,
    #[command(flatten)]
    place: Place,
}

#[derive(Debug, clap::Args)]
struct List {
    #[command(flatten)]
    place: Place,
    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, clap::Args)]
struct Place {
    /// The folder of the bench [default: the current folder].
    #[arg(long, value_name = "DIR")]
    bench: Option<PathBuf>,
}

impl Place {
    fn door(&self) -> Result<Door, CliError> {
        let bench = bench_or_here(self.bench.as_deref())?;
        if !bench.join("bench.db").is_file() {
            return Err(CliError::work(format!(
                "{} is no bench: name the folder of one with --bench, or make one with `fettle new DIR`",
                bench.display()
            )));
        }
        Ok(Door::of_bench(&bench, Chance::system()))
    }
}

/// Says who may come in.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    match &args.command {
        Command::Add(named) => {
            let door = named.place.door()?;
            // Told before a passphrase is asked for.
            let there = door.hands().map_err(CliError::work)?;
            if there
                .iter()
                .any(|hand| hand.name.to_lowercase() == named.name.to_lowercase())
            {
                return Err(CliError::work(DoorError::Taken(named.name.clone())));
            }
            let passphrase = passphrase_of(&named.name)?;
            let added = door.add(&named.name, &passphrase, Timestamp::now());
            added.map_err(CliError::work)?;
            writeln!(out, "{} may come in", named.name)?;
        }
        Command::Passphrase(named) => {
            let door = named.place.door()?;
            let there = door.hands().map_err(CliError::work)?;
            if !there
                .iter()
                .any(|hand| hand.name.to_lowercase() == named.name.to_lowercase())
            {
                return Err(CliError::work(DoorError::Unknown(named.name.clone())));
            }
            let passphrase = passphrase_of(&named.name)?;
            let changed = door.change_passphrase(&named.name, &passphrase);
            changed.map_err(CliError::work)?;
            writeln!(
                out,
                "{} has another passphrase; every device is sent out",
                named.name
            )?;
        }
        Command::Remove(named) => {
            let door = named.place.door()?;
            door.remove(&named.name).map_err(CliError::work)?;
            writeln!(out, "{} comes in no more", named.name)?;
        }
        Command::List(list) => tell(&list.place.door()?, list.json, out, remarks)?,
    }
    Ok(())
}

fn tell(
    door: &Door,
    as_json: bool,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let hands = door.hands().map_err(CliError::work)?;
    let sessions = door.sessions(Timestamp::now()).map_err(CliError::work)?;
    if as_json {
        let hands: Vec<_> = hands
            .iter()
            .map(|hand| json!({"name": hand.name, "since": hand.since}))
            .collect();
        let sessions: Vec<_> = sessions
            .iter()
            .map(|line| json!({"device": line.device, "hand": line.hand, "since": line.since, "seen": line.seen}))
            .collect();
        return crate::json::write(out, &json!({"hands": hands, "sessions": sessions}));
    }
    if hands.is_empty() {
        writeln!(
            remarks,
            "nobody may come in from the network: `fettle hands add NAME` lets somebody"
        )?;
    }
    for hand in &hands {
        writeln!(out, "{}, since {}", hand.name, day(hand.since))?;
        for line in sessions.iter().filter(|line| line.hand == hand.name) {
            writeln!(
                out,
                "  {}, in since {}, last seen {}",
                line.device,
                day(line.since),
                day(line.seen)
            )?;
        }
    }
    Ok(())
}

fn day(at: Timestamp) -> String {
    at.to_zoned_datetime(jiff::tz::TimeZone::system())
        .date()
        .to_string()
}

/// Asks for a passphrase twice in the terminal, or reads it from a line of standard input.
fn passphrase_of(name: &str) -> Result<Passphrase, CliError> {
    let unread = |error: io::Error| {
        CliError::work(format!(
            "the passphrase cannot be read: {}; type it in a terminal, or give it as one line on standard input",
            reason(&error)
        ))
    };
    let text = if io::stdin().is_terminal() {
        let typed =
            rpassword::prompt_password(format!("passphrase of {name} (15 letters at least): "))
                .map_err(unread)?;
        let again = rpassword::prompt_password("the same again: ").map_err(unread)?;
        if typed != again {
            return Err(CliError::work(
                "the two were not alike: nothing was changed, type it anew",
            ));
        }
        typed
    } else {
        let mut line = String::new();
        let mut input = io::stdin().lock().take(LINE_BYTES);
        input.read_line(&mut line).map_err(unread)?;
        line.trim_end_matches(['\r', '\n']).to_owned()
    };
    Passphrase::new(&text).map_err(CliError::work)
}
