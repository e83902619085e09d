//! What is believed, and what it becomes with one more answer.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use super::belief::{Absent, Belief, Weights};
use super::evidence::Evidence;
use super::network::{CauseAt, Network, SignAt};

/// A belief over the causes that can be asked what one more answer would make of it.
pub(crate) trait Mind: Sized {
    /// The chance of each cause not yet settled; 0 for settled ones, so that nothing more is paid for them.
    fn open(&self) -> &[f64];
    /// Chances of no and yes to a sign, and the belief after each; `None` for an answer that cannot be.
    fn look(&self, sign: SignAt) -> [Option<(f64, Self)>; 2];
    /// Chances that a cause proves absent or present and is cured, and the belief after each.
    fn settle(&self, cause: CauseAt) -> [Option<(f64, Self)>; 2];
}

/// Exact beliefs by sums over the network.
#[derive(Clone)]
pub(crate) struct Exact<'n> {
    sums: Rc<RefCell<Sums<'n>>>,
    /// Supposed answers no, and yes.
    no: Vec<Absent>,
    yes: Vec<Absent>,
    weights: Rc<Weights>,
    open: Vec<f64>,
    settled: Vec<bool>,
    cured: Vec<CauseAt>,
}

struct Sums<'n> {
    belief: Belief<'n>,
    /// Weights by the answers no.
    known: HashMap<Vec<Absent>, Rc<Weights>>,
}

impl Sums<'_> {
    fn of(&mut self, mut no: Vec<Absent>) -> Rc<Weights> {
        no.sort_unstable();
        if let Some(known) = self.known.get(&no) {
            return Rc::clone(known);
        }
        let weights = Rc::new(self.belief.weights(&no));
        self.known.insert(no, Rc::clone(&weights));
        weights
    }

    /// With answers yes too: each is the whole less its no.
    fn with(&mut self, no: &[Absent], yes: &[Absent]) -> Rc<Weights> {
        let Some((last, others)) = yes.split_last() else {
            return self.of(no.to_vec());
        };
        let whole = self.with(no, others);
        let mut without = no.to_vec();
        without.push(last.clone());
        Rc::new(whole.less(&self.with(&without, others)))
    }
}

impl<'n> Exact<'n> {
    /// From the belief and its weights; `None` when the evidence cannot be.
    pub(crate) fn of(
        belief: Belief<'n>,
        weights: Rc<Weights>,
        evidence: &Evidence,
    ) -> Option<Self> {
        let known = HashMap::from([(Vec::new(), Rc::clone(&weights))]);
        let mut settled: Vec<bool> = evidence
            .causes
            .iter()
            .map(|known| *known == Some(false))
            .collect();
        for cause in &evidence.cured {
            settled[*cause] = true;
        }
        let open = unsettled(&weights, &settled)?;
        Some(Self {
            sums: Rc::new(RefCell::new(Sums { belief, known })),
            no: Vec::new(),
            yes: Vec::new(),
            weights,
            open,
            settled,
            cured: evidence.cured.clone(),
        })
    }

    fn answers(&self, answer: &Absent, settles: Option<CauseAt>) -> [Option<(f64, Self)>; 2] {
        let whole = &self.weights;
        let after = |there: bool| {
            let mut next = self.clone();
            if there { &mut next.yes } else { &mut next.no }.push(answer.clone());
            next.weights = self.sums.borrow_mut().with(&next.no, &next.yes);
            if let Some(cause) = settles {
                next.settled[cause] = true;
                if there {
                    next.cured.push(cause);
                }
            }
            let chance = next.weights.total / whole.total;
            // What is left of a difference of nearly equal sums says nothing.
            if chance < 1e-9 {
                return None;
            }
            next.open = unsettled(&next.weights, &next.settled)?;
            Some((chance, next))
        };
        [after(false), after(true)]
    }
}

fn unsettled(weights: &Weights, settled: &[bool]) -> Option<Vec<f64>> {
    let mut chances = weights.chances()?;
    for (chance, settled) in chances.iter_mut().zip(settled) {
        if *settled {
            *chance = 0.0;
        }
    }
    Some(chances)
}

impl Mind for Exact<'_> {
    fn open(&self) -> &[f64] {
        &self.open
    }

    fn look(&self, sign: SignAt) -> [Option<(f64, Self)>; 2] {
        self.answers(&Absent::Sign(sign, self.cured.clone()), None)
    }

    fn settle(&self, cause: CauseAt) -> [Option<(f64, Self)>; 2] {
        self.answers(&Absent::Cause(cause), Some(cause))
    }
}

/// A belief as a list of whole cameras with their weights: all there can be, for small networks, or a sample.
#[derive(Debug, Clone)]
pub(crate) struct Listed<'n> {
    network: &'n Network,
    /// Which causes are present, one bit each; at most 128 causes.
    states: Rc<Vec<u128>>,
    weights: Vec<f64>,
    open: Vec<f64>,
    settled: u128,
    cured: u128,
}

impl<'n> Listed<'n> {
    /// `None` when no weight is left.
    pub(crate) fn of(
        network: &'n Network,
        states: Vec<u128>,
        weights: Vec<f64>,
        settled: u128,
        cured: u128,
    ) -> Option<Self> {
        let open = vec![0.0; network.causes.len()];
        Self {
            network,
            states: Rc::new(states),
            weights,
            open,
            settled,
            cured,
        }
        .normalised()
        .map(|(_, mind)| mind)
    }

    /// Weights brought to the sum 1, and what the sum was.
    fn normalised(mut self) -> Option<(f64, Self)> {
        let total: f64 = self.weights.iter().sum();
        if total.is_nan() || total <= 0.0 {
            return None;
        }
        self.open.fill(0.0);
        for (state, weight) in self.states.iter().zip(&mut self.weights) {
            *weight /= total;
            let mut bits = *state & !self.settled;
            while bits != 0 {
                self.open[bits.trailing_zeros() as usize] += *weight;
                bits &= bits - 1;
            }
        }
        Some((total, self))
    }

    fn reweighed(&self, factor: impl Fn(u128) -> f64) -> Self {
        let weights = self
            .states
            .iter()
            .zip(&self.weights)
            .map(|(state, weight)| weight * factor(*state));
        Self {
            weights: weights.collect(),
            ..self.clone()
        }
    }

    /// Which causes are settled, and which of them cured.
    #[cfg(test)]
    pub(crate) const fn settled(&self) -> (u128, u128) {
        (self.settled, self.cured)
    }

    /// Weights of the states.
    #[cfg(test)]
    pub(crate) fn weighed(&self) -> impl Iterator<Item = (u128, f64)> + '_ {
        self.states
            .iter()
            .copied()
            .zip(self.weights.iter().copied())
    }
}

impl Mind for Listed<'_> {
    fn open(&self) -> &[f64] {
        &self.open
    }

    fn look(&self, sign: SignAt) -> [Option<(f64, Self)>; 2] {
        let chances = &self.network.signs[sign];
        let absent = |state: u128| chances.absent(|cause| (state & !self.cured) >> cause & 1 == 1);
        [
            self.reweighed(absent).normalised(),
            self.reweighed(|state| 1.0 - absent(state)).normalised(),
        ]
    }

    fn settle(&self, cause: CauseAt) -> [Option<(f64, Self)>; 2] {
        let bit = 1_u128 << cause;
        let has = |state: u128| f64::from(u8::from(state & bit != 0));
        let mut absent = self.reweighed(|state| 1.0 - has(state));
        absent.settled |= bit;
        let mut present = self.reweighed(has);
        present.settled |= bit;
        present.cured |= bit;
        [absent.normalised(), present.normalised()]
    }
}
