//! What the camera costs from here on without another look.

use std::cmp::Ordering;

use super::network::CauseAt;
use super::task::Task;
use crate::way::Set;

/// The works to do and the faults to leave, as the chances stand.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Standing {
    /// Expected minutes: works with their openings, and coming back for what is left.
    pub(crate) minutes: f64,
    /// Works, by place, in the order in which they were found worth their openings.
    pub(crate) works: Vec<usize>,
}

/// A work and what it saves.
#[derive(Debug, Clone, Copy)]
struct Worth {
    at: usize,
    /// Its own minutes.
    cost: f64,
    /// Minutes of coming back that it saves beyond its own.
    gain: f64,
}

/// The best choice of works with the given chances of the faults not yet settled (0 for settled ones): a work is worth doing when
/// what its faults would cost on coming back outweighs it and its share of the openings. Works behind the same cover decide about
/// it together; covers are opened one after the other, the most gainful first.
pub(crate) fn standing(task: &Task, chances: &[f64], open: &Set) -> Standing {
    let mut left: Vec<f64> = chances
        .iter()
        .zip(&task.comeback)
        .map(|(chance, minutes)| chance * minutes)
        .collect();
    let mut worth: Vec<Worth> = Vec::with_capacity(task.cures.len());
    for (at, cure) in task.cures.iter().enumerate() {
        let saved = saved(task, at, &left);
        if saved > cure.minutes {
            let cost = cure.costs(any(&cure.cures, chances));
            let gain = saved - cost;
            worth.push(Worth { at, cost, gain });
        }
    }
    worth.retain(|one| one.gain > 0.0);
    let shared = shared(task, &worth);
    let apart = !shared.contains(&true);
    let mut open = open.clone();
    let mut covers = Covers::of(task, &open);
    let (mut by_gain, mut scratch) = (Vec::new(), Scratch::default());
    let mut standing = Standing {
        minutes: 0.0,
        works: Vec::new(),
    };
    while !worth.is_empty() {
        covers.see(task, &worth, &open);
        if !apart {
            by_gain.clone_from(&worth);
            by_gain.sort_unstable_by(Worth::follows);
        }
        let mut best: Option<(f64, usize)> = None;
        for (place, one) in worth.iter().enumerate() {
            // Works behind the same covers gain the same together.
            if covers.are_those_of_another(one, &worth[..place]) {
                continue;
            }
            let hidden = |other: &&Worth| covers.hide(one, other);
            let most: f64 = worth.iter().filter(hidden).map(|one| one.gain).sum();
            let opening = task.opening(&task.cures[one.at].needs, &open);
            let least = opening + best.map_or(0.0, |best| best.0);
            if most > least {
                let gains = if apart {
                    most
                } else {
                    let behind = by_gain.iter().filter(hidden).copied();
                    scratch.gains(task, &shared, behind, &left)
                };
                if gains > least {
                    best = Some((gains - opening, one.at));
                }
            }
        }
        let Some((_, at)) = best else { break };
        let needs = &task.cures[at].needs;
        standing.minutes += task.opening(needs, &open);
        open.add_all(needs);
        while let Some(one) = most_gainful(task, &worth, &open) {
            standing.minutes += one.cost;
            standing.works.push(one.at);
            worth.retain(|other| other.at != one.at);
            if done(task, &shared, one.at, &mut left, &mut worth) {
                worth.retain(|one| one.gain > 0.0);
            }
        }
    }
    standing.minutes += left.iter().sum::<f64>();
    standing
}

/// Minutes of coming back that a work saves.
fn saved(task: &Task, at: usize, left: &[f64]) -> f64 {
    task.cures[at].cures.iter().map(|cause| left[*cause]).sum()
}

/// The chance of the likeliest of a work's faults.
fn any(cures: &[CauseAt], chances: &[f64]) -> f64 {
    cures
        .iter()
        .fold(0.0, |most, cause| chances[*cause].max(most))
}

/// Which causes more than one of the works cure.
fn shared(task: &Task, worth: &[Worth]) -> Vec<bool> {
    let mut cured = vec![false; task.comeback.len()];
    let mut shared = vec![false; task.comeback.len()];
    for cause in worth.iter().flat_map(|one| &task.cures[one.at].cures) {
        shared[*cause] |= std::mem::replace(&mut cured[*cause], true);
    }
    shared
}

/// What of each work's openings is not open yet, in words of bits, one work after the other.
struct Covers {
    words: usize,
    left: Vec<u64>,
}

