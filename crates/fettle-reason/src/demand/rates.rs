//! What is believed of a part's needs after they were seen.

use std::collections::BTreeMap;

use statrs::function::gamma::checked_gamma_lr;

use super::history::History;
use super::prior::Prior;

/// How many needs the sizes of like parts are worth beside the part's own.
const POOLED_NEEDS: f64 = 8.0;
/// Steps of the sizes that were not seen.
const MOST_SPREAD: f64 = 24.0;

/// The pieces that a need takes are a choice among sizes; needs of each size are a Poisson process of their own (thinning), and the
/// rates are independent Gamma distributions over the same exposure. Their sum is the Gamma distribution of all needs, and the shares
/// of the sizes have the Dirichlet distribution with the same shapes: one prior for both, worth as many needs to the one as to the
/// other.
#[derive(Clone, Debug)]
pub(super) struct Rates {
    /// Pieces in one need, ascending, and the shape of the rate of such needs.
    pub(super) by_size: Vec<(u32, f64)>,
    /// What was seen is worth so many years ahead, with the chance of each.
    pub(super) exposure: Vec<(f64, f64)>,
}

impl Rates {
    /// Prior and history together, the years watched worth as much as the years ahead.
    pub(super) fn of(history: &History, prior: &Prior) -> Self {
        Self {
            by_size: by_size(history, prior),
            exposure: vec![(1.0, prior.years + history.years())],
        }
    }

    /// Shape of the rate of all needs.
    pub(super) fn shape(&self) -> f64 {
        self.by_size.iter().map(|(_, shape)| shape).sum()
    }

    /// Needs in a year that are expected.
    pub(super) fn per_year(&self) -> f64 {
        let mean = |(weight, years): &(f64, f64)| weight / years;
        self.shape() * self.exposure.iter().map(mean).sum::<f64>()
    }

    /// Pieces that a need takes on the average.
    pub(super) fn pieces_per_need(&self) -> f64 {
        let pieces = |(pieces, shape): &(u32, f64)| f64::from(*pieces) * shape;
        self.by_size.iter().map(pieces).sum::<f64>() / self.shape()
    }

    /// The needs in a year below which the rate lies with the chance `p`.
    pub(super) fn per_year_at(&self, p: f64) -> f64 {
        let shape = self.shape();
        let below = |rate: f64| -> f64 {
            let each = self.exposure.iter();
            each.map(|(weight, years)| weight * gamma_below(shape, rate * years))
                .sum()
        };
        let (mut low, mut high) = (0.0, self.per_year());
        while below(high) < p && high < f64::MAX / 4.0 {
            (low, high) = (high, 2.0 * high);
        }
        // A figure for people: four digits are plenty, and each look at a mixture is dear.
        while high - low > 1e-5 * high && high > 1e-9 {
            let middle = f64::midpoint(low, high);
            if below(middle) < p {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    }
}

/// The chance that a Gamma variable of scale 1 lies below `x`.
pub(super) fn gamma_below(shape: f64, x: f64) -> f64 {
    if x > 0.0 {
        checked_gamma_lr(shape, x).unwrap_or(1.0)
    } else {
        0.0
    }
}

/// The shapes by size: the shape of all needs, divided by the shares of the sizes.
fn by_size(history: &History, prior: &Prior) -> Vec<(u32, f64)> {
    let mut shares: BTreeMap<u32, f64> = BTreeMap::new();
    for need in history.needs() {
        *shares.entry(need.quantity).or_default() += 1.0;
    }
    let seen = history.needs().len() as f64;
    if prior.sizes.is_empty() {
        let weight = readiness(shares.len(), seen);
        for (pieces, share) in spread(one_more(history.pieces() as f64, seen)) {
            *shares.entry(pieces).or_default() += weight * share;
        }
    }
    for it in &prior.sizes {
        *shares.entry(it.pieces).or_default() += POOLED_NEEDS * it.share;
    }
    let all: f64 = shares.values().sum();
    let scale = (prior.shape + seen) / all;
    let shapes = shares
        .into_iter()
        .map(|(pieces, share)| (pieces, scale * share));
    shapes.filter(|(_, shape)| *shape > 0.0).collect()
}

/// How many needs the belief in sizes that were not seen is worth. The more sizes there were among the needs, the readier the next is
/// to bring a new one: the concentration of Ewens' sampling formula by the moments of the number of kinds (Watterson 1975), and
/// something beside it while few were seen.
fn readiness(sizes: usize, seen: f64) -> f64 {
    let harmonic: f64 = (1..)
        .map(f64::from)
        .take_while(|n| *n < seen)
        .map(|n| 1.0 / n)
        .sum();
    let told = (sizes as f64 - 1.0).max(0.0) / harmonic.max(1.0);
    told + 1.0 / (1.0 + seen)
}

/// The chance that a need takes yet one more piece: of the pieces seen those that were not the first of their need, and before any
/// was seen one in three.
fn one_more(pieces: f64, needs: f64) -> f64 {
    (0.5 + pieces - needs) / (1.5 + pieces)
}

/// Sizes where each piece brings one more with the chance `on`: geometric, of all distributions with one mean the widest spread. In at
/// most [`MOST_SPREAD`] steps.
fn spread(on: f64) -> Vec<(u32, f64)> {
    // Longer ones come once in a thousand needs.
    let longest = (1e-3_f64.ln() / on.ln()).ceil().max(1.0);
    let step = (longest / MOST_SPREAD).ceil();
    let mut spread = Vec::new();
    let (mut from, mut left) = (0.0, 1.0);
    while from < longest {
        let next = left * on.powf(step);
        let pieces = (from + 0.5 * (step + 1.0)).round();
        spread.push((pieces as u32, left - next));
        (from, left) = (from + step, next);
    }
    if let Some((_, share)) = spread.last_mut() {
        *share += left;
    }
    spread
}
