//! Which row a knot stands in.

use super::{Downward, Knot, Spacing};

/// What a row costs, what it costs to be too wide, and what it costs for each unit of width beyond the room.
const ROW: i64 = 30;
const TOO_WIDE: i64 = 2_000;
const BEYOND: i64 = 6;
/// What a line costs for each row that it goes down, and a thread for each row that it passes.
const DOWN: i64 = 10;
const PASSED: i64 = 12;
/// What a knot costs for each row that it stands below the first: what hangs from nothing stands high.
const LOW: i64 = 2;
/// Moves tried for each knot, and the most work that all of them may make.
const MOVES_PER_KNOT: usize = 500;
const MOST_WORK: usize = 12_000_000;

/// Rows by longest path, then drawn out so that none is wider than the room where that can be, and lines are short.
///
/// The first rows come from list scheduling by longest path below. They are improved by threshold accepting (Dueck &
/// Scheuer, J. Comput. Phys. 90, 1990): single knots move between the rows of their neighbours, at first also where that costs a
/// little. All costs are whole numbers and the chances come from a fixed seed, so that every machine finds the same rows.
pub(super) fn rows(knots: &[Knot], links: &[Downward], spacing: &Spacing) -> Vec<usize> {
    if knots.is_empty() {
        return Vec::new();
    }
    let mut search = Search::new(knots, links, spacing);
    search.schedule();
    search.improve();
    search.row_of
}

struct Search<'a> {
    links: &'a [Downward],
    above: Vec<Vec<usize>>,
    below: Vec<Vec<usize>>,
    /// The links of each bundle.
    bundles: Vec<Vec<usize>>,
    /// Whole units, with the room to the next box.
    widths: Vec<i64>,
    room: i64,
    thread: i64,
    row_of: Vec<usize>,
}

impl<'a> Search<'a> {
    fn new(knots: &[Knot], links: &'a [Downward], spacing: &Spacing) -> Self {
        let mut above = vec![Vec::new(); knots.len()];
        let mut below = vec![Vec::new(); knots.len()];
        let mut bundles = std::collections::BTreeMap::<_, Vec<usize>>::new();
        for (n, link) in links.iter().enumerate() {
            above[link.to].push(link.from);
            below[link.from].push(link.to);
            bundles.entry(link.bundle()).or_default().push(n);
        }
        Self {
            links,
            above,
            below,
            bundles: bundles.into_values().collect(),
            widths: knots
                .iter()
                .map(|k| (k.width + spacing.between).ceil() as i64)
                .collect(),
            room: (spacing.room + spacing.between).floor() as i64,
            thread: (spacing.thread + spacing.between).ceil() as i64,
            row_of: vec![0; knots.len()],
        }
    }

    /// Longest way down from each knot, in rows.
    fn heights(&self) -> Vec<usize> {
        let mut left: Vec<usize> = self.below.iter().map(Vec::len).collect();
        let mut heights = vec![0; left.len()];
        let mut ready: Vec<usize> = (0..left.len()).filter(|&n| left[n] == 0).collect();
        while let Some(n) = ready.pop() {
            for &up in &self.above[n] {
                heights[up] = heights[up].max(heights[n] + 1);
                left[up] -= 1;
                if left[up] == 0 {
                    ready.push(up);
                }
            }
        }
        heights
    }

    /// Fills row after row with knots that have all of theirs above, those with the longest way below first.
    fn schedule(&mut self) {
        let heights = self.heights();
        let mut left: Vec<usize> = self.above.iter().map(Vec::len).collect();
        let mut ready: Vec<usize> = (0..left.len()).filter(|&n| left[n] == 0).collect();
        let mut row = 0;
        while !ready.is_empty() {
            ready.sort_by_key(|&n| (std::cmp::Reverse(heights[n]), n));
            let mut used = 0;
            let mut placed = Vec::new();
            ready.retain(|&n| {
                let fits = used == 0 || used + self.widths[n] <= self.room;
                if fits {
                    used += self.widths[n];
                    placed.push(n);
                }
                !fits
            });
            for n in placed {
                self.row_of[n] = row;
                for &down in &self.below[n] {
                    left[down] -= 1;
                    if left[down] == 0 {
                        ready.push(down);
                    }
                }
            }
            row += 1;
        }
    }

    fn improve(&mut self) {
        let knots = self.row_of.len();
        // Four more than needed, so that a crowded row can be drawn out.
        let rows = self.row_of.iter().max().map_or(1, |r| r + 1) + 4;
        let work = (knots + self.links.len() + rows).max(1);
        let moves = (MOVES_PER_KNOT * knots).min(MOST_WORK / work);
        let mut chance = Chance(0x9e37_79b9_7f4a_7c15);
        let mut used = vec![0; rows];
        let mut cost = self.cost(&mut used);
        let (mut best, mut best_cost) = (self.row_of.clone(), cost);
        for step in 0..moves {
            let threshold = 60 * (moves - step) as i64 / moves as i64;
            let n = chance.below(knots);
            let first = self.above[n].iter().map(|&a| self.row_of[a] + 1).max();
            let last = self.below[n].iter().map(|&b| self.row_of[b]).min();
            let (first, last) = (first.unwrap_or(0), last.unwrap_or(rows));
            if last <= first + 1 {
                continue;
            }
            let was = self.row_of[n];
            self.row_of[n] = first + chance.below(last - first);
            let now = self.cost(&mut used);
            if now <= cost + threshold {
                cost = now;
                if cost < best_cost {
                    best_cost = cost;
                    best.clone_from(&self.row_of);
                }
            } else {
                self.row_of[n] = was;
            }
        }
        self.row_of = best;
        self.close_up(rows);
    }

    fn cost(&self, used: &mut [i64]) -> i64 {
        used.fill(0);
        let mut cost = 0;
        for (&row, width) in self.row_of.iter().zip(&self.widths) {
            used[row] += width;
            cost += LOW * row as i64;
        }
        for bundle in &self.bundles {
            let Some(&first) = bundle.first() else {
                continue;
            };
            let from = self.row_of[self.links[first].from];
            let mut deepest = from + 1;
            for &n in bundle {
                let to = self.row_of[self.links[n].to];
                deepest = deepest.max(to);
                cost += DOWN * (to - from) as i64;
            }
            cost += PASSED * (deepest - from - 1) as i64;
            for row in used.iter_mut().take(deepest).skip(from + 1) {
                *row += self.thread;
            }
        }
        for &width in used.iter().filter(|&&w| w > 0) {
            cost += ROW;
            if width > self.room {
                cost += TOO_WIDE + BEYOND * (width - self.room);
            }
        }
        cost
    }

    /// Takes out rows that hold nothing.
    fn close_up(&mut self, rows: usize) {
        let mut held = vec![false; rows];
        for &row in &self.row_of {
            held[row] = true;
        }
        let mut next = 0;
        let new: Vec<usize> = held
            .iter()
            .map(|&held| {
                next += usize::from(held);
                next.saturating_sub(1)
            })
            .collect();
        for row in &mut self.row_of {
            *row = new[*row];
        }
    }
}

/// Marsaglia's xorshift (J. Stat. Softw. 8(14), 2003).
struct Chance(u64);

impl Chance {
    /// A whole number below `bound`, 0 when that is 0.
    fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        let bound = bound.max(1) as u64;
        ((self.0 >> 33) % bound) as usize
    }
}
