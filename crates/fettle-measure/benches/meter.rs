//! How long a meter takes, and how often its intervals hold.
//!
//! `cargo bench -p fettle-measure --bench meter` times them; with `-- coverage` it prints the meter's table instead.
#![expect(
    clippy::print_stdout,
    clippy::expect_used,
    reason = "a bench whose answer is wrong has no meaning, and its table is for reading"
)]

#[path = "../tests/cells/mod.rs"]
mod cells;

use cells::{CELLS, FINE, Lots, MANNER, Manner, coverage};
use divan::counter::ItemsCount;
use fettle_measure::meter::{self, Options};

fn main() {
    if std::env::args().any(|argument| argument == "coverage") {
        print_coverage();
    } else {
        divan::main();
    }
}

/// Runs and seed of the table; the tests have others.
const RUNS: u32 = 4_000;
const SEED: u64 = 5_081;

/// Parts of a hundred runs in which each 95 % interval held, and how many told a figure.
fn print_coverage() {
    let coarse = Manner {
        readings: 16,
        noise: 0.15,
        step: 1.0 / 3.0,
    };
    let many = Manner {
        readings: 23,
        ..MANNER
    };
    for manner in [MANNER, FINE, many, coarse] {
        println!("{manner:?}");
        for cell in &CELLS {
            print!("  {:7}", cell.name);
            for (name, tally) in coverage(cell, &manner, RUNS, SEED) {
                if tally.of > 0 {
                    print!("  {name} {:.1} of {}", 100.0 * tally.rate(), tally.of);
                }
            }
            println!();
        }
    }
}

/// One run of 12 and one of 40 readings of each kind of cell.
#[divan::bench(args = [12, 40])]
fn meter_of_every_kind(bencher: divan::Bencher<'_, '_>, readings: u32) {
    let manner = Manner { readings, ..MANNER };
    let mut lots = Lots::new(SEED);
    let runs: Vec<_> = CELLS
        .iter()
        .map(|cell| manner.read(cell, &mut lots))
        .collect();
    bencher.counter(ItemsCount::new(runs.len())).bench(|| {
        for run in &runs {
            let report = meter::analyse(run, &Options::default()).expect("a run is measured");
            assert!(report.readings.len() == readings as usize);
            divan::black_box(report);
        }
    });
}
