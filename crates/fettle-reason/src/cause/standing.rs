//! What the camera costs from here on without another look.

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
    let mut worth: Vec<Worth> = Vec::new();
    for (at, cure) in task.cures.iter().enumerate() {
        let saved = saved(task, at, &left);
        if saved > cure.minutes {
            let cost = cure.costs(any(&cure.cures, chances));
            let gain = saved - cost;
            worth.push(Worth { at, cost, gain });
        }
    }
    worth.retain(|one| one.gain > 0.0);
    let apart = share_nothing(task, &worth);
    let mut open = open.clone();
    let mut standing = Standing {
        minutes: 0.0,
        works: Vec::new(),
    };
    while !worth.is_empty() {
        let mut best: Option<(f64, usize)> = None;
        for one in &worth {
            let needs = &task.cures[one.at].needs;
            let most: f64 = behind(task, &worth, &open, needs).map(|one| one.gain).sum();
            let opening = task.opening(needs, &open);
            let least = opening + best.map_or(0.0, |best| best.0);
            if most > least {
                let gains = if apart {
                    most
                } else {
                    gains_behind(task, behind(task, &worth, &open, needs).collect(), &left)
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
        while let Some(one) = most_gainful(behind(task, &worth, &open, &open)) {
            standing.minutes += one.cost;
            standing.works.push(one.at);
            worth.retain(|other| other.at != one.at);
            done(task, one.at, &mut left, &mut worth);
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

/// Whether no two of the works cure the same fault.
fn share_nothing(task: &Task, worth: &[Worth]) -> bool {
    let cures = |one: &Worth| &task.cures[one.at].cures;
    worth.iter().enumerate().all(|(place, one)| {
        let others = &worth[..place];
        cures(one)
            .iter()
            .all(|cause| others.iter().all(|other| !cures(other).contains(cause)))
    })
}

/// The works that need nothing beyond two sets of openings.
fn behind<'w>(
    task: &'w Task,
    worth: &'w [Worth],
    open: &'w Set,
    more: &'w Set,
) -> impl Iterator<Item = Worth> + 'w {
    worth
        .iter()
        .copied()
        .filter(move |one| task.cures[one.at].needs.is_within(open, more))
}

/// The work of most gain, the first among equals.
fn most_gainful(works: impl Iterator<Item = Worth>) -> Option<Worth> {
    works.max_by(|a, b| a.gain.total_cmp(&b.gain).then(b.at.cmp(&a.at)))
}

/// What is left after a work: its faults cost nothing more, and others that cure them gain less.
fn done(task: &Task, at: usize, left: &mut [f64], worth: &mut Vec<Worth>) {
    for cause in &task.cures[at].cures {
        left[*cause] = 0.0;
    }
    for one in &mut *worth {
        one.gain = saved(task, one.at, left) - one.cost;
    }
    worth.retain(|one| one.gain > 0.0);
}

/// What works gain together, each fault cured once.
fn gains_behind(task: &Task, mut worth: Vec<Worth>, left: &[f64]) -> f64 {
    let mut left = left.to_vec();
    let mut total = 0.0;
    while let Some(one) = most_gainful(worth.iter().copied()) {
        total += one.gain;
        worth.retain(|other| other.at != one.at);
        done(task, one.at, &mut left, &mut worth);
    }
    total
}
