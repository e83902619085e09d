//! One thing with what brings it on and what it leads to.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    CauseKind, CauseLink, CauseNetwork, CauseNode, HEAD, LETTERS, MARGIN, SMALL, WIDTH, lettered,
    weight,
};
use crate::layered::{Knot, Link, Spacing, in_rows};
use crate::lettering::width_of;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::written_chance;

const LINE: f64 = 14.0;
const PADDING: f64 = 6.0;
/// Lines of a name.
const MOST_LINES: usize = 6;
/// Level end of a line before its box, over which its chance is written.
const STUB: f64 = 36.0;
/// Between two columns, beside the stub: what it should be, and what it may become where columns are many or few.
const BEND: f64 = 44.0;
const LEAST_BEND: f64 = 16.0;
const MOST_BEND: f64 = 120.0;
/// Narrowest and widest box; more columns than fit make the sheet wider.
const LEAST_BOX: f64 = 80.0;
const MOST_BOX: f64 = 176.0;
/// Lines with a chance written over each.
const PITCH: f64 = 15.5;
const SPACING: Spacing = Spacing {
    room: 0.0,
    between: 9.0,
    rows: BEND,
    reach: 0.0,
    thread: 4.0,
    ports: PITCH,
};

/// Draws one thing of the network, `focus`, with everything that brings it on to its left and what it leads to at its right.
///
/// The bolder a line the likelier it leads on; its chance is written over its end. What is known to be so has a bold outline,
/// what is known not to be so a dashed one, and the thing in focus a second one. A focus outside the network draws a sheet
/// that says so.
#[must_use]
pub fn cause_network(network: &CauseNetwork, focus: usize, sheet: Sheet) -> String {
    if focus >= network.nodes.len() {
        let mut drawing = Drawing::of_parts(WIDTH, HEAD + MARGIN, &network.title, sheet);
        drawing.text(
            at(MARGIN, 16.0),
            Anchor::Start,
            LETTERS,
            "not in the network",
        );
        return drawing.finish();
    }
    let links = near(network, focus);
    let columns = columns(network, focus, &links);
    let shown = likeliest_first(network, &columns, &links);
    let many = columns.values().max().map_or(1, |c| c + 1);
    let gaps = (many - 1) as f64;
    let inner = WIDTH - 2.0 * MARGIN;
    let width = ((inner - gaps * (STUB + BEND)) / many as f64).clamp(LEAST_BOX, MOST_BOX);
    let bend = (inner - many as f64 * width) / gaps.max(1.0) - STUB;
    let spacing = Spacing {
        rows: bend.clamp(LEAST_BEND, MOST_BEND),
        ..SPACING
    };

    let boxes: Vec<Vec<String>> = shown
        .iter()
        .map(|&n| lines_of(&network.nodes[n], n == focus, width))
        .collect();
    let entering = |n: usize| links.iter().filter(|l| l.to == n).count() as f64;
    let knots: Vec<Knot> = shown
        .iter()
        .zip(&boxes)
        .map(|(&n, lines)| Knot {
            // Laid out on its side: this is the height of the box, and that its width with the stub.
            width: (lines.len() as f64 * LINE + 2.0 * PADDING).max((entering(n) + 1.0) * PITCH),
            height: width + if columns[&n] > 0 { STUB } else { 0.0 },
        })
        .collect();
    let place = |n: usize| shown.iter().position(|&s| s == n).unwrap_or(usize::MAX);
    let laid_links: Vec<Link> = links
        .iter()
        .enumerate()
        .map(|(strand, l)| Link {
            from: place(l.from),
            to: place(l.to),
            // Each on its own, for each has its own weight.
            strand,
        })
        .collect();
    let rows: Vec<usize> = shown.iter().map(|n| columns[n]).collect();
    let laid = in_rows(&knots, &laid_links, &rows, &spacing).turned();

    let mut drawing = Drawing::of_parts(
        (laid.width + 2.0 * MARGIN).max(WIDTH),
        laid.height + HEAD + MARGIN,
        &network.title,
        sheet,
    );
    let areas: Vec<Area> = laid
        .areas
        .iter()
        .zip(&rows)
        .map(|(area, &column)| {
            let stub = if column > 0 { STUB } else { 0.0 };
            Area {
                left: area.left + stub,
                ..*area
            }
            .moved(MARGIN, HEAD)
        })
        .collect();
    draw_headings(&mut drawing, network, &shown, &rows, &areas);
    for (link, route) in links.iter().zip(&laid.routes) {
        draw_link(&mut drawing, link, route);
    }
    let mut reading: Vec<usize> = (0..shown.len()).collect();
    reading.sort_by(|&a, &b| {
        rows[a]
            .cmp(&rows[b])
            .then(areas[a].top.total_cmp(&areas[b].top))
    });
    for i in reading {
        let (n, area, lines) = (shown[i], &areas[i], &boxes[i]);
        let node = &network.nodes[n];
        drawing.part(&network.told(n, &links), node.link.as_deref(), |drawing| {
            draw_box(drawing, area, node, n == focus, lines);
        });
    }
    drawing.finish()
}

/// The links that lead to the focus, over whatever they lead, and those that lead on from it.
fn near(network: &CauseNetwork, focus: usize) -> Vec<CauseLink> {
    let joined = network.joined();
    let mut above = BTreeSet::from([focus]);
    let mut pending = vec![focus];
    while let Some(n) = pending.pop() {
        for link in joined.iter().filter(|l| l.to == n) {
            if above.insert(link.from) {
                pending.push(link.from);
            }
        }
    }
    joined
        .into_iter()
        .filter(|l| above.contains(&l.to) || (l.from == focus && !above.contains(&l.to)))
        .collect()
}

