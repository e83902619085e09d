//! What was worked out lately, for pages that ask for the same again.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use fettle_bench::{Learned, Lessons};
use fettle_draw::RemovalGraph;
use fettle_notes::{PartId, ServiceNotes};
use fettle_papers::{Labels, PaperSize};
use fettle_reason::cause::{Diagnosis, Evidence, NoDiagnosis};

/// The last results of a function whose result hangs on what it is given and on nothing else. What it was given is kept beside each and
/// compared whole, so that nothing is told that was worked out from something else.
#[derive(Debug)]
pub(crate) struct Kept<I, O> {
    most: usize,
    /// The one asked for last stands at the end.
    lately: Mutex<VecDeque<Arc<One<I, O>>>>,
}

/// A result beside what it is made from; empty while it is being made.
#[derive(Debug)]
struct One<I, O> {
    from: I,
    made: OnceLock<O>,
}

impl<I: PartialEq, O: Clone> Kept<I, O> {
    /// Keeps so many.
    pub(crate) const fn of(most: usize) -> Self {
        Self {
            most,
            lately: Mutex::new(VecDeque::new()),
        }
    }

    /// The result for `from`; made only when it is not kept. Who asks for one that is being made waits for it.
    pub(crate) fn get(&self, from: I, make: impl FnOnce(&I) -> O) -> O {
        // Made without the lock: others ask for other things meanwhile.
        let one = self.place(from);
        one.made.get_or_init(|| make(&one.from)).clone()
    }

    fn place(&self, from: I) -> Arc<One<I, O>> {
        let mut lately = self.lately.lock().unwrap_or_else(PoisonError::into_inner);
        let known = lately.iter().position(|one| one.from == from);
        let one = known.and_then(|at| lately.remove(at)).unwrap_or_else(|| {
            if lately.len() >= self.most {
                lately.pop_front();
            }
            let made = OnceLock::new();
            Arc::new(One { from, made })
        });
        lately.push_back(Arc::clone(&one));
        one
    }
}

/// Something shared that is equal only to itself; while it is kept, no other can take its place in memory.
#[derive(Debug)]
pub(crate) struct Same<T>(pub(crate) Arc<T>);

impl<T> PartialEq for Same<T> {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

/// All that the weighing of causes hangs on.
#[derive(Debug, PartialEq)]
pub(crate) struct Weighing {
    pub(crate) notes: Same<ServiceNotes>,
    /// What finished visits taught; the author's figures serve without.
    pub(crate) lessons: Option<Same<Lessons>>,
    pub(crate) evidence: Evidence,
    pub(crate) off: Vec<PartId>,
    pub(crate) full_strip: bool,
    pub(crate) plan_depth: u32,
}

/// A PDF, or why there is none.
type Made = Result<Arc<[u8]>, String>;

/// What pages keep. All of it together stays within some ten MB.
#[derive(Debug)]
pub(crate) struct Shelves {
    pub(crate) diagnoses: Kept<Weighing, Arc<Result<Diagnosis, NoDiagnosis>>>,
    pub(crate) removals: Kept<RemovalGraph, Arc<str>>,
    /// The reading of notes, with what the network is drawn around.
    pub(crate) readings: Kept<(Same<ServiceNotes>, Option<String>), Arc<str>>,
    pub(crate) taught: Kept<(Same<ServiceNotes>, Same<Lessons>), Arc<str>>,
    pub(crate) learned: Kept<Learned, Arc<str>>,
    pub(crate) labels: Kept<(Labels, PaperSize), Made>,
}

impl Default for Shelves {
    fn default() -> Self {
        Self {
            diagnoses: Kept::of(64),
            removals: Kept::of(16),
            readings: Kept::of(8),
            taught: Kept::of(4),
            learned: Kept::of(4),
            labels: Kept::of(2),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::cell::Cell;
    use std::panic::{AssertUnwindSafe, catch_unwind};
    use std::sync::Barrier;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::thread;
    use std::time::Duration;

    use super::*;

    #[test]
    fn what_is_given_alike_is_worked_out_once_and_what_is_given_otherwise_anew() {
        let kept = Kept::of(2);
        let worked = Cell::new(0);
        let double = |from: &u32| {
            worked.set(worked.get() + 1);
            2 * from
        };
        let asked = [3, 3, 4, 3, 5, 4, 3];
        let got: Vec<u32> = asked.iter().map(|n| kept.get(*n, double)).collect();
        assert_eq!(got, [6, 6, 8, 6, 10, 8, 6]);
        // 3, 4 and 5 once each; 4 went for 5, and 3 for 4.
        assert_eq!(worked.get(), 5);
    }

    #[test]
    fn who_asks_for_what_is_being_made_waits_for_it() {
        let kept = Kept::of(2);
        let worked = AtomicUsize::new(0);
        // The second asks while the first is at it.
        let begun = Barrier::new(2);
        let slowly = |from: &u32| {
            worked.fetch_add(1, Ordering::Relaxed);
            begun.wait();
            thread::sleep(Duration::from_millis(50));
            2 * from
        };
        thread::scope(|scope| {
            let first = scope.spawn(|| kept.get(7, slowly));
            begun.wait();
            assert_eq!(kept.get(7, |_| unreachable!("it is being made")), 14);
            assert_eq!(first.join().unwrap(), 14);
        });
        assert_eq!(worked.load(Ordering::Relaxed), 1);
    }

    #[test]
    fn what_could_not_be_made_is_made_by_the_next_who_asks() {
        let kept: Kept<u32, u32> = Kept::of(2);
        let fails = || kept.get(7, |_| panic!("on purpose"));
        assert!(catch_unwind(AssertUnwindSafe(fails)).is_err());
        assert_eq!(kept.get(7, |from| 2 * from), 14);
    }

    #[test]
    fn equal_things_in_two_places_are_not_the_same() {
        let one = Arc::new(1);
        assert_eq!(Same(Arc::clone(&one)), Same(Arc::clone(&one)));
        assert_ne!(Same(one), Same(Arc::new(1)));
    }
}
