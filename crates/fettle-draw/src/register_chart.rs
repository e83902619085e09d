//! A register over the frame: level lines of the film plane's error, the readings, and the worst corner.

use fettle_measure::register::{Corner, Report};

use crate::mark::{Mark, verdict_word};
use crate::scale::Scale;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::{shortest_decimals, signed, signed_off};

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 316.0;
/// Where frame and readings are drawn; titles and figures stand around it.
const PLOT: Area = Area {
    left: 64.0,
    top: 30.0,
    right: 398.0,
    bottom: 268.0,
};
/// Where the figures stand.
const FIGURES_LEFT: f64 = 444.0;
/// No more readings than this have their figure beside them.
const LETTERED: usize = 25;
const LEVELS: usize = 6;

/// Millimetres in the film plane to the sheet, one scale for both directions; the middle of the frame in the plot's middle.
#[derive(Clone, Copy)]
struct Plan {
    px_per_mm: f64,
}

impl Plan {
    fn new(report: &Report) -> Self {
        let (width, height) = report.options.frame_mm;
        let places = || {
            let readings = report.readings.iter().map(|r| (r.x_mm, r.y_mm));
            readings.chain(report.seats.iter().map(|s| (s.x_mm, s.y_mm)))
        };
        let reach = |half: f64, of: fn((f64, f64)) -> f64| {
            places()
                .map(of)
                .map(f64::abs)
                .filter(|v| v.is_finite())
                .fold(half, f64::max)
        };
        let (x, y) = (reach(width / 2.0, |p| p.0), reach(height / 2.0, |p| p.1));
        let px_per_mm = (PLOT.width() / 2.0 / x).min(PLOT.height() / 2.0 / y);
        Self {
            px_per_mm: if px_per_mm.is_finite() && px_per_mm > 0.0 {
                px_per_mm
            } else {
                1.0
            },
        }
    }

    fn at(self, x_mm: f64, y_mm: f64) -> Point {
        let (x, y) = (
            (PLOT.left + PLOT.right) / 2.0,
            (PLOT.top + PLOT.bottom) / 2.0,
        );
        at(x + x_mm * self.px_per_mm, y - y_mm * self.px_per_mm)
    }
}

/// Draws a register over the frame, seen from the front and to scale.
///
/// Level lines join places of equal error; those of the limit are bold and broken, and the side beyond them is named. Each reading is a mark with
/// its own error, and the worst corner is ringed.
#[must_use]
pub fn register_chart(report: &Report, sheet: Sheet) -> String {
    let mut drawing = Drawing::new(WIDTH, HEIGHT, "register over the frame", sheet);
    let plan = Plan::new(report);
    let (width, height) = report.options.frame_mm;
    let (upper_left, lower_right) = (
        plan.at(-width / 2.0, height / 2.0),
        plan.at(width / 2.0, -height / 2.0),
    );
    let frame = Area {
        left: upper_left.x,
        top: upper_left.y,
        right: lower_right.x,
        bottom: lower_right.y,
    };
    drawing.rect(&frame, Tone::Paper, Pen::BOLD);
    draw_levels(&mut drawing, report, plan, &frame);
    draw_axes(&mut drawing, plan);
    draw_seats(&mut drawing, report, plan);
    draw_readings(&mut drawing, report, plan);
    draw_worst(&mut drawing, report, plan);
    draw_figures(&mut drawing, report);
    drawing.finish()
}

/// Lines of equal error inside the frame, at round figures and at the limits.
fn draw_levels(drawing: &mut Drawing, report: &Report, plan: Plan, frame: &Area) {
    let errors = || {
        report
            .corners
            .iter()
            .map(|c| c.error_mm)
            .filter(|e| e.is_finite())
    };
    let (low, high) = errors().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), e| {
        (l.min(e), h.max(e))
    });
    // A plane that is level to the micrometre has no lines to draw.
    if high < low + 1e-3 {
        return;
    }
    let limit = report.options.limit_mm;
    let ticks = Scale::new(low, high, 0.0, 1.0).ticks(LEVELS);
    let round = ticks
        .values()
        .iter()
        .map(|level| (*level, Pen::FINE, ticks.decimals()));
    let limits =
        [-limit, limit].map(|level| (level, Pen::BROKEN.wide(1.6), shortest_decimals(limit, 2)));
    let mut labels: Vec<Point> = Vec::new();
    for (level, pen, decimals) in limits.into_iter().chain(round) {
        let Some((from, to)) = across(report, plan, level) else {
            continue;
        };
        drawing.line(from, to, pen);
        let end = if from.x > to.x { from } else { to };
        let on_right = (end.x - frame.right).abs() < 0.5;
        let (place, anchor) = if on_right {
            (at(end.x + 5.0, end.y + 3.2), Anchor::Start)
        } else if end.y < (frame.top + frame.bottom) / 2.0 {
            (at(end.x, frame.top - 5.0), Anchor::Middle)
        } else {
            (at(end.x, frame.bottom + 11.0), Anchor::Middle)
        };
        let is_free =
            |other: &Point| (other.x - place.x).abs() > 34.0 || (other.y - place.y).abs() > 10.0;
        if labels.iter().all(is_free) {
            drawing.text(place, anchor, 9.0, &signed(level, decimals));
            labels.push(place);
        }
    }
}

