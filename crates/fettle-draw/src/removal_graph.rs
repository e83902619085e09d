//! The order in which parts come off, as a graph read downwards.

use crate::layered::{Knot, Layered, Link, Spacing, layered};
use crate::lettering::{snug_width, width_of, wrapped};
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::{shortest_decimals, signed_off};

/// Width of the sheet: what a page leaves on a tablet held upright.
const WIDTH: f64 = 748.0;
const MARGIN: f64 = 4.0;
/// Height of the letters in the boxes and in the key.
const LETTERS: f64 = 11.5;
const LINE: f64 = 14.0;
/// Greatest width of a box, and the room between its outline and its words.
const MOST_BOX: f64 = 124.0;
const PADDING: f64 = 6.0;
/// Letters of the marks *or* and *and*, and their half height.
const JOINT: f64 = 9.0;
const KEY_LINE: f64 = 24.0;
const SPACING: Spacing = Spacing {
    room: WIDTH - 2.0 * MARGIN,
    between: 9.0,
    rows: 26.0,
    reach: 0.05,
    thread: 4.0,
    ports: 9.0,
};

/// Parts with what must come off before each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RemovalGraph {
    /// What the drawing shows, for a reader that cannot see it.
    pub title: String,
    /// The parts that can be taken off.
    pub parts: Vec<RemovalPart>,
}

/// One part of a [`RemovalGraph`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RemovalPart {
    /// Its name; two lines of it are drawn, the whole is in the title.
    pub name: String,
    /// Minutes that its removal takes by itself; not written when `None` or not finite.
    pub minutes: Option<f64>,
    /// How it stands now.
    pub state: PartState,
    /// What it is to the work.
    pub errand: Errand,
    /// Address that it leads to; drawn only when it begins with `/`, `?` or `#`.
    pub link: Option<String>,
    /// The parts that must all be off before, as places in [`RemovalGraph::parts`]; places outside it are left out.
    pub after: Vec<usize>,
    /// Groups of which one must be wholly off before, as places in [`RemovalGraph::parts`].
    pub either: Vec<Vec<usize>>,
}

/// How a part stands now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum PartState {
    /// Still under something.
    #[default]
    Held,
    /// Everything before it is off: it can come off now.
    Free,
    /// It is off.
    Off,
}

/// What a part is to the work in hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Errand {
    /// It may stay where it is.
    #[default]
    None,
    /// It must come off on the way to what is wanted.
    OnTheWay,
    /// It is what is wanted.
    Wanted,
}

impl RemovalPart {
    fn state_word(&self) -> Option<&'static str> {
        match self.state {
            PartState::Held => None,
            PartState::Free => Some("free"),
            PartState::Off => Some("off"),
        }
    }

    /// What is off has done its errand.
    fn shown_errand(&self) -> Errand {
        match self.state {
            PartState::Off => Errand::None,
            PartState::Held | PartState::Free => self.errand,
        }
    }

    fn errand_words(&self) -> Option<&'static str> {
        match self.shown_errand() {
            Errand::None => None,
            Errand::OnTheWay => Some("on the way"),
            Errand::Wanted => Some("wanted"),
        }
    }

    fn written_minutes(&self) -> Option<String> {
        let minutes = self.minutes.filter(|m| m.is_finite())?;
        Some(format!(
            "{} min",
            signed_off(minutes, shortest_decimals(minutes, 2).min(1))
        ))
    }

    /// The width that minutes and state need at most, so that no part changes its place in a row when one comes off.
    fn foot_room(&self) -> f64 {
        let any = [
            (PartState::Free, Errand::OnTheWay),
            (PartState::Held, Errand::Wanted),
            (PartState::Off, Errand::None),
        ];
        any.into_iter()
            .flat_map(|(state, errand)| {
                let minutes = self.minutes;
                Self {
                    minutes,
                    state,
                    errand,
                    ..Self::default()
                }
                .foot()
            })
            .map(|line| width_of(&line, LETTERS))
            .fold(0.0, f64::max)
    }

    /// Minutes and state, as they stand under the name.
    fn foot(&self) -> Vec<String> {
        let state = self.state_word().map(str::to_owned);
        let first: Vec<String> = self.written_minutes().into_iter().chain(state).collect();
        let lines = [
            first.join(", "),
            self.errand_words().unwrap_or_default().to_owned(),
        ];
        lines.into_iter().filter(|line| !line.is_empty()).collect()
    }
}

