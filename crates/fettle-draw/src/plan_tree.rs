//! What to do next and after each answer, as a tree.

use crate::lettering::{snug_width, width_of, wrapped};
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, at};
use crate::written::{shortest_decimals, signed_off, written_chance};

/// Width of the sheet: what a page leaves on a tablet held upright.
const WIDTH: f64 = 748.0;
const MARGIN: f64 = 4.0;
const LETTERS: f64 = 11.5;
const SMALL: f64 = 11.0;
const LINE: f64 = 14.5;
const PADDING: f64 = 7.0;
/// Between two steps, and above the first.
const GAP: f64 = 12.0;
const HEAD: f64 = 26.0;
/// Least and greatest width of a branch, which carries the answer above its line and the chance below.
const LEAST_BRANCH: f64 = 46.0;
const MOST_BRANCH: f64 = 76.0;
/// Where a step's branches leave it, from its left.
const STEM: f64 = 14.0;
/// Steps more answers ahead than this are not drawn; a mark says that the plan goes on.
const MOST_ANSWERS: usize = 7;
/// Lines of words in a step.
const MOST_LINES: usize = 3;
const LEAST_WORDS: f64 = 120.0;
const MOST_WORDS: f64 = 400.0;

/// A step of a plan with what follows each answer.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanStep {
    /// What is done.
    pub act: PlanAct,
    /// What is done, in words: the question of a look, the name of a work.
    pub words: String,
    /// Chance of coming here from the plan's beginning, 0 to 1.
    pub probability: f64,
    /// Expected minutes from here on, this step included; not written when not finite.
    pub expected_minutes: f64,
    /// What follows each answer; empty at the end and where the plan was cut off.
    pub branches: Vec<PlanBranch>,
}

/// An answer and the step after it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanBranch {
    /// The answer in a word or two: `yes`, `not found`.
    pub answer: String,
    /// Its chance where it is asked, 0 to 1.
    pub probability: f64,
    /// What follows.
    pub step: PlanStep,
}

/// What sort of thing a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PlanAct {
    /// Look at something.
    Look,
    /// Do a work.
    Work,
    /// Nothing more pays.
    Stop,
}

impl PlanAct {
    const fn word(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::Work => "work",
            Self::Stop => "end",
        }
    }
}

/// A step in its place.
struct Row<'a> {
    step: &'a PlanStep,
    area: Area,
    lines: Vec<String>,
    /// The row of the step before, and the branch that leads here.
    from: Option<(usize, &'a PlanBranch)>,
    goes_on: bool,
}

/// Draws a plan from left to right, one step a line, the steps after each answer under the step that asks.
///
/// A look has cut corners, a work a plain outline, and an end none but a line at its left. The lines of the branches are the
/// bolder the likelier the plan comes there; answers and chances are written at them. It keeps to the width of a tablet's
/// page to seven answers ahead.
#[must_use]
pub fn plan_tree(title: &str, plan: &PlanStep, sheet: Sheet) -> String {
    let branch = branch_width(plan);
    let rows = rows_of(plan, branch);
    let height = rows.last().map_or(HEAD, |row| row.area.bottom) + MARGIN;
    let mut drawing = Drawing::of_parts(WIDTH, height, title, sheet);
    drawing.text(
        at(MARGIN, 14.0),
        Anchor::Start,
        LETTERS,
        "minutes are those expected from a step on, it included; the chance beside them is that of coming there",
    );
    for row in &rows {
        if let Some((from, branch)) = row.from {
            let above = rows.get(from).map_or(&row.area, |r| &r.area);
            draw_branch(&mut drawing, above, &row.area, branch, row.step.probability);
        }
    }
    for row in &rows {
        drawing.part(&told(row), None, |drawing| draw_step(drawing, row));
    }
    drawing.finish()
}

/// A step with how many answers lead to it, and where it comes from: the place of the step before, and the branch.
type Reached<'a> = (usize, &'a PlanStep, Option<(usize, &'a PlanBranch)>);

/// The steps that are drawn, each before what follows it.
fn within_depth(plan: &PlanStep) -> Vec<Reached<'_>> {
    let mut out = Vec::new();
    let mut pending = vec![(0, plan, None)];
    while let Some((depth, step, from)) = pending.pop() {
        let here = out.len();
        out.push((depth, step, from));
        if depth < MOST_ANSWERS {
            let next = step.branches.iter().rev();
            pending.extend(next.map(|b| (depth + 1, &b.step, Some((here, b)))));
        }
    }
    out
}

