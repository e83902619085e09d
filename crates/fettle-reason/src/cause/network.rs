//! The causal network made ready for counting: causes and signs by number.

use std::collections::HashMap;

use fettle_notes::{NodeKind, ServiceNotes};

use super::evidence::UnknownName;

/// Which cause (circumstances first, then faults), counted from 0.
pub(crate) type CauseAt = usize;
/// Which sign, counted from 0.
pub(crate) type SignAt = usize;

/// The causal network of one model: circumstances bring on faults, faults bring on faults, faults show signs.
///
/// Every variable says yes or no. Links combine as noisy-OR with a leak:
/// `P(absent | parents) = (1 - leak) Π(1 - chance)` over the parents that are present (Pearl, *Probabilistic Reasoning in
/// Intelligent Systems*, 1988, §4.3.2).
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    pub(crate) names: Vec<String>,
    /// How many of the causes are circumstances.
    pub(crate) circumstances: usize,
    pub(crate) causes: Vec<Chances>,
    pub(crate) sign_names: Vec<String>,
    pub(crate) signs: Vec<Chances>,
    /// The causes so ordered that each comes after all that bring it on.
    pub(crate) order: Vec<CauseAt>,
}

/// How likely a variable is, given the causes that bring it on.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chances {
    pub(crate) leak: f64,
    pub(crate) links: Vec<(CauseAt, f64)>,
}

impl Chances {
    /// The same without the links from some causes.
    pub(crate) fn without(&self, causes: &[CauseAt]) -> Self {
        let links = self
            .links
            .iter()
            .filter(|(cause, _)| !causes.contains(cause));
        Self {
            leak: self.leak,
            links: links.copied().collect(),
        }
    }

    /// Chance of absence when `present` tells which causes are there.
    pub(crate) fn absent(&self, present: impl Fn(CauseAt) -> bool) -> f64 {
        let links = self.links.iter().filter(|(cause, _)| present(*cause));
        links.fold(1.0 - self.leak, |absent, (_, chance)| {
            absent * (1.0 - chance)
        })
    }
}

impl Network {
    /// The network of a model's service notes.
    #[must_use]
    pub fn of(notes: &ServiceNotes) -> Self {
        let nodes = notes.network();
        let layer = |kind| nodes.iter().filter(move |node| node.kind == kind);
        let upper: Vec<_> = layer(NodeKind::Circumstance)
            .chain(layer(NodeKind::Fault))
            .collect();
        let place: HashMap<(NodeKind, &str), CauseAt> = upper
            .iter()
            .enumerate()
            .map(|(at, node)| ((node.kind, node.id.as_str()), at))
            .collect();
        let chances = |node: &fettle_notes::Node| Chances {
            leak: node.leak.to_f64(),
            links: node
                .parents
                .iter()
                .filter_map(|parent| {
                    let at = place.get(&(parent.kind, parent.id.as_str()))?;
                    Some((*at, parent.chance.to_f64()))
                })
                .collect(),
        };
        let signs: Vec<_> = layer(NodeKind::Sign).collect();
        Self::new(
            upper.iter().map(|node| node.id.clone()).collect(),
            layer(NodeKind::Circumstance).count(),
            upper.iter().map(|node| chances(node)).collect(),
            signs.iter().map(|node| node.id.clone()).collect(),
            signs.iter().map(|node| chances(node)).collect(),
        )
    }

    /// From its parts; links of causes do not run in a circle.
    pub(crate) fn new(
        names: Vec<String>,
        circumstances: usize,
        causes: Vec<Chances>,
        sign_names: Vec<String>,
        signs: Vec<Chances>,
    ) -> Self {
        let order = in_order(&causes);
        Self {
            names,
            circumstances,
            causes,
            sign_names,
            signs,
            order,
        }
    }

    /// The place of a circumstance.
    pub(crate) fn circumstance(&self, id: &str) -> Option<CauseAt> {
        self.names[..self.circumstances]
            .iter()
            .position(|name| name == id)
    }

    /// The place of a fault.
    pub(crate) fn fault(&self, id: &str) -> Option<CauseAt> {
        let at = self.names[self.circumstances..]
            .iter()
            .position(|name| name == id)?;
        Some(at + self.circumstances)
    }

    /// The same, or the refusal of a fault that the notes do not know.
    pub(crate) fn known_fault(&self, id: &str) -> Result<CauseAt, UnknownName> {
        let known = self.names[self.circumstances..].iter().map(String::as_str);
        self.fault(id)
            .ok_or_else(|| UnknownName::of("fault", id, known))
    }

    /// The place of a sign.
    pub(crate) fn sign(&self, id: &str) -> Option<SignAt> {
        self.sign_names.iter().position(|name| name == id)
    }
}

fn in_order(causes: &[Chances]) -> Vec<CauseAt> {
    let mut order = Vec::with_capacity(causes.len());
    let mut placed = vec![false; causes.len()];
    while order.len() < causes.len() {
        let before = order.len();
        for (at, cause) in causes.iter().enumerate() {
            if !placed[at] && cause.links.iter().all(|(parent, _)| placed[*parent]) {
                placed[at] = true;
                order.push(at);
            }
        }
        if order.len() == before {
            // The notes' check leaves no circle.
            break;
        }
    }
    order
}
