//! What can be done at the bench and what it costs: looks, works, openings, coming back.

use fettle_notes::{PartId, ServiceNotes, WorkId};

use super::network::{CauseAt, Network, SignAt};
use crate::shares::LearnedSuccess;
use crate::way::{Removals, Set, reach};

/// Minutes that a camera costs which comes back for a fault left in it, beside finding its way in and curing it then: taking it in,
/// looking it over, proving and packing it once more.
pub const COMING_BACK_MINUTES: f64 = 60.0;

/// A look: settles one sign.
#[derive(Debug, Clone)]
pub(crate) struct Look {
    pub(crate) sign: SignAt,
    pub(crate) minutes: f64,
    /// Removals to be made first.
    pub(crate) needs: Set,
}

/// A work: shows whether its faults are there, and cures them.
#[derive(Debug, Clone)]
pub(crate) struct Cure {
    pub(crate) name: String,
    pub(crate) minutes: f64,
    /// Chance that it takes; it is done again until it does.
    pub(crate) success: f64,
    pub(crate) needs: Set,
    pub(crate) cures: Vec<CauseAt>,
}

/// The choices of one camera in its present state of strip.
#[derive(Debug, Clone)]
pub(crate) struct Task {
    pub(crate) looks: Vec<Look>,
    pub(crate) cures: Vec<Cure>,
    /// Minutes that each cause costs when it is left in and the camera comes back; 0 for circumstances.
    pub(crate) comeback: Vec<f64>,
    /// Minutes of each removal.
    pub(crate) removals: Vec<f64>,
    /// The faults that each sign shows.
    pub(crate) shown: Vec<Vec<CauseAt>>,
}

impl Cure {
    /// Minutes of doing it when one of its faults is there with chance `p`, openings apart.
    pub(crate) fn costs(&self, p: f64) -> f64 {
        self.minutes * (1.0 + p * (1.0 / self.success - 1.0))
    }
}

impl Task {
    /// What the notes offer with the parts `off` already off. With a full strip ordered, openings cost nothing: they are made anyway.
    pub(crate) fn of(
        notes: &ServiceNotes,
        network: &Network,
        off: &[PartId],
        full_strip: bool,
        successes: &[(WorkId, LearnedSuccess)],
    ) -> Self {
        let removals = Removals::of(notes);
        let off = removals.places(off);
        Self::from(notes, network, &removals, &off, full_strip, successes)
    }

    /// The same by the numbers of the removals.
    pub(crate) fn from(
        notes: &ServiceNotes,
        network: &Network,
        removals: &Removals<'_>,
        off: &Set,
        full_strip: bool,
        successes: &[(WorkId, LearnedSuccess)],
    ) -> Self {
        let whole = Set::below(removals.steps.len());
        let needs = |parts: &[PartId], off: &Set| {
            reach(removals, off, &removals.places(parts))
                .sets
                .into_iter()
                .next()
        };
        let looks = notes
            .signs
            .iter()
            .enumerate()
            .filter_map(|(at, (_, sign))| {
                Some(Look {
                    sign: at,
                    minutes: sign.minutes.to_f64(),
                    needs: needs(&sign.needs_apart, off)?,
                })
            });
        let mut comeback = vec![0.0; network.causes.len()];
        let mut cures: Vec<Cure> = Vec::new();
        for (id, work) in notes.works.iter() {
            let cured = notes
                .faults
                .iter()
                .filter(|(_, fault)| fault.cured_by.contains(id));
            let cured: Vec<CauseAt> = cured
                .filter_map(|(fault, _)| network.fault(fault.as_str()))
                .collect();
            let (Some(now), Some(closed)) = (
                needs(&work.needs_apart, off),
                needs(&work.needs_apart, &whole),
            ) else {
                continue;
            };
            let learned = successes.iter().find(|(it, _)| it == id);
            let author = work.success.to_f64();
            let success = learned.map_or(author, |(_, it)| it.learned).max(0.05);
            let minutes = work.minutes.to_f64();
            let again = COMING_BACK_MINUTES + removals.minutes(&closed, &whole) + minutes / success;
            for cause in &cured {
                let least: &mut f64 = &mut comeback[*cause];
                *least = if *least > 0.0 {
                    least.min(again)
                } else {
                    again
                };
            }
            cures.push(Cure {
                name: id.to_string(),
                minutes,
                success,
                needs: now,
                cures: cured,
            });
        }
        let free = if full_strip { 0.0 } else { 1.0 };
        Self {
            looks: looks.collect(),
            cures,
            comeback,
            removals: removals
                .steps
                .iter()
                .map(|step| free * step.minutes)
                .collect(),
            shown: network
                .signs
                .iter()
                .map(|sign| sign.links.iter().map(|(cause, _)| *cause).collect())
                .collect(),
        }
    }

    /// Minutes of the removals in `needs` that are not in `open`.
    pub(crate) fn opening(&self, needs: &Set, open: &Set) -> f64 {
        needs
            .iter()
            .filter(|at| !open.has(*at))
            .map(|at| self.removals[at])
            .sum()
    }

    /// The faults that a sign shows.
    pub(crate) fn shown_by(&self, sign: SignAt) -> &[CauseAt] {
        &self.shown[sign]
    }

    /// No removal made beyond those that were made before.
    pub(crate) fn closed(&self) -> Set {
        Set::below(self.removals.len())
    }
}
