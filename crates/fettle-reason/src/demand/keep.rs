//! For which work the pieces of a scarce grade are to be kept.

use serde::{Deserialize, Serialize};

use super::error::{ForecastError, within};
use super::pieces::Pieces;

/// One kind of work that the pieces can go into.
#[derive(Clone, Debug, PartialEq)]
pub struct Kind {
    /// Its name.
    pub name: String,
    /// What a piece of the scarce grade is worth in it, more than what would be fitted instead; any unit, the same for all kinds.
    pub value: f64,
    /// The pieces that it will need until none can be had any more, see [`super::pieces`].
    pub demand: Pieces,
}

/// What follows for one kind of work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// The kind's name.
    pub name: String,
    /// What a piece is worth in it.
    pub value: f64,
    /// Pieces that it is expected to need.
    pub expected: f64,
    /// It takes a piece only while more than so many are there: those are kept for more valuable work.
    pub keep_back: u32,
    /// It may take one now.
    pub may_take: bool,
}

/// For which kinds of work so many pieces are to be kept, the most valuable kind first.
///
/// With two kinds a piece goes into the lesser work only when the chance that the better work will want it, times its value there, is
/// less than its value here (Littlewood 1972), which is the best rule there is when the lesser work comes first. With more kinds, the
/// better ones are taken together at their mean value (EMSR-b: Belobaba 1987, 1992), which costs little against the best rule. Where
/// lesser and better work come mixed, the rule keeps back a little too much; asked again at each need, with the years that are left,
/// it mends itself.
///
/// # Errors
/// [`ForecastError`] when a value is not finite or negative.
pub fn keep(kinds: &[Kind], on_hand: u32) -> Result<Vec<Kept>, ForecastError> {
    for kind in kinds {
        let sane = kind.value >= 0.0 && kind.value < 1e12;
        within("the value of a piece", "0 or more", kind.value, sane)?;
    }
    let mut order: Vec<&Kind> = kinds.iter().collect();
    order.sort_by(|a, b| b.value.total_cmp(&a.value));
    let mut better = Better::default();
    let mut kept = Vec::with_capacity(order.len());
    for kind in order {
        let keep_back = better.keep_back(kind.value);
        kept.push(Kept {
            name: kind.name.clone(),
            value: kind.value,
            expected: kind.demand.mean(),
            keep_back,
            may_take: on_hand > keep_back,
        });
        better.add(kind);
    }
    Ok(kept)
}

/// The kinds above one, taken together.
struct Better {
    /// Chances of none, one, two ... pieces.
    chances: Vec<f64>,
    expected: f64,
    /// Expected pieces times their value.
    worth: f64,
    /// The least value among them.
    least: f64,
}

impl Default for Better {
    fn default() -> Self {
        Self {
            chances: vec![1.0],
            expected: 0.0,
            worth: 0.0,
            least: f64::INFINITY,
        }
    }
}

impl Better {
    fn add(&mut self, kind: &Kind) {
        self.chances = sum_of(&self.chances, kind.demand.chances());
        self.expected += kind.demand.mean();
        self.worth += kind.demand.mean() * kind.value;
        self.least = kind.value;
    }

    /// The smallest `y` with `P(demand > y) v ≤ value`, where `v` is the mean value of the better kinds.
    fn keep_back(&self, value: f64) -> u32 {
        if self.expected <= 0.0 || self.least <= value {
            return 0;
        }
        let mean_value = self.worth / self.expected;
        let mut left = 1.0;
        let enough = self.chances.iter().position(|chance| {
            left -= chance;
            left * mean_value <= value
        });
        let count = enough.unwrap_or(self.chances.len());
        u32::try_from(count).unwrap_or(u32::MAX)
    }
}

