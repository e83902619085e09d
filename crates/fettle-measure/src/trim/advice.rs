//! From what is believed to the advice, in the state's own order and units.

use serde::{Deserialize, Serialize};

use super::belief::Belief;
use super::check::check;
use super::choose::{Choice, choose};
use super::error::StateError;
use super::fault::believe;
use super::finding::Finding;
use super::fit::Fit;
use super::normal::within;
use super::reach::Reach;
use super::state::State;
use super::task::{ADJUSTERS, Task, Turns};
use crate::Verdict;

/// The next turn, and what is believed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// Turns to make next in one movement, one for each adjuster; all zero when `inside`.
    pub turns: Vec<f64>,
    /// The readings to expect after them, one for each; `None` for a reading that was never taken.
    pub predicted: Vec<Option<f64>>,
    /// Expanded uncertainty (k = 2, a 95 % interval) of `predicted`, the repeatability of the reading included.
    pub predicted_u: Vec<Option<f64>>,
    /// Whether all readings are inside: as last read, or as surely believed where the last was not taken.
    pub inside: bool,
    /// Chance that the readings after the next turns are all inside their limits.
    pub chance: f64,
    /// The readings as they now are, all trials weighed; `None` for a reading that was never taken.
    pub now: Vec<Option<f64>>,
    /// Expanded uncertainty (k = 2) of `now`.
    pub now_u: Vec<Option<f64>>,
    /// Whether each reading as it now is lies inside its limit, by ISO 14253-1.
    pub verdicts: Vec<Verdict>,
    /// What one turn does as now believed: `effects[reading][adjuster]`, in the reading's unit.
    pub effects: Vec<Vec<f64>>,
    /// Expanded uncertainty (k = 2) of `effects`.
    pub effects_u: Vec<Vec<f64>>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Advises the next turn of the adjusters.
///
/// The mechanism is taken as linear: a part moves the readings in proportion, behind a play that is known to ±30 %
/// and in which the screw stands anywhere at first. The notes' effects are the prior of a Bayesian linear regression
/// on the trials. The turn is the one with the greatest chance that the next readings are all inside; among equal
/// ones the least movement. Where no turn has a fair chance it goes as near as it can.
///
/// # Errors
///
/// Where a value of the state has no meaning.
///
/// # Example
///
/// ```
/// use fettle_measure::trim;
///
/// let state = trim::read(
///     br#"{
///   "format": "fettle-trim-1",
///   "adjusters": [
///     {"name": "spring", "effects": {"travel": {"per_turn": -2.0, "rel_u": 0.3}}, "min_turns": -3, "max_turns": 3}
///   ],
///   "readings": [{"name": "travel", "unit": "ms", "target": 12, "limit": 0.5, "repeatability": 0.1}],
///   "trials": [{"turns": [0], "readings": [14]}]
/// }"#,
/// )?;
/// let advice = trim::advise(&state)?;
/// assert!((advice.turns[0] - 1.0).abs() < 0.15);
/// assert!(!advice.inside);
/// # Ok::<(), trim::StateError>(())
/// ```
pub fn advise(state: &State) -> Result<Advice, StateError> {
    let mut wrong = StateError::default();
    check(state, &mut wrong);
    wrong.into_result()?;
    let noted = Task::of(state);
    let (task, belief) = believe(&noted);
    Ok(Answer {
        state,
        noted: &noted,
        task: &task,
        belief: &belief,
    }
    .advice())
}

struct Answer<'a> {
    state: &'a State,
    /// By the notes.
    noted: &'a Task,
    /// As the trials have it.
    task: &'a Task,
    belief: &'a Belief,
}

