//! How far right a knot stands.

use super::{Spacing, Threaded};

/// Sweeps with means, which pull everything together, and with medians, which draw lines straight.
const MEANS: usize = 24;
const MEDIANS: usize = 12;
/// How much a line's pull weighs between two threads, from knot to thread, and between knots: long lines are to be straight.
const THREADS: f64 = 8.0;
const ONE_THREAD: f64 = 2.0;

/// Middle of every knot and thread, and the width of the drawing.
///
/// A priority method after Sugiyama et al.: rows are gone through down and up, and each is moved towards its neighbours as near as
/// its order and the room between boxes allow, which [`spread`] finds exactly.
pub(super) fn place(graph: &Threaded, spacing: &Spacing) -> (Vec<f64>, f64) {
    let apart: Vec<Vec<f64>> = graph
        .order
        .iter()
        .map(|row| {
            row.windows(2)
                .map(|pair| match pair {
                    [a, b] => (graph.widths[*a] + graph.widths[*b]) / 2.0 + spacing.between,
                    _ => 0.0,
                })
                .collect()
        })
        .collect();
    let edges = |row: &[usize]| {
        let half = |n: Option<&usize>| n.map_or(0.0, |&n| graph.widths[n] / 2.0);
        (half(row.first()), half(row.last()))
    };
    let width = graph
        .order
        .iter()
        .zip(&apart)
        .map(|(row, apart)| {
            let (left, right) = edges(row);
            left + apart.iter().sum::<f64>() + right
        })
        .fold(0.0, f64::max)
        .max(spacing.room);

    let mut centres = vec![0.0; graph.widths.len()];
    for (row, apart) in graph.order.iter().zip(&apart) {
        let (left, right) = edges(row);
        let taken = left + apart.iter().sum::<f64>() + right;
        let mut x = (width - taken) / 2.0 + left;
        for (i, &n) in row.iter().enumerate() {
            centres[n] = x;
            x += apart.get(i).copied().unwrap_or(0.0);
        }
    }
    for sweep in 0..MEANS + MEDIANS {
        let down = sweep % 2 == 0;
        let mean = sweep < MEANS;
        for i in 0..graph.order.len() {
            let i = if down { i } else { graph.order.len() - 1 - i };
            let row = &graph.order[i];
            let (mut wish, mut weight) = (Vec::new(), Vec::new());
            for &n in row {
                let (x, w) = wished(graph, &centres, n, down, mean);
                wish.push(x);
                weight.push(w);
            }
            let (left, right) = edges(row);
            let placed = spread(&wish, &weight, &apart[i], left, width - right);
            for (&n, x) in row.iter().zip(placed) {
                centres[n] = x;
            }
        }
    }
    (centres, width)
}

/// Where a knot would stand, and how much that weighs.
fn wished(graph: &Threaded, centres: &[f64], n: usize, down: bool, mean: bool) -> (f64, f64) {
    let (first, second) = if down {
        (&graph.up[n], &graph.down[n])
    } else {
        (&graph.down[n], &graph.up[n])
    };
    // In the sweeps with medians the other side counts where it is a single line: a knot over its only child stays there.
    let near: Vec<usize> = if mean || !first.is_empty() {
        first.clone()
    } else {
        second.clone()
    };
    let pull = |m: usize| match (graph.is_thread(n), graph.is_thread(m)) {
        (true, true) => THREADS,
        (false, false) => 1.0,
        _ => ONE_THREAD,
    };
    let total: f64 = near.iter().map(|&m| pull(m)).sum();
    if total <= 0.0 {
        return (centres[n], 0.1);
    }
    if mean {
        let sum: f64 = near.iter().map(|&m| pull(m) * centres[m]).sum();
        return (sum / total, total);
    }
    let mut xs: Vec<f64> = near.iter().map(|&m| centres[m]).collect();
    xs.sort_by(f64::total_cmp);
    let (low, high) = (xs[(xs.len() - 1) / 2], xs[xs.len() / 2]);
    (low.midpoint(high), total)
}

/// The places nearest to those wished for, by weighted squares, that keep their order, their distances and the borders.
///
/// This is isotonic regression, solved by pooling adjacent violators (Ayer et al., Ann. Math. Stat. 26, 1955); cutting its
/// solution at the borders keeps it the nearest. Where the borders leave too little room the right one gives way.
pub(super) fn spread(
    wish: &[f64],
    weight: &[f64],
    apart: &[f64],
    left: f64,
    right: f64,
) -> Vec<f64> {
    let mut offsets = Vec::with_capacity(wish.len());
    let mut offset = 0.0;
    for i in 0..wish.len() {
        offsets.push(offset);
        offset += apart.get(i).copied().unwrap_or(0.0);
    }
    // Each block: sum of weighted wishes, weight, members.
    let mut blocks: Vec<(f64, f64, usize)> = Vec::new();
    for ((x, w), offset) in wish.iter().zip(weight).zip(&offsets) {
        let w = w.max(1e-6);
        blocks.push(((x - offset) * w, w, 1));
        while let [.., a, b] = blocks[..]
            && a.0 / a.1 > b.0 / b.1
        {
            blocks.truncate(blocks.len() - 2);
            blocks.push((a.0 + b.0, a.1 + b.1, a.2 + b.2));
        }
    }
    let last = (right - offsets.last().copied().unwrap_or(0.0)).max(left);
    let flat = blocks
        .iter()
        .flat_map(|&(sum, w, members)| std::iter::repeat_n((sum / w).clamp(left, last), members));
    flat.zip(&offsets).map(|(x, offset)| x + offset).collect()
}
