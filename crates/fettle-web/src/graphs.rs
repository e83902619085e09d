//! Graphs and the tray for the pages, from what the notes, the reasoning and the record say.

use std::collections::BTreeMap;
use std::sync::Arc;

use fettle_bench::Piece;
use fettle_draw::{
    CauseKind, CauseLink, CauseNetwork, CauseNode, Errand, PartState, PlanAct, PlanBranch,
    PlanStep, RemovalGraph, RemovalPart, Sheet, Tray, TrayCell, TrayPiece, cause_network,
    cause_overview, plan_tree, removal_graph,
};
use fettle_notes::{Node, NodeKind, PartId, ServiceNotes};
use fettle_reason::Strip;
use fettle_reason::cause::Plan;
use maud::{Markup, PreEscaped};

use crate::kept::Kept;

/// Cells side by side in the tray, and the fewest drawn.
const COLUMNS: u32 = 6;
const LEAST_CELLS: u32 = 12;
/// A tray of more cells than this is drawn to its last piece only by number.
const MOST_CELLS: u32 = 240;

/// A plan some answers ahead.
pub(crate) fn plan(notes: &ServiceNotes, plan: &Plan) -> Markup {
    let title = "What to do next, and after each answer";
    PreEscaped(plan_tree(title, &step(notes, plan), Sheet::Inherit))
}

fn step(notes: &ServiceNotes, plan: &Plan) -> PlanStep {
    let id = plan.id.as_deref().unwrap_or_default();
    let (act, words) = match plan.act {
        "look" => (PlanAct::Look, notes.signs.get(id).map(|it| &it.question)),
        "work" => (PlanAct::Work, notes.works.get(id).map(|it| &it.name)),
        _ => (PlanAct::Stop, None),
    };
    let ends = || match &plan.suspect {
        Some((fault, _)) => {
            let fault = notes
                .faults
                .get(fault.as_str())
                .map_or(fault, |it| &it.name);
            format!("nothing more pays; most likely left: {fault}")
        }
        None => "nothing more pays".to_owned(),
    };
    let branches = plan.then.iter().map(|branch| PlanBranch {
        answer: branch.answer.to_owned(),
        probability: branch.probability,
        step: step(notes, &branch.plan),
    });
    PlanStep {
        act,
        words: words.cloned().unwrap_or_else(ends),
        probability: plan.probability,
        expected_minutes: plan.expected_minutes,
        branches: branches.collect(),
    }
}

/// The tray with what lies in it; pieces without a cell are not drawn.
pub(crate) fn tray(pieces: &[&Piece], in_hand: Option<&Piece>) -> Markup {
    let mut cells: BTreeMap<u32, Vec<TrayPiece>> = BTreeMap::new();
    for piece in pieces {
        if let Some(cell) = piece.what.cell {
            cells.entry(cell).or_default().push(TrayPiece {
                words: piece.what.piece.words.clone(),
                in_hand: in_hand.is_some_and(|hand| hand.id == piece.id),
            });
        }
    }
    let last = cells.keys().next_back().copied().unwrap_or(0);
    let last = last.max(LEAST_CELLS).next_multiple_of(COLUMNS);
    // A number typed wrongly must not draw a tray without end.
    let numbers: Vec<u32> = if last <= MOST_CELLS {
        (1..=last).collect()
    } else {
        cells.keys().copied().collect()
    };
    let cells = numbers.into_iter().map(|number| TrayCell {
        label: number.to_string(),
        pieces: cells.remove(&number).unwrap_or_default(),
        link: None,
    });
    let tray = Tray {
        title: "The tray from above".to_owned(),
        columns: COLUMNS as usize,
        cells: cells.collect(),
    };
    PreEscaped(fettle_draw::tray(&tray, Sheet::Inherit))
}

/// The order of removal, with the state of the strip and what is on the way to what is wanted.
pub(crate) fn removals(
    notes: &ServiceNotes,
    kept: &Kept<RemovalGraph, Arc<str>>,
    strip: &Strip<'_>,
    wanted: &[PartId],
    on_the_way: &[&PartId],
    link: impl Fn(&PartId) -> Option<String>,
) -> Markup {
    let places = |parts: &[PartId]| -> Vec<usize> {
        let places = parts.iter().map(|part| notes.removals.position(part));
        places.flatten().collect()
    };
    let free = strip.can_come_off();
    let parts = notes.removals.iter().map(|(part, removal)| RemovalPart {
        name: notes
            .parts
            .get(part)
            .map_or(part.as_str(), |it| &it.name)
            .to_owned(),
        minutes: Some(removal.minutes.to_f64()),
        state: if strip.is_off(part) {
            PartState::Off
        } else if free.contains(&part) {
            PartState::Free
        } else {
            PartState::Held
        },
        errand: if wanted.contains(part) {
            Errand::Wanted
        } else if on_the_way.contains(&part) {
            Errand::OnTheWay
        } else {
            Errand::None
        },
        link: link(part),
        after: places(&removal.after),
        either: removal.either.iter().map(|group| places(group)).collect(),
    });
    let graph = RemovalGraph {
        title: "The order of removal".to_owned(),
        parts: parts.collect(),
    };
    let drawn = kept.get(graph, |graph| removal_graph(graph, Sheet::Inherit).into());
    PreEscaped(drawn.to_string())
}

/// The causal network: everything at a glance, or one thing with what brings it on and what it leads to.
///
/// `of` is the place of that thing as [`place`] writes it; `link` gives the address of a thing's own drawing.
pub(crate) fn causes(
    notes: &ServiceNotes,
    of: Option<&str>,
    link: impl Fn(&str) -> String,
) -> Markup {
    let nodes = notes.network();
    let at = |kind: NodeKind, id: &str| nodes.iter().position(|it| it.kind == kind && it.id == id);
    let links = nodes.iter().enumerate().flat_map(|(to, node)| {
        let parents = node.parents.iter();
        parents.filter_map(move |parent| {
            Some(CauseLink {
                from: at(parent.kind, &parent.id)?,
                to,
                chance: parent.chance.to_f64(),
            })
        })
    });
    let links = links.collect();
    let drawn = nodes.iter().map(|node| {
        let (kind, name) = match node.kind {
            NodeKind::Circumstance => {
                let it = notes.circumstances.get(node.id.as_str());
                (CauseKind::Circumstance, it.map(|it| &it.name))
            }
            NodeKind::Fault => {
                let it = notes.faults.get(node.id.as_str());
                (CauseKind::Fault, it.map(|it| &it.name))
            }
            NodeKind::Sign => {
                let it = notes.signs.get(node.id.as_str());
                (CauseKind::Sign, it.map(|it| &it.question))
            }
        };
        CauseNode {
            kind,
            name: name.unwrap_or(&node.id).clone(),
            known: None,
            chance: None,
            by_itself: Some(node.leak.to_f64()),
            link: Some(link(&place(node))),
        }
    });
    let network = CauseNetwork {
        title: "What brings on and shows what".to_owned(),
        nodes: drawn.collect(),
        links,
    };
    let focus = of.and_then(|of| nodes.iter().position(|node| place(node) == of));
    PreEscaped(match focus {
        Some(focus) => cause_network(&network, focus, Sheet::Inherit),
        None => cause_overview(&network, Sheet::Inherit),
    })
}

/// A thing's place in the network, for an address.
fn place(node: &Node) -> String {
    let kind = match node.kind {
        NodeKind::Circumstance => "circumstance",
        NodeKind::Fault => "fault",
        NodeKind::Sign => "sign",
    };
    format!("{kind}.{}", node.id)
}