impl Answer<'_> {
    fn advice(&self) -> Advice {
        let fits = &self.belief.fits;
        let mut unread = self.unread();
        let is_out = self.is_out();
        let inside = unread.is_empty() && !is_out;
        let choice = if is_out {
            // What was not taken is turned by what is believed of it, unless nothing is.
            unread.retain(|&i| self.now(i).is_none());
            choose(self.task, fits)
        } else {
            Choice::stay(self.task, fits)
        };
        let unread = unread.into_iter().map(|i| self.reading_name(i)).collect();
        let mut advice = Advice {
            turns: vec![0.0; self.state.adjusters.len()],
            predicted: Vec::new(),
            predicted_u: Vec::new(),
            inside,
            chance: choice.chance,
            now: Vec::new(),
            now_u: Vec::new(),
            verdicts: Vec::new(),
            effects: Vec::new(),
            effects_u: Vec::new(),
            findings: Vec::new(),
        };
        for (j, &to) in self.task.adjusters.iter().enumerate() {
            advice.turns[to] = choice.turns[j];
        }
        for reading in 0..self.state.readings.len() {
            self.push_reading(&mut advice, reading, &choice.turns);
        }
        advice.findings = self.findings(inside, unread);
        advice
    }

    fn push_reading(&self, advice: &mut Advice, reading: usize, turns: &Turns) {
        let asked = &self.state.readings[reading];
        let i = position(&self.task.readings, reading);
        let unit = |value: Option<(f64, f64)>| {
            (
                value.map(|(mean, _)| asked.target + mean * asked.limit),
                value.map(|(_, u)| u * asked.limit),
            )
        };
        let (mean, u) = unit(self.interval(i, turns, true));
        advice.predicted.push(mean);
        advice.predicted_u.push(u);
        advice.verdicts.push(self.verdict(i));
        let (mean, u) = unit(self.now(i));
        advice.now.push(mean);
        advice.now_u.push(u);

        let (mut effects, mut effects_u) = (Vec::new(), Vec::new());
        for adjuster in 0..self.state.adjusters.len() {
            let j = position(&self.task.adjusters, adjuster);
            let (mean, u) = self.effect(i, j);
            effects.push(mean * asked.limit);
            effects_u.push(u * asked.limit);
        }
        advice.effects.push(effects);
        advice.effects_u.push(effects_u);
    }

    /// Mean and half-width of the central 95 % of reading `i` after `turns`.
    fn interval(&self, i: usize, turns: &Turns, with_noise: bool) -> Option<(f64, f64)> {
        let parts: Option<Vec<(f64, f64)>> = self
            .belief
            .fits
            .iter()
            .map(|fit| {
                let foreseen = fit.foresee(i, &fit.after(turns))?;
                let noise = if with_noise {
                    fit.noise_variance(i)
                } else {
                    0.0
                };
                Some((foreseen.mean, foreseen.variance + noise))
            })
            .collect();
        parts.map(|parts| half_width(&parts))
    }

    /// Effect of adjuster `j` on reading `i` with its expanded uncertainty, in limits a turn.
    fn effect(&self, i: usize, j: usize) -> (f64, f64) {
        let noted = (self.task.effect[i][j], self.task.effect_sd[i][j].powi(2));
        let fits = &self.belief.fits;
        let parts = fits.iter().map(|fit| fit.effect(i, j).unwrap_or(noted));
        let (mean, variance) = moments(parts);
        (mean, 2.0 * variance.sqrt())
    }

    /// Reading `i` as it now is, with its expanded uncertainty, in limits; `None` when it was never taken.
    fn now(&self, i: usize) -> Option<(f64, f64)> {
        self.interval(i, &[0.0; ADJUSTERS], false)
    }

    /// Where reading `i` lies, by all trials; undecided when it was never taken.
    fn verdict(&self, i: usize) -> Verdict {
        self.now(i)
            .map_or(Verdict::Undecided, |(mean, u)| Verdict::of(mean, u, 1.0))
    }

    /// Readings that cannot be told: not taken since the last movement, and not sure either way by the others.
    fn unread(&self) -> Vec<usize> {
        (0..self.task.readings.len())
            .filter(|&i| self.last_taken(i).is_none() && self.verdict(i) == Verdict::Undecided)
            .collect()
    }

    /// Whether a reading is outside: as last taken, or surely by the others.
    fn is_out(&self) -> bool {
        (0..self.task.readings.len()).any(|i| {
            self.last_taken(i).map_or_else(
                || self.verdict(i) == Verdict::Out,
                |value| value.abs() > 1.0 + ROUNDING,
            )
        })
    }

    /// Reading `i` as last taken, if nothing was turned since.
    fn last_taken(&self, i: usize) -> Option<f64> {
        for trial in self.task.trials.iter().rev() {
            if trial.readings[i].is_some() {
                return trial.readings[i];
            }
            if trial.turns.iter().any(|turns| *turns != 0.0) {
                return None;
            }
        }
        None
    }

    fn reading_name(&self, i: usize) -> String {
        self.state.readings[self.task.readings[i]].name.clone()
    }

    fn findings(&self, inside: bool, unread: Vec<String>) -> Vec<Finding> {
        let mut findings = Vec::new();
        for adjuster in 0..self.state.adjusters.len() {
            findings.extend(self.fault_of(adjuster));
        }
        if !inside {
            self.add_reach(&mut findings);
        }
        findings.extend(
            unread
                .into_iter()
                .map(|reading| Finding::Unread { reading }),
        );
        for reading in &self.state.readings {
            let share = 2.0 * reading.repeatability / reading.limit;
            if share > 1.0 {
                findings.push(Finding::Coarse {
                    reading: reading.name.clone(),
                    take: (4.0 * share * share).ceil() as u32,
                });
            }
        }
        if let Some(ratio) = self.belief.misfit {
            findings.push(Finding::Misfit { ratio });
        }
        findings
    }

    fn fault_of(&self, adjuster: usize) -> Option<Finding> {
        let j = position(&self.noted.adjusters, adjuster);
        if !self.noted.was_turned(j) {
            return None;
        }
        let name = &self.state.adjusters[adjuster].name;
        let mut slack = true;
        let mut contrary: Option<(f64, usize)> = None;
        for i in 0..self.task.readings.len() {
            let noted = self.noted.effect[i][j];
            let (mean, u) = self.effect(i, j);
            if noted == 0.0 {
                continue;
            }
            slack &= mean.abs() + u < NEXT_TO_NOTHING * noted.abs();
            let share = mean / noted;
            let share_u = u / noted.abs();
            let noted_u = 2.0 * self.noted.effect_sd[i][j] / noted.abs();
            let beyond = (-share).max(share - 1.0 - noted_u.max(1.0)) - share_u;
            if beyond > 0.0 && contrary.is_none_or(|(most, _)| beyond > most) {
                contrary = Some((beyond, i));
            }
        }
        if slack {
            return Some(Finding::NoEffect {
                adjuster: name.clone(),
            });
        }
        let (_, i) = contrary?;
        let reading = &self.state.readings[self.task.readings[i]];
        Some(Finding::Contrary {
            adjuster: name.clone(),
            reading: reading.name.clone(),
            unit: reading.unit.clone(),
            noted_per_turn: self.noted.effect[i][j] * reading.limit,
            per_turn: self.effect(i, j).0 * reading.limit,
        })
    }

    /// What keeps the readings from coming inside.
    fn add_reach(&self, findings: &mut Vec<Finding>) {
        match Reach::new(self.task, &self.belief.fits) {
            Reach::Free => {}
            Reach::Conflict => {
                let slack = |it: &Finding| matches!(it, Finding::NoEffect { .. });
                // An adjuster that moves nothing explains it.
                if !findings.iter().any(slack) {
                    let readings = self.state.readings.iter().map(|it| it.name.clone());
                    findings.push(Finding::LimitsConflict {
                        readings: readings.collect(),
                    });
                }
            }
            Reach::Stopped(nearest) => {
                for (adjuster, named) in self.state.adjusters.iter().enumerate() {
                    let j = position(&self.task.adjusters, adjuster);
                    let close = AT_END * self.task.natural_turns(j).unwrap_or(0.0);
                    let ends = [
                        (self.task.back[j], named.min_turns),
                        (self.task.on[j], named.max_turns),
                    ];
                    let met = ends
                        .into_iter()
                        .find(|(left, _)| (nearest[j] - left).abs() <= close);
                    if let Some((_, Some(at_turns))) = met {
                        findings.push(Finding::Travel {
                            adjuster: named.name.clone(),
                            at_turns,
                        });
                    }
                }
            }
        }
    }
}

