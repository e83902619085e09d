//! The next turn: the greatest chance that all readings come inside, with the least movement among equals.

use super::fit::Fit;
use super::normal::within;
use super::task::{ADJUSTERS, READINGS, Task, Turns};

/// So many suppositions are weighed in the search.
const WEIGHED: usize = 32;
/// Where the chance is smaller than this everywhere, the limits are widened until it is not: the turn then goes as
/// near to them as it can.
const HOPEFUL: f64 = 0.02;
const WIDER: f64 = 1.5;
const MOST_WIDENED: usize = 40;
/// Chances that differ by less are equal, and the lesser movement is taken.
const EQUAL: f64 = 0.005;
/// The search stops at steps of this part of the turns that move the readings by a limit.
const FINEST: f64 = 0.02;
const STARTS: usize = 3;
/// A climb ends after so many moves uphill.
const MOST_MOVES: usize = 200;

/// What was chosen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Choice {
    pub(super) turns: Turns,
    /// Chance that the next readings are all inside their limits.
    pub(super) chance: f64,
}

/// Chooses the next turn by what is believed.
pub(super) fn choose(task: &Task, fits: &[Fit]) -> Choice {
    let search = Search::new(task, fits);
    let starts = search.starts();
    let mut widened = 1.0;
    for _ in 0..MOST_WIDENED {
        let best = starts
            .iter()
            .map(|turns| search.chance(turns, widened))
            .fold(0.0, f64::max);
        if best >= HOPEFUL {
            break;
        }
        widened *= WIDER;
    }
    let mut found: Vec<(Turns, f64)> = starts
        .iter()
        .map(|turns| (*turns, search.chance(turns, widened)))
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    found.truncate(STARTS);
    for it in &mut found {
        *it = search.climb(it.0, |turns| search.chance(turns, widened));
    }
    loop {
        found.sort_by(|a, b| b.1.total_cmp(&a.1));
        let Some(&(best, _)) = found.first() else {
            break;
        };
        let narrower = (widened / WIDER).max(1.0);
        if widened <= 1.0 || search.chance(&best, narrower) < HOPEFUL {
            break;
        }
        widened = narrower;
        found = found
            .iter()
            .map(|(turns, _)| search.climb(*turns, |turns| search.chance(turns, widened)))
            .collect();
    }
    let turns = search.least(&found, &starts, widened);
    Choice {
        turns,
        chance: chance(task, fits, &turns, 1.0),
    }
}

/// Chance that the next readings all lie within `widened` times their limits.
pub(super) fn chance<'a>(
    task: &Task,
    fits: impl IntoIterator<Item = &'a Fit>,
    turns: &Turns,
    widened: f64,
) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for fit in fits {
        let at = fit.after(turns);
        let mut all = 1.0;
        for i in 0..task.readings.len() {
            if let Some(foreseen) = fit.foresee(i, &at) {
                let sd = (foreseen.variance + fit.noise_variance(i)).sqrt();
                all *= within(foreseen.mean, sd, widened);
                if all < 1e-9 {
                    break;
                }
            }
        }
        sum += all;
        count += 1.0;
    }
    sum / f64::max(count, 1.0)
}

/// The search for turns, by some of the fits.
pub(super) struct Search<'a> {
    task: &'a Task,
    fits: Vec<&'a Fit>,
    /// Turns that move the readings by about a limit.
    natural: Turns,
}

impl<'a> Search<'a> {
    pub(super) fn new(task: &'a Task, fits: &'a [Fit]) -> Self {
        let stride = fits.len().div_ceil(WEIGHED).max(1);
        Self {
            task,
            fits: fits.iter().step_by(stride).collect(),
            natural: std::array::from_fn(|j| task.natural_turns(j).unwrap_or(0.0)),
        }
    }

    pub(super) fn fits(&self) -> &[&'a Fit] {
        &self.fits
    }

    fn chance(&self, turns: &Turns, widened: f64) -> f64 {
        chance(self.task, self.fits.iter().copied(), turns, widened)
    }

    fn clamp(&self, j: usize, turns: f64) -> f64 {
        turns.clamp(self.task.back[j], self.task.on[j])
    }

    /// In turns that move the readings by a limit, so that coarse and fine screws count alike.
    fn movement(&self, turns: &Turns) -> f64 {
        (0..ADJUSTERS)
            .filter(|&j| self.natural[j] > 0.0)
            .map(|j| turns[j].abs() / self.natural[j])
            .sum()
    }

