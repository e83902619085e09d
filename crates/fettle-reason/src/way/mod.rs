//! The way in to a set of parts, and the way back.

mod order;
mod reach;
mod removals;
mod set;

use std::collections::BTreeSet;

use fettle_notes::{PartId, Removal, ServiceNotes};

use order::Order;
pub(crate) use reach::reach;
pub(crate) use removals::Removals;
pub(crate) use set::Set;

use crate::cause::{UnknownName, known_part};
use crate::{Disturbed, disturbed};

/// The way in to a set of parts and the way back.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Way<'a> {
    /// What comes off, in this order.
    pub way_in: Vec<Leg<'a>>,
    /// What goes back, in this order: all that is off then, what was off before included when asked for.
    pub way_back: Vec<Leg<'a>>,
    /// Minutes of the way in.
    pub minutes: f64,
    /// How often the camera is turned over on the way in.
    pub turnovers: u32,
    /// How often the tool is changed on the way in.
    pub tool_changes: u32,
    /// Settings to prove again when everything is back, each after all that it depends on.
    pub disturbed: Vec<Disturbed<'a>>,
    /// Whether no better way exists; `false` only for notes with very many alternatives.
    pub exact: bool,
}

/// One removal of a way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg<'a> {
    /// The part.
    pub part: &'a PartId,
    /// How it comes off and goes back.
    pub removal: &'a Removal,
}

/// Why there is no way.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoWay {
    /// The notes have no such part.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// The part does not come off by itself.
    #[error("the service notes do not say how `{0}` comes off; give it a `[removal.{0}]` table")]
    NoRemoval(PartId),
    /// Each alternative waits for what it opens.
    #[error(
        "there is no way to {0}: each of its alternatives needs what can only be reached through it; mend `either` in the service notes"
    )]
    Closed(String),
}

/// The way of least minutes to the parts wanted, from a camera of which `off` are off; among ways of equal minutes the one with the
/// fewest turn-overs, then changes of tool.
///
/// Exact over all alternatives. Parts already off cost nothing. The way back brings all that is then off to its place again.
///
/// # Errors
/// When a part is not known, has no removal, or cannot be reached.
pub fn way<'a>(
    notes: &'a ServiceNotes,
    wanted: &[PartId],
    off: &[PartId],
) -> Result<Way<'a>, NoWay> {
    for part in wanted.iter().chain(off) {
        known_part(notes, part)?;
        if notes.removals.get(part).is_none() {
            return Err(NoWay::NoRemoval(part.clone()));
        }
    }
    let removals = Removals::of(notes);
    let (off_set, targets) = (removals.places(off), removals.places(wanted));
    let reached = reach(&removals, &off_set, &targets);
    let orders = reached
        .sets
        .iter()
        .map(|set| order::order(&removals, set, &off_set, None));
    let best: Option<Order> =
        orders.min_by_key(|order| (order.turnovers, order.tool_changes, order.parts.clone()));
    let Some(best) = best else {
        let names: Vec<String> = wanted.iter().map(|part| format!("`{part}`")).collect();
        return Err(NoWay::Closed(names.join(", ")));
    };
    let leg = |part: &usize| {
        let part = removals.steps[*part].part;
        notes
            .removals
            .get(part)
            .map(|removal| Leg { part, removal })
    };
    let way_in: Vec<Leg<'a>> = best.parts.iter().filter_map(leg).collect();
    let all: BTreeSet<PartId> = off
        .iter()
        .cloned()
        .chain(way_in.iter().map(|leg| leg.part.clone()))
        .collect();
    let all: Vec<PartId> = all.into_iter().collect();
    Ok(Way {
        way_back: back(&removals, &way_in, &off_set),
        minutes: way_in.iter().map(|leg| leg.removal.minutes.to_f64()).sum(),
        turnovers: best.turnovers,
        tool_changes: best.tool_changes,
        disturbed: disturbed(notes, &all),
        exact: reached.exact && best.exact,
        way_in,
    })
}