/// Readings stand on their limit as they were written down.
const ROUNDING: f64 = 1e-9;
/// An effect surely smaller than this part of the notes' is next to nothing.
const NEXT_TO_NOTHING: f64 = 0.25;
/// So near to an end of its travel, in turns that move the readings by a limit, an adjuster stands at it.
const AT_END: f64 = 0.05;

impl Choice {
    fn stay(task: &Task, fits: &[Fit]) -> Self {
        let turns = [0.0; ADJUSTERS];
        Self {
            turns,
            chance: super::choose::chance(task, fits, &turns, 1.0),
        }
    }
}

fn position(order: &[usize], wanted: usize) -> usize {
    order
        .iter()
        .position(|it| *it == wanted)
        .unwrap_or_default()
}

/// Mean and variance of an even mixture of parts with mean and variance.
fn moments(parts: impl Iterator<Item = (f64, f64)> + Clone) -> (f64, f64) {
    let count = parts.clone().count().max(1) as f64;
    let mean = parts.clone().map(|(mean, _)| mean).sum::<f64>() / count;
    let variance = parts
        .map(|(m, variance)| variance + (m - mean).powi(2))
        .sum::<f64>()
        / count;
    (mean, variance)
}

/// Mean of an even mixture of Gaussians and the half-width about it that holds 95 %.
fn half_width(parts: &[(f64, f64)]) -> (f64, f64) {
    const HELD: f64 = 0.95;
    let (mean, variance) = moments(parts.iter().copied());
    if parts.len() == 1 {
        return (mean, 1.96 * variance.sqrt());
    }
    let sd = variance.sqrt();
    let held = |half: f64| {
        let sum: f64 = parts
            .iter()
            .map(|(m, variance)| within(m - mean, variance.sqrt(), half))
            .sum();
        sum / parts.len() as f64
    };
    // Chebyshev's inequality bounds it at 4.5 standard deviations.
    let (mut low, mut high) = (0.0, 4.5 * sd);
    for _ in 0..14 {
        let middle = 0.5 * (low + high);
        if held(middle) < HELD {
            low = middle;
        } else {
            high = middle;
        }
    }
    (mean, 0.5 * (low + high))
}
