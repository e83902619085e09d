//! In how many trials an adjustment comes in, over simulated mechanisms.
//!
//! `cargo bench -p fettle-measure --bench trim -- [MECHANISMS] [FIRST-SEED]`: how many (300) and the first seed. Seeds
//! from 0 were in view while the adviser was made; those taken when none is given were held out. A trial is one
//! movement with the readings after it, the setting as found not counted; a run ends when the true readings are all
//! inside, in a second table when they read so, and counts at most 10 trials.
#![expect(
    clippy::print_stdout,
    reason = "the tables are what this program is for"
)]

mod family;
mod runs;

use std::process::ExitCode;

use family::USUAL;
use runs::{Ends, Figures, Run, Way, run};

const MECHANISMS: u64 = 300;
const HELD_OUT: u64 = 1_000_000;

fn main() -> ExitCode {
    let mut values = std::env::args()
        .skip(1)
        .filter(|it| it != "--bench")
        .map(|it| it.parse::<u64>());
    let (Ok(count), Ok(first)) = (
        values.next().unwrap_or(Ok(MECHANISMS)),
        values.next().unwrap_or(Ok(HELD_OUT)),
    ) else {
        println!("two whole numbers are read: how many mechanisms, and the first seed");
        return ExitCode::from(2);
    };
    let mut holds = true;
    for ends in [Ends::Truth, Ends::Read] {
        println!("\n{count} mechanisms from seed {first}, ended by {ends:?}");
        println!("{:>14} {:>7} {:>5} {:>6}", "", "median", "95 %", "mean");
        for way in [Way::Advised, Way::OneAtATime, Way::AllKnown] {
            let runs: Vec<Run> = (first..first + count)
                .map(|seed| run(&USUAL, seed, way, ends))
                .collect();
            let figures = Figures::of(&runs);
            println!(
                "{:>14} {:>7} {:>5} {:>6.2}",
                format!("{way:?}"),
                figures.median,
                figures.most,
                figures.mean
            );
            if way == Way::Advised {
                let held: usize = runs.iter().map(|run| run.held).sum();
                let foreseen: usize = runs.iter().map(|run| run.foreseen).sum();
                let share = 100.0 * held as f64 / foreseen.max(1) as f64;
                println!(
                    "{:>14} {share:.1} % of {foreseen} readings",
                    "intervals hold"
                );
                let found = runs.iter().filter(|run| !run.findings.is_empty());
                println!("{:>14} {}", "with findings", found.count());
                if std::env::var_os("TRIM_VERBOSE").is_some() {
                    for (n, run) in runs.iter().enumerate() {
                        if run.trials > 3 || !run.findings.is_empty() {
                            println!("{} {} {:?}", first + n as u64, run.trials, run.findings);
                        }
                    }
                }
                holds &= figures.median <= 2 && figures.most <= 3 && figures.mean <= 2.0;
                holds &= (93.0..=97.0).contains(&share);
            }
        }
    }
    if holds {
        ExitCode::SUCCESS
    } else {
        println!("\na figure that must hold does not");
        ExitCode::FAILURE
    }
}
