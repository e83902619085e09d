//! How long a proof sheet takes: the first after the program starts, and the ones after it. The goal is less than a
//! second each.

#[path = "../tests/support/heads.rs"]
mod heads;
#[path = "../tests/support/mod.rs"]
mod support;

use std::sync::atomic::{AtomicU32, Ordering};

use divan::Bencher;
use fettle_papers::{PaperSize, ProofSheet, proof_sheet};

#[expect(
    clippy::print_stdout,
    reason = "the first sheet can be timed only once, outside the runner"
)]
fn main() {
    let started = std::time::Instant::now();
    let pages = make(&support::usual());
    let first = started.elapsed();
    println!("the first proof sheet after the start, fonts loaded: {first:?}, {pages} pages");
    divan::main();
}

/// Every sheet differs from the last, as they do at a bench.
#[divan::bench(sample_count = 20)]
fn another_visit(bencher: Bencher<'_, '_>) {
    let visits = AtomicU32::new(0);
    bencher
        .with_inputs(|| {
            let visit = visits.fetch_add(1, Ordering::Relaxed);
            ProofSheet {
                visit: visit.to_string(),
                owner: format!("Owner {visit}"),
                ..support::usual()
            }
        })
        .bench_values(|sheet| make(&sheet));
}

#[divan::bench(sample_count = 20)]
fn nothing_measured(bencher: Bencher<'_, '_>) {
    bencher.bench(|| make(&support::bare()));
}

fn make(sheet: &ProofSheet) -> usize {
    let pages = proof_sheet(sheet, PaperSize::A4).map_or(0, |pdf| pdf.pages);
    assert!(pages > 0, "the sheet could not be made");
    pages
}
