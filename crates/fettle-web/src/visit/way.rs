//! Which parts can come off now, and in what order the notes take a camera apart.

use fettle_bench::VisitView;
use fettle_notes::{PartId, Removal, ServiceNotes};
use fettle_reason::Strip;

/// The parts that the notes know, as they came off in this visit; those put back too.
pub(crate) fn taken_off(view: &VisitView) -> Vec<PartId> {
    let ids = view
        .pieces
        .iter()
        .filter_map(|piece| piece.what.piece.id.as_deref());
    ids.filter_map(|id| PartId::new(id).ok()).collect()
}

/// The camera as it lies on the bench.
pub(crate) fn strip<'a>(view: &VisitView, notes: &'a ServiceNotes) -> Strip<'a> {
    let off: Vec<PartId> = view
        .tray()
        .filter_map(|piece| PartId::new(piece.what.piece.id.as_deref()?).ok())
        .collect();
    Strip::new(notes, &off)
}

/// The removals in an order in which they can be made, in the file's order where that allows.
pub(crate) fn in_order(notes: &ServiceNotes) -> Vec<(&PartId, &Removal)> {
    let mut order: Vec<(&PartId, &Removal)> = Vec::with_capacity(notes.removals.len());
    loop {
        let strip = Strip::new(notes, order.iter().map(|(part, _)| *part));
        let Some(next) = strip.can_come_off().first().copied() else {
            break;
        };
        let Some(removal) = notes.removals.get(next) else {
            break;
        };
        order.push((next, removal));
    }
    order
}
