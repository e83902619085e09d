//! How far a camera is apart.

use std::collections::BTreeSet;

use fettle_notes::{PartId, Removal, ServiceNotes};

use crate::wait::Wait;

/// A camera's present state of strip against its service notes.
///
/// Removal is a partial order: a part comes off when everything in its `after` is off and, where it has alternatives, one
/// group of its `either` is wholly off. Going back is the reverse.
#[derive(Debug, Clone)]
pub struct Strip<'a> {
    notes: &'a ServiceNotes,
    off: BTreeSet<&'a PartId>,
}

/// What stands in the way of a removal.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Missing<'a> {
    /// Parts that must all come off before.
    pub after: Vec<&'a PartId>,
    /// What each alternative group still lacks, one of which must wholly come off; empty when one is off or none is asked.
    pub either: Vec<Vec<&'a PartId>>,
}

impl Missing<'_> {
    /// Whether nothing stands in the way.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.after.is_empty() && self.either.is_empty()
    }
}

impl<'a> Strip<'a> {
    /// The state in which the given parts are off; parts that the notes do not know are passed over.
    pub fn new<'p>(notes: &'a ServiceNotes, off: impl IntoIterator<Item = &'p PartId>) -> Self {
        let off = off
            .into_iter()
            .filter_map(|part| notes.removals.entry(part))
            .map(|(part, _)| part)
            .collect();
        Self { notes, off }
    }

    /// Whether the part is off.
    #[must_use]
    pub fn is_off(&self, part: &PartId) -> bool {
        self.off.contains(part)
    }

    /// What must come off before this part; empty when it can come off now or the notes give no removal for it.
    #[must_use]
    pub fn missing_before(&self, part: &PartId) -> Missing<'a> {
        let Some(removal) = self.notes.removals.get(part.as_str()) else {
            return Missing::default();
        };
        let lacks = |parts: &'a [PartId]| -> Vec<&'a PartId> {
            parts.iter().filter(|part| !self.is_off(part)).collect()
        };
        let groups = removal.either.iter().map(|group| lacks(group));
        Missing {
            after: lacks(&removal.after),
            either: if wait(removal).has_way(|part| self.is_off(part)) {
                Vec::new()
            } else {
                groups.collect()
            },
        }
    }

    /// Parts that can come off now, in the notes' order.
    #[must_use]
    pub fn can_come_off(&self) -> Vec<&'a PartId> {
        self.notes
            .removals
            .iter()
            .filter(|(part, removal)| {
                !self.is_off(part) && wait(removal).is_over(|part| self.is_off(part))
            })
            .map(|(part, _)| part)
            .collect()
    }

    /// Parts still off that must go back before this one: those that could not have come off with it in place.
    #[must_use]
    pub fn must_go_back_before(&self, part: &PartId) -> Vec<&'a PartId> {
        self.off
            .iter()
            .copied()
            .filter(|other| *other != part)
            .filter(|other| {
                let removal = self.notes.removals.get(other.as_str());
                removal.is_some_and(|removal| self.needs_off(removal, part))
            })
            .collect()
    }

    /// Whether a part with this removal could not be reached if `part` were back in place.
    fn needs_off(&self, removal: &Removal, part: &PartId) -> bool {
        removal.after.contains(part)
            || (removal.either.iter().any(|group| group.contains(part))
                && !wait(removal).has_way(|needed| needed != part && self.is_off(needed)))
    }
}

fn wait(removal: &Removal) -> Wait<'_, PartId> {
    Wait {
        after: &removal.after,
        either: &removal.either,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{notes, part};

    fn names<'a>(parts: impl IntoIterator<Item = &'a PartId>) -> Vec<&'a str> {
        parts.into_iter().map(PartId::as_str).collect()
    }

    #[test]
    fn a_whole_camera_offers_only_what_nothing_covers() {
        let notes = notes();
        let strip = Strip::new(&notes, []);
        assert_eq!(names(strip.can_come_off()), ["hood", "base"]);
    }

    #[test]
    fn one_wholly_removed_alternative_opens_the_way() {
        let notes = notes();
        let whole = Strip::new(&notes, []);
        let missing = whole.missing_before(&part("shutter"));
        assert_eq!(names(missing.either[0].iter().copied()), ["hood", "front"]);
        assert_eq!(names(missing.either[1].iter().copied()), ["base"]);

        let base = part("base");
        let from_below = Strip::new(&notes, [&base]);
        assert!(from_below.missing_before(&part("shutter")).is_empty());
        assert_eq!(names(from_below.can_come_off()), ["hood", "shutter"]);
    }

    #[test]
    fn what_came_off_through_a_part_goes_back_before_it() {
        let notes = notes();
        let off = [part("base"), part("shutter")];
        let strip = Strip::new(&notes, &off);
        assert_eq!(names(strip.must_go_back_before(&part("base"))), ["shutter"]);
        assert!(strip.must_go_back_before(&part("shutter")).is_empty());
    }

    #[test]
    fn a_second_open_route_frees_the_first_to_go_back() {
        let notes = notes();
        let off = [part("base"), part("hood"), part("front"), part("shutter")];
        let strip = Strip::new(&notes, &off);
        assert!(strip.must_go_back_before(&part("base")).is_empty());
        assert_eq!(names(strip.must_go_back_before(&part("hood"))), ["front"]);
    }

    #[test]
    fn parts_unknown_to_the_notes_are_passed_over() {
        let notes = notes();
        let stranger = part("stranger");
        let strip = Strip::new(&notes, [&stranger]);
        assert!(!strip.is_off(&stranger));
        assert!(strip.missing_before(&stranger).is_empty());
    }
}
