//! The statements that connections run, for holding what a page takes against what the database alone takes.

use std::sync::{
    Mutex, MutexGuard, PoisonError,
    atomic::{AtomicBool, Ordering},
};

use rusqlite::{
    Connection,
    trace::{TraceEvent, TraceEventCodes},
};

static LISTENS: AtomicBool = AtomicBool::new(false);
static TOLD: Mutex<Vec<String>> = Mutex::new(Vec::new());

fn told() -> MutexGuard<'static, Vec<String>> {
    TOLD.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Tells what this connection runs, while somebody listens.
pub(super) fn tell(connection: &Connection) {
    connection.trace_v2(TraceEventCodes::SQLITE_TRACE_STMT, Some(note));
}

fn note(event: TraceEvent<'_>) {
    if !LISTENS.load(Ordering::Relaxed) {
        return;
    }
    if let TraceEvent::Stmt(statement, text) = event {
        // What a trigger or an index runs within a statement comes as a comment.
        let is_own = !text.starts_with("--") && !matches!(text, "BEGIN DEFERRED" | "COMMIT");
        if is_own && let Some(whole) = statement.expanded_sql() {
            told().push(whole);
        }
    }
}

/// Does something and gives, beside its result, the queries that this program ran meanwhile, with what they were given: for
/// benchmarks.
pub fn queries_of<T>(work: impl FnOnce() -> T) -> (T, Vec<String>) {
    told().clear();
    LISTENS.store(true, Ordering::Relaxed);
    let result = work();
    LISTENS.store(false, Ordering::Relaxed);
    (result, std::mem::take(&mut *told()))
}
