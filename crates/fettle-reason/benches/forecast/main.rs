//! How often the 80 % intervals of a drawer's forecast hold what comes, and how long a forecast takes.
//!
//! Run with `cargo bench -p fettle-reason --bench forecast -- [HISTORIES] [SEED]`; 2,000 histories of each family, seed 1 unless said.
#![expect(
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a bench prints its table, and one whose answer is wrong has no meaning"
)]

#[path = "../../src/demand/coverage.rs"]
mod coverage;
#[path = "../../src/demand/drawn.rs"]
mod drawn;
#[expect(dead_code, reason = "shared with other benches")]
#[path = "../../src/lots.rs"]
mod lots;

use std::hint::black_box;
use std::time::Instant;

use coverage::FAMILIES;
use drawn::{Part, SEVERAL};
use fettle_reason::demand::{
    Forecast, History, Prior, Until, Visits, forecast, forecast_by_visits, pieces,
};
use lots::Lots;

/// Forecasts timed.
const TIMED: u32 = 10_000;

fn main() {
    let numbers: Vec<u64> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let count = numbers.first().map_or(2000, |it| *it as u32);
    let seed = numbers.get(1).copied().unwrap_or(1);
    println!("{count} histories each, seed {seed}; shares in %\n");
    println!(
        "{:<44} {:>8} {:>7} {:>7} {:>6} {:>6} {:>7}",
        "", "run-out", "sooner", "pieces", "chance", "lasted", "bought"
    );
    for (n, family) in FAMILIES.iter().enumerate() {
        let mut lots = Lots::of(seed * 100 + n as u64);
        let held = family.held(count, &mut lots);
        let share = |of: u32| 100.0 * f64::from(of) / f64::from(held.histories);
        println!(
            "{:<44} {:>8.1} {:>7.1} {:>7.1} {:>6.1} {:>6.1} {:>7.1}",
            family.name,
            share(held.runs_out),
            share(held.sooner),
            share(held.pieces),
            100.0 * held.chance / f64::from(held.histories),
            share(held.lasted),
            share(held.served),
        );
    }
    println!();
    let sizes = SEVERAL;
    for (what, rate, on_hand) in [
        ("1 need a year, 6 on hand", 1.0, 6),
        ("20 needs a year, 300 on hand", 20.0, 300),
    ] {
        let (rows, today) = Part { rate, sizes }.used(8.0, &mut Lots::of(seed));
        let history = History::of_rows(rows, Some(today)).expect("rows by date");
        let prior = Prior::default();
        let until = Until::Years(10.0);
        let visits = Visits {
            seen: 100,
            per_year: 20.0,
            worth: 25.0,
        };
        timed(what, TIMED, || {
            forecast(&history, &prior, on_hand, until, 0.95).expect("a sound question")
        });
        timed(&format!("{what}, by visits"), TIMED / 100, || {
            forecast_by_visits(&history, &visits, &prior, on_hand, until, 0.95)
                .expect("a sound question")
        });
    }
}

fn timed(what: &str, count: u32, forecast: impl Fn() -> Forecast) {
    let start = Instant::now();
    for _ in 0..count {
        let answer = black_box(forecast());
        assert!((0.0..=1.0).contains(&answer.lasts_probability));
    }
    let each = start.elapsed().as_secs_f64() / f64::from(count);
    println!("{what:<44} {:>8.3} ms each", 1e3 * each);
}
