//! What is believed of one camera: chances of every cause and sign, given the evidence.

use super::eliminate::{Elimination, Tangled};
use super::evidence::Evidence;
use super::network::{CauseAt, Network, SignAt};
use super::order::Care;

/// Exact sums over one network and evidence, ready to be asked what further absent signs would change.
///
/// An absent sign only scales its causes' chances of presence, so that one order of elimination answers every combination of
/// looks; a present sign is the difference to the whole.
#[derive(Debug, Clone)]
pub(crate) struct Belief<'n> {
    network: &'n Network,
    evidence: &'n Evidence,
    sum: Elimination,
    /// Values of the tables without further answers; empty until they are asked for.
    whole: Vec<f64>,
    work: Vec<f64>,
    slopes: Vec<f64>,
}

/// A further answer that only scales: a sign or a cause that is not there.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Absent {
    /// A sign, looked for when these faults had been cured.
    Sign(SignAt, Vec<CauseAt>),
    /// A cause.
    Cause(CauseAt),
}

/// A sum and what each cause's presence has of it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Weights {
    /// Probability of the evidence.
    pub(crate) total: f64,
    /// Probability of the evidence and the cause together.
    pub(crate) present: Vec<f64>,
}

impl Weights {
    /// The chance of each cause; `None` when the evidence cannot be.
    pub(crate) fn chances(&self) -> Option<Vec<f64>> {
        (self.total > 0.0).then(|| {
            self.present
                .iter()
                .map(|weight| (weight / self.total).clamp(0.0, 1.0))
                .collect()
        })
    }

    /// What is left of the whole when a part is taken out.
    pub(crate) fn less(&self, part: &Self) -> Self {
        let left = |whole: f64, part: f64| (whole - part).max(0.0);
        Self {
            total: left(self.total, part.total),
            present: self
                .present
                .iter()
                .zip(&part.present)
                .map(|(whole, part)| left(*whole, *part))
                .collect(),
        }
    }
}

impl<'n> Belief<'n> {
    /// # Errors
    /// When the network is too tangled for exact work.
    pub(crate) fn of(
        network: &'n Network,
        evidence: &'n Evidence,
        care: Care,
    ) -> Result<Self, Tangled> {
        Self::with(network, evidence, 0..network.causes.len(), care)
    }

    /// The same, only as far as the wanted causes ask for; the others' chances are not told.
    pub(crate) fn reaching(
        network: &'n Network,
        evidence: &'n Evidence,
        wanted: impl IntoIterator<Item = CauseAt>,
    ) -> Result<Self, Tangled> {
        Self::with(network, evidence, wanted, Care::Little)
    }

    fn with(
        network: &'n Network,
        evidence: &'n Evidence,
        wanted: impl IntoIterator<Item = CauseAt>,
        care: Care,
    ) -> Result<Self, Tangled> {
        let sum = Elimination::of(network, evidence, wanted, care)?;
        Ok(Self {
            network,
            evidence,
            sum,
            whole: Vec::new(),
            work: Vec::new(),
            slopes: Vec::new(),
        })
    }

    /// Weights with further answers.
    pub(crate) fn weights(&mut self, absent: &[Absent]) -> Weights {
        let total = self.total(absent);
        let constant = self.constant(absent);
        self.sum
            .tape
            .backwards(&self.work, &mut self.slopes, &self.sum.bears);
        let present = (0..self.network.causes.len())
            .map(|at| match (self.evidence.causes[at], self.sum.alone[at]) {
                (Some(true), _) => total,
                (_, Some(input)) => {
                    constant * self.sum.tape.weight_of(input, 1, &self.work, &self.slopes)
                }
                _ => 0.0,
            })
            .collect();
        Weights { total, present }
    }

    /// Probability of the evidence with further answers.
    pub(crate) fn total(&mut self, absent: &[Absent]) -> f64 {
        let mut factors = Vec::new();
        for one in absent {
            match one {
                Absent::Sign(sign, cured) => {
                    for (cause, chance) in &self.network.signs[*sign].links {
                        if let Some(input) =
                            self.sum.alone[*cause].filter(|_| !cured.contains(cause))
                        {
                            factors.push((input, 1.0 - chance));
                        }
                    }
                }
                Absent::Cause(cause) => {
                    factors.extend(self.sum.alone[*cause].map(|input| (input, 0.0)));
                }
            }
        }
        if self.whole.is_empty() {
            self.sum.tape.forwards(&mut self.whole);
        }
        self.sum.tape.again(&self.whole, &mut self.work, &factors);
        self.constant(absent) * self.sum.tape.value(&self.work)
    }

    /// What the known causes and the leaks have of the further answers.
    fn constant(&self, absent: &[Absent]) -> f64 {
        let of = |one: &Absent| match one {
            Absent::Sign(sign, cured) => self.network.signs[*sign].absent(|cause| {
                self.evidence.causes[cause] == Some(true) && !cured.contains(&cause)
            }),
            Absent::Cause(cause) => f64::from(self.evidence.causes[*cause] != Some(true)),
        };
        absent.iter().map(of).product()
    }
}