    /// No movement, and for every set of adjusters the turns that would bring the mean readings nearest to their
    /// targets, the play taken up.
    pub(super) fn starts(&self) -> Vec<Turns> {
        let mut starts = vec![[0.0; ADJUSTERS]];
        let count = self.task.adjusters.len();
        let (effects, now) = self.mean_model();
        for set in 1..(1_usize << count) {
            let members: Vec<usize> = (0..count)
                .filter(|j| set & (1 << j) != 0 && self.natural[*j] > 0.0)
                .collect();
            let Some(wanted) = least_squares(&effects, &now, &members, &self.natural) else {
                continue;
            };
            starts.push(std::array::from_fn(|j| {
                let lost = self.mean_lost(j, wanted[j] > 0.0);
                if wanted[j] == 0.0 {
                    0.0
                } else {
                    self.clamp(j, wanted[j] + lost.copysign(wanted[j]))
                }
            }));
        }
        starts
    }

    fn mean_model(&self) -> ([Turns; READINGS], [f64; READINGS]) {
        let mut effects = [[0.0; ADJUSTERS]; READINGS];
        let mut now = [0.0; READINGS];
        let share = 1.0 / self.fits.len().max(1) as f64;
        for fit in &self.fits {
            let at = fit.after(&[0.0; ADJUSTERS]);
            for i in 0..self.task.readings.len() {
                now[i] += fit.foresee(i, &at).map_or(0.0, |it| it.mean) * share;
                for (j, effect) in effects[i].iter_mut().enumerate() {
                    *effect += fit.effect(i, j).map_or(0.0, |it| it.0) * share;
                }
            }
        }
        (effects, now)
    }

    fn mean_lost(&self, j: usize, on: bool) -> f64 {
        let sum: f64 = self.fits.iter().map(|fit| fit.play.lost(j, on)).sum();
        sum / self.fits.len().max(1) as f64
    }

    /// Follows `height` uphill along the axes, with steps that halve; where it ends and how high.
    pub(super) fn climb(&self, start: Turns, height: impl Fn(&Turns) -> f64) -> (Turns, f64) {
        let mut at = start;
        let mut best = height(&at);
        let mut step = 0.5;
        let mut moves = 0;
        while step >= FINEST && moves < MOST_MOVES {
            let mut better = false;
            for j in (0..ADJUSTERS).filter(|&j| self.natural[j] > 0.0) {
                for sign in [1.0, -1.0] {
                    let mut tried = at;
                    tried[j] = self.clamp(j, at[j] + sign * step * self.natural[j]);
                    let reached = height(&tried);
                    if reached > best + 1e-6 {
                        (at, best, better) = (tried, reached, true);
                        moves += 1;
                        break;
                    }
                }
            }
            if !better {
                step /= 2.0;
            }
        }
        (at, best)
    }

    /// The least movement whose chance equals the best one found.
    fn least(&self, found: &[(Turns, f64)], starts: &[Turns], widened: f64) -> Turns {
        let best = found.iter().map(|it| it.1).fold(0.0, f64::max);
        let enough = best - EQUAL.min(0.1 * best);
        let good = |turns: &Turns| self.chance(turns, widened) >= enough;
        let candidates = found.iter().map(|it| it.0).chain(starts.iter().copied());
        let mut least = [0.0; ADJUSTERS];
        let mut least_movement = f64::INFINITY;
        for turns in candidates {
            let movement = self.movement(&turns);
            if movement < least_movement && good(&turns) {
                (least, least_movement) = (turns, movement);
            }
        }
        for j in 0..ADJUSTERS {
            if least[j] == 0.0 {
                continue;
            }
            let (mut fails, mut holds) = (0.0, 1.0);
            let at = |share: f64| {
                let mut turns = least;
                turns[j] *= share;
                turns
            };
            if good(&at(0.0)) {
                holds = 0.0;
            } else {
                for _ in 0..6 {
                    let middle = 0.5 * (fails + holds);
                    if good(&at(middle)) {
                        holds = middle;
                    } else {
                        fails = middle;
                    }
                }
            }
            least[j] *= holds;
        }
        least
    }
}

/// Movements `v` of `members` that minimise the squares of `now + effects·v`, with a slight pull to no movement.
fn least_squares(
    effects: &[Turns; READINGS],
    now: &[f64; READINGS],
    members: &[usize],
    natural: &Turns,
) -> Option<Turns> {
    if members.is_empty() {
        return None;
    }
    let size = members.len();
    let column = |i: usize, m: usize| effects[i][members[m]] * natural[members[m]];
    let matrix = nalgebra::DMatrix::from_fn(size, size, |a, b| {
        let pull = if a == b { 1e-3 } else { 0.0 };
        (0..READINGS)
            .map(|i| column(i, a) * column(i, b))
            .sum::<f64>()
            + pull
    });
    let right = nalgebra::DVector::from_fn(size, |a, _| {
        -(0..READINGS).map(|i| column(i, a) * now[i]).sum::<f64>()
    });
    let solved = matrix.cholesky()?.solve(&right);
    let mut turns = [0.0; ADJUSTERS];
    for (m, &j) in members.iter().enumerate() {
        turns[j] = solved[m] * natural[j];
    }
    turns.iter().all(|t| t.is_finite()).then_some(turns)
}
