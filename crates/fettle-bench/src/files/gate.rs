//! A gate that lets a few through at once.

use std::sync::{Condvar, Mutex, PoisonError};

/// Lets at most so many through at once; the others wait.
#[derive(Debug)]
pub(crate) struct Gate {
    free: Mutex<usize>,
    freed: Condvar,
}

/// A place inside the gate, given back when dropped.
#[derive(Debug)]
#[must_use]
pub(crate) struct Place<'g>(&'g Gate);

impl Gate {
    pub(crate) const fn of(places: usize) -> Self {
        Self {
            free: Mutex::new(places),
            freed: Condvar::new(),
        }
    }

    /// Waits for a place.
    pub(crate) fn enter(&self) -> Place<'_> {
        let free = self.free.lock().unwrap_or_else(PoisonError::into_inner);
        let mut free = self
            .freed
            .wait_while(free, |free| *free == 0)
            .unwrap_or_else(PoisonError::into_inner);
        *free -= 1;
        Place(self)
    }
}

impl Drop for Place<'_> {
    fn drop(&mut self) {
        let mut free = self.0.free.lock().unwrap_or_else(PoisonError::into_inner);
        *free += 1;
        self.0.freed.notify_one();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};

    use super::*;

    #[test]
    fn no_more_than_its_places_are_inside_at_once() {
        let gate = Gate::of(2);
        let (inside, most, through) = (
            AtomicUsize::new(0),
            AtomicUsize::new(0),
            AtomicUsize::new(0),
        );
        std::thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    let _place = gate.enter();
                    let now = inside.fetch_add(1, Ordering::SeqCst) + 1;
                    most.fetch_max(now, Ordering::SeqCst);
                    std::thread::sleep(std::time::Duration::from_millis(5));
                    inside.fetch_sub(1, Ordering::SeqCst);
                    through.fetch_add(1, Ordering::SeqCst);
                });
            }
        });
        assert_eq!(most.load(Ordering::SeqCst), 2);
        assert_eq!(through.load(Ordering::SeqCst), 8);
    }
}
