//! Which parts can come off now, by the order of removal in the service notes.

use std::collections::HashSet;

use fettle_notes::{PartId, Removal, ServiceNotes};

/// How a removal stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Reach<'a> {
    /// It is off.
    Off,
    /// It can come off now.
    Free,
    /// These must come off first; of an alternative, the first route.
    Behind(Vec<&'a PartId>),
}

/// How a part's removal stands while the parts in `off` are off.
pub(crate) fn reach<'a>(part: &PartId, removal: &'a Removal, off: &HashSet<&str>) -> Reach<'a> {
    if off.contains(part.as_str()) {
        return Reach::Off;
    }
    let missing = |parts: &'a [PartId]| -> Vec<&'a PartId> {
        parts
            .iter()
            .filter(|part| !off.contains(part.as_str()))
            .collect()
    };
    let mut behind = missing(&removal.after);
    if !removal.either.iter().any(|group| missing(group).is_empty())
        && let Some(first) = removal.either.first()
    {
        behind.extend(missing(first));
    }
    if behind.is_empty() {
        Reach::Free
    } else {
        Reach::Behind(behind)
    }
}

/// The removals in an order in which they can be made, in the file's order where that allows.
pub(crate) fn in_order(notes: &ServiceNotes) -> Vec<(&PartId, &Removal)> {
    let mut left: Vec<_> = notes.removals.iter().collect();
    let mut off = HashSet::new();
    let mut order = Vec::with_capacity(left.len());
    while let Some(next) = left
        .iter()
        .position(|(part, removal)| reach(part, removal, &off) == Reach::Free)
    {
        let (part, removal) = left.remove(next);
        off.insert(part.as_str());
        order.push((part, removal));
    }
    // Notes that were checked have no circle; if any did, its parts would still be listed.
    order.extend(left);
    order
}
