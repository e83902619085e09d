//! Whether there is any setting at all that brings the readings inside.

use super::choose::Search;
use super::fit::Fit;
use super::task::{ADJUSTERS, Task, Turns};

/// A setting inside the limits that is less plausible than this does not exist: natural log of the likelihood, 3.7
/// standard deviations.
const CONFLICT: f64 = -6.9;
/// The ends of travel stand in the way when they cost this much of the plausibility.
const STOPPED: f64 = -3.0;

/// What keeps the readings from coming inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Reach {
    /// Nothing that is known.
    Free,
    /// The adjusters' travel; the turns that come nearest within it.
    Stopped(Turns),
    /// The limits themselves, whatever the adjusters do.
    Conflict,
}

impl Reach {
    /// Looks for the most plausible setting that is inside, with the travel and without it.
    pub(super) fn new(task: &Task, fits: &[Fit]) -> Self {
        let (nearest, stopped) = most_plausible(task, fits);
        if stopped > STOPPED {
            return Self::Free;
        }
        let mut free = task.clone();
        free.back = [f64::NEG_INFINITY; ADJUSTERS];
        free.on = [f64::INFINITY; ADJUSTERS];
        let (_, plausible) = most_plausible(&free, fits);
        if plausible < CONFLICT {
            Self::Conflict
        } else if stopped - plausible < STOPPED {
            Self::Stopped(nearest)
        } else {
            Self::Free
        }
    }
}

fn most_plausible(task: &Task, fits: &[Fit]) -> (Turns, f64) {
    let search = Search::new(task, fits);
    let plausible = |turns: &Turns| plausible(task, search.fits(), turns);
    let starts = search.starts();
    let start = starts
        .into_iter()
        .map(|turns| (plausible(&turns), turns))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|it| it.1)
        .unwrap_or_default();
    search.climb(start, plausible)
}

/// Log likelihood of the setting after `turns` being inside: what is out must lie within its own uncertainty of the
/// limit.
fn plausible(task: &Task, fits: &[&Fit], turns: &Turns) -> f64 {
    let logs = fits.iter().map(|fit| {
        let at = fit.after(turns);
        let beyond = (0..task.readings.len()).filter_map(|i| {
            let foreseen = fit.foresee(i, &at)?;
            let beyond = (foreseen.mean.abs() - 1.0).max(0.0);
            Some(beyond * beyond / foreseen.variance)
        });
        -0.5 * beyond.sum::<f64>()
    });
    let top = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.map(|log| (log - top).exp()).sum();
    top + (sum / fits.len().max(1) as f64).ln()
}

#[cfg(test)]
mod tests {
    use super::super::fault::believe;
    use super::super::state::{Adjuster, Effect, Reading, State, Trial};
    use super::*;

    /// What stands in the way of two readings, by `effects[reading][adjuster]`, from `found`.
    fn reach(effects: [[f64; 2]; 2], rel_u: f64, found: [f64; 2], travel: f64) -> Reach {
        let mut state = State::default();
        for (j, adjuster) in ["a", "b"].into_iter().enumerate() {
            let effect = |row: [f64; 2]| Effect {
                per_turn: row[j],
                rel_u,
            };
            state.adjusters.push(Adjuster {
                name: adjuster.to_owned(),
                effects: [("r", effects[0]), ("s", effects[1])]
                    .map(|(name, row)| (name.to_owned(), effect(row)))
                    .into(),
                min_turns: Some(-travel),
                max_turns: Some(travel),
                ..Adjuster::default()
            });
        }
        for name in ["r", "s"] {
            state.readings.push(Reading {
                name: name.to_owned(),
                unit: "mm".to_owned(),
                target: 0.0,
                limit: 1.0,
                repeatability: 0.1,
            });
        }
        state.trials.push(Trial {
            turns: vec![0.0; 2],
            readings: found.map(Some).to_vec(),
        });
        let (task, belief) = believe(&Task::of(&state));
        Reach::new(&task, &belief.fits)
    }

    #[test]
    fn readings_that_are_always_driven_alike_cannot_be_met_apart() {
        let alike = [[1.0, 2.0], [1.0, 2.0]];
        assert_eq!(reach(alike, 0.05, [3.0, -3.0], 5.0), Reach::Conflict);
        assert_eq!(reach(alike, 0.05, [3.8, 2.2], 5.0), Reach::Free);
        // With notes that may be far out they may yet be driven apart.
        assert_eq!(reach(alike, 1.5, [3.0, -3.0], 5.0), Reach::Free);
    }

    #[test]
    fn travel_that_ends_too_soon_is_told() {
        let apart = [[1.0, 0.2], [0.3, 1.0]];
        assert_eq!(reach(apart, 0.1, [8.0, -6.0], 20.0), Reach::Free);
        let Reach::Stopped(nearest) = reach(apart, 0.1, [8.0, -6.0], 2.0) else {
            panic!("it is stopped");
        };
        assert!(
            (nearest[0] + 2.0).abs() < 0.1 && (nearest[1] - 2.0).abs() < 0.1,
            "{nearest:?}"
        );
    }
}
