//! What the ids of service notes are called.

use fettle_notes::{PartId, ServiceNotes, SettingId};

/// A part.
pub(crate) fn part<'a>(notes: &'a ServiceNotes, id: &'a PartId) -> &'a str {
    notes
        .parts
        .get(id)
        .map_or(id.as_str(), |part| part.name.as_str())
}

/// Several parts.
pub(crate) fn parts<'a>(
    notes: &'a ServiceNotes,
    ids: impl IntoIterator<Item = &'a PartId>,
) -> String {
    let names: Vec<&str> = ids.into_iter().map(|id| part(notes, id)).collect();
    names.join(", ")
}

/// Several settings.
pub(crate) fn settings<'a>(
    notes: &'a ServiceNotes,
    ids: impl IntoIterator<Item = &'a SettingId>,
) -> String {
    let name = |id: &'a SettingId| {
        let setting = notes.settings.get(id);
        setting.map_or(id.as_str(), |setting| setting.name.as_str())
    };
    let names: Vec<&str> = ids.into_iter().map(name).collect();
    names.join(", ")
}

/// A circumstance or a fault.
pub(crate) fn cause<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    let circumstance = notes.circumstances.get(id).map(|it| it.name.as_str());
    let fault = || notes.faults.get(id).map(|it| it.name.as_str());
    circumstance.or_else(fault).unwrap_or(id)
}

/// A sign: its question.
pub(crate) fn sign<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    let sign = notes.signs.get(id);
    sign.map_or(id, |sign| sign.question.as_str())
}

/// A work.
pub(crate) fn work<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    let work = notes.works.get(id);
    work.map_or(id, |work| work.name.as_str())
}