#[cfg(test)]
mod tests {
    use super::super::fixture::random;
    use super::*;
    use crate::lots::Lots;

    /// Weights by going through every combination of causes.
    fn enumerated(network: &Network, evidence: &Evidence) -> Weights {
        let count = network.causes.len();
        let mut weights = Weights {
            total: 0.0,
            present: vec![0.0; count],
        };
        for state in 0..1_u32 << count {
            let present = |at: CauseAt| state >> at & 1 == 1;
            let agrees = |at: CauseAt| evidence.causes[at].is_none_or(|known| known == present(at));
            if !(0..count).all(agrees) {
                continue;
            }
            let mut chance = 1.0;
            for (at, cause) in network.causes.iter().enumerate() {
                let absent = cause.absent(present);
                chance *= if present(at) { 1.0 - absent } else { absent };
            }
            for ((sign, known), cured) in network
                .signs
                .iter()
                .zip(&evidence.signs)
                .zip(&evidence.cured_before)
            {
                let absent = sign.without(cured).absent(present);
                chance *= known.map_or(1.0, |there| if there { 1.0 - absent } else { absent });
            }
            weights.total += chance;
            for (at, weight) in weights.present.iter_mut().enumerate() {
                *weight += if present(at) { chance } else { 0.0 };
            }
        }
        weights
    }

    fn assert_same(got: &Weights, want: &Weights, seed: u64) {
        assert!(
            (got.total - want.total).abs() <= 1e-12 * want.total,
            "seed {seed}: {got:?} {want:?}"
        );
        if want.total == 0.0 {
            return;
        }
        for (got, want) in got.present.iter().zip(&want.present) {
            assert!(
                (got - want).abs() / got.max(*want).max(1e-300) < 1e-9
                    || (got - want).abs() < 1e-15,
                "seed {seed}: {got} {want}"
            );
        }
    }

    #[test]
    fn chances_are_those_of_going_through_every_combination() {
        for seed in 0..300 {
            let mut lots = Lots::of(seed);
            let network = random(&mut lots, 3, 8, 9);
            let mut evidence = Evidence::none(&network);
            for known in &mut evidence.signs {
                *known = lots.pick(&[None, None, Some(true), Some(false)]);
            }
            for known in &mut evidence.causes {
                *known = lots.pick(&[None, None, None, None, None, Some(true), Some(false)]);
            }
            let got = Belief::of(&network, &evidence, Care::Little)
                .unwrap()
                .weights(&[]);
            assert_same(&got, &enumerated(&network, &evidence), seed);
        }
    }

    #[test]
    fn further_absent_signs_need_no_new_order() {
        for seed in 0..100 {
            let mut lots = Lots::of(1000 + seed);
            let network = random(&mut lots, 2, 7, 8);
            let mut evidence = Evidence::none(&network);
            evidence.signs[0] = Some(true);
            evidence.signs[1] = Some(false);
            evidence.causes[3] = lots.pick(&[None, Some(true)]);
            let before = evidence.clone();
            let got = Belief::of(&network, &before, Care::Much)
                .unwrap()
                .weights(&[Absent::Sign(4, Vec::new()), Absent::Sign(5, vec![3])]);
            evidence.observe(4, false);
            evidence.cured = vec![3];
            evidence.observe(5, false);
            let want = enumerated(&network, &evidence);
            assert_same(&got, &want, seed);
        }
    }

    #[test]
    fn what_the_question_does_not_reach_is_left_out() {
        let mut lots = Lots::of(5);
        let network = random(&mut lots, 2, 9, 6);
        let mut evidence = Evidence::none(&network);
        evidence.signs[2] = Some(true);
        let whole = Belief::of(&network, &evidence, Care::Little)
            .unwrap()
            .total(&[]);
        let mut part = Belief::reaching(&network, &evidence, []).unwrap();
        assert!((part.total(&[]) - whole).abs() < 1e-14);
        assert!(
            part.sum.tape.cost
                < Belief::of(&network, &evidence, Care::Little)
                    .unwrap()
                    .sum
                    .tape
                    .cost
        );
    }

    #[test]
    fn what_cannot_be_has_no_weight() {
        let mut network = random(&mut Lots::of(9), 2, 4, 3);
        network.signs[0].leak = 0.0;
        let mut evidence = Evidence::none(&network);
        evidence.signs[0] = Some(true);
        for at in 0..network.causes.len() {
            evidence.causes[at] = Some(false);
        }
        let weights = Belief::of(&network, &evidence, Care::Little)
            .unwrap()
            .weights(&[]);
        assert!(weights.total.abs() < f64::MIN_POSITIVE);
        assert_eq!(weights.chances(), None);
    }
}
