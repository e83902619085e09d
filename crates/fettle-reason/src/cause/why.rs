//! What speaks for a fault and what against, and whether the whole hangs together.

use std::collections::HashMap;

use super::belief::Belief;
use super::eliminate::Tangled;
use super::evidence::Evidence;
use super::network::{CauseAt, Network, SignAt};
use crate::lots::Lots;

/// Draws with which the evidence is compared.
const DRAWS: usize = 200;
/// Evidence that is less likely than all but this part of the draws hangs together badly.
const UNLIKE: f64 = 0.01;

/// One thing known about the camera.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Item {
    Sign(SignAt),
    Cause(CauseAt),
}

impl Evidence {
    pub(crate) fn items(&self) -> Vec<Item> {
        let signs = (0..self.signs.len())
            .filter(|at| self.signs[*at].is_some())
            .map(Item::Sign);
        let causes = (0..self.causes.len())
            .filter(|at| self.causes[*at].is_some())
            .map(Item::Cause);
        causes.chain(signs).collect()
    }

    pub(crate) fn without(&self, item: Item) -> Self {
        let mut without = self.clone();
        match item {
            Item::Sign(at) => without.signs[at] = None,
            Item::Cause(at) => without.causes[at] = None,
        }
        without
    }
}

/// The weight of each piece of evidence for a fault: by how much it raises log2 of the odds when everything else is known (Good,
/// *Probability and the Weighing of Evidence*, 1950). Infinite where it alone decides.
pub(crate) fn weights(
    network: &Network,
    evidence: &Evidence,
    fault: CauseAt,
) -> Result<Vec<(Item, f64)>, Tangled> {
    let whole = log_odds(network, evidence, fault)?;
    let items = evidence
        .items()
        .into_iter()
        .filter(|item| *item != Item::Cause(fault));
    items
        .map(|item| {
            Ok((
                item,
                whole - log_odds(network, &evidence.without(item), fault)?,
            ))
        })
        .filter(|weighed| {
            weighed.as_ref().is_ok_and(|(_, weight)| !weight.is_nan()) || weighed.is_err()
        })
        .collect()
}

fn log_odds(network: &Network, evidence: &Evidence, fault: CauseAt) -> Result<f64, Tangled> {
    let weights = Belief::reaching(network, evidence, [fault])?.weights(&[]);
    let present = weights.present[fault];
    Ok((present / (weights.total - present).max(0.0)).log2())
}

/// Pieces of evidence that cannot all be true, as few as leaving out one after the other finds.
pub(crate) fn impossible(network: &Network, evidence: &Evidence) -> Result<Vec<Item>, Tangled> {
    let mut left = evidence.clone();
    for item in evidence.items() {
        let without = left.without(item);
        if Belief::reaching(network, &without, [])?.total(&[]) <= 0.0 {
            left = without;
        }
    }
    Ok(left.items())
}

/// How unlike the model the signs are: the part of cameras drawn from the model, with the same known causes and the same signs looked
/// for, of which at least one is there, whose answers are as improbable as these.
///
/// Only looked into when the answers contradict each other by the conflict measure `log2 Π P(e_i) / P(e)` (Jensen, Chamberlain,
/// Nordahl & Jensen, 1991); `None` otherwise.
pub(crate) fn unlike(network: &Network, evidence: &Evidence) -> Result<Option<f64>, Tangled> {
    let mut causes_only = evidence.clone();
    causes_only.signs.fill(None);
    let known = Belief::reaching(network, &causes_only, [])?.total(&[]);
    let looked: Vec<SignAt> = (0..network.signs.len())
        .filter(|at| evidence.signs[*at].is_some())
        .collect();
    let total = Belief::reaching(network, evidence, [])?.total(&[]) / known;
    let mut apart = 1.0;
    for sign in &looked {
        let mut alone = causes_only.clone();
        alone.signs[*sign] = evidence.signs[*sign];
        alone.cured_before[*sign].clone_from(&evidence.cured_before[*sign]);
        apart *= Belief::reaching(network, &alone, [])?.total(&[]) / known;
    }
    if looked.len() < 2 || apart <= total {
        return Ok(None);
    }
    let mut lots = Lots::of(0x5EED);
    let (mut as_unlikely, mut drawn) = (0, 0);
    // The same answers are often drawn again.
    let mut reckoned: HashMap<Vec<Option<bool>>, bool> = HashMap::new();
    for _ in 0..DRAWS {
        let Some(answers) = draw(network, evidence, &looked, &mut lots) else {
            continue;
        };
        drawn += 1;
        let is_as_unlikely = match reckoned.get(&answers.signs) {
            Some(known) => *known,
            None => {
                let this = Belief::reaching(network, &answers, [])?.total(&[]) / known;
                reckoned.insert(answers.signs, this <= total);
                this <= total
            }
        };
        as_unlikely += usize::from(is_as_unlikely);
        // However the rest falls, the part is no longer small.
        if as_unlikely as f64 > UNLIKE * DRAWS as f64 {
            return Ok(None);
        }
    }
    Ok((drawn > DRAWS / 4)
        .then(|| as_unlikely as f64 / drawn as f64)
        .filter(|part| *part <= UNLIKE))
}

