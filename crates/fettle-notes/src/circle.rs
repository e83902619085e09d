//! Circles among references.

use std::collections::VecDeque;

use crate::desk::Edge;

/// Most circles told of one file: each is searched for from the beginning.
const CIRCLES_TOLD: usize = 50;

/// Finds circles, as edges in the order in which they are followed; one for each knot of references.
///
/// Edges that lead into no circle are peeled away first (Kahn, CACM 5 (1962) 558); from the earliest node left, the
/// shortest way back to itself is a circle. Its nodes are then taken out and the rest is searched again, so that
/// circles without a common node are all found, up to [`CIRCLES_TOLD`].
pub(crate) fn circles(nodes: usize, edges: &[Edge]) -> Vec<Vec<&Edge>> {
    let mut leaving: Vec<Vec<&Edge>> = vec![Vec::new(); nodes];
    for edge in edges {
        leaving[edge.from].push(edge);
    }
    let mut alive = vec![true; nodes];
    peel(&leaving, &mut alive);
    let mut found = Vec::new();
    for start in 0..nodes {
        if found.len() == CIRCLES_TOLD {
            break;
        }
        if !alive[start] {
            continue;
        }
        if let Some(circle) = shortest_circle(start, &leaving, &alive) {
            for edge in &circle {
                alive[edge.from] = false;
            }
            peel(&leaving, &mut alive);
            found.push(circle);
        }
    }
    found
}

/// Takes out every node that no longer leads anywhere, until none is left to take.
fn peel(leaving: &[Vec<&Edge>], alive: &mut [bool]) {
    let mut out = vec![0_usize; leaving.len()];
    let mut entering: Vec<Vec<usize>> = vec![Vec::new(); leaving.len()];
    for edge in leaving
        .iter()
        .flatten()
        .filter(|e| alive[e.from] && alive[e.to])
    {
        out[edge.from] += 1;
        entering[edge.to].push(edge.from);
    }
    let mut done: Vec<usize> = (0..leaving.len())
        .filter(|&n| alive[n] && out[n] == 0)
        .collect();
    while let Some(node) = done.pop() {
        alive[node] = false;
        for &before in &entering[node] {
            out[before] -= 1;
            if out[before] == 0 && alive[before] {
                done.push(before);
            }
        }
    }
}

fn shortest_circle<'e>(
    start: usize,
    leaving: &[Vec<&'e Edge>],
    alive: &[bool],
) -> Option<Vec<&'e Edge>> {
    let mut came_by: Vec<Option<&Edge>> = vec![None; leaving.len()];
    let mut queue = VecDeque::from([start]);
    while let Some(node) = queue.pop_front() {
        for &edge in leaving[node].iter().filter(|e| alive[e.to]) {
            if edge.to == start {
                return Some(way_to(edge, start, &came_by));
            }
            if came_by[edge.to].is_none() {
                came_by[edge.to] = Some(edge);
                queue.push_back(edge.to);
            }
        }
    }
    None
}

/// The edges from `start` to the end of `last`.
fn way_to<'e>(last: &'e Edge, start: usize, came_by: &[Option<&'e Edge>]) -> Vec<&'e Edge> {
    let mut way = vec![last];
    let mut node = last.from;
    while node != start
        && let Some(edge) = came_by[node]
    {
        way.push(edge);
        node = edge.from;
    }
    way.reverse();
    way
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(nodes: usize, pairs: &[(usize, usize)]) -> Vec<Vec<usize>> {
        let edges: Vec<Edge> = pairs
            .iter()
            .map(|&(from, to)| Edge {
                from,
                to,
                span: 0..0,
            })
            .collect();
        circles(nodes, &edges)
            .into_iter()
            .map(|c| c.into_iter().map(|e| e.from).collect())
            .collect()
    }

    #[test]
    fn an_order_without_a_circle_has_none() {
        assert!(found(4, &[(0, 1), (1, 2), (0, 2), (3, 2)]).is_empty());
    }

    #[test]
    fn a_thing_that_waits_for_itself_is_a_circle() {
        assert_eq!(found(2, &[(1, 1)]), vec![vec![1]]);
    }

    #[test]
    fn the_shortest_circle_is_told_from_the_earliest_node() {
        assert_eq!(
            found(5, &[(0, 1), (1, 2), (2, 3), (3, 1), (2, 1), (4, 0)]),
            vec![vec![1, 2]]
        );
    }

    #[test]
    fn circles_without_a_common_node_are_all_found() {
        assert_eq!(
            found(4, &[(0, 1), (1, 0), (2, 3), (3, 2)]),
            vec![vec![0, 1], vec![2, 3]]
        );
    }
}
