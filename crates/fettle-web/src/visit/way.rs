//! How far the camera is apart, what the repair needs off, and the order in which it goes.

use fettle_bench::{Found, LineFor, Piece, VisitView};
use fettle_notes::{PartId, Removal, ServiceNotes};
use fettle_reason::Strip;

/// The parts that the notes know, as they came off in this visit; those put back too.
pub(crate) fn taken_off(view: &VisitView) -> Vec<PartId> {
    view.pieces.iter().filter_map(part_of).collect()
}

/// The parts that are off now.
pub(crate) fn off(view: &VisitView) -> Vec<PartId> {
    view.tray().filter_map(part_of).collect()
}

/// The part of the notes that a piece is.
fn part_of(piece: &Piece) -> Option<PartId> {
    PartId::new(piece.what.piece.id.as_deref()?).ok()
}

/// The camera as it lies on the bench.
pub(crate) fn strip<'a>(view: &VisitView, notes: &'a ServiceNotes) -> Strip<'a> {
    Strip::new(notes, &off(view))
}

/// The parts that the work ahead needs off and that come off by themselves: of the works agreed to (of the last quote before that),
/// and of one that cures each fault found, until it is done.
pub(crate) fn needed(view: &VisitView, notes: &ServiceNotes) -> Vec<PartId> {
    let done = |work: &str| {
        let mut done = view.works.iter();
        done.any(|kept| kept.what.work.id.as_deref() == Some(work))
    };
    let mut counts = view.agreed();
    if counts.is_empty() {
        counts.extend(view.quotes.last());
    }
    let quoted = counts.into_iter().flat_map(|it| &it.what.lines);
    let quoted = quoted.filter(|line| line.line_for == LineFor::Work);
    let mut works: Vec<&str> = quoted.filter_map(|line| line.what.id.as_deref()).collect();
    for fault in &view.faults {
        let known = fault.what.fault.id.as_deref();
        let Some(known) = known.and_then(|id| notes.faults.get(id)) else {
            continue;
        };
        let mut cures = known.cured_by.iter().map(AsRef::<str>::as_ref);
        if fault.what.found == Found::Found && !cures.clone().any(|cure| works.contains(&cure)) {
            works.extend(cures.next());
        }
    }
    let mut parts: Vec<PartId> = Vec::new();
    for work in works {
        if done(work) {
            continue;
        }
        let work = notes.works.get(work);
        for part in work.into_iter().flat_map(|work| &work.needs_apart) {
            if notes.removals.contains(part) && !parts.contains(part) {
                parts.push(part.clone());
            }
        }
    }
    parts
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

/// The pieces in the tray in the order in which they go back: last off, first on, but nothing before what it would shut in.
pub(crate) fn back_in_order<'v>(
    view: &'v VisitView,
    notes: Option<&ServiceNotes>,
) -> Vec<&'v Piece> {
    let mut left: Vec<&Piece> = view.tray().collect();
    let Some(notes) = notes else {
        return left;
    };
    let mut order = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let parts: Vec<PartId> = left.iter().copied().filter_map(part_of).collect();
        let strip = Strip::new(notes, &parts);
        let free = left.iter().position(|piece| {
            part_of(piece).is_none_or(|part| strip.must_go_back_before(&part).is_empty())
        });
        order.push(left.remove(free.unwrap_or(0)));
    }
    order
}

/// The parts still in the tray that a piece would shut in if it went back now.
pub(crate) fn shut_in<'a>(strip: &Strip<'a>, piece: &Piece) -> Vec<&'a PartId> {
    part_of(piece).map_or_else(Vec::new, |part| strip.must_go_back_before(&part))
}
