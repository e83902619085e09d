//! Minutes that no policy undercuts.
//!
//! Two relaxations, the greater counts. The first tells everything about the camera: what is left is the least of works, openings
//! and coming back. The second tells about each fault everything but that fault, and lets the looks that show it be bought for it
//! alone: each look's and each removal's minutes are shared out among the faults, so that no policy pays less than the faults'
//! shares, and what a fault costs then hangs on one chance only. With the others known, a look is the more telling the fewer of them
//! show there (Blackwell, Annals of Mathematical Statistics 24 (1953) 265), so that none is supposed to. The cost of one fault by its
//! chance is concave, and straight lines between the points of its table lie below it.

use std::collections::HashMap;
use std::rc::Rc;

use super::place::{Bits, Camera, Place, each, within};

/// Parts of a table of costs by chance.
const PARTS: usize = 512;

/// What a fault costs by its chance, at `0, 1/PARTS ... 1`.
type Table = Rc<Vec<f64>>;

pub(super) struct Least<'c> {
    camera: &'c Camera,
    /// Everything known: by what is open, then by what is the matter.
    told: Vec<Vec<f64>>,
    /// What each fault pays of each look, and of each removal.
    of_look: Vec<Vec<f64>>,
    of_removal: Vec<Vec<f64>>,
    /// By fault, looks left and what is open.
    tables: HashMap<(usize, Bits, Bits), Table>,
}

fn at(table: &[f64], chance: f64) -> f64 {
    let place = chance * PARTS as f64;
    let below = (place as usize).min(PARTS - 1);
    table[below] + (place - below as f64) * (table[below + 1] - table[below])
}

impl<'c> Least<'c> {
    /// Shares go by what each fault may cost at the start.
    pub(super) fn of(camera: &'c Camera, start: &Place) -> Self {
        let faults = camera.mends.len();
        let least = |open: Bits, there: Bits| {
            let all = (1 << camera.removals.len()) - 1;
            let with = |more: Bits| {
                let cost = |fault: usize| {
                    let mend = &camera.mends[fault];
                    if mend.needs & !(open | more) == 0 {
                        mend.costs(1.0).min(mend.comeback)
                    } else {
                        mend.comeback
                    }
                };
                camera.opening(more) + each(there).map(cost).sum::<f64>()
            };
            within(all & !open).map(with).fold(f64::INFINITY, f64::min)
        };
        let told = (0..1 << camera.removals.len())
            .map(|open| (0..1 << faults).map(|there| least(open, there)).collect());
        let chances = camera.chances(start);
        let shared = |among: &dyn Fn(usize) -> bool, minutes: f64| -> Vec<f64> {
            let weigh = |fault: usize| {
                if among(fault) {
                    chances[fault] * camera.mends[fault].comeback
                } else {
                    0.0
                }
            };
            let total: f64 = (0..faults).map(weigh).sum();
            let part = |fault| {
                if total > 0.0 {
                    minutes * weigh(fault) / total
                } else {
                    0.0
                }
            };
            (0..faults).map(part).collect()
        };
        Self {
            camera,
            told: told.collect(),
            of_look: camera
                .glances
                .iter()
                .map(|look| shared(&|fault| look.shows >> fault & 1 == 1, look.minutes))
                .collect(),
            of_removal: camera
                .removals
                .iter()
                .enumerate()
                .map(|(at, minutes)| {
                    shared(&|fault| camera.mends[fault].needs >> at & 1 == 1, *minutes)
                })
                .collect(),
            tables: HashMap::new(),
        }
    }

    /// No policy that goes on from here costs less.
    pub(super) fn at(&mut self, place: &Place) -> f64 {
        let told = &self.told[place.open];
        let told: f64 = within(place.left)
            .map(|there| place.weights[there] * told[there])
            .sum();
        let mut alone = 0.0;
        for fault in each(place.left) {
            let table = self.table(fault, place.looks, place.open);
            let bit = 1 << fault;
            for others in within(place.left & !bit) {
                let there = place.weights[others | bit];
                if there > 0.0 {
                    let either = there + place.weights[others];
                    alone += either * at(&table, there / either);
                }
            }
        }
        told.max(alone)
    }

    fn table(&mut self, fault: usize, looks: Bits, open: Bits) -> Table {
        let camera = self.camera;
        let looks = each(looks)
            .filter(|look| camera.glances[*look].links[fault] > 0.0)
            .fold(0, |bits, look| bits | 1 << look);
        if let Some(known) = self.tables.get(&(fault, looks, open)) {
            return Rc::clone(known);
        }
        let mend = &camera.mends[fault];
        let opening: f64 = each(mend.needs & !open)
            .map(|removal| self.of_removal[removal][fault])
            .sum();
        let mut table: Vec<f64> = (0..=PARTS)
            .map(|part| {
                let p = part as f64 / PARTS as f64;
                (p * mend.comeback).min(opening + mend.costs(p))
            })
            .collect();
        for look in each(looks) {
            let after = self.table(fault, looks & !(1 << look), open);
            let glance = &camera.glances[look];
            let share = self.of_look[look][fault];
            let absent = 1.0 - glance.leak;
            let none = absent * (1.0 - glance.links[fault]);
            for (part, minutes) in table.iter_mut().enumerate() {
                let p = part as f64 / PARTS as f64;
                let no = p * none + (1.0 - p) * absent;
                let yes = 1.0 - no;
                let mut bought = share;
                if no > 0.0 {
                    bought += no * at(&after, (p * none / no).min(1.0));
                }
                if yes > 0.0 {
                    bought += yes * at(&after, (p * (1.0 - none) / yes).min(1.0));
                }
                *minutes = minutes.min(bought);
            }
        }
        let table = Rc::new(table);
        self.tables.insert((fault, looks, open), Rc::clone(&table));
        table
    }
}