impl Covers {
    fn of(task: &Task, open: &Set) -> Self {
        let words = open.words().len();
        let left = vec![0; words * task.cures.len()];
        Self { words, left }
    }

    /// Looks anew at these works.
    fn see(&mut self, task: &Task, worth: &[Worth], open: &Set) {
        for one in worth {
            let left = &mut self.left[one.at * self.words..][..self.words];
            let needs = task.cures[one.at].needs.words();
            for (left, (needs, open)) in left.iter_mut().zip(needs.iter().zip(open.words())) {
                *left = needs & !open;
            }
        }
    }

    fn over(&self, one: &Worth) -> &[u64] {
        &self.left[one.at * self.words..][..self.words]
    }

    fn are_those_of_another(&self, one: &Worth, others: &[Worth]) -> bool {
        let covers = self.over(one);
        let alike = |other: &Worth| self.over(other).iter().eq(covers);
        others.iter().any(alike)
    }

    /// Whether the covers over one work are all that is over the other.
    fn hide(&self, one: &Worth, other: &Worth) -> bool {
        let words = self.over(other).iter().zip(self.over(one));
        words.into_iter().all(|(other, one)| other & !one == 0)
    }
}

/// The open work of most gain, the first among equals.
fn most_gainful(task: &Task, worth: &[Worth], open: &Set) -> Option<Worth> {
    let within = |one: &&Worth| task.cures[one.at].needs.is_within(open, open);
    worth
        .iter()
        .filter(within)
        .copied()
        .max_by(|a, b| b.follows(a))
}

impl Worth {
    /// By gain, the most first, then by place.
    fn follows(&self, other: &Self) -> Ordering {
        other
            .gain
            .total_cmp(&self.gain)
            .then(self.at.cmp(&other.at))
    }
}

/// What is left after a work: its faults cost nothing more, and others that cure them gain less. Whether there are any.
fn done(task: &Task, shared: &[bool], at: usize, left: &mut [f64], worth: &mut [Worth]) -> bool {
    let cures = &task.cures[at].cures;
    for cause in cures {
        left[*cause] = 0.0;
    }
    if !cures.iter().any(|cause| shared[*cause]) {
        return false;
    }
    let mut less = false;
    for one in worth {
        let shares = |cause: &CauseAt| cures.contains(cause);
        if task.cures[one.at].cures.iter().any(shares) {
            one.gain = saved(task, one.at, left) - one.cost;
            less = true;
        }
    }
    less
}

/// Room to reckon in, kept from one sum to the next.
#[derive(Default)]
struct Scratch {
    worth: Vec<Worth>,
    left: Vec<f64>,
}

impl Scratch {
    /// What works, told the most gainful first, gain together, each fault cured once.
    fn gains(
        &mut self,
        task: &Task,
        shared: &[bool],
        works: impl Iterator<Item = Worth>,
        left: &[f64],
    ) -> f64 {
        let Self {
            worth,
            left: still_left,
        } = self;
        worth.clear();
        worth.extend(works);
        still_left.clear();
        still_left.extend_from_slice(left);
        let mut total = 0.0;
        let mut next = 0;
        while let Some(one) = worth.get(next).copied() {
            total += one.gain;
            next += 1;
            if done(task, shared, one.at, still_left, &mut worth[next..]) {
                worth[next..].sort_unstable_by(Worth::follows);
                let gainful = worth[next..].partition_point(|one| one.gain > 0.0);
                worth.truncate(next + gainful);
            }
        }
        total
    }
}

#[cfg(test)]
mod tests {
    use super::super::task::Cure;
    use super::*;
    use crate::lots::Lots;