/// Answers of a camera drawn from the model; `None` when no sign shows, for such a camera is not sent in.
fn draw(
    network: &Network,
    evidence: &Evidence,
    looked: &[SignAt],
    lots: &mut Lots,
) -> Option<Evidence> {
    let mut present = vec![false; network.causes.len()];
    for at in &network.order {
        let absent = network.causes[*at].absent(|cause| present[cause]);
        let drawn = lots.next() >= absent;
        present[*at] = evidence.causes[*at].unwrap_or(drawn);
    }
    let mut answers = evidence.clone();
    for sign in looked {
        let chances = network.signs[*sign].without(&evidence.cured_before[*sign]);
        answers.signs[*sign] = Some(lots.next() >= chances.absent(|cause| present[cause]));
    }
    looked
        .iter()
        .any(|sign| answers.signs[*sign] == Some(true))
        .then_some(answers)
}

#[cfg(test)]
mod tests {
    use super::super::fixture::random;
    use super::*;

    /// The same with every draw reckoned.
    fn plainly(network: &Network, evidence: &Evidence) -> Option<f64> {
        let of = |evidence: &Evidence| {
            let mut belief = Belief::reaching(network, evidence, []).unwrap();
            belief.total(&[])
        };
        let mut causes_only = evidence.clone();
        causes_only.signs.fill(None);
        let known = of(&causes_only);
        let looked: Vec<SignAt> = (0..network.signs.len())
            .filter(|at| evidence.signs[*at].is_some())
            .collect();
        let total = of(evidence) / known;
        let alone = looked.iter().map(|sign| {
            let mut alone = causes_only.clone();
            alone.signs[*sign] = evidence.signs[*sign];
            of(&alone) / known
        });
        if looked.len() < 2 || alone.product::<f64>() <= total {
            return None;
        }
        let mut lots = Lots::of(0x5EED);
        let drawn: Vec<f64> = (0..DRAWS)
            .filter_map(|_| draw(network, evidence, &looked, &mut lots))
            .map(|answers| of(&answers) / known)
            .collect();
        let as_unlikely = drawn.iter().filter(|this| **this <= total).count();
        let part = as_unlikely as f64 / drawn.len() as f64;
        (drawn.len() > DRAWS / 4 && part <= UNLIKE).then_some(part)
    }

    #[test]
    fn draws_left_out_change_nothing() {
        let (mut unlikely, mut likely) = (0, 0);
        for seed in 0..150 {
            let mut lots = Lots::of(500 + seed);
            let network = random(&mut lots, 2, 7, 9);
            let mut evidence = Evidence::none(&network);
            for known in &mut evidence.signs {
                *known = lots.pick(&[None, Some(true), Some(true), Some(false)]);
            }
            evidence.causes[4] = lots.pick(&[None, Some(true)]);
            let want = plainly(&network, &evidence);
            assert_eq!(unlike(&network, &evidence), Ok(want), "seed {seed}");
            *if want.is_some() {
                &mut unlikely
            } else {
                &mut likely
            } += 1;
        }
        assert!(unlikely > 5 && likely > 5, "{unlikely} {likely}");
    }
}
