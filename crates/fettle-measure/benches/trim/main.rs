//! In how many trials an adjustment comes in, over simulated mechanisms.
//!
//! `cargo bench -p fettle-measure --bench trim -- [MECHANISMS] [FIRST-SEED]`: how many (300) and the first seed. Seeds
//! from 0 were in view while the adviser was made; those taken when none is given were held out. A trial is one
//! movement with the readings after it, the setting as found not counted; a run ends when the true readings are all
//! inside, in a second table when they read so, and counts at most 10 trials. Last comes the time of an advice. The
//! program ends with an error when a figure that must hold does not.
#![expect(
    clippy::print_stdout,
    reason = "the tables are what this program is for"
)]

mod family;
mod runs;

use std::process::ExitCode;
use std::time::{Duration, Instant};

use fettle_measure::trim::advise;

use family::{Case, Draw, USUAL};
use runs::{Ends, Figures, Run, Way, run};

const MECHANISMS: u64 = 300;
const HELD_OUT: u64 = 3_000_000;
const MOST_TIME: Duration = Duration::from_millis(10);

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
                holds &= figures.median <= 2 && figures.most <= 3 && figures.mean <= 2.0;
                holds &= (93.0..=97.0).contains(&share);
            }
        }
    }
    let time = time_of_an_advice(first);
    println!("\n4 adjusters, 6 readings, 10 trials: {time:.2?} an advice");
    holds &= time < MOST_TIME;
    if holds {
        ExitCode::SUCCESS
    } else {
        println!("\na figure that must hold does not");
        ExitCode::FAILURE
    }
}

/// Mean time of an advice on states of the greatest size, far from their limits.
fn time_of_an_advice(first: u64) -> Duration {
    const STATES: u32 = 20;
    const ADJUSTERS: usize = 4;
    let mut spent = Duration::ZERO;
    for seed in first..first + u64::from(STATES) {
        let mut draw = Draw::new(seed);
        let mut case = Case::sized(&USUAL, ADJUSTERS, 6, &mut draw);
        for _ in 0..9 {
            case.turn((0..ADJUSTERS).map(|_| draw.between(-0.5, 0.5)).collect());
        }
        let start = Instant::now();
        let advice = advise(&case.state);
        spent += start.elapsed();
        assert!(
            advice.is_ok_and(|it| it.turns.iter().any(|turns| *turns != 0.0)),
            "an advice that turns nothing is not worth timing"
        );
    }
    spent / STATES
}