/// A box of the drawing.
enum Shape<'a> {
    Part {
        part: &'a RemovalPart,
        name: Vec<String>,
        foot: Vec<String>,
        knot: Knot,
    },
    /// A mark that joins alternatives, or the parts of one of them.
    Joint(&'static str),
}

struct Line {
    link: Link,
    /// One of several ways.
    either: bool,
}

/// Draws the parts in rows from the first that come off to the last, with a line from each to those that come off after it.
///
/// Ways of which one will do are dashed and meet in a mark *or*. A part that is off has a dashed outline, one that can come
/// off now cut corners, one on the way a bar at its left, and what is wanted a second outline; each state is written under
/// the name too. The rows keep to the width of a tablet's page and letters to 11 px.
#[must_use]
pub fn removal_graph(graph: &RemovalGraph, sheet: Sheet) -> String {
    let (shapes, lines) = shapes_of(graph);
    let knots: Vec<Knot> = shapes.iter().map(knot_of).collect();
    let links: Vec<Link> = lines.iter().map(|l| l.link).collect();
    let laid = layered(&knots, &links, &SPACING);
    let key = key_of(graph, &lines);
    let key_height = key_rows(&key) as f64 * KEY_LINE + 8.0;
    let mut drawing = Drawing::of_parts(
        laid.width + 2.0 * MARGIN,
        laid.height + key_height + MARGIN,
        &graph.title,
        sheet,
    );
    draw_key(&mut drawing, &key);
    draw_lines(&mut drawing, &lines, &laid, &shapes, key_height);
    let mut reading: Vec<usize> = (0..shapes.len()).collect();
    reading.sort_by(|&a, &b| {
        let key = |n: usize| (laid.rows[n], laid.areas[n].left);
        key(a).0.cmp(&key(b).0).then(key(a).1.total_cmp(&key(b).1))
    });
    for n in reading {
        let area = laid.areas[n].moved(MARGIN, key_height);
        match &shapes[n] {
            Shape::Part {
                part, name, foot, ..
            } => {
                let words = told(graph, part);
                drawing.part(&words, part.link.as_deref(), |drawing| {
                    draw_part(drawing, &area, part, name, foot);
                });
            }
            Shape::Joint(word) => draw_joint(&mut drawing, &area, word),
        }
    }
    if graph.parts.is_empty() {
        drawing.text(
            at(MARGIN, key_height),
            Anchor::Start,
            LETTERS,
            "no part can be taken off",
        );
    }
    drawing.finish()
}

fn shapes_of(graph: &RemovalGraph) -> (Vec<Shape<'_>>, Vec<Line>) {
    let mut shapes: Vec<Shape<'_>> = graph
        .parts
        .iter()
        .map(|part| {
            let foot = part.foot();
            let least = part.foot_room();
            let width = snug_width(&part.name, LETTERS, 2, least, MOST_BOX - 2.0 * PADDING);
            let name = wrapped(&part.name, LETTERS, width, 2);
            let widest = name
                .iter()
                .map(|words| width_of(words, LETTERS))
                .fold(least, f64::max);
            let knot = Knot {
                width: widest + 2.0 * PADDING,
                height: (name.len() + foot.len()) as f64 * LINE + 2.0 * PADDING - 2.0,
            };
            Shape::Part {
                part,
                name,
                foot,
                knot,
            }
        })
        .collect();
    let mut lines = Vec::new();
    let line = |from, to, either| Line {
        link: Link {
            from,
            to,
            strand: usize::from(either),
        },
        either,
    };
    for (to, part) in graph.parts.iter().enumerate() {
        for from in known(graph, &part.after) {
            lines.push(line(from, to, false));
        }
        let groups: Vec<Vec<usize>> = part.either.iter().map(|g| known(graph, g)).collect();
        if groups.iter().all(Vec::is_empty) {
            continue;
        }
        let or = shapes.len();
        shapes.push(Shape::Joint("or"));
        lines.push(line(or, to, true));
        for group in groups {
            if let [only] = group[..] {
                lines.push(line(only, or, true));
            } else if !group.is_empty() {
                let and = shapes.len();
                shapes.push(Shape::Joint("and"));
                lines.push(line(and, or, true));
                lines.extend(group.into_iter().map(|from| line(from, and, true)));
            }
        }
    }
    (shapes, lines)
}

