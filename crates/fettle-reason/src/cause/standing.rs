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

/// The best choice of works with the given chances of the faults not yet settled (0 for settled ones): a work is worth doing when
/// what its faults would cost on coming back outweighs it and its share of the openings. Works behind the same cover decide about
/// it together; covers are opened one after the other, the most gainful first.
pub(crate) fn standing(task: &Task, chances: &[f64], open: &Set) -> Standing {
    let mut left: Vec<f64> = chances
        .iter()
        .zip(&task.comeback)
        .map(|(chance, minutes)| chance * minutes)
        .collect();
    let mut worth: Vec<usize> = (0..task.cures.len())
        .filter(|at| gain(task, *at, chances, &left) > 0.0)
        .collect();
    let mut open = open.clone();
    let mut standing = Standing {
        minutes: 0.0,
        works: Vec::new(),
    };
    while !worth.is_empty() {
        let mut best: Option<(f64, Set)> = None;
        for at in &worth {
            let mut with = open.clone();
            with.add_all(&task.cures[*at].needs);
            let opening = task.opening(&task.cures[*at].needs, &open);
            let gains = gains_behind(task, &worth, &with, chances, &left);
            if gains > opening
                && best
                    .as_ref()
                    .is_none_or(|(most, _)| gains - opening > *most)
            {
                best = Some((gains - opening, with));
            }
        }
        let Some((_, with)) = best else { break };
        standing.minutes += task.opening(&with, &open);
        open = with;
        while let Some(at) = best_behind(task, &worth, &open, chances, &left) {
            standing.minutes += task.cures[at].costs(any(task, at, chances));
            for cause in &task.cures[at].cures {
                left[*cause] = 0.0;
            }
            standing.works.push(at);
            worth.retain(|other| *other != at);
        }
        worth.retain(|at| gain(task, *at, chances, &left) > 0.0);
    }
    standing.minutes += left.iter().sum::<f64>();
    standing
}

/// Minutes of coming back that a work saves beyond its own.
fn gain(task: &Task, at: usize, chances: &[f64], left: &[f64]) -> f64 {
    let saved: f64 = task.cures[at].cures.iter().map(|cause| left[*cause]).sum();
    saved - task.cures[at].costs(any(task, at, chances))
}

/// The chance of the likeliest of a work's faults.
fn any(task: &Task, at: usize, chances: &[f64]) -> f64 {
    task.cures[at]
        .cures
        .iter()
        .fold(0.0, |most: f64, cause: &CauseAt| most.max(chances[*cause]))
}

/// The work of most gain that needs nothing beyond `open`.
fn best_behind(
    task: &Task,
    worth: &[usize],
    open: &Set,
    chances: &[f64],
    left: &[f64],
) -> Option<usize> {
    worth
        .iter()
        .filter(|at| open.holds(&task.cures[**at].needs))
        .map(|at| (gain(task, *at, chances, left), *at))
        .filter(|(gain, _)| *gain > 0.0)
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        .map(|(_, at)| at)
}

/// What all works that need nothing beyond `open` gain together, each fault cured once.
fn gains_behind(task: &Task, worth: &[usize], open: &Set, chances: &[f64], left: &[f64]) -> f64 {
    let mut left = left.to_vec();
    let mut worth = worth.to_vec();
    let mut total = 0.0;
    while let Some(at) = best_behind(task, &worth, open, chances, &left) {
        total += gain(task, at, chances, &left);
        for cause in &task.cures[at].cures {
            left[*cause] = 0.0;
        }
        worth.retain(|other| *other != at);
    }
    total
}
