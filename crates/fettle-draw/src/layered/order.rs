//! The order within the rows: as few crossings as can be found.

use super::Threaded;

/// Sweeps down and up from each beginning; the last of them without gain ends it.
const SWEEPS: usize = 24;
const IDLE_SWEEPS: usize = 4;
/// Above so many knots and threads one beginning must do.
const MANY: usize = 600;

/// Orders the rows by barycentre sweeps (Sugiyama et al. 1981) with swaps of neighbours after each (Gansner et al., IEEE Trans.
/// Softw. Eng. 19, 1993), from several beginnings; the order with the fewest crossings is kept. Swaps may lead sweeps astray, so
/// the sweeps are tried alone too.
pub(super) fn order(graph: &mut Threaded) {
    let beginnings = if graph.widths.len() > MANY { 1 } else { 4 };
    let mut best = swept(graph, begin(graph, 0), false);
    for beginning in 0..beginnings {
        if best.0 == 0 {
            break;
        }
        let found = swept(graph, begin(graph, beginning), true);
        if found.0 < best.0 {
            best = found;
        }
    }
    graph.order = best.1;
}

/// The best order that sweeps find from a first one, and its crossings.
fn swept(
    graph: &Threaded,
    mut order: Vec<Vec<usize>>,
    with_swaps: bool,
) -> (usize, Vec<Vec<usize>>) {
    let mut best = (count(graph, &order), order.clone());
    let mut idle = 0;
    for sweep in 0..SWEEPS {
        if best.0 == 0 || (with_swaps && idle == IDLE_SWEEPS) {
            break;
        }
        sweep_once(graph, &mut order, sweep % 2 == 0);
        if with_swaps {
            swap_neighbours(graph, &mut order);
        }
        let crossings = count(graph, &order);
        if crossings < best.0 {
            best = (crossings, order.clone());
            idle = 0;
        } else {
            idle += 1;
        }
    }
    if !with_swaps {
        swap_neighbours(graph, &mut best.1);
        best.0 = count(graph, &best.1);
    }
    best
}

/// A first order: as the knots come; depth first, whole trees beside each other, from the left or from the right; or by
/// breadth.
fn begin(graph: &Threaded, which: usize) -> Vec<Vec<usize>> {
    let mut rows = vec![Vec::new(); graph.order.len()];
    let all = graph.widths.len();
    let mut seen = vec![false; all];
    let mut roots: Vec<usize> = (0..all).collect();
    roots.sort_by_key(|&n| (graph.row_of[n], n));
    if which == 0 {
        for n in roots {
            rows[graph.row_of[n]].push(n);
        }
        return rows;
    }
    let mut pending = std::collections::VecDeque::new();
    for root in roots {
        pending.push_back(root);
        while let Some(n) = if which == 3 {
            pending.pop_front()
        } else {
            pending.pop_back()
        } {
            if std::mem::replace(&mut seen[n], true) {
                continue;
            }
            rows[graph.row_of[n]].push(n);
            let near = graph.down[n].iter().chain(&graph.up[n]);
            pending.extend(near.filter(|&&m| !seen[m]));
        }
    }
    if which == 2 {
        for row in &mut rows {
            row.reverse();
        }
    }
    rows
}

fn positions(graph: &Threaded, order: &[Vec<usize>]) -> Vec<usize> {
    let mut position = vec![0; graph.widths.len()];
    for row in order {
        for (place, &n) in row.iter().enumerate() {
            position[n] = place;
        }
    }
    position
}

/// One sweep: each row in turn is sorted by the mean place of what it hangs from, or of what hangs from it.
pub(super) fn sweep_once(graph: &Threaded, order: &mut [Vec<usize>], down: bool) {
    let mut position = positions(graph, order);
    let rows: Vec<usize> = if down {
        (1..order.len()).collect()
    } else {
        (0..order.len().saturating_sub(1)).rev().collect()
    };
    for row in rows {
        let near = if down { &graph.up } else { &graph.down };
        let mut keyed: Vec<(f64, usize)> = order[row]
            .iter()
            .map(|&n| {
                let sum: usize = near[n].iter().map(|&m| position[m]).sum();
                let mean = match near[n].len() {
                    0 => position[n] as f64,
                    many => sum as f64 / many as f64,
                };
                (mean, n)
            })
            .collect();
        keyed.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (place, (_, n)) in keyed.iter().enumerate() {
            order[row][place] = *n;
            position[*n] = place;
        }
    }
}

/// Swaps neighbours as long as that takes away crossings.
fn swap_neighbours(graph: &Threaded, order: &mut [Vec<usize>]) {
    let mut position = positions(graph, order);
    for _ in 0..SWEEPS {
        let mut gained = false;
        for row in order.iter_mut() {
            for left in 0..row.len().saturating_sub(1) {
                let (a, b) = (row[left], row[left + 1]);
                let near = [&graph.up, &graph.down];
                let as_it_is: usize = near.iter().map(|n| crossed(&n[a], &n[b], &position)).sum();
                let swapped: usize = near.iter().map(|n| crossed(&n[b], &n[a], &position)).sum();
                if swapped < as_it_is {
                    row.swap(left, left + 1);
                    position.swap(a, b);
                    gained = true;
                }
            }
        }
        if !gained {
            break;
        }
    }
}

/// Crossings between the lines of two neighbours, the first on the left.
fn crossed(of_left: &[usize], of_right: &[usize], position: &[usize]) -> usize {
    of_left
        .iter()
        .map(|&l| {
            of_right
                .iter()
                .filter(|&&r| position[r] < position[l])
                .count()
        })
        .sum()
}

/// All crossings, counted as inversions with an accumulator tree (Barth, Jünger & Mutzel, J. Graph Algorithms Appl. 8, 2004).
pub(super) fn count(graph: &Threaded, order: &[Vec<usize>]) -> usize {
    let position = positions(graph, order);
    let mut total = 0;
    for (row, below) in order.iter().zip(order.iter().skip(1)) {
        let mut tree = vec![0_usize; below.len() + 1];
        let mut entered = 0;
        for &n in row {
            let mut ends: Vec<usize> = graph.down[n].iter().map(|&m| position[m]).collect();
            ends.sort_unstable();
            for &end in &ends {
                let mut at_or_left = 0;
                let mut i = end + 1;
                while i > 0 {
                    at_or_left += tree[i];
                    i &= i - 1;
                }
                total += entered - at_or_left;
            }
            for &end in &ends {
                let mut i = end + 1;
                while i < tree.len() {
                    tree[i] += 1;
                    i += i & i.wrapping_neg();
                }
                entered += 1;
            }
        }
    }
    total
}
