//! Layered drawing of a graph whose lines run downwards.
//!
//! The steps are those of Sugiyama, Tagawa & Toda (IEEE Trans. SMC 11, 1981): rows, order within the rows, places. Rows are
//! kept no wider than the sheet (see [`rows`]); lines that pass a row are given a place of their own in it, so that none runs
//! through a box; lines of one strand from one knot share that place. Equal input gives the equal drawing.

mod order;
mod place;
mod rows;
#[cfg(test)]
mod tests;

use crate::svg::{Area, Point, at};

/// A box to be placed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Knot {
    pub(crate) width: f64,
    pub(crate) height: f64,
}

/// A line from an upper box to a lower one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Link {
    pub(crate) from: usize,
    pub(crate) to: usize,
    /// Lines from one knot with equal strands run together where they pass a row.
    pub(crate) strand: usize,
}

/// The room between things.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spacing {
    /// Width that a row should keep to.
    pub(crate) room: f64,
    /// Between two boxes of a row.
    pub(crate) between: f64,
    /// Least height between two rows.
    pub(crate) rows: f64,
    /// How much further apart rows stand for each unit that a line between them reaches sideways, so that it is not too flat
    /// to follow; no more than as much again.
    pub(crate) reach: f64,
    /// Width that a line passing a row takes in it.
    pub(crate) thread: f64,
    /// Least distance of two lines that enter one box, where it is wide enough.
    pub(crate) ports: f64,
}

/// Where everything goes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layered {
    /// The boxes, in the order of the knots.
    pub(crate) areas: Vec<Area>,
    /// The row of each knot, from the top.
    pub(crate) rows: Vec<usize>,
    /// For each link its way: an upright piece, a piece between two rows, an upright piece, and so on. Empty for a link that
    /// joins a knot to itself or to none. A link that closes a circle runs upwards.
    pub(crate) routes: Vec<Vec<Point>>,
    pub(crate) width: f64,
    pub(crate) height: f64,
}

impl Layered {
    /// The drawing mirrored at its diagonal, so that lines run to the right.
    pub(crate) fn turned(mut self) -> Self {
        for area in &mut self.areas {
            *area = Area {
                left: area.top,
                top: area.left,
                right: area.bottom,
                bottom: area.right,
            };
        }
        for point in self.routes.iter_mut().flatten() {
            *point = at(point.y, point.x);
        }
        (self.width, self.height) = (self.height, self.width);
        self
    }
}

/// The graph with every line cut into pieces from one row to the next.
#[derive(Debug, Clone, PartialEq)]
struct Threaded {
    /// Width of every knot, and of every thread after them.
    widths: Vec<f64>,
    /// How many of them are knots.
    knots: usize,
    row_of: Vec<usize>,
    /// Knots and threads from left to right, row by row.
    order: Vec<Vec<usize>>,
    up: Vec<Vec<usize>>,
    down: Vec<Vec<usize>>,
    /// The threads that each link passes, from the top.
    passed: Vec<Vec<usize>>,
}

impl Threaded {
    fn new(knots: &[Knot], links: &[Downward], row_of: &[usize], thread: f64) -> Self {
        let mut this = Self {
            widths: knots.iter().map(|k| k.width).collect(),
            knots: knots.len(),
            row_of: row_of.to_vec(),
            order: vec![Vec::new(); row_of.iter().max().map_or(0, |r| r + 1)],
            up: vec![Vec::new(); knots.len()],
            down: vec![Vec::new(); knots.len()],
            passed: vec![Vec::new(); links.len()],
        };
        let mut strands: std::collections::BTreeMap<(usize, usize, bool), Vec<usize>> =
            std::collections::BTreeMap::new();
        for (passed, link) in this.passed.iter_mut().zip(links) {
            let chain = strands.entry(link.bundle()).or_default();
            let between = row_of[link.to] - row_of[link.from] - 1;
            while chain.len() < between {
                let thread_no = this.widths.len();
                let above = chain.last().copied().unwrap_or(link.from);
                this.widths.push(thread);
                this.row_of.push(row_of[link.from] + chain.len() + 1);
                this.up.push(vec![above]);
                this.down.push(Vec::new());
                this.down[above].push(thread_no);
                chain.push(thread_no);
            }
            passed.extend(chain.iter().take(between));
            let last = passed.last().copied().unwrap_or(link.from);
            this.down[last].push(link.to);
            this.up[link.to].push(last);
        }
        this
    }

