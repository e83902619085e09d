//! One thing with what brings it on and what it leads to.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    CauseKind, CauseLink, CauseNetwork, CauseNode, HEAD, LETTERS, MARGIN, SMALL, WIDTH, lettered,
    weight,
};
use crate::layered::{Knot, Link, Spacing, in_rows};
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::written_chance;

const LINE: f64 = 14.0;
const PADDING: f64 = 6.0;
/// Lines of a name.
const MOST_LINES: usize = 5;
/// Level end of a line before its box, over which its chance is written.
const STUB: f64 = 38.0;
/// Between two columns, beside the stub: what it should be, and what it may become where columns are many or few.
const BEND: f64 = 44.0;
const LEAST_BEND: f64 = 24.0;
const MOST_BEND: f64 = 120.0;
/// Narrowest and widest box; more columns than fit make the sheet wider.
const LEAST_BOX: f64 = 88.0;
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
    let shown: Vec<usize> = columns.keys().copied().collect();
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
    let place = |n: usize| shown.binary_search(&n).unwrap_or(usize::MAX);
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
    let rows: Vec<usize> = columns.values().copied().collect();
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
    for ((&n, area), lines) in shown.iter().zip(&areas).zip(&boxes) {
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
/// signs last.
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
    let last = level.values().copied().max().unwrap_or(0);
    for (n, level) in level.iter_mut().filter(|(n, _)| **n != focus) {
        match network.nodes.get(*n).map(|node| node.kind) {
            Some(CauseKind::Circumstance) if *level < 0 => *level = first,
            // A column of their own after the faults that the focus brings on.
            Some(CauseKind::Sign) if *level > 0 => *level = last + 1,
            _ => {}
        }
    }
    let used: BTreeSet<i64> = level.values().copied().collect();
    let column = |level: i64| used.iter().take_while(|&&u| u < level).count();
    level.into_iter().map(|(n, l)| (n, column(l))).collect()
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
        drawing.text(at(x, 14.0), Anchor::Start, SMALL, &words.join(", "));
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
