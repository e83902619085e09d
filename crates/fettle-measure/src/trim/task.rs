//! The adjustment as the reckoning sees it: readings in limits from their targets, in an order of its own.

use super::state::State;

pub(super) const ADJUSTERS: usize = 4;
pub(super) const READINGS: usize = 6;

/// One value an adjuster.
pub(super) type Turns = [f64; ADJUSTERS];

/// A repeatability below this part of the limit is not believed: no mechanism follows its turns so exactly.
const LEAST_NOISE: f64 = 1e-3;

/// What stands at the notes' expanded uncertainty, in standard deviations: between an even spread, which ends at √3,
/// and a Gaussian one of which it holds 95 %, for the notes seldom know which it is.
const NOTES_K: f64 = 1.87;
/// Without an end of travel no more turns than this are advised in all.
const FARTHEST_TURNS: f64 = 1e4;

/// What is known and asked, without names and units.
///
/// Adjusters and readings stand in the order of their names, so that the order in which they were written down does
/// not change an answer.
#[derive(Clone, Debug)]
pub(super) struct Task {
    /// Where each adjuster stands in the state.
    pub(super) adjusters: Vec<usize>,
    /// Where each reading stands in the state.
    pub(super) readings: Vec<usize>,
    /// What a turn does to each reading by the notes, in limits.
    pub(super) effect: [Turns; READINGS],
    /// Its standard deviation.
    pub(super) effect_sd: [Turns; READINGS],
    /// Adjusters that were found to move nothing.
    pub(super) slips: [bool; ADJUSTERS],
    pub(super) backlash: Turns,
    /// How far each adjuster can still go back (0 or less) and on (0 or more).
    pub(super) back: Turns,
    pub(super) on: Turns,
    /// Standard deviation of a reading, in limits.
    pub(super) noise: [f64; READINGS],
    pub(super) trials: Vec<TaskTrial>,
}

#[derive(Clone, Debug)]
pub(super) struct TaskTrial {
    pub(super) turns: Turns,
    /// `(reading - target) / limit`.
    pub(super) readings: [Option<f64>; READINGS],
}

impl Task {
    /// From a state that was checked.
    pub(super) fn of(state: &State) -> Self {
        let mut adjusters: Vec<usize> = (0..state.adjusters.len().min(ADJUSTERS)).collect();
        adjusters.sort_by_key(|&j| &state.adjusters[j].name);
        let mut readings: Vec<usize> = (0..state.readings.len().min(READINGS)).collect();
        readings.sort_by_key(|&i| &state.readings[i].name);

        let mut task = Self {
            effect: [[0.0; ADJUSTERS]; READINGS],
            effect_sd: [[0.0; ADJUSTERS]; READINGS],
            slips: [false; ADJUSTERS],
            backlash: [0.0; ADJUSTERS],
            back: [0.0; ADJUSTERS],
            on: [0.0; ADJUSTERS],
            noise: [0.0; READINGS],
            trials: Vec::with_capacity(state.trials.len()),
            adjusters,
            readings,
        };
        for (j, &from) in task.adjusters.iter().enumerate() {
            let adjuster = &state.adjusters[from];
            let stands: f64 = turned(state, from).sum();
            task.backlash[j] = adjuster.backlash_turns;
            task.back[j] = (adjuster.min_turns.unwrap_or(-FARTHEST_TURNS) - stands).min(0.0);
            task.on[j] = (adjuster.max_turns.unwrap_or(FARTHEST_TURNS) - stands).max(0.0);
            for (i, &reading) in task.readings.iter().enumerate() {
                let reading = &state.readings[reading];
                if let Some(effect) = adjuster.effects.get(&reading.name) {
                    task.effect[i][j] = effect.per_turn / reading.limit;
                    task.effect_sd[i][j] = task.effect[i][j].abs() * effect.rel_u / NOTES_K;
                }
            }
        }
        for (i, &from) in task.readings.iter().enumerate() {
            let reading = &state.readings[from];
            task.noise[i] = (reading.repeatability / reading.limit).max(LEAST_NOISE);
        }
        for trial in &state.trials {
            let mut turns = [0.0; ADJUSTERS];
            for (j, &from) in task.adjusters.iter().enumerate() {
                turns[j] = trial.turns.get(from).copied().unwrap_or(0.0);
            }
            let mut readings = [None; READINGS];
            for (i, &from) in task.readings.iter().enumerate() {
                let reading = &state.readings[from];
                let value = trial.readings.get(from).copied().flatten();
                readings[i] = value.map(|value| (value - reading.target) / reading.limit);
            }
            task.trials.push(TaskTrial { turns, readings });
        }
        task
    }

    /// Turns of adjuster `j` that move the readings by about one limit; `None` when it is not to be turned.
    pub(super) fn natural_turns(&self, j: usize) -> Option<f64> {
        let rows = self.effect.iter().zip(&self.effect_sd);
        let strength: f64 = rows.map(|(s, sd)| s[j].powi(2) + sd[j].powi(2)).sum();
        (strength > 0.0 && !self.slips[j]).then(|| 1.0 / strength.sqrt())
    }

    /// Readings taken beyond the first of each.
    pub(super) fn freedom(&self) -> f64 {
        (0..self.readings.len())
            .map(|i| {
                let taken = self.trials.iter().filter(|t| t.readings[i].is_some());
                taken.count().saturating_sub(1) as f64
            })
            .sum()
    }

    /// Whether adjuster `j` was ever turned.
    pub(super) fn was_turned(&self, j: usize) -> bool {
        self.trials.iter().any(|trial| trial.turns[j] != 0.0)
    }
}

fn turned(state: &State, adjuster: usize) -> impl Iterator<Item = f64> {
    state
        .trials
        .iter()
        .map(move |trial| trial.turns.get(adjuster).copied().unwrap_or(0.0))
}
