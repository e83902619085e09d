//! How long a proof sheet takes: the first after the program starts, and the ones after it. It has to take less than
//! a second.

#[path = "../tests/support/mod.rs"]
mod support;

use std::time::Duration;

use divan::Bencher;
use fettle_papers::{PaperSize, ProofSheet, proof_sheet};

const LIMIT: Duration = Duration::from_secs(1);

fn main() {
    let started = std::time::Instant::now();
    make(&support::usual());
    let first = started.elapsed();
    assert!(first < LIMIT, "the first proof sheet took {first:?}");
    println!("the first proof sheet after the start, fonts loaded: {first:?}");
    divan::main();
}

/// Every sheet differs from the last, as they do at a bench.
#[divan::bench(sample_count = 20)]
fn another_visit(bencher: Bencher<'_, '_>) {
    let mut visit = 0;
    bencher
        .with_inputs(|| {
            visit += 1;
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

fn make(sheet: &ProofSheet) -> Vec<u8> {
    match proof_sheet(sheet, PaperSize::A4) {
        Ok(pdf) => {
            assert!(pdf.pages > 0 && pdf.warnings.is_empty());
            pdf.bytes
        }
        Err(error) => panic!("{error}"),
    }
}
