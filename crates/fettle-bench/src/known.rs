//! What a visit says of its camera, in the terms of the causal network.

use std::collections::HashSet;

use fettle_notes::ServiceNotes;
use fettle_reason::cause::{Evidence, Network};

use crate::{
    ids::EntryId,
    view::VisitView,
    words::{Found, Seen},
};

/// What was observed, known, found, ruled out and cured in a visit.
///
/// In the order of recording, as a sign is looked for in the camera as it then was: a fault that was found counts as cured from
/// the first work done that cures it. A suspicion says nothing, and neither does what the notes do not know (own words, or an id
/// that has left the notes since).
#[must_use]
pub fn known(view: &VisitView, notes: &ServiceNotes, network: &Network) -> Evidence {
    let mut evidence = Evidence::none(network);
    for kept in &view.circumstances {
        if let (Some(id), Some(holds)) = (&kept.what.circumstance.id, answer(kept.what.known)) {
            let _known_to_the_notes = evidence.know(network, id, holds).is_ok();
        }
    }
    let mut found = HashSet::new();
    for fault in &view.faults {
        let Some(id) = fault.what.fault.id.as_deref() else {
            continue;
        };
        let there = match fault.what.found {
            Found::Found => true,
            Found::RuledOut => false,
            Found::Suspected => continue,
        };
        if evidence.find(network, id, there).is_ok() && there {
            found.insert(id);
        }
    }
    let mut events: Vec<(EntryId, Event<'_>)> = Vec::new();
    for kept in &view.signs {
        if let (Some(id), Some(there)) = (kept.what.sign.id.as_deref(), answer(kept.what.seen)) {
            events.push((kept.entry, Event::Looked(id, there)));
        }
    }
    for kept in &view.works {
        if let Some(work) = kept.what.work.id.as_deref() {
            events.push((kept.entry, Event::Worked(work)));
        }
    }
    events.sort_by_key(|(entry, _)| *entry);
    for (_, event) in events {
        match event {
            Event::Looked(sign, there) => {
                let _known_to_the_notes = evidence.see(network, sign, there).is_ok();
            }
            Event::Worked(work) => {
                let cured = notes.faults.iter().filter(|(id, fault)| {
                    found.contains(id.as_str())
                        && fault.cured_by.iter().any(|by| by.as_str() == work)
                });
                for (fault, _) in cured {
                    let _known_to_the_notes = evidence.cure(network, fault.as_str()).is_ok();
                }
            }
        }
    }
    evidence
}

enum Event<'v> {
    /// A sign by its id, and whether it is there.
    Looked(&'v str, bool),
    /// A work by its id.
    Worked(&'v str),
}

fn answer(seen: Seen) -> Option<bool> {
    match seen {
        Seen::Yes => Some(true),
        Seen::No => Some(false),
        Seen::NotLooked => None,
    }
}
