//! Cameras drawn by lot as the evidence allows, for networks too tangled for exact work.

use super::evidence::Evidence;
use super::network::{CauseAt, Chances, Network};
use crate::lots::Lots;

/// Sweeps thrown away at first, and kept.
const WARMING: usize = 500;
const SWEEPS: usize = 6000;
/// Independent chains; what they disagree in is the stated error.
const CHAINS: usize = 6;
/// States kept of all chains together, evenly spread.
const KEPT: usize = 3000;

/// What the sampling says.
#[derive(Debug, Clone)]
pub(crate) struct Sample {
    /// The chance of each cause.
    pub(crate) chances: Vec<f64>,
    /// Standard error of the worst of them.
    pub(crate) error: f64,
    /// Cameras drawn, one bit for each cause.
    pub(crate) states: Vec<u128>,
}

/// Draws cameras by Gibbs sampling with exchanges (Geman & Geman, IEEE PAMI 6 (1984) 721): each cause in turn by its chance given all
/// others, and now and then two causes of one sign change places, which single steps would seldom bring about.
///
/// `None` for more than 128 causes, or when no camera agrees with the evidence at the start.
pub(crate) fn sample(network: &Network, evidence: &Evidence) -> Option<Sample> {
    if network.causes.len() > 128 {
        return None;
    }
    let walk = Walk::of(network, evidence);
    let mut sums: Vec<Vec<f64>> = Vec::new();
    let mut states = Vec::new();
    let stride = (CHAINS * SWEEPS).div_ceil(KEPT);
    for chain in 0..CHAINS {
        let mut lots = Lots::of(0xF377 + chain as u64);
        let mut state = walk.start(&mut lots)?;
        let mut sum = vec![0.0; network.causes.len()];
        for sweep in 0..WARMING + SWEEPS {
            let counts = sweep >= WARMING;
            walk.sweep(&mut state, &mut lots, |cause, chance| {
                if counts {
                    sum[cause] += chance / SWEEPS as f64;
                }
            });
            walk.exchange(&mut state, &mut lots);
            if counts && sweep % stride == 0 {
                states.push(state);
            }
        }
        sums.push(sum);
    }
    let mean = |cause: usize| sums.iter().map(|sum| sum[cause]).sum::<f64>() / CHAINS as f64;
    let spread = |cause: usize| {
        let mean = mean(cause);
        let square: f64 = sums.iter().map(|sum| (sum[cause] - mean).powi(2)).sum();
        (square / (CHAINS * (CHAINS - 1)) as f64).sqrt()
    };
    let all = 0..network.causes.len();
    let known = |cause: usize| evidence.causes[cause].map(|there| f64::from(u8::from(there)));
    Some(Sample {
        chances: all
            .clone()
            .map(|cause| known(cause).unwrap_or_else(|| mean(cause)))
            .collect(),
        error: all
            .filter(|cause| known(*cause).is_none())
            .map(spread)
            .fold(0.0, f64::max),
        states,
    })
}

struct Walk<'n> {
    network: &'n Network,
    free: Vec<CauseAt>,
    fixed: u128,
    /// What each cause bears on: causes by chance and answered signs.
    children: Vec<Vec<CauseAt>>,
    signs: Vec<(Chances, bool)>,
    shows: Vec<Vec<usize>>,
}

impl<'n> Walk<'n> {
    fn of(network: &'n Network, evidence: &Evidence) -> Self {
        let count = network.causes.len();
        let mut walk = Walk {
            network,
            free: (0..count)
                .filter(|at| evidence.causes[*at].is_none())
                .collect(),
            fixed: (0..count)
                .filter(|at| evidence.causes[*at] == Some(true))
                .fold(0, |bits, at| bits | 1 << at),
            children: vec![Vec::new(); count],
            signs: Vec::new(),
            shows: vec![Vec::new(); count],
        };
        for (child, cause) in network.causes.iter().enumerate() {
            for (parent, _) in &cause.links {
                walk.children[*parent].push(child);
            }
        }
        for (at, sign) in network.signs.iter().enumerate() {
            if let Some(there) = evidence.signs[at] {
                let chances = sign.without(&evidence.cured_before[at]);
                for (cause, _) in &chances.links {
                    walk.shows[*cause].push(walk.signs.len());
                }
                walk.signs.push((chances, there));
            }
        }
        walk
    }

