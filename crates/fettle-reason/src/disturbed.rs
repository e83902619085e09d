//! Which settings the way in has upset.

use fettle_notes::{PartId, ServiceNotes, SettingId};

/// A setting that must be proved again, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Disturbed<'a> {
    /// The setting.
    pub setting: &'a SettingId,
    /// The removals that upset it, in the order in which they were made.
    pub by: Vec<&'a PartId>,
}

/// The settings upset by the given removals, each after every setting that it depends on (register before infinity before
/// rangefinder); the notes' order among equals. Removals that the notes do not know upset nothing.
#[must_use]
pub fn disturbed<'a>(notes: &'a ServiceNotes, removed: &[PartId]) -> Vec<Disturbed<'a>> {
    let removals: Vec<_> = removed
        .iter()
        .filter_map(|part| notes.removals.entry(part))
        .collect();
    notes
        .settings_in_order()
        .into_iter()
        .filter_map(|(setting, _)| {
            let by: Vec<_> = removals
                .iter()
                .filter(|(_, removal)| removal.disturbs.contains(setting))
                .map(|(part, _)| *part)
                .collect();
            (!by.is_empty()).then_some(Disturbed { setting, by })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{notes, part};

    #[test]
    fn a_setting_is_proved_after_what_it_depends_on() {
        let notes = notes();
        let found = disturbed(&notes, &[part("front"), part("shutter")]);
        let order: Vec<_> = found.iter().map(|one| one.setting.as_str()).collect();
        assert_eq!(order, ["register", "infinity"]);
        assert_eq!(found[0].by, [&part("front"), &part("shutter")]);
        assert_eq!(found[1].by, [&part("shutter")]);
    }

    #[test]
    fn a_removal_that_upsets_nothing_asks_for_no_proof() {
        assert!(disturbed(&notes(), &[part("hood"), part("stranger")]).is_empty());
    }
}