    fn is_thread(&self, n: usize) -> bool {
        n >= self.knots
    }
}

/// A link as it is laid: always downwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Downward {
    from: usize,
    to: usize,
    strand: usize,
    /// Its place among the links asked for.
    asked: usize,
    /// Whether it is laid against its own direction.
    turned: bool,
}

impl Downward {
    /// What the links that share their threads have in common.
    fn bundle(&self) -> (usize, usize, bool) {
        (self.from, self.strand, self.turned)
    }
}

/// Lays out a graph.
pub(crate) fn layered(knots: &[Knot], links: &[Link], spacing: &Spacing) -> Layered {
    let laid = downward(knots.len(), links);
    let row_of = rows::rows(knots, &laid, spacing);
    lay(knots, links.len(), &laid, row_of, spacing)
}

/// Lays out a graph whose rows are given; a link that does not lead to a later row has no way. Knots without a row stand in
/// the first.
pub(crate) fn in_rows(
    knots: &[Knot],
    links: &[Link],
    rows: &[usize],
    spacing: &Spacing,
) -> Layered {
    let row_of: Vec<usize> = (0..knots.len())
        .map(|n| rows.get(n).copied().unwrap_or(0))
        .collect();
    let mut laid = joining(knots.len(), links);
    laid.retain(|link| row_of[link.from] < row_of[link.to]);
    lay(knots, links.len(), &laid, row_of, spacing)
}

fn lay(
    knots: &[Knot],
    links: usize,
    laid: &[Downward],
    row_of: Vec<usize>,
    spacing: &Spacing,
) -> Layered {
    let mut threaded = Threaded::new(knots, laid, &row_of, spacing.thread);
    order::order(&mut threaded);
    let (centres, width) = place::place(&threaded, spacing);
    let bands = bands(knots, &threaded, laid, &centres, spacing);

    let areas: Vec<Area> = knots
        .iter()
        .enumerate()
        .map(|(n, knot)| {
            let (top, bottom) = bands[row_of[n]];
            let middle = (top + bottom) / 2.0;
            Area {
                left: centres[n] - knot.width / 2.0,
                right: centres[n] + knot.width / 2.0,
                top: middle - knot.height / 2.0,
                bottom: middle + knot.height / 2.0,
            }
        })
        .collect();
    let ports = ports(&threaded, laid, &centres, &areas, spacing.ports);
    let mut routes = vec![Vec::new(); links];
    for ((link, passed), port) in laid.iter().zip(&threaded.passed).zip(ports) {
        let x = centres[link.from];
        let mut route = vec![
            at(x, areas[link.from].bottom),
            at(x, bands[row_of[link.from]].1),
        ];
        for &thread in passed {
            let (top, bottom) = bands[threaded.row_of[thread]];
            route.extend([at(centres[thread], top), at(centres[thread], bottom)]);
        }
        route.extend([
            at(port, bands[row_of[link.to]].0),
            at(port, areas[link.to].top),
        ]);
        if link.turned {
            route.reverse();
        }
        routes[link.asked] = route;
    }
    Layered {
        areas,
        rows: row_of,
        routes,
        width,
        height: bands.last().map_or(0.0, |band| band.1),
    }
}

/// The links that join two different knots.
fn joining(knots: usize, links: &[Link]) -> Vec<Downward> {
    links
        .iter()
        .enumerate()
        .filter(|(_, l)| l.from < knots && l.to < knots && l.from != l.to)
        .map(|(asked, l)| Downward {
            from: l.from,
            to: l.to,
            strand: l.strand,
            asked,
            turned: false,
        })
        .collect()
}

