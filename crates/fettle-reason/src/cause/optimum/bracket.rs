//! The optimum from both sides: a search that goes where what can be undercut and what can be had lie furthest apart.
//!
//! After Smith & Simmons, "Heuristic search value iteration for POMDPs", UAI 2004: each place has a lower bound (`least`) and the
//! minutes of a policy that is known; a descent takes the step of least lower bound and the end whose gap, by its chance, is widest,
//! lays out the steps of one place more, and mends the bounds on its way up. Beliefs that come to the same are one place.

use std::collections::HashMap;

use super::least::Least;
use super::place::{Camera, Place, Step, each, within};

/// Bounds of the optimum, in minutes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bracket {
    pub(super) low: f64,
    pub(super) high: f64,
}

struct Node {
    low: f64,
    high: f64,
    ways: Option<Vec<Way>>,
}

/// A step, what it costs at once, and what it comes to.
struct Way {
    step: Step,
    cost: f64,
    ends: Vec<(f64, usize)>,
}

struct Search<'c> {
    camera: &'c Camera,
    least: Least<'c>,
    nodes: Vec<Node>,
    known: HashMap<u128, usize>,
    /// Minutes of a gap that is left alone.
    close: f64,
}

/// Closes in on the optimum until the bounds lie within that part of each other.
pub(super) fn bracket(camera: &Camera, start: &Place, part: f64) -> Bracket {
    let mut search = Search {
        camera,
        least: Least::of(camera, start),
        nodes: Vec::new(),
        known: HashMap::new(),
        close: 0.0,
    };
    let root = search.node(start);
    loop {
        let Node { low, high, .. } = search.nodes[root];
        search.close = part * low;
        if high - low <= search.close {
            return Bracket { low, high };
        }
        search.deepen(root, start);
    }
}

impl Search<'_> {
    fn node(&mut self, place: &Place) -> usize {
        let key = place.key();
        if let Some(known) = self.known.get(&key) {
            return *known;
        }
        let high = self.high(place);
        let low = self.least.at(place).min(high);
        self.nodes.push(Node {
            low,
            high,
            ways: None,
        });
        self.known.insert(key, self.nodes.len() - 1);
        self.nodes.len() - 1
    }

    /// Minutes of the best set of openings with the works behind them that then pay, whatever turns up.
    fn high(&self, place: &Place) -> f64 {
        let chances = self.camera.chances(place);
        let all = (1 << self.camera.removals.len()) - 1;
        let with = |more: usize| {
            let cost = |fault: usize| {
                let mend = &self.camera.mends[fault];
                let leave = chances[fault] * mend.comeback;
                if mend.needs & !(place.open | more) == 0 {
                    leave.min(mend.costs(chances[fault]))
                } else {
                    leave
                }
            };
            self.camera.opening(more) + each(place.left).map(cost).sum::<f64>()
        };
        within(all & !place.open)
            .map(with)
            .fold(f64::INFINITY, f64::min)
    }

    fn low(&self, way: &Way) -> f64 {
        way.cost
            + way
                .ends
                .iter()
                .map(|(chance, end)| chance * self.nodes[*end].low)
                .sum::<f64>()
    }

    fn lay_out(&mut self, place: &Place) -> Vec<Way> {
        let steps = Camera::steps(place);
        steps
            .map(|step| {
                let (cost, ends) = self.camera.after(place, step);
                let ends = ends.iter().map(|(chance, end)| (*chance, self.node(end)));
                Way {
                    step,
                    cost,
                    ends: ends.collect(),
                }
            })
            .collect()
    }

    fn deepen(&mut self, node: usize, place: &Place) {
        if self.nodes[node].high - self.nodes[node].low <= self.close {
            return;
        }
        let mut ways = match self.nodes[node].ways.take() {
            Some(ways) => ways,
            None => self.lay_out(place),
        };
        let least = ways
            .iter()
            .min_by(|a, b| self.low(a).total_cmp(&self.low(b)));
        if let Some(way) = least {
            let (_, ends) = self.camera.after(place, way.step);
            let gap = |at: usize| {
                let (chance, end) = way.ends[at];
                chance * (self.nodes[end].high - self.nodes[end].low - self.close)
            };
            let widest = (0..ends.len()).max_by(|a, b| gap(*a).total_cmp(&gap(*b)));
            if let Some(at) = widest {
                let end = way.ends[at].1;
                self.deepen(end, &ends[at].1);
            }
        }
        let mut low = f64::INFINITY;
        let mut high = self.nodes[node].high;
        for way in &ways {
            let ends = way.ends.iter();
            low = low.min(self.low(way));
            high = high.min(
                way.cost
                    + ends
                        .map(|(chance, end)| chance * self.nodes[*end].high)
                        .sum::<f64>(),
            );
        }
        ways.retain(|way| self.low(way) < high);
        let known = &mut self.nodes[node];
        known.high = high;
        // Stopping is among what `high` began with.
        known.low = known.low.max(low.min(high));
        known.ways = Some(ways);
    }
}
