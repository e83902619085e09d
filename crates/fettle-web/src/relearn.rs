//! Learning from many visits, beside the pages.

use std::sync::Arc;

use fettle_bench::Bench;

/// Begins to learn of a model that was put off, if there is one, on a thread of its own: it takes seconds, and no page waits for it.
pub(crate) fn begin(bench: &Arc<Bench>) {
    let Some(model) = bench.lessons_due() else {
        return;
    };
    let bench = Arc::clone(bench);
    // What cannot be read now is put off again by the next page that asks.
    std::thread::spawn(move || bench.learn(&model).map(drop));
}
