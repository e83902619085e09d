//! A small camera laid out in bits: faults, looks and openings by number, a belief as weights of all sets of faults.

use crate::cause::network::Network;
use crate::cause::task::Task;
use crate::way::Set;

/// A set of small numbers, one bit each.
pub(super) type Bits = usize;

/// The numbers in a set.
pub(super) fn each(bits: Bits) -> impl Iterator<Item = usize> {
    std::iter::successors(Some(bits), |left| Some(left & left.wrapping_sub(1)))
        .take_while(|left| *left != 0)
        .map(|left| left.trailing_zeros() as usize)
}

/// All sets within a set, the empty one first.
pub(super) fn within(bits: Bits) -> impl Iterator<Item = Bits> {
    std::iter::successors(Some(0_usize), move |set| {
        (*set != bits).then(|| set.wrapping_sub(bits) & bits)
    })
}

/// The one work of a fault.
pub(super) struct Mend {
    pub(super) minutes: f64,
    pub(super) success: f64,
    pub(super) needs: Bits,
    pub(super) comeback: f64,
}

impl Mend {
    /// Minutes of the work when its fault is there with chance `p`.
    pub(super) fn costs(&self, p: f64) -> f64 {
        self.minutes * (1.0 + p * (1.0 / self.success - 1.0))
    }
}

/// A look.
pub(super) struct Glance {
    pub(super) minutes: f64,
    pub(super) needs: Bits,
    /// The faults that show there, and the chance that each does.
    pub(super) shows: Bits,
    pub(super) links: Vec<f64>,
    pub(super) leak: f64,
    /// Chance of no by the faults that are there.
    absent: Vec<f64>,
}

/// A network whose faults have one work each, with its task.
pub(super) struct Camera {
    pub(super) mends: Vec<Mend>,
    pub(super) glances: Vec<Glance>,
    pub(super) removals: Vec<f64>,
}

/// Something to do next.
#[derive(Clone, Copy)]
pub(super) enum Step {
    Look(usize),
    Work(usize),
}

/// What is believed and open.
#[derive(Clone)]
pub(super) struct Place {
    /// Weights of the sets of faults within `left`, of sum 1; 0 for others.
    pub(super) weights: Vec<f64>,
    /// The faults not yet settled.
    pub(super) left: Bits,
    /// The looks not yet made that show any of those.
    pub(super) looks: Bits,
    /// The removals that are made, or that nothing needs any more.
    pub(super) open: Bits,
}

impl Camera {
    pub(super) fn of(network: &Network, task: &Task) -> Self {
        let bits = |set: &Set| set.iter().fold(0, |bits, at| bits | 1 << at);
        let first = network.circumstances;
        let faults = network.causes.len() - first;
        let mends = (first..first + faults).map(|cause| {
            let mut cures = task.cures.iter().filter(|cure| cure.cures == [cause]);
            let cure = cures.next().expect("each fault has a work of its own");
            Mend {
                minutes: cure.minutes,
                success: cure.success,
                needs: bits(&cure.needs),
                comeback: task.comeback[cause],
            }
        });
        let glances = task.looks.iter().map(|look| {
            let sign = &network.signs[look.sign];
            let mut links = vec![0.0; faults];
            for (cause, chance) in &sign.links {
                links[cause - first] = *chance;
            }
            Glance {
                minutes: look.minutes,
                needs: bits(&look.needs),
                shows: sign
                    .links
                    .iter()
                    .fold(0, |bits, (cause, _)| bits | 1 << (cause - first)),
                links,
                leak: sign.leak,
                absent: (0..1_usize << faults)
                    .map(|there| sign.absent(|cause| there >> (cause - first) & 1 == 1))
                    .collect(),
            }
        });
        Self {
            mends: mends.collect(),
            glances: glances.collect(),
            removals: task.removals.clone(),
        }
    }