/// As wide as the longest answer needs.
fn branch_width(plan: &PlanStep) -> f64 {
    within_depth(plan)
        .iter()
        .filter_map(|(_, _, from)| from.map(|(_, branch)| width_of(&branch.answer, SMALL) + 20.0))
        .fold(LEAST_BRANCH, f64::max)
        .min(MOST_BRANCH)
}

fn rows_of(plan: &PlanStep, branch: f64) -> Vec<Row<'_>> {
    let mut top = HEAD;
    within_depth(plan)
        .into_iter()
        .map(|(depth, step, from)| {
            let left = MARGIN + depth as f64 * branch + STEM * f64::from(u8::from(depth > 0));
            let room = WIDTH - MARGIN - left - 2.0 * PADDING;
            let room = room.min(MOST_WORDS);
            let lines = wrapped(&step.words, LETTERS, room, MOST_LINES).len();
            // Lines of about one length, so that no single word stands alone.
            let even = snug_width(&step.words, LETTERS, lines, LEAST_WORDS.min(room), room);
            let lines = wrapped(&step.words, LETTERS, even, MOST_LINES);
            let goes_on = depth == MOST_ANSWERS && !step.branches.is_empty();
            let widest = lines
                .iter()
                .map(|line| width_of(line, LETTERS))
                .fold(width_of(&foot_of(step, goes_on), SMALL), f64::max)
                .min(room);
            let height = (lines.len() + 1) as f64 * LINE + PADDING;
            let area = Area {
                left,
                right: left + widest + 2.0 * PADDING,
                top,
                bottom: top + height,
            };
            top += height + GAP;
            Row {
                step,
                area,
                lines,
                from,
                goes_on,
            }
        })
        .collect()
}

/// The line under a step's words.
fn foot_of(step: &PlanStep, goes_on: bool) -> String {
    let mut foot = step.act.word().to_owned();
    if step.expected_minutes.is_finite() && step.act != PlanAct::Stop {
        let minutes = step.expected_minutes;
        let decimals = if minutes.abs() < 9.95 {
            shortest_decimals(minutes, 2).min(1)
        } else {
            0
        };
        foot = format!("{foot}, {} min", signed_off(minutes, decimals));
    }
    if step.probability < 1.0
        && let Some(chance) = written_chance(step.probability)
    {
        foot = format!("{foot}, {chance}");
    }
    if goes_on {
        foot.push_str(", and so on");
    }
    foot
}

fn told(row: &Row<'_>) -> String {
    let here = format!("{}: {}", row.step.words, foot_of(row.step, row.goes_on));
    match row.from {
        Some((_, branch)) => match written_chance(branch.probability) {
            Some(chance) => format!("{}, {chance}: {here}", branch.answer),
            None => format!("{}: {here}", branch.answer),
        },
        None => here,
    }
}

fn draw_branch(
    drawing: &mut Drawing,
    above: &Area,
    area: &Area,
    branch: &PlanBranch,
    coming_here: f64,
) {
    let (x, y) = (above.left + STEM, f64::midpoint(area.top, area.bottom));
    let likely = if coming_here.is_finite() {
        coming_here.clamp(0.0, 1.0)
    } else {
        0.0
    };
    let pen = Pen::FINE.wide(0.5 + 1.7 * likely);
    drawing.polyline(&[at(x, above.bottom), at(x, y), at(area.left, y)], pen);
    let room = area.left - x - 6.0;
    let middle = f64::midpoint(x, area.left);
    for answer in wrapped(&branch.answer, SMALL, room, 1) {
        drawing.text(at(middle, y - 4.0), Anchor::Middle, SMALL, &answer);
    }
    if let Some(chance) = written_chance(branch.probability) {
        drawing.text(at(middle, y + 12.0), Anchor::Middle, SMALL, &chance);
    }
}

fn draw_step(drawing: &mut Drawing, row: &Row<'_>) {
    let area = &row.area;
    match row.step.act {
        PlanAct::Look => drawing.outline(&area.cut_corners(6.0), Tone::Paper, Pen::FINE),
        PlanAct::Work => drawing.rect(area, Tone::Paper, Pen::BOLD),
        PlanAct::Stop => drawing.line(
            at(area.left, area.top),
            at(area.left, area.bottom),
            Pen::BOLD,
        ),
    }
    let x = area.left + PADDING;
    let mut y = area.top + PADDING / 2.0 + 11.0;
    for line in &row.lines {
        drawing.text(at(x, y), Anchor::Start, LETTERS, line);
        y += LINE;
    }
    drawing.text(
        at(x, y),
        Anchor::Start,
        SMALL,
        &foot_of(row.step, row.goes_on),
    );
}