/// The places that are in the graph, each once, in their order.
fn known(graph: &RemovalGraph, places: &[usize]) -> Vec<usize> {
    let mut places: Vec<usize> = places
        .iter()
        .copied()
        .filter(|&p| p < graph.parts.len())
        .collect();
    places.sort_unstable();
    places.dedup();
    places
}

fn knot_of(shape: &Shape<'_>) -> Knot {
    match shape {
        Shape::Part { knot, .. } => *knot,
        Shape::Joint(word) => Knot {
            width: width_of(word, LETTERS) + JOINT,
            height: 2.0 * JOINT,
        },
    }
}

/// A part in words, with what must come off before.
fn told(graph: &RemovalGraph, part: &RemovalPart) -> String {
    let names = |places: &[usize], and: &str| {
        known(graph, places)
            .iter()
            .filter_map(|&p| graph.parts.get(p))
            .map(|p| p.name.as_str())
            .collect::<Vec<_>>()
            .join(and)
    };
    let mut words = part.name.clone();
    for more in part.foot() {
        words = format!("{words}, {more}");
    }
    let after = names(&part.after, ", ");
    if !after.is_empty() {
        words = format!("{words}; after {after}");
    }
    let ways: Vec<String> = part
        .either
        .iter()
        .map(|group| names(group, " and "))
        .filter(|way| !way.is_empty())
        .collect();
    if !ways.is_empty() {
        words = format!("{words}; after {}", ways.join(", or "));
    }
    words
}

