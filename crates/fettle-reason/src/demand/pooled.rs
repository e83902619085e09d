//! A prior from like parts.

use std::collections::BTreeMap;

use statrs::function::gamma::ln_gamma;

use super::history::History;
use super::prior::{Prior, SizeShare};

/// With fewer parts, or fewer needs in all, nothing is pooled.
const FEWEST_PARTS: usize = 3;
const FEWEST_NEEDS: usize = 3;
/// How much parts differ is known before any is seen: a shape about that of the default prior, its logarithm with this standard
/// deviation.
const SHAPE_SPREAD: f64 = 1.0;
/// Shapes searched: parts as unlike as can be to all alike.
const LEAST_SHAPE: f64 = 0.05;
const MOST_SHAPE: f64 = 50.0;
/// Halvings (by the golden section) of a search.
const GOLDEN_STEPS: usize = 40;

impl Prior {
    /// The prior that other, like parts suggest: the Gamma distribution of their rates under which what was used of them is likeliest
    /// (empirical Bayes: Robbins 1956; the marginal distribution of the needs is negative binomial), the shape held near the
    /// default's, and widened by what so few parts leave uncertain of the mean rate (after Morris 1983). Sizes are those of their
    /// needs.
    ///
    /// The part itself must not be among them. With fewer than 3 parts watched or 3 needs seen the default stands.
    #[must_use]
    pub fn pooled(others: &[&History]) -> Self {
        let watched = others.iter().filter(|part| part.years() > 0.0);
        let seen: Vec<(f64, f64)> = watched
            .map(|part| (part.needs().len() as f64, part.years()))
            .collect();
        let needs: f64 = seen.iter().map(|(needs, _)| needs).sum();
        if seen.len() < FEWEST_PARTS || needs < FEWEST_NEEDS as f64 {
            return Self::default();
        }
        let log_shape = highest(LEAST_SHAPE.ln(), MOST_SHAPE.ln(), |log_shape| {
            let shape = log_shape.exp();
            log_likelihood(&seen, shape, mean_rate(&seen, shape)) + log_belief(shape)
        });
        let shape = log_shape.exp();
        let mean = mean_rate(&seen, shape);
        // Fisher information on the logarithm of the mean rate.
        let told = seen
            .iter()
            .map(|(_, years)| shape * mean * years / (shape + mean * years));
        let shape = 1.0 / (1.0 / shape + 1.0 / told.sum::<f64>());
        Self {
            shape,
            years: shape / mean,
            sizes: sizes(others),
            parts: seen.len(),
        }
    }
}

/// The likeliest mean rate for a shape.
fn mean_rate(seen: &[(f64, f64)], shape: f64) -> f64 {
    let rates = seen.iter().map(|(needs, years)| needs / years);
    let most = rates.fold(f64::MIN_POSITIVE, f64::max);
    let least = seen.iter().map(|(needs, _)| needs).sum::<f64>()
        / seen.iter().map(|(_, years)| years).sum::<f64>();
    // The likeliest mean is an average of the parts' rates; the pooled rate is one such, and none is far below it.
    highest((0.01 * least).ln(), most.ln().max(least.ln()), |log_mean| {
        log_likelihood_of_mean(seen, shape, log_mean.exp())
    })
    .exp()
}

fn log_likelihood(seen: &[(f64, f64)], shape: f64, mean: f64) -> f64 {
    let of_counts = seen
        .iter()
        .map(|(needs, _)| ln_gamma(shape + needs) - ln_gamma(shape));
    of_counts.sum::<f64>() + log_likelihood_of_mean(seen, shape, mean)
}

/// The part of it that depends on the mean.
fn log_likelihood_of_mean(seen: &[(f64, f64)], shape: f64, mean: f64) -> f64 {
    let one = |(needs, years): &(f64, f64)| {
        let expected = mean * years;
        shape * (shape / (shape + expected)).ln() + needs * (expected / (shape + expected)).ln()
    };
    seen.iter().map(one).sum()
}

fn log_belief(shape: f64) -> f64 {
    let off = (shape / Prior::default().shape).ln() / SHAPE_SPREAD;
    -0.5 * off * off
}

/// Where a function with one top is highest, by the golden section.
fn highest(mut low: f64, mut high: f64, of: impl Fn(f64) -> f64) -> f64 {
    let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut a, mut b) = (high - ratio * (high - low), low + ratio * (high - low));
    let (mut at_a, mut at_b) = (of(a), of(b));
    for _ in 0..GOLDEN_STEPS {
        if at_a > at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - ratio * (high - low);
            at_a = of(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + ratio * (high - low);
            at_b = of(b);
        }
    }
    f64::midpoint(low, high)
}

fn sizes(parts: &[&History]) -> Vec<SizeShare> {
    let mut counts: BTreeMap<u32, f64> = BTreeMap::new();
    for need in parts.iter().flat_map(|part| part.needs()) {
        *counts.entry(need.quantity).or_default() += 1.0;
    }
    let all: f64 = counts.values().sum();
    let share = |(pieces, count): (u32, f64)| SizeShare {
        pieces,
        share: count / all,
    };
    counts.into_iter().map(share).collect()
}
