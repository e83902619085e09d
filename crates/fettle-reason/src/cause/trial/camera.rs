//! Cameras drawn from a network.

use fettle_notes::ServiceNotes;

use crate::cause::evidence::Evidence;
use crate::cause::network::{CauseAt, Chances, Network, SignAt};
use crate::lots::Lots;

/// Cameras drawn before one that nothing shows is given up.
const DRAWS: usize = 1000;

/// One camera: what is the matter with it, and which of it brings on which sign.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Camera {
    pub(super) present: Vec<bool>,
    signs: Vec<Shown>,
    pub(super) complaint: SignAt,
}

/// Why a sign is there: by itself, or by faults, each of which shows it as long as it is not cured.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Shown {
    by_itself: bool,
    by: Vec<CauseAt>,
}

/// So many cameras, each sent in because something shows: one of the signs that are there and that can be seen with nothing taken
/// apart, drawn by lot, is the complaint. Each has lots of its own, so that the first of 1,000 are those of 10.
///
/// Fewer when the network hardly ever shows anything.
#[must_use]
pub fn cameras(notes: &ServiceNotes, network: &Network, count: usize, seed: u64) -> Vec<Camera> {
    let outside: Vec<SignAt> = notes
        .signs
        .iter()
        .filter(|(_, sign)| sign.needs_apart.is_empty())
        .filter_map(|(id, _)| network.sign(id.as_str()))
        .collect();
    let each = (0..count as u64).filter_map(|at| {
        let mut lots = Lots::of(seed.wrapping_mul(1_000_003).wrapping_add(at));
        (0..DRAWS).find_map(|_| Camera::drawn(network, &outside, &mut lots))
    });
    each.collect()
}

/// The network with every chance off by a factor of two in its odds, up or down by lot: what an author might have written who
/// guessed. Chances of 0 and 1 stay.
#[must_use]
pub fn off_by_a_factor(network: &Network, seed: u64) -> Network {
    let mut lots = Lots::of(seed);
    let mut off = |chance: &mut f64| {
        if *chance > 0.0 && *chance < 1.0 {
            let odds = *chance / (1.0 - *chance) * lots.pick(&[0.5, 2.0]);
            *chance = odds / (1.0 + odds);
        }
    };
    let mut network = network.clone();
    for chances in network.causes.iter_mut().chain(&mut network.signs) {
        off(&mut chances.leak);
        chances.links.iter_mut().for_each(|(_, chance)| off(chance));
    }
    network
}

impl Camera {
    /// `None` when none of the signs that are seen from outside is there.
    fn drawn(network: &Network, outside: &[SignAt], lots: &mut Lots) -> Option<Self> {
        let mut present = vec![false; network.causes.len()];
        for at in &network.order {
            let absent = network.causes[*at].absent(|cause| present[cause]);
            present[*at] = lots.next() >= absent;
        }
        let mut shown = |chances: &Chances| Shown {
            by_itself: lots.next() < chances.leak,
            by: chances
                .links
                .iter()
                .filter(|(_, chance)| lots.next() < *chance)
                .map(|(cause, _)| *cause)
                .filter(|cause| present[*cause])
                .collect(),
        };
        let signs: Vec<Shown> = network.signs.iter().map(&mut shown).collect();
        let mut camera = Self {
            present,
            signs,
            complaint: 0,
        };
        let there = outside.iter().filter(|sign| camera.sign(**sign, &[]));
        let there: Vec<SignAt> = there.copied().collect();
        camera.complaint = *there.get(lots.below(there.len()))?;
        Some(camera)
    }

    /// Whether a sign is there when some faults have been cured.
    pub(super) fn sign(&self, at: SignAt, cured: &[CauseAt]) -> bool {
        let shown = &self.signs[at];
        shown.by_itself || shown.by.iter().any(|cause| !cured.contains(cause))
    }

    /// What is known when it has come in and so many signs, drawn by lot, have been looked at beside the complaint.
    #[must_use]
    pub fn looked_over(&self, network: &Network, looks: usize, seed: u64) -> Evidence {
        let mut lots = Lots::of(seed);
        let mut evidence = Evidence::none(network);
        evidence.observe(self.complaint, true);
        let mut left: Vec<SignAt> = (0..self.signs.len())
            .filter(|at| *at != self.complaint)
            .collect();
        for _ in 0..looks.min(left.len()) {
            let at = left.swap_remove(lots.below(left.len()));
            evidence.observe(at, self.sign(at, &[]));
        }
        evidence
    }
}