fn draw_lines(
    drawing: &mut Drawing,
    lines: &[Line],
    laid: &Layered,
    shapes: &[Shape<'_>],
    down: f64,
) {
    let on_the_way = |n: usize| match shapes.get(n) {
        Some(Shape::Part { part, .. }) => part.errand != Errand::None,
        _ => false,
    };
    let (mut plain, mut marked, mut dashed) = (Vec::new(), Vec::new(), Vec::new());
    for (line, route) in lines.iter().zip(&laid.routes) {
        let route: Vec<Point> = route.iter().map(|p| at(p.x + MARGIN, p.y + down)).collect();
        if line.either {
            dashed.push(route);
        } else if on_the_way(line.link.from) && on_the_way(line.link.to) {
            marked.push(route);
        } else {
            plain.push(route);
        }
    }
    drawing.threads(&plain, false, Pen::FINE.wide(0.6));
    drawing.threads(&dashed, false, Pen::DASHED.wide(0.8));
    drawing.threads(&marked, false, Pen::BOLD);
}

fn draw_part(
    drawing: &mut Drawing,
    area: &Area,
    part: &RemovalPart,
    name: &[String],
    foot: &[String],
) {
    draw_outline(drawing, area, part.state, part.shown_errand());
    let middle = f64::midpoint(area.left, area.right);
    let lines = (name.len() + foot.len()) as f64;
    let mut y = f64::midpoint(area.top, area.bottom) - lines * LINE / 2.0 + 11.0;
    for words in name.iter().chain(foot) {
        drawing.text(at(middle, y), Anchor::Middle, LETTERS, words);
        y += LINE;
    }
}

fn draw_outline(drawing: &mut Drawing, area: &Area, state: PartState, errand: Errand) {
    match state {
        PartState::Off => drawing.rect(area, Tone::Paper, Pen::DASHED),
        PartState::Free => drawing.outline(&area.cut_corners(6.0), Tone::Paper, Pen::BOLD),
        PartState::Held => drawing.rect(area, Tone::Paper, Pen::FINE),
    }
    match errand {
        Errand::None => {}
        Errand::OnTheWay => {
            let bar = Area {
                right: area.left + 3.5,
                ..*area
            };
            drawing.rect(&bar, Tone::Ink, Pen::FINE);
        }
        Errand::Wanted => {
            let inner = area.grown(-2.5);
            match state {
                PartState::Free => {
                    drawing.outline(&inner.cut_corners(5.0), Tone::Paper, Pen::FINE);
                }
                PartState::Held | PartState::Off => drawing.rect(&inner, Tone::Paper, Pen::FINE),
            }
        }
    }
}

fn draw_joint(drawing: &mut Drawing, area: &Area, word: &str) {
    let middle = at(
        f64::midpoint(area.left, area.right),
        f64::midpoint(area.top, area.bottom),
    );
    let corners = [
        at(area.left, middle.y),
        at(area.left + 4.0, area.top),
        at(area.right - 4.0, area.top),
        at(area.right, middle.y),
        at(area.right - 4.0, area.bottom),
        at(area.left + 4.0, area.bottom),
    ];
    drawing.outline(&corners, Tone::Paper, Pen::FINE);
    drawing.text(at(middle.x, middle.y + 3.5), Anchor::Middle, 11.0, word);
}

/// A swatch of the key and its words.
enum Swatch {
    None,
    Box(PartState, Errand),
    Either,
}

fn key_of(graph: &RemovalGraph, lines: &[Line]) -> Vec<(Swatch, &'static str)> {
    let has = |test: fn(&RemovalPart) -> bool| graph.parts.iter().any(test);
    let mut key = Vec::new();
    if !lines.is_empty() {
        key.push((
            Swatch::None,
            "read downwards: a part comes off after those above it that a line joins to it",
        ));
    }
    if has(|p| p.state == PartState::Free) {
        key.push((
            Swatch::Box(PartState::Free, Errand::None),
            "free: can come off now",
        ));
    }
    if has(|p| p.state == PartState::Off) {
        key.push((Swatch::Box(PartState::Off, Errand::None), "off"));
    }
    if has(|p| p.shown_errand() == Errand::OnTheWay) {
        key.push((
            Swatch::Box(PartState::Held, Errand::OnTheWay),
            "on the way to what is wanted",
        ));
    }
    if has(|p| p.shown_errand() == Errand::Wanted) {
        key.push((Swatch::Box(PartState::Held, Errand::Wanted), "wanted"));
    }
    if lines.iter().any(|l| l.either) {
        key.push((Swatch::Either, "one of these ways will do"));
    }
    key
}

fn swatch_width(swatch: &Swatch) -> f64 {
    match swatch {
        Swatch::None => 0.0,
        Swatch::Box(..) | Swatch::Either => 32.0,
    }
}

/// Where each entry of the key begins: its row and how far right.
fn key_places(key: &[(Swatch, &'static str)]) -> Vec<(usize, f64)> {
    let (mut row, mut x) = (0, MARGIN);
    key.iter()
        .map(|(swatch, words)| {
            let width = swatch_width(swatch) + width_of(words, LETTERS) + 18.0;
            if x > MARGIN && x + width > WIDTH {
                (row, x) = (row + 1, MARGIN);
            }
            let place = (row, x);
            x += width;
            place
        })
        .collect()
}

fn key_rows(key: &[(Swatch, &'static str)]) -> usize {
    key_places(key).last().map_or(0, |(row, _)| row + 1)
}

fn draw_key(drawing: &mut Drawing, key: &[(Swatch, &'static str)]) {
    for ((swatch, words), (row, x)) in key.iter().zip(key_places(key)) {
        let y = row as f64 * KEY_LINE + 13.0;
        let area = Area {
            left: x,
            right: x + 24.0,
            top: y - 8.0,
            bottom: y + 8.0,
        };
        match swatch {
            Swatch::None => {}
            Swatch::Box(state, errand) => draw_outline(drawing, &area, *state, *errand),
            Swatch::Either => drawing.line(at(area.left, y), at(area.right, y), Pen::DASHED),
        }
        drawing.text(
            at(x + swatch_width(swatch), y + 4.0),
            Anchor::Start,
            LETTERS,
            words,
        );
    }
}
