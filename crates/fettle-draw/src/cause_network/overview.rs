//! The whole network as three lists with light lines between them.

use super::{
    CauseKind, CauseNetwork, CauseNode, HEAD, LETTERS, MARGIN, SMALL, WIDTH, lettered, weight,
};
use crate::layered::{Knot, Link, Spacing, in_rows};
use crate::sheet::Sheet;
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};

const LINE: f64 = 13.0;
/// Lines of a name.
const MOST_LINES: usize = 2;
/// Widths of the three lists; what they leave is for the lines between them.
const LISTS: [f64; 3] = [104.0, 210.0, 290.0];
const BETWEEN: f64 = (WIDTH - 2.0 * MARGIN - LISTS[0] - LISTS[1] - LISTS[2]) / 2.0;
/// Between the letters and the rule beside them.
const PADDING: f64 = 5.0;
/// How far a line from one fault to another stands off their list.
const LEAST_BOW: f64 = 6.0;
const MOST_BOW: f64 = 30.0;
const SPACING: Spacing = Spacing {
    room: 0.0,
    between: 4.0,
    rows: BETWEEN,
    reach: 0.0,
    thread: 1.0,
    ports: 2.5,
};

/// Draws all circumstances, faults and signs as three lists, ordered so that few lines cross.
///
/// Lines are light, the bolder the likelier; one fault that brings on another is joined to it by a bow beside the list. What
/// is known, or else the chance now, is written after each name; the links of each are told in its title, and
/// [`cause_network`](super::cause_network) draws them with their chances.
#[must_use]
pub fn cause_overview(network: &CauseNetwork, sheet: Sheet) -> String {
    let links = network.joined();
    let list_of = |kind: CauseKind| match kind {
        CauseKind::Circumstance => 0,
        CauseKind::Fault => 1,
        CauseKind::Sign => 2,
    };
    let rows: Vec<usize> = network.nodes.iter().map(|n| list_of(n.kind)).collect();
    let names: Vec<Vec<String>> = network
        .nodes
        .iter()
        .zip(&rows)
        .map(|(node, &row)| {
            let foot: Vec<String> = node.standing().into_iter().collect();
            lettered(&node.name, &foot, LISTS[row] - 2.0 * PADDING, MOST_LINES)
        })
        .collect();
    let knots: Vec<Knot> = names
        .iter()
        .zip(&rows)
        .map(|(lines, &row)| Knot {
            width: lines.len().max(1) as f64 * LINE + 3.0,
            height: LISTS[row],
        })
        .collect();
    let laid_links: Vec<Link> = links
        .iter()
        .enumerate()
        .map(|(strand, l)| Link {
            from: l.from,
            to: l.to,
            strand,
        })
        .collect();
    let laid = in_rows(&knots, &laid_links, &rows, &SPACING).turned();
    let areas: Vec<Area> = laid
        .areas
        .iter()
        .zip(&rows)
        .map(|(area, &row)| {
            // The lists stand where they stand, also when one is empty.
            let left = LISTS.iter().take(row).map(|w| w + BETWEEN).sum::<f64>();
            Area {
                left,
                right: left + LISTS[row],
                ..*area
            }
            .moved(MARGIN, HEAD)
        })
        .collect();

    let height = laid.height + HEAD + MARGIN;
    let mut drawing = Drawing::of_parts(WIDTH, height, &network.title, sheet);
    let mut left = MARGIN;
    for (kind, width) in [CauseKind::Circumstance, CauseKind::Fault, CauseKind::Sign]
        .into_iter()
        .zip(LISTS)
    {
        let x = left + PADDING;
        drawing.text(at(x, 14.0), Anchor::Start, SMALL, kind.heading());
        left += width + BETWEEN;
    }
    for (link, route) in links.iter().zip(&laid.routes) {
        let pen = Pen::HAIR.wide(weight(link.chance, 0.25, 1.4));
        let (from, to) = (&areas[link.from], &areas[link.to]);
        if route.is_empty() {
            draw_bow(&mut drawing, from, to, pen);
        } else {
            let route: Vec<Point> = route.iter().map(|p| at(p.x + MARGIN, p.y + HEAD)).collect();
            drawing.threads(&[route], true, pen);
        }
    }
    for (n, ((node, area), lines)) in network.nodes.iter().zip(&areas).zip(&names).enumerate() {
        drawing.part(&network.told(n, &links), node.link.as_deref(), |drawing| {
            draw_name(drawing, area, node, lines);
        });
    }
    drawing.finish()
}

/// A name with a short rule where its lines enter and where they leave: bold when it is known to be so, dashed when known not
/// to be.
fn draw_name(drawing: &mut Drawing, area: &Area, node: &CauseNode, lines: &[String]) {
    let pen = match node.known {
        Some(true) => Pen::BOLD.wide(2.2),
        Some(false) => Pen::DASHED,
        None => Pen::FINE.wide(0.6),
    };
    let enter = (node.kind != CauseKind::Circumstance).then_some(area.left);
    let leave = (node.kind != CauseKind::Sign).then_some(area.right);
    for x in enter.into_iter().chain(leave) {
        drawing.line(at(x, area.top), at(x, area.bottom), pen);
    }
    let mut y = f64::midpoint(area.top, area.bottom) - lines.len() as f64 * LINE / 2.0 + 10.0;
    for line in lines {
        drawing.text(at(area.left + PADDING, y), Anchor::Start, LETTERS, line);
        y += LINE;
    }
}

/// A line from one name to another of the same list, or of an earlier one: round the right side of the list, to the end that
/// a tick marks.
fn draw_bow(drawing: &mut Drawing, from: &Area, to: &Area, pen: Pen) {
    let middle = |area: &Area| f64::midpoint(area.top, area.bottom);
    let (start, end) = (at(from.right, middle(from)), at(to.right, middle(to)));
    let bow = (LEAST_BOW + (end.y - start.y).abs() * 0.04).min(MOST_BOW);
    let x = (start.x.max(end.x) + bow).min(WIDTH - 1.0);
    drawing.polyline(&[start, at(x, start.y), at(x, end.y), end], pen);
    let tick = [
        at(end.x + 3.0, end.y - 2.5),
        end,
        at(end.x + 3.0, end.y + 2.5),
    ];
    drawing.polyline(&tick, pen);
}
