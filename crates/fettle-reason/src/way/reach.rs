//! The least that must come off to reach a set of parts.

use std::collections::HashSet;

use super::removals::Removals;
use super::set::Set;

/// Sets of equal minutes that are kept to be compared by turn-overs.
const MOST_EQUALS: usize = 16;
/// States looked at before the search is given up; the notes' alternatives are few, so that this is out of ordinary reach.
const MOST_STATES: usize = 200_000;
/// Minutes within which two ways are equal.
const EQUAL_MINUTES: f64 = 1e-9;

/// What a search found.
#[derive(Debug, Clone)]
pub(crate) struct Reached {
    /// What must come off, the sets of least minutes; what is already off is not among it. Empty when there is no way.
    pub(crate) sets: Vec<Set>,
    /// Whether nothing better was left unsearched.
    pub(crate) exact: bool,
}

/// The sets of removals of least minutes that bring all `targets` off from a state in which `off` are off.
///
/// Branch and bound over the alternatives: a set is closed under `after`; where it cannot be taken off in any order, one more
/// group of a blocked part's alternatives must join it.
pub(crate) fn reach(removals: &Removals<'_>, off: &Set, targets: &Set) -> Reached {
    let mut search = Search {
        removals,
        off,
        best: f64::INFINITY,
        found: Vec::new(),
        seen: HashSet::new(),
        exact: true,
    };
    let mut set = Set::below(removals.steps.len());
    for target in targets.iter() {
        search.close(&mut set, target);
    }
    search.go(set);
    Reached {
        sets: search.found,
        exact: search.exact,
    }
}

struct Search<'s> {
    removals: &'s Removals<'s>,
    off: &'s Set,
    best: f64,
    found: Vec<Set>,
    seen: HashSet<Set>,
    exact: bool,
}

impl Search<'_> {
    /// Adds a part with all that must be off before it whichever way is taken.
    fn close(&self, set: &mut Set, part: usize) {
        let mut open = vec![part];
        while let Some(part) = open.pop() {
            if !self.off.has(part) && set.add(part) {
                open.extend(&self.removals.steps[part].after);
            }
        }
    }

    fn go(&mut self, set: Set) {
        let minutes = self.removals.minutes(&set, self.off);
        if minutes > self.best + EQUAL_MINUTES || !self.seen.insert(set.clone()) {
            return;
        }
        if self.seen.len() > MOST_STATES {
            self.exact = false;
            return;
        }
        let blocked = self.blocked(&set);
        if blocked.is_empty() {
            if minutes < self.best - EQUAL_MINUTES {
                self.best = minutes;
                self.found.clear();
            }
            if self.found.len() < MOST_EQUALS {
                self.found.push(set);
            }
            return;
        }
        let mut wider: Vec<(f64, Set)> = Vec::new();
        for part in blocked {
            for group in &self.removals.steps[part].either {
                let mut with = set.clone();
                for part in group {
                    self.close(&mut with, *part);
                }
                if with != set {
                    wider.push((self.removals.minutes(&with, self.off), with));
                }
            }
        }
        // The cheapest first, so that the bound falls early.
        wider.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        for (_, set) in wider {
            self.go(set);
        }
    }

    /// Parts of the set that cannot come off for want of an alternative, when everything that can has.
    fn blocked(&self, set: &Set) -> Vec<usize> {
        let mut off = self.off.clone();
        let mut left: Vec<usize> = set.iter().collect();
        loop {
            let before = left.len();
            left.retain(|part| {
                let can = self.removals.can_come_off(*part, &off);
                if can {
                    off.add(*part);
                }
                !can
            });
            if left.len() == before {
                break;
            }
        }
        left.retain(|part| {
            self.removals.steps[*part]
                .after
                .iter()
                .all(|before| off.has(*before))
        });
        left
    }
}
