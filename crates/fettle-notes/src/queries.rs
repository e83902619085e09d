//! Questions that the other rooms ask of service notes.

use std::collections::{BTreeSet, HashMap};

use serde::Serialize;

use crate::model::{
    Catalog, Limit, LimitId, PartId, ServiceNotes, Setting, SettingId, ShutterLimit, Sign, SignId,
};

/// How many of each kind the notes define.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Counts {
    /// Parts.
    pub parts: usize,
    /// Removals.
    pub removals: usize,
    /// Circumstances.
    pub circumstances: usize,
    /// Faults.
    pub faults: usize,
    /// Signs.
    pub signs: usize,
    /// Works.
    pub works: usize,
    /// Settings.
    pub settings: usize,
    /// Limits.
    pub limits: usize,
}

/// Signs that are looked at in one place.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SignGroup<'n> {
    /// Where they are looked at.
    pub at: &'n str,
    /// The signs in the file's order.
    pub signs: Vec<(&'n SignId, &'n Sign)>,
}

impl ServiceNotes {
    /// How many of each kind there are.
    #[must_use]
    pub fn counts(&self) -> Counts {
        Counts {
            parts: self.parts.len(),
            removals: self.removals.len(),
            circumstances: self.circumstances.len(),
            faults: self.faults.len(),
            signs: self.signs.len(),
            works: self.works.len(),
            settings: self.settings.len(),
            limits: self.limits.len(),
        }
    }

    /// The limit of this id.
    #[must_use]
    pub fn limit(&self, id: &str) -> Option<&Limit> {
        self.limits.get(id)
    }

    /// The first limit on exposure times.
    #[must_use]
    pub fn shutter_limit(&self) -> Option<(&LimitId, &ShutterLimit)> {
        self.limits.iter().find_map(|(id, limit)| match limit {
            Limit::Shutter(shutter) => Some((id, shutter)),
            _ => None,
        })
    }

    /// Signs by where they are looked at; places in the order in which the file first names them.
    #[must_use]
    pub fn signs_by_place(&self) -> Vec<SignGroup<'_>> {
        let mut groups: Vec<SignGroup<'_>> = Vec::new();
        for (id, sign) in self.signs.iter() {
            match groups.iter_mut().find(|group| group.at == sign.at) {
                Some(group) => group.signs.push((id, sign)),
                None => groups.push(SignGroup {
                    at: &sign.at,
                    signs: vec![(id, sign)],
                }),
            }
        }
        groups
    }

    /// Everything that must be off before the part, whichever way is taken, in an order in which it can come off.
    ///
    /// Alternatives (`either`) are left open: what only one of the ways needs is not among them. Empty for a part that does not come off.
    #[must_use]
    pub fn must_be_off_before(&self, part: &PartId) -> Vec<&PartId> {
        let mut wanted = BTreeSet::new();
        let mut open: Vec<&PartId> = self
            .removals
            .get(part)
            .map(|r| r.after.iter().collect())
            .unwrap_or_default();
        while let Some(next) = open.pop() {
            if let Some(at) = self.removals.position(next)
                && wanted.insert(at)
            {
                open.extend(
                    self.removals
                        .get(next)
                        .map(|r| r.after.iter())
                        .into_iter()
                        .flatten(),
                );
            }
        }
        let order = in_order(&self.removals, |removal| removal.after.iter());
        order
            .into_iter()
            .filter(|at| wanted.contains(at))
            .filter_map(|at| self.removals.ids().nth(at))
            .collect()
    }

    /// Settings so ordered that each comes after all that it depends on; the file's order among equals.
    #[must_use]
    pub fn settings_in_order(&self) -> Vec<(&SettingId, &Setting)> {
        let all: Vec<_> = self.settings.iter().collect();
        let order = in_order(&self.settings, |setting| setting.depends_on.iter());
        order
            .into_iter()
            .filter_map(|at| all.get(at).copied())
            .collect()
    }
}

/// Places of the entries, each after all that it waits for, otherwise in the file's order.
///
/// Of those that wait for nothing more, the earliest in the file is always next (Kahn, CACM 5 (1962) 558).
fn in_order<'n, K, V>(
    catalog: &'n Catalog<K, V>,
    waits_for: impl Fn(&'n V) -> std::slice::Iter<'n, K>,
) -> Vec<usize>
where
    K: std::hash::Hash + Eq + Clone + 'n,
{
    let mut waiting: Vec<usize> = Vec::with_capacity(catalog.len());
    let mut released_by: HashMap<usize, Vec<usize>> = HashMap::new();
    for (at, value) in catalog.values().enumerate() {
        let before: BTreeSet<usize> = waits_for(value)
            .filter_map(|id| catalog.position(id))
            .collect();
        waiting.push(before.len());
        for first in before {
            released_by.entry(first).or_default().push(at);
        }
    }
    let mut ready: BTreeSet<usize> = (0..waiting.len()).filter(|&at| waiting[at] == 0).collect();
    let mut order = Vec::with_capacity(waiting.len());
    while let Some(next) = ready.pop_first() {
        order.push(next);
        for &after in released_by.get(&next).into_iter().flatten() {
            waiting[after] -= 1;
            if waiting[after] == 0 {
                ready.insert(after);
            }
        }
    }
    order
}
