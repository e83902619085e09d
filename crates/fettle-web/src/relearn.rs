//! Reading and learning from many visits, beside the pages.

use std::sync::Arc;
use std::thread;

use fettle_bench::{Bench, LearnedFilter};

use crate::state::AppState;

/// Begins to learn of a model that was put off, if there is one, on a thread of its own: it takes seconds, and no page waits for it.
pub(crate) fn begin(bench: &Arc<Bench>) {
    let Some(model) = bench.lessons_due() else {
        return;
    };
    let bench = Arc::clone(bench);
    // What cannot be read now is put off again by the next page that asks.
    thread::spawn(move || bench.learn(&model).map(drop));
}

/// Reads what every visit adds up to and the service notes, on a thread of its own, so that the first page that asks finds them read:
/// of many thousand visits that takes some tenths of a second.
///
/// # Errors
///
/// When no thread can be begun.
pub fn read_ahead(state: &AppState) -> std::io::Result<()> {
    let bench = Arc::clone(state.bench());
    let work = move || {
        drop(bench.models());
        // What cannot be read now is told by the page that asks.
        let _read = bench.learned(&LearnedFilter::default());
    };
    let thread = thread::Builder::new().name("read ahead".to_owned());
    thread.spawn(work).map(drop)
}