/// Where the line of an error crosses the frame's edges.
fn across(report: &Report, plan: Plan, level: f64) -> Option<(Point, Point)> {
    let mut crossings: Vec<(f64, f64)> = Vec::new();
    let next = report.corners.iter().cycle().skip(1);
    for (from, to) in report.corners.iter().zip(next) {
        let rise = to.error_mm - from.error_mm;
        let share = (level - from.error_mm) / rise;
        if (0.0..=1.0).contains(&share) {
            crossings.push((
                from.x_mm + share * (to.x_mm - from.x_mm),
                from.y_mm + share * (to.y_mm - from.y_mm),
            ));
        }
    }
    let first = *crossings.first()?;
    // A line through a corner crosses two edges there: the farthest crossing is its other end.
    let apart = |p: &(f64, f64)| (p.0 - first.0).hypot(p.1 - first.1);
    let other = crossings
        .iter()
        .max_by(|a, b| apart(a).total_cmp(&apart(b)))?;
    (apart(other) > 0.1).then(|| (plan.at(first.0, first.1), plan.at(other.0, other.1)))
}

fn draw_axes(drawing: &mut Drawing, plan: Plan) {
    let half = |px: f64| px / 2.0 / plan.px_per_mm;
    let (x_reach, y_reach) = (half(PLOT.width()), half(PLOT.height()));
    let (left, bottom) = (PLOT.left - 12.0, PLOT.bottom + 12.0);
    drawing.line(at(PLOT.left, bottom), at(PLOT.right, bottom), Pen::FINE);
    drawing.line(at(left, PLOT.top), at(left, PLOT.bottom), Pen::FINE);
    let ticks = Scale::new(-x_reach, x_reach, 0.0, 1.0).ticks(8);
    for value in ticks.values() {
        let x = plan.at(*value, 0.0).x;
        drawing.line(at(x, bottom), at(x, bottom + 4.0), Pen::FINE);
        let figure = signed_off(*value, ticks.decimals());
        drawing.text(at(x, bottom + 15.0), Anchor::Middle, 10.0, &figure);
    }
    let ticks = Scale::new(-y_reach, y_reach, 0.0, 1.0).ticks(6);
    for value in ticks.values() {
        let y = plan.at(0.0, *value).y;
        drawing.line(at(left - 4.0, y), at(left, y), Pen::FINE);
        let figure = signed_off(*value, ticks.decimals());
        drawing.text(at(left - 7.0, y + 3.5), Anchor::End, 10.0, &figure);
    }
    let middle = (PLOT.left + PLOT.right) / 2.0;
    let words = "x, mm from the frame's middle, seen from the front";
    drawing.text(at(middle, HEIGHT - 6.0), Anchor::Middle, 11.0, words);
    let middle = (PLOT.top + PLOT.bottom) / 2.0;
    drawing.text_upward(at(13.0, middle), Anchor::Middle, 11.0, "y, mm");
}

fn draw_seats(drawing: &mut Drawing, report: &Report, plan: Plan) {
    for seat in &report.seats {
        let place = plan.at(seat.x_mm, seat.y_mm);
        Mark::OpenTriangle.draw(drawing, place, 4.4);
        let packed: f64 = seat.shims.iter().sum();
        let words = format!("wants {}", signed(seat.shim_mm, 3));
        let words = if seat.shims.is_empty() {
            words
        } else {
            format!("{words}, gets {}", signed_off(packed, 3))
        };
        // To the side where there is room for it.
        let (aside, anchor) = if place.x > (PLOT.left + PLOT.right) / 2.0 + 1.0 {
            (-7.0, Anchor::End)
        } else {
            (7.0, Anchor::Start)
        };
        drawing.text(at(place.x + aside, place.y + 3.2), anchor, 9.0, &words);
    }
}