    /// The same choice without anything kept or left out.
    fn plainly(task: &Task, chances: &[f64], open: &Set) -> Standing {
        let mut left: Vec<f64> = chances
            .iter()
            .zip(&task.comeback)
            .map(|(chance, minutes)| chance * minutes)
            .collect();
        let mut worth = Vec::new();
        for (at, cure) in task.cures.iter().enumerate() {
            let saved = saved(task, at, &left);
            let cost = cure.costs(any(&cure.cures, chances));
            if saved > cure.minutes && saved - cost > 0.0 {
                let gain = saved - cost;
                worth.push(Worth { at, cost, gain });
            }
        }
        let cured = || worth.iter().flat_map(|one| &task.cures[one.at].cures);
        let distinct: std::collections::HashSet<&CauseAt> = cured().collect();
        let apart = distinct.len() == cured().count();
        let behind = |worth: &[Worth], open: &Set, more: &Set| -> Vec<Worth> {
            let within = |one: &&Worth| task.cures[one.at].needs.is_within(open, more);
            worth.iter().filter(within).copied().collect()
        };
        let most_gainful = |works: Vec<Worth>| {
            works
                .into_iter()
                .max_by(|a, b| a.gain.total_cmp(&b.gain).then(b.at.cmp(&a.at)))
        };
        let after = |at: usize, left: &mut [f64], worth: &mut Vec<Worth>| {
            for cause in &task.cures[at].cures {
                left[*cause] = 0.0;
            }
            worth.retain(|other| other.at != at);
            for one in &mut *worth {
                one.gain = saved(task, one.at, left) - one.cost;
            }
            worth.retain(|one| one.gain > 0.0);
        };
        let gains = |mut worth: Vec<Worth>, left: &[f64]| {
            let (mut left, mut total) = (left.to_vec(), 0.0);
            while let Some(one) = most_gainful(worth.clone()) {
                total += one.gain;
                after(one.at, &mut left, &mut worth);
            }
            total
        };
        let mut open = open.clone();
        let mut standing = Standing {
            minutes: 0.0,
            works: Vec::new(),
        };
        while !worth.is_empty() {
            let mut best: Option<(f64, usize)> = None;
            for one in &worth {
                let needs = &task.cures[one.at].needs;
                let together = behind(&worth, &open, needs);
                let most: f64 = together.iter().map(|one| one.gain).sum();
                let opening = task.opening(needs, &open);
                let least = opening + best.map_or(0.0, |best| best.0);
                let gains = if apart { most } else { gains(together, &left) };
                if most > least && gains > least {
                    best = Some((gains - opening, one.at));
                }
            }
            let Some((_, at)) = best else { break };
            let needs = &task.cures[at].needs;
            standing.minutes += task.opening(needs, &open);
            open.add_all(needs);
            while let Some(one) = most_gainful(behind(&worth, &open, &open)) {
                standing.minutes += one.cost;
                standing.works.push(one.at);
                after(one.at, &mut left, &mut worth);
            }
        }
        standing.minutes += left.iter().sum::<f64>();
        standing
    }

    /// Works over so many covers; some cure the same faults, and some lie behind the same covers.
    fn drawn(lots: &mut Lots) -> (Task, Vec<f64>, Set) {
        let faults = 1 + lots.below(12);
        let covers = lots.pick(&[1, 5, 70]);
        let set = |lots: &mut Lots, most: usize| {
            let mut set = Set::below(covers);
            for _ in 0..lots.below(most) {
                set.add(lots.below(covers));
            }
            set
        };
        let sharing = lots.pick(&[true, false]);
        let cures = (0..faults).map(|at| {
            let mut cures = vec![at];
            if sharing && lots.next() < 0.5 && at > 0 {
                cures.push(lots.below(at));
            }
            let minutes = lots.between(5.0, 60.0);
            Cure {
                name: at.to_string(),
                minutes: lots.pick(&[minutes, 30.0]),
                success: lots.pick(&[1.0, 0.8]),
                needs: set(lots, 4),
                cures,
            }
        });
        let cures = cures.collect();
        let comeback = (0..faults).map(|_| lots.between(60.0, 300.0)).collect();
        let minutes = lots.pick(&[2.0, 30.0]);
        let removals = (0..covers).map(|_| lots.pick(&[minutes, 0.0])).collect();
        let chances = (0..faults).map(|_| {
            let chance = lots.next();
            lots.pick(&[0.0, chance, 0.5, 1.0])
        });
        let chances = chances.collect();
        let task = Task {
            looks: Vec::new(),
            cures,
            comeback,
            removals,
            shown: Vec::new(),
        };
        let open = set(lots, 3);
        (task, chances, open)
    }

    #[test]
    fn what_is_left_out_changes_no_digit() {
        let mut lots = Lots::of(77);
        let mut several = 0;
        for n in 0..3000 {
            let (task, chances, open) = drawn(&mut lots);
            let (got, want) = (
                standing(&task, &chances, &open),
                plainly(&task, &chances, &open),
            );
            assert_eq!(got.works, want.works, "draw {n}");
            assert_eq!(got.minutes.to_bits(), want.minutes.to_bits(), "draw {n}");
            several += usize::from(got.works.len() > 2);
        }
        assert!(
            several > 500,
            "only {several} draws have works to choose among"
        );
    }
}