    /// A camera that can be: every sign that is there has a cause that shows it.
    fn start(&self, lots: &mut Lots) -> Option<u128> {
        for _ in 0..100 {
            let mut state = self.fixed;
            for (chances, there) in &self.signs {
                let free: Vec<CauseAt> = chances
                    .links
                    .iter()
                    .map(|(cause, _)| *cause)
                    .filter(|cause| self.free.contains(cause))
                    .collect();
                if *there && !free.is_empty() && lots.next() < 0.9 {
                    state |= 1 << free[lots.below(free.len())];
                }
            }
            if self.weight(state) > 0.0 {
                return Some(state);
            }
        }
        None
    }

    fn cause(&self, at: CauseAt, state: u128) -> f64 {
        let absent = self.network.causes[at].absent(|cause| state >> cause & 1 == 1);
        if state >> at & 1 == 1 {
            1.0 - absent
        } else {
            absent
        }
    }

    fn sign(&self, at: usize, state: u128) -> f64 {
        let (chances, there) = &self.signs[at];
        let absent = chances.absent(|cause| state >> cause & 1 == 1);
        if *there { 1.0 - absent } else { absent }
    }

    fn weight(&self, state: u128) -> f64 {
        let causes: f64 = (0..self.network.causes.len())
            .map(|at| self.cause(at, state))
            .product();
        causes
            * (0..self.signs.len())
                .map(|at| self.sign(at, state))
                .product::<f64>()
    }

    /// The part of the weight that a cause bears on.
    fn around(&self, cause: CauseAt, state: u128) -> f64 {
        let children: f64 = self.children[cause]
            .iter()
            .map(|at| self.cause(*at, state))
            .product();
        let signs: f64 = self.shows[cause]
            .iter()
            .map(|at| self.sign(*at, state))
            .product();
        self.cause(cause, state) * children * signs
    }

    fn sweep(&self, state: &mut u128, lots: &mut Lots, mut told: impl FnMut(CauseAt, f64)) {
        for cause in &self.free {
            let bit = 1_u128 << cause;
            let (with, without) = (
                self.around(*cause, *state | bit),
                self.around(*cause, *state & !bit),
            );
            let chance = if with + without > 0.0 {
                with / (with + without)
            } else {
                0.5
            };
            told(*cause, chance);
            if lots.next() < chance {
                *state |= bit;
            } else {
                *state &= !bit;
            }
        }
    }

    /// Two causes of one sign, one there and one not, change places with the chance of Metropolis.
    fn exchange(&self, state: &mut u128, lots: &mut Lots) {
        for (chances, there) in &self.signs {
            let links = &chances.links;
            if !there || links.len() < 2 {
                continue;
            }
            let (a, b) = (
                links[lots.below(links.len())].0,
                links[lots.below(links.len())].0,
            );
            let swapped = *state ^ (1 << a) ^ (1 << b);
            let differ = (*state >> a & 1) != (*state >> b & 1);
            if a == b || !differ || !self.free.contains(&a) || !self.free.contains(&b) {
                continue;
            }
            let (now, then) = (self.weight(*state), self.weight(swapped));
            if then >= now * lots.next() && then > 0.0 {
                *state = swapped;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::belief::Belief;
    use super::super::fixture::random;
    use super::super::order::Care;
    use super::*;

    #[test]
    fn sampled_chances_lie_within_their_stated_error() {
        for seed in 0..8 {
            let mut lots = Lots::of(300 + seed);
            let network = random(&mut lots, 3, 12, 14);
            let mut evidence = Evidence::none(&network);
            for sign in 0..4 {
                evidence.observe(sign, sign % 2 == 0);
            }
            let sample = sample(&network, &evidence).unwrap();
            let exact = Belief::of(&network, &evidence, Care::Little)
                .unwrap()
                .weights(&[])
                .chances()
                .unwrap();
            let worst = sample
                .chances
                .iter()
                .zip(&exact)
                .map(|(got, want)| (got - want).abs())
                .fold(0.0, f64::max);
            assert!(
                worst < 5.0 * sample.error + 1e-3,
                "seed {seed}: {worst} against {}",
                sample.error
            );
            assert!(sample.error < 0.02, "{}", sample.error);
        }
    }
}