    /// Minutes of the removals in a set.
    pub(super) fn opening(&self, removals: Bits) -> f64 {
        each(removals).map(|at| self.removals[at]).sum()
    }

    /// Without the looks and removals that nothing depends on any more.
    pub(super) fn tidied(&self, mut place: Place) -> Place {
        let telling = |look: &usize| self.glances[*look].shows & place.left != 0;
        place.looks = each(place.looks)
            .filter(telling)
            .fold(0, |bits, at| bits | 1 << at);
        let looks = each(place.looks).map(|at| self.glances[at].needs);
        let works = each(place.left).map(|at| self.mends[at].needs);
        let needed = looks.chain(works).fold(0, |all, needs| all | needs);
        place.open |= ((1 << self.removals.len()) - 1) & !needed;
        place
    }

    /// Chance of each fault.
    pub(super) fn chances(&self, place: &Place) -> Vec<f64> {
        let mut chances = vec![0.0; self.mends.len()];
        for there in within(place.left) {
            for fault in each(there) {
                chances[fault] += place.weights[there];
            }
        }
        chances
    }

    /// What can be done next.
    pub(super) fn steps(place: &Place) -> impl Iterator<Item = Step> {
        each(place.looks)
            .map(Step::Look)
            .chain(each(place.left).map(Step::Work))
    }

    /// What a step costs at once, and what it can come to, each with its chance.
    pub(super) fn after(&self, place: &Place, step: Step) -> (f64, Vec<(f64, Place)>) {
        match step {
            Step::Look(at) => {
                let look = &self.glances[at];
                let mut next = Place {
                    looks: place.looks & !(1 << at),
                    open: place.open | look.needs,
                    ..place.clone()
                };
                let mut yes = next.clone();
                for there in within(place.left) {
                    let absent = look.absent[there];
                    next.weights[there] *= absent;
                    yes.weights[there] *= 1.0 - absent;
                }
                let cost = look.minutes + self.opening(look.needs & !place.open);
                (cost, self.ends([next, yes]))
            }
            Step::Work(at) => {
                let mend = &self.mends[at];
                let bit = 1 << at;
                let mut absent = Place {
                    left: place.left & !bit,
                    open: place.open | mend.needs,
                    ..place.clone()
                };
                let mut present = absent.clone();
                let mut chance = 0.0;
                for there in within(absent.left) {
                    present.weights[there] = place.weights[there | bit];
                    chance += place.weights[there | bit];
                    absent.weights[there | bit] = 0.0;
                    present.weights[there | bit] = 0.0;
                }
                let cost = mend.costs(chance) + self.opening(mend.needs & !place.open);
                (cost, self.ends([absent, present]))
            }
        }
    }

    fn ends(&self, ends: [Place; 2]) -> Vec<(f64, Place)> {
        let weighed = ends.into_iter().filter_map(|mut place| {
            let chance: f64 = within(place.left).map(|there| place.weights[there]).sum();
            if chance <= 0.0 {
                return None;
            }
            for there in within(place.left) {
                place.weights[there] /= chance;
            }
            Some((chance, self.tidied(place)))
        });
        weighed.collect()
    }
}

impl Place {
    /// Equal for places that agree, their weights to twelve digits.
    pub(super) fn key(&self) -> u128 {
        let mut low = 0x9e37_79b9_7f4a_7c15_u64;
        let mut high = 0xc2b2_ae3d_27d4_eb4f_u64;
        let mut add = |value: u64| {
            low = (low ^ value).wrapping_mul(0xff51_afd7_ed55_8ccd);
            low ^= low >> 32;
            high = (high.rotate_left(23) ^ value).wrapping_mul(0xc4ce_b9fe_1a85_ec53);
            high ^= high >> 29;
        };
        add((self.left << 32 | self.looks << 16 | self.open) as u64);
        for there in within(self.left) {
            add((self.weights[there] * 1e12).round() as u64);
        }
        u128::from(high) << 64 | u128::from(low)
    }
}
