//! What was worked out lately, for pages that ask for the same again.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};

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
    made: Mutex<VecDeque<(I, O)>>,
}

impl<I: PartialEq, O: Clone> Kept<I, O> {
    /// Keeps so many.
    pub(crate) const fn of(most: usize) -> Self {
        Self {
            most,
            made: Mutex::new(VecDeque::new()),
        }
    }

    /// The result for `from`; made only when it is not kept.
    pub(crate) fn get(&self, from: I, make: impl FnOnce(&I) -> O) -> O {
        let made = self.try_get(from, |from| Ok::<O, Infallible>(make(from)));
        match made {
            Ok(made) => made,
            Err(never) => match never {},
        }
    }

    /// The same where it may fail; a failure is not kept.
    ///
    /// # Errors
    ///
    /// Those of `make`.
    pub(crate) fn try_get<E>(
        &self,
        from: I,
        make: impl FnOnce(&I) -> Result<O, E>,
    ) -> Result<O, E> {
        let held = || self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let known = |(of, _): &(I, O)| *of == from;
        {
            let mut made = held();
            if let Some(one) = made.iter().position(known).and_then(|at| made.remove(at)) {
                let result = one.1.clone();
                made.push_back(one);
                return Ok(result);
            }
        }
        // Made without the lock: others ask for other things meanwhile.
        let result = make(&from)?;
        let mut made = held();
        if made.len() >= self.most {
            made.pop_front();
        }
        made.push_back((from, result.clone()));
        Ok(result)
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

/// What pages keep. All of it together stays within some ten MB.
#[derive(Debug)]
pub(crate) struct Shelves {
    pub(crate) diagnoses: Kept<Weighing, Arc<Result<Diagnosis, NoDiagnosis>>>,
    pub(crate) removals: Kept<RemovalGraph, Arc<str>>,
    /// The reading of notes, with what the network is drawn around.
    pub(crate) readings: Kept<(Same<ServiceNotes>, Option<String>), Arc<str>>,
    pub(crate) taught: Kept<(Same<ServiceNotes>, Same<Lessons>), Arc<str>>,
    pub(crate) learned: Kept<Learned, Arc<str>>,
    pub(crate) labels: Kept<(Labels, PaperSize), Arc<[u8]>>,
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
    fn a_failure_is_tried_again() {
        let kept = Kept::of(2);
        assert_eq!(kept.try_get(1, |_| Err::<u32, _>("no")), Err("no"));
        assert_eq!(kept.try_get(1, |_| Ok::<_, &str>(7)), Ok(7));
        assert_eq!(kept.try_get(1, |_| Err("no")), Ok(7));
    }

    #[test]
    fn equal_things_in_two_places_are_not_the_same() {
        let one = Arc::new(1);
        assert_eq!(Same(Arc::clone(&one)), Same(Arc::clone(&one)));
        assert_ne!(Same(one), Same(Arc::new(1)));
    }
}
