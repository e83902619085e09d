//! How near the instrument comes to the truth, over a family of seeded recordings.
//!
//! `cargo bench -p fettle-measure --bench family -- [CASES] [GROUP] [FIRST-SEED] [--verbose]`: cases in
//! each group (12), one group's name or `all`, and the first seed. Seeds from 0 were in view while
//! the instrument was made; the seeds taken when none is given were held out. The program ends with
//! an error when a figure that must hold does not.
#![expect(
    clippy::print_stdout,
    reason = "the tables are what this program is for"
)]

mod bound;
mod case;
mod chain;
mod draw;
mod flash;
mod focal;
mod goals;
mod groups;
mod hard;
mod leaf;
mod refused;
mod sound;
mod tables;
mod tally;
mod wave;

use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use draw::Draw;
use goals::Goals;
use groups::{GROUPS, Group, Held};
use tally::Tally;

const CASES: usize = 12;
const HELD_OUT: u64 = 1_000_000;
/// Asks for the comparison with the Cramér-Rao bound alone.
const BOUND: &str = "bound";

struct Arguments {
    cases: usize,
    only: Option<String>,
    first: u64,
    verbose: bool,
}

impl Arguments {
    fn read() -> Result<Self, String> {
        // Cargo passes `--bench` to what it runs.
        let (options, values): (Vec<String>, Vec<String>) = std::env::args()
            .skip(1)
            .filter(|it| it != "--bench")
            .partition(|it| it.starts_with("--"));
        if let Some(unknown) = options.iter().find(|it| *it != "--verbose") {
            return Err(format!("there is no option {unknown}"));
        }
        let only = values.get(1).filter(|it| *it != "all").cloned();
        if let Some(name) = only
            .as_ref()
            .filter(|name| *name != BOUND && GROUPS.iter().all(|it| it.name != *name))
        {
            let mut names: Vec<&str> = GROUPS.iter().map(|it| it.name).collect();
            names.push(BOUND);
            return Err(format!(
                "there is no group {name}; there are {}",
                names.join(", ")
            ));
        }
        let whole = |value: Option<&String>, what: &str| match value {
            Some(text) => text
                .parse()
                .map(Some)
                .map_err(|_| format!("{text} is no {what}")),
            None => Ok(None),
        };
        let cases = whole(values.first(), "number of cases")?;
        Ok(Self {
            cases: cases.map_or(CASES, |it: u64| it as usize),
            only,
            first: whole(values.get(2), "seed")?.unwrap_or(HELD_OUT),
            verbose: !options.is_empty(),
        })
    }
}

/// Makes and measures a group's cases.
fn run(group: &Group, arguments: &Arguments) -> Tally {
    let mut all = Tally::default();
    let tallies = on_all_processors(arguments.cases, |n| {
        let seed = arguments.first + n as u64;
        let mut tally = Tally::of((group.make)(&mut Draw::new(group.name, seed)));
        for note in &mut tally.notes {
            *note = format!("  seed {seed}: {note}");
        }
        tally
    });
    for tally in tallies {
        all.add(tally);
    }
    all
}

/// The results of `work` for 0, 1, 2 ... in this order.
fn on_all_processors<T: Send>(count: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, T)>> = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    if n >= count {
                        break;
                    }
                    let result = work(n);
                    if let Ok(mut done) = done.lock() {
                        done.push((n, result));
                    }
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_default();
    done.sort_by_key(|(n, _)| *n);
    done.into_iter().map(|(_, result)| result).collect()
}

fn main() -> ExitCode {
    let arguments = match Arguments::read() {
        Ok(arguments) => arguments,
        Err(error) => {
            println!("{error}");
            return ExitCode::from(2);
        }
    };
    let mut goals = Goals::default();
    if arguments.only.as_deref() != Some(BOUND) {
        family(&arguments, &mut goals);
    }
    if arguments.only.as_deref().is_none_or(|only| only == BOUND) {
        bound::table(arguments.cases.div_ceil(3), arguments.first, &mut goals);
    }
    println!();
    for broken in &goals.broken {
        println!("not met: {broken}");
    }
    if goals.broken.is_empty() {
        println!("every figure that must hold does");
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// Prints the table by groups and that of what else is measured.
fn family(arguments: &Arguments, goals: &mut Goals) {
    let (mut held, mut all) = (Tally::default(), Tally::default());
    let mut groups = Vec::new();
    tables::head();
    for group in GROUPS {
        if arguments
            .only
            .as_ref()
            .is_some_and(|only| only != group.name)
        {
            continue;
        }
        let mut tally = run(group, arguments);
        tables::line(group.name, &tally);
        if arguments.verbose {
            for note in &tally.notes {
                println!("{note}");
            }
        }
        goals.group(group, &tally);
        match group.held {
            Held::Strict | Held::Whole => {
                held.effective.extend(&tally.effective);
                held.evenness.extend(&tally.evenness);
                held.travel.extend(&tally.travel);
            }
            Held::Stated => {}
            Held::Heard => tally.keep_apart(),
        }
        all.add(tally.clone());
        groups.push((group.name, tally));
    }
    tables::line("all", &all);
    tables::releases(&groups);
    tables::others(&all);
    goals.family(&held, &all);
}