/// The reverse of the way in, then what was off before in the reverse of an order in which it could have come off.
fn back<'a>(removals: &Removals<'a>, way_in: &[Leg<'a>], off: &Set) -> Vec<Leg<'a>> {
    let whole = Set::below(removals.steps.len());
    let before = order::order(removals, off, &whole, None);
    let before = before.parts.iter().rev().filter_map(|part| {
        let part = removals.steps[*part].part;
        removals
            .notes
            .removals
            .get(part)
            .map(|removal| Leg { part, removal })
    });
    way_in.iter().rev().copied().chain(before).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{notes, of_removals, part};
    use crate::lots::Lots;

    fn names(legs: &[Leg<'_>]) -> Vec<String> {
        legs.iter().map(|leg| leg.part.to_string()).collect()
    }

    #[test]
    fn the_cheaper_alternative_is_taken() {
        let notes = notes();
        let way = way(&notes, &[part("shutter")], &[]).unwrap();
        assert_eq!(names(&way.way_in), ["base", "shutter"]);
        assert_eq!(names(&way.way_back), ["shutter", "base"]);
        assert!((way.minutes - 6.0).abs() < 1e-12);
        assert!(way.exact);
    }

    #[test]
    fn what_is_off_already_makes_its_way_the_cheaper_one() {
        let notes = notes();
        let way = way(&notes, &[part("shutter")], &[part("hood"), part("front")]).unwrap();
        assert_eq!(names(&way.way_in), ["shutter"]);
        assert_eq!(names(&way.way_back), ["shutter", "front", "hood"]);
        let settings: Vec<_> = way
            .disturbed
            .iter()
            .map(|one| one.setting.as_str())
            .collect();
        assert_eq!(settings, ["register", "infinity"]);
    }

    #[test]
    fn an_unknown_part_names_the_nearest() {
        let error = way(&notes(), &[part("shuter")], &[]).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the service notes have no part `shuter`; did you mean `shutter`?"
        );
    }

    /// Up to seven parts with lots for minutes, sides, tools, `after` and `either`.
    fn drawn(lots: &mut Lots) -> Option<ServiceNotes> {
        let count = 4 + lots.below(4);
        let mut tables = String::new();
        for n in 0..count {
            let after: Vec<String> = (0..n)
                .filter(|_| lots.next() < 0.25)
                .map(|m| format!("\"p{m}\""))
                .collect();
            let mut groups = Vec::new();
            if lots.next() < 0.5 {
                for _ in 0..2 + lots.below(2) {
                    let group: Vec<String> = (0..count)
                        .filter(|m| *m != n && lots.next() < 0.3)
                        .map(|m| format!("\"p{m}\""))
                        .collect();
                    if !group.is_empty() && !groups.contains(&group) {
                        groups.push(group);
                    }
                }
            }
            let either: Vec<String> = groups
                .iter()
                .map(|group| format!("[{}]", group.join(", ")))
                .collect();
            let either = if either.len() < 2 {
                String::new()
            } else {
                format!("either = [{}]\n", either.join(", "))
            };
            tables.push_str(&format!(
                "[removal.p{n}]\nafter = [{}]\n{either}minutes = {}\nside = \"{}\"\ntool = \"{}\"\n",
                after.join(", "),
                1 + lots.below(4),
                lots.pick(&["top", "bottom", "front"]),
                lots.pick(&["driver", "hook"]),
            ));
        }
        of_removals(count, &tables)
    }

    /// Least minutes, turn-overs and changes of tool by going through every order.
    fn brute(notes: &ServiceNotes, wanted: usize) -> Option<(f64, u32, u32)> {
        let removals = Removals::of(notes);
        let mut best: Option<(f64, u32, u32)> = None;
        let mut open = vec![(
            Set::below(removals.steps.len()),
            0.0,
            0_u32,
            0_u32,
            None::<usize>,
        )];
        while let Some((off, minutes, turns, tools, last)) = open.pop() {
            if off.has(wanted) {
                let this = (minutes, turns, tools);
                if best.is_none_or(|best| this < best) {
                    best = Some(this);
                }
                continue;
            }
            for next in 0..removals.steps.len() {
                if off.has(next) || !removals.can_come_off(next, &off) {
                    continue;
                }
                let mut with = off.clone();
                with.add(next);
                let step = &removals.steps[next];
                let before = last.map(|last: usize| &removals.steps[last]);
                let turned = before.is_some_and(|before| before.side != step.side);
                let changed = before.is_some_and(|before| before.tool != step.tool);
                open.push((
                    with,
                    minutes + step.minutes,
                    turns + u32::from(turned),
                    tools + u32::from(changed),
                    Some(next),
                ));
            }
        }
        best
    }

    #[test]
    fn no_order_of_removals_is_better() {
        let mut solved = 0;
        for seed in 0..400 {
            let mut lots = Lots::of(seed);
            let Some(notes) = drawn(&mut lots) else {
                continue;
            };
            let wanted = notes.removals.len() - 1;
            let target = part(&format!("p{wanted}"));
            match (
                way(&notes, std::slice::from_ref(&target), &[]),
                brute(&notes, wanted),
            ) {
                (Ok(way), Some(best)) => {
                    solved += 1;
                    assert!(way.exact);
                    assert!(
                        (way.minutes - best.0).abs() < 1e-9,
                        "seed {seed}: {way:?} {best:?}"
                    );
                    assert_eq!(
                        (way.turnovers, way.tool_changes),
                        (best.1, best.2),
                        "seed {seed}: {way:?}"
                    );
                    let mut strip = Vec::new();
                    for leg in &way.way_in {
                        assert!(
                            crate::Strip::new(&notes, &strip)
                                .missing_before(leg.part)
                                .is_empty(),
                            "seed {seed}"
                        );
                        strip.push(leg.part.clone());
                    }
                }
                (Err(NoWay::Closed(_)), None) => {}
                (got, want) => panic!("seed {seed}: {got:?} {want:?}"),
            }
        }
        assert!(solved > 100, "{solved}");
    }
}