fn draw_readings(drawing: &mut Drawing, report: &Report, plan: Plan) {
    let is_lettered = report.readings.len() <= LETTERED;
    for reading in &report.readings {
        let place = plan.at(reading.x_mm, reading.y_mm);
        Mark::OpenCircle.draw(drawing, place, 3.2);
        if is_lettered {
            let figure = signed(reading.reading_mm - report.options.target_mm, 3);
            // Towards the middle, where no edge of the frame crosses it.
            let (width, _) = report.options.frame_mm;
            let (aside, anchor) = match reading.x_mm / width {
                ..-0.25 => (-5.0, Anchor::Start),
                0.25.. => (5.0, Anchor::End),
                _ => (0.0, Anchor::Middle),
            };
            let below = if reading.y_mm < 0.0 { -7.0 } else { 14.0 };
            drawing.text(at(place.x + aside, place.y + below), anchor, 9.0, &figure);
        }
    }
}

fn worst(report: &Report) -> Option<&Corner> {
    let corners = report.corners.iter();
    corners.max_by(|a, b| a.error_mm.abs().total_cmp(&b.error_mm.abs()))
}

fn draw_worst(drawing: &mut Drawing, report: &Report, plan: Plan) {
    if let Some(corner) = worst(report) {
        let place = plan.at(corner.x_mm, corner.y_mm);
        let square = Area {
            left: place.x - 5.0,
            right: place.x + 5.0,
            top: place.y - 5.0,
            bottom: place.y + 5.0,
        };
        drawing.hatch(&square, 3.0);
        drawing.polyline(
            &[
                at(square.left, square.top),
                at(square.right, square.top),
                at(square.right, square.bottom),
                at(square.left, square.bottom),
                at(square.left, square.top),
            ],
            Pen::BOLD,
        );
    }
}

/// The figures beside the frame, and what the marks mean.
fn draw_figures(drawing: &mut Drawing, report: &Report) {
    let mut y = 42.0;
    let mut row = |drawing: &mut Drawing, name: &str, figure: &str| {
        drawing.text(at(FIGURES_LEFT, y), Anchor::Start, 10.0, name);
        drawing.text(at(FIGURES_LEFT, y + 14.0), Anchor::Start, 12.0, figure);
        y += 34.0;
    };
    let limit = report.options.limit_mm;
    let decimals = shortest_decimals(limit, 2);
    row(
        drawing,
        "error at the middle, mm",
        &with_u(report.error_mm, report.error_mm_u),
    );
    row(
        drawing,
        "at the worst corner (hatched), mm",
        &with_u(report.worst_mm, report.worst_mm_u),
    );
    row(
        drawing,
        "tilt across the frame, mm",
        with_u(report.frame_tilt_mm, report.frame_tilt_mm_u).trim_start_matches('+'),
    );
    let verdict = verdict_word(report.verdict);
    row(
        drawing,
        "limit anywhere in the frame, mm",
        &format!("±{}: {verdict}", signed_off(limit, decimals)),
    );
    if !report.shims.is_empty() {
        let packed: f64 = report.shims.iter().sum();
        let verdict = verdict_word(report.left_verdict);
        let words = format!(
            "{} leave {}: {verdict}",
            signed_off(packed, 3),
            signed(report.left_mm, 3)
        );
        row(drawing, "with shims, mm", &words);
    }
    let mut y = 228.0;
    let mut key = |drawing: &mut Drawing, words: &str, draw: &dyn Fn(&mut Drawing, Point)| {
        draw(drawing, at(FIGURES_LEFT + 8.0, y));
        drawing.text(at(FIGURES_LEFT + 24.0, y + 3.5), Anchor::Start, 10.0, words);
        y += 16.0;
    };
    key(drawing, "reading, with its error", &|d, p| {
        Mark::OpenCircle.draw(d, p, 3.2);
    });
    if !report.seats.is_empty() {
        key(drawing, "seat of the lens", &|d, p| {
            Mark::OpenTriangle.draw(d, p, 4.4);
        });
    }
    let rule = |pen: Pen| {
        move |d: &mut Drawing, p: Point| d.line(at(p.x - 8.0, p.y), at(p.x + 9.0, p.y), pen)
    };
    key(drawing, "line of equal error, mm", &rule(Pen::FINE));
    key(drawing, "limit", &rule(Pen::BROKEN.wide(1.6)));
}

/// A figure in mm to the micrometre, with its uncertainty where there is one.
fn with_u(mm: f64, u: Option<f64>) -> String {
    match u.filter(|u| u.is_finite()) {
        Some(u) => format!(
            "{} ± {}",
            signed(mm, 3),
            signed_off(u, if u < 9.5e-4 { 4 } else { 3 })
        ),
        None => format!("{}, uncertainty not known", signed(mm, 3)),
    }
}
