//! The notes' causal network: circumstances, faults, signs.

use serde::Serialize;

use crate::model::{Chance, Origin, ServiceNotes, words};

words! {
    /// Layer of the causal network.
    NodeKind {
        /// What made faults likely.
        Circumstance = "circumstance",
        /// What is wrong.
        Fault = "fault",
        /// What is observed.
        Sign = "sign",
    }
}

/// One yes-or-no variable of the causal network.
///
/// `P(absent | parents) = (1 - leak) Π(1 - chance)` over the parents that are present.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Node {
    /// Its id, unique within its kind.
    pub id: String,
    /// Its layer.
    pub kind: NodeKind,
    /// Chance that it is there with none of its parents.
    pub leak: Chance,
    /// What brings it on or shows it.
    pub parents: Vec<Parent>,
}

/// One arrow of the causal network.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Parent {
    /// Where it comes from.
    pub id: String,
    /// Layer of where it comes from.
    pub kind: NodeKind,
    /// Chance that it alone brings the node on.
    pub chance: Chance,
}

impl ServiceNotes {
    /// The causal network: circumstances, then faults, then signs, each in the file's order.
    #[must_use]
    pub fn network(&self) -> Vec<Node> {
        let circumstances = self.circumstances.iter().map(|(id, circumstance)| Node {
            id: id.to_string(),
            kind: NodeKind::Circumstance,
            leak: circumstance.chance,
            parents: Vec::new(),
        });
        let faults = self.faults.iter().map(|(id, fault)| Node {
            id: id.to_string(),
            kind: NodeKind::Fault,
            leak: fault.leak,
            parents: fault
                .brought_on_by
                .iter()
                .map(Parent::from_origin)
                .collect(),
        });
        let signs = self.signs.iter().map(|(id, sign)| Node {
            id: id.to_string(),
            kind: NodeKind::Sign,
            leak: sign.leak,
            parents: sign
                .links
                .iter()
                .map(|link| Parent {
                    id: link.fault.to_string(),
                    kind: NodeKind::Fault,
                    chance: link.chance,
                })
                .collect(),
        });
        circumstances.chain(faults).chain(signs).collect()
    }
}

impl Parent {
    fn from_origin(origin: &Origin) -> Self {
        let kind = match origin {
            Origin::Circumstance { .. } => NodeKind::Circumstance,
            Origin::Fault { .. } => NodeKind::Fault,
        };
        Self {
            id: origin.as_str().to_owned(),
            kind,
            chance: origin.chance(),
        }
    }
}
