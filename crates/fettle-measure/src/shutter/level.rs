//! The fully open level `E0`, agreed between the shots of a session.

use super::channel::Raw;

/// A top lower than fully open by so many of its standard uncertainties is none.
const BELOW: f64 = 4.0;

/// Clears the levels of shots whose flat top is not fully open: slow blades that turn back before the end
/// leave one too. It lies lower below all shots that stand open than these differ among themselves.
pub(super) fn settle<'a>(shots: impl Iterator<Item = &'a mut Raw>) {
    let (open, short): (Vec<_>, Vec<_>) = shots
        .filter(|shot| !shot.spoiled && shot.clipped.is_none())
        .partition(|shot| shot.local.regions.has_plateau());
    let levels = || open.iter().filter_map(|shot| Some(shot.level?.0));
    let lowest = levels().min_by(f64::total_cmp);
    let highest = levels().max_by(f64::total_cmp);
    let Some((lowest, highest)) = lowest.zip(highest) else {
        return;
    };
    for shot in short {
        shot.level.take_if(|(level, variance)| {
            *level + BELOW * variance.sqrt() < lowest - (highest - lowest)
        });
    }
}

/// The fully open level of the session.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pool {
    pub(super) mean: f64,
    variance: f64,
    /// Variance of the true level from shot to shot.
    between: f64,
    /// Whether every shot that shows it is clipped: it may be more.
    pub(super) is_clipped: bool,
}

impl Pool {
    /// Mean of the levels that shots show, with the variance between them by the method of moments of
    /// random-effects models.
    pub(super) fn of<'a>(shots: impl Iterator<Item = &'a Raw>) -> Option<Self> {
        let shown: Vec<((f64, f64), bool)> = shots
            .filter(|shot| !shot.spoiled)
            .filter_map(|shot| Some((shot.level?, shot.clipped.is_some())))
            .filter(|(level, _)| level.0 > 0.0)
            .collect();
        let highest = shown.iter().fold(0.0_f64, |most, it| most.max(it.0.0));
        let (levels, clipped): (Vec<(f64, f64)>, Vec<bool>) = shown
            .into_iter()
            .filter(|(level, _)| level.0 > 0.8 * highest)
            .unzip();
        let weight: f64 = levels.iter().map(|level| 1.0 / level.1).sum();
        if levels.is_empty() || weight.is_nan() || weight <= 0.0 {
            return None;
        }
        let mean = levels.iter().map(|level| level.0 / level.1).sum::<f64>() / weight;
        let squares: f64 = levels
            .iter()
            .map(|level| (level.0 - mean).powi(2) / level.1)
            .sum();
        let second: f64 = levels.iter().map(|level| level.1.powi(-2)).sum();
        let freedom = levels.len() as f64 - 1.0;
        let spread = weight - second / weight;
        let between = if spread > 0.0 {
            ((squares - freedom) / spread).max(0.0)
        } else {
            0.0
        };
        let weights: f64 = levels.iter().map(|level| 1.0 / (level.1 + between)).sum();
        let mean = levels
            .iter()
            .map(|level| level.0 / (level.1 + between))
            .sum::<f64>()
            / weights;
        Some(Self {
            mean,
            variance: 1.0 / weights,
            between,
            is_clipped: clipped.iter().all(|it| *it),
        })
    }

    /// The estimate for a shot whose own level tells nothing of how its light differs from others'.
    pub(super) fn for_any(&self) -> Agreed {
        Agreed {
            level: self.mean,
            variance: self.variance + self.between,
            of_own: 0.0,
        }
    }

    /// The best estimate for one shot, from its own level with its variance and the session's.
    pub(super) fn for_shot(&self, own: Option<(f64, f64)>) -> Agreed {
        let Some((level, variance)) = own.filter(|own| own.0 > 0.8 * self.mean) else {
            return self.for_any();
        };
        let share = self.between / (self.between + variance).max(1e-300);
        Agreed {
            level: share * level + (1.0 - share) * self.mean,
            variance: share * variance + (1.0 - share).powi(2) * self.variance,
            of_own: share,
        }
    }

    /// The part that a level of this variance has in the mean.
    pub(super) fn part_in_mean(&self, variance: f64) -> f64 {
        self.variance / (variance + self.between)
    }
}

/// The fully open level agreed for one shot.
#[derive(Clone, Copy, Debug)]
pub(super) struct Agreed {
    pub(super) level: f64,
    pub(super) variance: f64,
    /// The part of the shot's own level in it; the rest is the session's mean.
    pub(super) of_own: f64,
}
