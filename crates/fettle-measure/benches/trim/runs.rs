//! Running mechanisms to their end by one way of choosing the turns or another.

use fettle_measure::trim::{Advice, advise};

use crate::family::{Case, Family};

/// A run that has not ended after so many trials counts with them.
pub(crate) const MOST_TRIALS: usize = 10;

/// What ends a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ends {
    /// The true readings are inside.
    Truth,
    /// The readings as read are inside.
    Read,
}

/// How the next turns are chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Way {
    /// The adviser.
    Advised,
    /// One adjuster at a time, by the notes: the reading that is furthest out, with the adjuster that moves it most.
    OneAtATime,
    /// All at once with true effects, true play and true standing, from the readings as read.
    AllKnown,
}

/// One run.
#[derive(Clone, Debug, Default)]
pub(crate) struct Run {
    /// Trials made, the setting as found not counted.
    pub(crate) trials: usize,
    /// Readings that lay in the adviser's interval, and those it foresaw.
    pub(crate) held: usize,
    pub(crate) foreseen: usize,
    /// Findings at any advice, by kind.
    pub(crate) findings: Vec<String>,
}

/// Runs the mechanism of `seed`.
pub(crate) fn run(family: &Family, seed: u64, way: Way, ends: Ends) -> Run {
    let mut case = Case::new(family, seed);
    let mut run = Run::default();
    while run.trials < MOST_TRIALS {
        let ended = match ends {
            Ends::Truth => case.is_truly_inside(),
            Ends::Read => is_read_inside(&case),
        };
        if ended {
            break;
        }
        match way {
            Way::Advised => {
                let Ok(advice) = advise(&case.state) else {
                    break;
                };
                case.turn(advice.turns.clone());
                run.count(&case, &advice);
            }
            Way::OneAtATime => {
                let turns = one_at_a_time(&case);
                case.turn(turns);
            }
            Way::AllKnown => {
                let turns = all_known(&case);
                case.turn(turns);
            }
        }
        run.trials += 1;
    }
    run
}

impl Run {
    fn count(&mut self, case: &Case, advice: &Advice) {
        let Some(trial) = case.state.trials.last() else {
            return;
        };
        let foreseen = advice.predicted.iter().zip(&advice.predicted_u);
        for ((predicted, u), reading) in foreseen.zip(&trial.readings) {
            if let (Some(predicted), Some(u), Some(reading)) = (predicted, u, reading) {
                self.foreseen += 1;
                self.held += usize::from((reading - predicted).abs() <= *u);
            }
        }
        for finding in &advice.findings {
            self.findings.push(format!("{finding:?}"));
        }
    }
}

/// How many trials runs took.
pub(crate) struct Figures {
    pub(crate) median: usize,
    /// 95 % of the runs take no more.
    pub(crate) most: usize,
    pub(crate) mean: f64,
}

impl Figures {
    pub(crate) fn of(runs: &[Run]) -> Self {
        let mut trials: Vec<usize> = runs.iter().map(|run| run.trials).collect();
        trials.sort_unstable();
        let rank = |share: f64| {
            let n = (share * trials.len() as f64).ceil() as usize;
            trials.get(n.saturating_sub(1)).copied().unwrap_or(0)
        };
        Self {
            median: rank(0.5),
            most: rank(0.95),
            mean: trials.iter().sum::<usize>() as f64 / trials.len().max(1) as f64,
        }
    }
}

/// Errors of the last readings in limits.
fn errors(case: &Case) -> Vec<f64> {
    let last = case.state.trials.iter().rev().take(1);
    let readings = last.flat_map(|trial| trial.readings.iter().zip(&case.state.readings));
    readings
        .map(|(read, asked)| read.map_or(0.0, |read| (read - asked.target) / asked.limit))
        .collect()
}

fn is_read_inside(case: &Case) -> bool {
    errors(case).iter().all(|error| error.abs() <= 1.0)
}

fn one_at_a_time(case: &Case) -> Vec<f64> {
    let errors = errors(case);
    let mut turns = vec![0.0; case.state.adjusters.len()];
    let worst = (0..errors.len()).max_by(|&a, &b| errors[a].abs().total_cmp(&errors[b].abs()));
    let Some(worst) = worst else {
        return turns;
    };
    let asked = &case.state.readings[worst];
    let effect = |j: usize| case.state.adjusters[j].effects[&asked.name].per_turn / asked.limit;
    let strongest = (0..turns.len()).max_by(|&a, &b| effect(a).abs().total_cmp(&effect(b).abs()));
    if let Some(j) = strongest {
        let stands: f64 = case.state.trials.iter().map(|trial| trial.turns[j]).sum();
        let adjuster = &case.state.adjusters[j];
        let (min, max) = (
            adjuster.min_turns.unwrap_or(f64::NEG_INFINITY),
            adjuster.max_turns.unwrap_or(f64::INFINITY),
        );
        turns[j] = (stands - errors[worst] / effect(j)).clamp(min, max) - stands;
    }
    turns
}

/// The least-squares movement by the true effects, and the play that is really lost added to it.
fn all_known(case: &Case) -> Vec<f64> {
    let errors = errors(case);
    let make = case.mechanism.make();
    let count = case.state.adjusters.len();
    let effect = |i: usize, j: usize| make.effects[i][j] / case.state.readings[i].limit;
    let matrix = nalgebra::DMatrix::from_fn(count, count, |a, b| {
        let pull = if a == b { 1e-6 } else { 0.0 };
        (0..errors.len())
            .map(|i| effect(i, a) * effect(i, b))
            .sum::<f64>()
            + pull
    });
    let right = nalgebra::DVector::from_fn(count, |a, _| {
        -(0..errors.len())
            .map(|i| effect(i, a) * errors[i])
            .sum::<f64>()
    });
    let Some(solved) = matrix.cholesky().map(|it| it.solve(&right)) else {
        return vec![0.0; count];
    };
    (0..count)
        .map(|j| {
            let mut within = make.backlash_turns[j] * make.stands[j];
            for trial in &case.state.trials {
                within = (within + trial.turns[j]).clamp(0.0, make.backlash_turns[j]);
            }
            match solved[j] {
                on if on > 0.0 => on + make.backlash_turns[j] - within,
                back => back - within,
            }
        })
        .collect()
}