/// The links that join two different knots, those that would close a circle turned round.
fn downward(knots: usize, links: &[Link]) -> Vec<Downward> {
    let mut laid = joining(knots, links);
    let mut out: Vec<Vec<usize>> = vec![Vec::new(); knots];
    for (n, link) in laid.iter().enumerate() {
        out[link.from].push(n);
    }
    // Depth first with an own stack, so that a long chain does not overflow the program's.
    let (mut begun, mut done) = (vec![false; knots], vec![false; knots]);
    for root in 0..knots {
        let mut stack = vec![(root, 0)];
        while let Some((knot, next)) = stack.pop() {
            begun[knot] = true;
            let Some(&n) = out[knot].get(next) else {
                done[knot] = true;
                continue;
            };
            stack.push((knot, next + 1));
            let to = laid[n].to;
            if begun[to] && !done[to] {
                laid[n].turned = true;
            } else if !begun[to] {
                stack.push((to, 0));
            }
        }
    }
    for link in laid.iter_mut().filter(|l| l.turned) {
        (link.from, link.to) = (link.to, link.from);
    }
    laid
}

/// Top and bottom of each row. Rows stand further apart where lines between them reach far sideways.
fn bands(
    knots: &[Knot],
    threaded: &Threaded,
    laid: &[Downward],
    centres: &[f64],
    spacing: &Spacing,
) -> Vec<(f64, f64)> {
    let rows = threaded.order.len();
    let mut heights = vec![0.0_f64; rows];
    for (knot, &row) in knots.iter().zip(&threaded.row_of) {
        heights[row] = heights[row].max(knot.height);
    }
    let mut reach = vec![0.0_f64; rows];
    for (link, passed) in laid.iter().zip(&threaded.passed) {
        let mut above = link.from;
        for &below in passed.iter().chain([&link.to]) {
            let row = threaded.row_of[above];
            reach[row] = reach[row].max((centres[above] - centres[below]).abs());
            above = below;
        }
    }
    let mut y = 0.0;
    heights
        .iter()
        .zip(reach)
        .map(|(height, reach)| {
            let band = (y, y + height);
            y = band.1 + spacing.rows + (reach * spacing.reach).min(spacing.rows);
            band
        })
        .collect()
}

/// Least distance of a line from the corner of the box that it enters.
const PORT_MARGIN: f64 = 8.0;

/// Where each link enters its lower box: straight below where it comes from if it can, in the order of where they come from.
fn ports(
    threaded: &Threaded,
    laid: &[Downward],
    centres: &[f64],
    areas: &[Area],
    apart: f64,
) -> Vec<f64> {
    let mut entering: Vec<Vec<usize>> = vec![Vec::new(); areas.len()];
    for (n, link) in laid.iter().enumerate() {
        entering[link.to].push(n);
    }
    let comes_from = |n: usize| {
        let last = threaded.passed[n].last().copied().unwrap_or(laid[n].from);
        centres[last]
    };
    let mut ports = vec![0.0; laid.len()];
    for (area, mut links) in areas.iter().zip(entering) {
        let middle = (area.left + area.right) / 2.0;
        if let [only] = links[..] {
            ports[only] = middle;
            continue;
        }
        links.sort_by(|a, b| comes_from(*a).total_cmp(&comes_from(*b)));
        let margin = PORT_MARGIN.min(area.width() / 4.0);
        let (left, right) = (area.left + margin, area.right - margin);
        let apart = apart.min((right - left) / links.len() as f64);
        let wish: Vec<f64> = links
            .iter()
            .map(|&n| comes_from(n).clamp(left, right.max(left)))
            .collect();
        let placed = place::spread(
            &wish,
            &vec![1.0; wish.len()],
            &vec![apart; wish.len().saturating_sub(1)],
            left,
            right,
        );
        for (n, x) in links.into_iter().zip(placed) {
            ports[n] = x;
        }
    }
    ports
}