/// The distribution of the sum of two independent counts.
fn sum_of(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut sum = vec![0.0; (a.len() + b.len()).saturating_sub(1)];
    for (i, x) in a.iter().enumerate() {
        for (to, y) in sum.iter_mut().skip(i).zip(b) {
            *to += x * y;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demand::rates::Rates;

    fn kind(name: &str, value: f64, shape: f64, years: f64) -> Kind {
        let rates = Rates {
            by_size: vec![(1, shape)],
            exposure: vec![(1.0, 4.0)],
        };
        Kind {
            name: name.to_owned(),
            value,
            demand: Pieces::of(&rates, years),
        }
    }

    /// What so many pieces bring when the kinds come one after another, the least valuable first, each keeping back so many.
    fn worth(kinds: &[Kind], keep_back: &[u32], on_hand: u32) -> f64 {
        let Some((last, others)) = kinds.split_last() else {
            return 0.0;
        };
        let kept = keep_back.get(others.len()).copied().unwrap_or(0);
        let free = on_hand.saturating_sub(kept);
        let mut left = 1.0;
        let mut sum = 0.0;
        for taken in 0..=free {
            let chance = last
                .demand
                .chances()
                .get(taken as usize)
                .copied()
                .unwrap_or(0.0);
            let chance = if taken == free { left } else { chance };
            left -= chance;
            sum += chance
                * (last.value * f64::from(taken) + worth(others, keep_back, on_hand - taken));
        }
        sum
    }

    fn three() -> Vec<Kind> {
        vec![
            kind("whole restoration", 100.0, 3.0, 3.0),
            kind("overhaul", 60.0, 5.0, 3.0),
            kind("quick mend", 25.0, 8.0, 3.0),
        ]
    }

    #[test]
    fn of_two_kinds_none_brings_more_by_keeping_back_another_number() {
        let kinds = &three()[0..2];
        for on_hand in 0..12 {
            let kept = keep(kinds, on_hand).unwrap();
            let ours = worth(kinds, &[0, kept[1].keep_back], on_hand);
            let best = (0..=on_hand)
                .map(|y| worth(kinds, &[0, y], on_hand))
                .fold(0.0, f64::max);
            assert!((ours - best).abs() < 1e-9, "{on_hand}: {ours} {best}");
        }
    }

    #[test]
    fn of_three_kinds_little_is_lost_against_the_best() {
        let kinds = three();
        for on_hand in [2, 5, 8, 12] {
            let kept = keep(&kinds, on_hand).unwrap();
            let levels: Vec<u32> = kept.iter().map(|it| it.keep_back).collect();
            let ours = worth(&kinds, &levels, on_hand);
            let best = (0..=on_hand)
                .flat_map(|a| (0..=on_hand).map(move |b| (a, b)))
                .map(|(a, b)| worth(&kinds, &[0, a, b], on_hand))
                .fold(0.0, f64::max);
            assert!(
                ours <= best + 1e-9 && ours > 0.99 * best,
                "{on_hand}: {ours} {best}"
            );
        }
    }

    #[test]
    fn the_best_work_always_may_and_the_least_waits_for_plenty() {
        let mut kinds = three();
        kinds.reverse();
        let kept = keep(&kinds, 4).unwrap();
        assert_eq!(kept[0].name, "whole restoration");
        assert!(kept[0].may_take && kept[0].keep_back == 0);
        assert!(!kept[2].may_take && kept[2].keep_back > kept[1].keep_back);
        assert!(keep(&kinds, 40).unwrap()[2].may_take);
        assert!(keep(&kinds, 0).unwrap().iter().all(|it| !it.may_take));
    }

    #[test]
    fn kinds_of_one_value_keep_nothing_from_one_another() {
        let kinds = [kind("a", 50.0, 4.0, 5.0), kind("b", 50.0, 4.0, 5.0)];
        assert!(keep(&kinds, 1).unwrap().iter().all(|it| it.may_take));
    }

    #[test]
    fn values_that_are_none_are_refused() {
        for value in [f64::NAN, f64::INFINITY, -1.0] {
            assert!(keep(&[kind("a", value, 1.0, 1.0)], 1).is_err());
        }
    }
}