/// The column of each thing that is shown: causes as near before the focus as what they bring on allows, circumstances first,
/// and everything that the focus leads to in the last.
fn columns(network: &CauseNetwork, focus: usize, links: &[CauseLink]) -> BTreeMap<usize, usize> {
    let mut level: BTreeMap<usize, i64> = links
        .iter()
        .flat_map(|l| [(l.from, -1), (l.to, if l.from == focus { 1 } else { -1 })])
        .collect();
    level.insert(focus, 0);
    // No way is longer than there are things; in a circle the last round decides.
    for _ in 0..level.len() {
        let mut moved = false;
        for link in links.iter().filter(|l| l.from != focus) {
            let to = level.get(&link.to).copied().unwrap_or(0);
            if let Some(from) = level.get_mut(&link.from)
                && *from >= to
            {
                *from = to - 1;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
    let first = level.values().copied().min().unwrap_or(0);
    for (&n, level) in level.iter_mut().filter(|(_, level)| **level < 0) {
        if network.nodes[n].kind == CauseKind::Circumstance {
            *level = first;
        }
    }
    let used: BTreeSet<i64> = level.values().copied().collect();
    let column = |level: i64| used.iter().take_while(|&&u| u < level).count();
    level.into_iter().map(|(n, l)| (n, column(l))).collect()
}

/// Column by column, faults before signs and what is joined by the greatest chance first, so that it stands highest where
/// crossings leave the choice.
fn likeliest_first(
    network: &CauseNetwork,
    columns: &BTreeMap<usize, usize>,
    links: &[CauseLink],
) -> Vec<usize> {
    let chance = |n: usize| {
        let joined = links.iter().filter(|l| l.from == n || l.to == n);
        joined.map(|l| l.chance).fold(0.0, f64::max)
    };
    let mut shown: Vec<(usize, CauseKind, f64, usize)> = columns
        .iter()
        .map(|(&n, &column)| (column, network.nodes[n].kind, chance(n), n))
        .collect();
    shown.sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(b.2.total_cmp(&a.2)));
    shown.into_iter().map(|(.., n)| n).collect()
}

fn lines_of(node: &CauseNode, focus: bool, width: f64) -> Vec<String> {
    let mut foot: Vec<String> = node.standing().into_iter().collect();
    if focus && let Some(chance) = node.by_itself.and_then(written_chance) {
        foot.push(format!("{} {chance}", node.kind.by_itself()));
    }
    lettered(&node.name, &foot, width - 2.0 * PADDING, MOST_LINES)
}

/// The sorts of things in each column, above it.
fn draw_headings(
    drawing: &mut Drawing,
    network: &CauseNetwork,
    shown: &[usize],
    columns: &[usize],
    areas: &[Area],
) {
    let mut sorts: BTreeMap<usize, (f64, BTreeSet<CauseKind>)> = BTreeMap::new();
    for ((&n, &column), area) in shown.iter().zip(columns).zip(areas) {
        let (_, kinds) = sorts
            .entry(column)
            .or_insert_with(|| (area.left, BTreeSet::new()));
        kinds.insert(network.nodes[n].kind);
    }
    let right = areas.iter().map(|a| a.right + MARGIN).fold(0.0, f64::max);
    let alone = |column: usize| columns.iter().filter(|&&c| c == column).count() == 1;
    for (column, (x, kinds)) in sorts {
        let words: Vec<&str> = kinds
            .iter()
            .map(|kind| {
                if alone(column) {
                    kind.word()
                } else {
                    kind.heading()
                }
            })
            .collect();
        let words = words.join(" and ");
        // The last heading may be wider than its column.
        let x = x.min(WIDTH.max(right) - MARGIN - width_of(&words, SMALL));
        drawing.text(at(x, 14.0), Anchor::Start, SMALL, &words);
    }
}

fn draw_link(drawing: &mut Drawing, link: &CauseLink, route: &[Point]) {
    let mut route: Vec<Point> = route.iter().map(|p| at(p.x + MARGIN, p.y + HEAD)).collect();
    let Some(end) = route.last_mut() else {
        return;
    };
    end.x += STUB;
    let end = *end;
    drawing.threads(
        &[route],
        true,
        Pen::FINE.wide(weight(link.chance, 0.4, 2.6)),
    );
    if let Some(chance) = written_chance(link.chance) {
        drawing.text(at(end.x - 3.0, end.y - 3.0), Anchor::End, SMALL, &chance);
    }
}

fn draw_box(drawing: &mut Drawing, area: &Area, node: &CauseNode, focus: bool, lines: &[String]) {
    let pen = match node.known {
        Some(true) => Pen::BOLD.wide(2.0),
        Some(false) => Pen::DASHED,
        None => Pen::FINE,
    };
    drawing.rect(area, Tone::Paper, pen);
    if focus {
        drawing.rect(&area.grown(-2.5), Tone::Paper, Pen::FINE);
    }
    let mut y = f64::midpoint(area.top, area.bottom) - lines.len() as f64 * LINE / 2.0 + 11.0;
    for line in lines {
        drawing.text(at(area.left + PADDING, y), Anchor::Start, LETTERS, line);
        y += LINE;
    }
}
