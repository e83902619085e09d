//! The order of a set of removals with the fewest turn-overs, and among these the fewest changes of tool.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashSet};

use super::removals::Removals;
use super::set::Set;

/// States looked at before the rest is ordered greedily.
const MOST_STATES: usize = 30_000;

/// An order and what it costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Order {
    pub(crate) parts: Vec<usize>,
    pub(crate) turnovers: u32,
    pub(crate) tool_changes: u32,
    pub(crate) exact: bool,
}

/// What is up and in hand.
pub(crate) type Hands = (u16, u16);

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct State {
    /// Turn-overs so far and those still sure to come, then changes of tool likewise.
    bound: (u32, u32),
    made: (u32, u32),
    /// Fewer left first, so that ends are reached early.
    left: usize,
    hands: Option<Hands>,
    off: Set,
    parts: Vec<usize>,
}

/// Orders `set`, which can be taken off from a state in which `off` are off.
///
/// Whatever can come off with the same side up and the same tool in hand does so at once: leaving it out of any later order saves
/// or keeps that order's changes. What remains to be chosen is which side and tool come next (A* over these).
pub(crate) fn order(removals: &Removals<'_>, set: &Set, off: &Set, hands: Option<Hands>) -> Order {
    let start = State {
        bound: (0, 0),
        made: (0, 0),
        left: set.len(),
        hands,
        off: off.clone(),
        parts: Vec::new(),
    };
    let mut open = BinaryHeap::from([Reverse(start)]);
    let mut seen: HashSet<(Set, Option<Hands>)> = HashSet::new();
    let mut exact = true;
    while let Some(Reverse(state)) = open.pop() {
        if state.left == 0 {
            return Order {
                parts: state.parts,
                turnovers: state.made.0,
                tool_changes: state.made.1,
                exact,
            };
        }
        if !seen.insert((state.off.clone(), state.hands)) {
            continue;
        }
        if seen.len() > MOST_STATES && exact {
            exact = false;
        }
        let next = nexts(removals, set, &state);
        if exact {
            open.extend(next.into_iter().map(Reverse));
        } else if let Some(best) = next.into_iter().min() {
            open.clear();
            open.push(Reverse(best));
        }
    }
    // Not reached for a set that can be taken off.
    Order {
        parts: set.iter().collect(),
        turnovers: 0,
        tool_changes: 0,
        exact: false,
    }
}

fn nexts(removals: &Removals<'_>, set: &Set, state: &State) -> Vec<State> {
    let mut hands: Vec<Hands> = left_of(set, &state.off)
        .filter(|part| removals.can_come_off(*part, &state.off))
        .map(|part| (removals.steps[part].side, removals.steps[part].tool))
        .collect();
    hands.sort_unstable();
    hands.dedup();
    hands
        .into_iter()
        .map(|hands| taken(removals, set, state, hands))
        .collect()
}

/// The state after taking off all that can come off with these hands.
fn taken(removals: &Removals<'_>, set: &Set, state: &State, hands: Hands) -> State {
    let mut next = state.clone();
    if let Some(before) = state.hands {
        next.made.0 += u32::from(before.0 != hands.0);
        next.made.1 += u32::from(before.1 != hands.1);
    }
    next.hands = Some(hands);
    loop {
        let ready: Vec<usize> = left_of(set, &next.off)
            .filter(|part| (removals.steps[*part].side, removals.steps[*part].tool) == hands)
            .filter(|part| removals.can_come_off(*part, &next.off))
            .collect();
        if ready.is_empty() {
            break;
        }
        for part in ready {
            next.off.add(part);
            next.parts.push(part);
        }
    }
    let mut sides: Vec<u16> = Vec::new();
    let mut tools: Vec<u16> = Vec::new();
    next.left = 0;
    for part in left_of(set, &next.off) {
        next.left += 1;
        sides.push(removals.steps[part].side);
        tools.push(removals.steps[part].tool);
    }
    let others = |mut all: Vec<u16>, now: u16| {
        all.sort_unstable();
        all.dedup();
        all.iter().filter(|one| **one != now).count() as u32
    };
    next.bound = (
        next.made.0 + others(sides, hands.0),
        next.made.1 + others(tools, hands.1),
    );
    next
}

fn left_of<'s>(set: &'s Set, off: &'s Set) -> impl Iterator<Item = usize> + 's {
    set.iter().filter(|part| !off.has(*part))
}
