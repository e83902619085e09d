//! The notes' removals by number.

use fettle_notes::{PartId, ServiceNotes};

use super::set::Set;
use crate::wait::Wait;

/// The removals of one model, ready to be searched.
#[derive(Debug, Clone)]
pub(crate) struct Removals<'a> {
    pub(crate) notes: &'a ServiceNotes,
    pub(crate) steps: Vec<Step<'a>>,
}

/// One removal by numbers.
#[derive(Debug, Clone)]
pub(crate) struct Step<'a> {
    pub(crate) part: &'a PartId,
    pub(crate) minutes: f64,
    /// Number of the side that is up.
    pub(crate) side: u16,
    /// Number of the tool, 0 for the hand.
    pub(crate) tool: u16,
    pub(crate) after: Vec<usize>,
    pub(crate) either: Vec<Vec<usize>>,
}

impl<'a> Removals<'a> {
    pub(crate) fn of(notes: &'a ServiceNotes) -> Self {
        let places = |parts: &[PartId]| {
            parts
                .iter()
                .filter_map(|part| notes.removals.position(part))
                .collect()
        };
        let (mut sides, mut tools) = (Vec::new(), vec![None]);
        let steps = notes
            .removals
            .iter()
            .map(|(part, removal)| Step {
                part,
                minutes: removal.minutes.to_f64(),
                side: number(&mut sides, Some(removal.side.as_str())),
                tool: number(&mut tools, removal.tool.as_deref()),
                after: places(&removal.after),
                either: removal.either.iter().map(|group| places(group)).collect(),
            })
            .collect();
        Self { notes, steps }
    }

    /// The places of the parts that have a removal.
    pub(crate) fn places<'p>(&self, parts: impl IntoIterator<Item = &'p PartId>) -> Set {
        let mut set = Set::below(self.steps.len());
        for part in parts {
            if let Some(at) = self.notes.removals.position(part) {
                set.add(at);
            }
        }
        set
    }

    /// Whether a part can come off when `off` are off.
    pub(crate) fn can_come_off(&self, at: usize, off: &Set) -> bool {
        let Step { after, either, .. } = &self.steps[at];
        Wait { after, either }.is_over(|part| off.has(*part))
    }

    /// Minutes of the removals in a set that are not already off.
    pub(crate) fn minutes(&self, set: &Set, off: &Set) -> f64 {
        set.iter()
            .filter(|at| !off.has(*at))
            .map(|at| self.steps[at].minutes)
            .sum()
    }
}

fn number<'t>(known: &mut Vec<Option<&'t str>>, text: Option<&'t str>) -> u16 {
    let at = known
        .iter()
        .position(|other| *other == text)
        .unwrap_or_else(|| {
            known.push(text);
            known.len() - 1
        });
    u16::try_from(at).unwrap_or(u16::MAX)
}
