//! A rangefinder's errors over the distance, before and after its settings.

use fettle_measure::rangefinder::{CurvePoint, Report, Residual};

use crate::frame::{Signs, draw_axes, draw_names, draw_tick};
use crate::mark::{Mark, verdict_word};
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::speed_chart::draw_bar;
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::{shortest_decimals, signed, signed_off};

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 316.0;
const PLOT: Area = Area {
    left: 66.0,
    top: 56.0,
    right: 626.0,
    bottom: 262.0,
};
/// Greatest reach of the chart either way in depths; readings beyond stand at the edge with their figure.
const GREATEST_DEPTHS: f64 = 20.0;
/// Distances that may be lettered, in metres.
const LETTERED_M: [f64; 18] = [
    0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.0, 10.0, 20.0, 50.0,
];
/// Letters along the distances stand at least so far apart.
const LEAST_APART: f64 = 30.0;

/// Draws the errors in depths over the distance, on a scale that is even in `1/D`, infinity on the right.
///
/// The limits are a ruled band. Readings as found are open with their uncertainty as a bar, after the settings filled; the line through them
/// has its band in hairlines. Between the broken lines about zero the finder's base cannot tell.
#[must_use]
pub fn rangefinder_chart(report: &Report, sheet: Sheet) -> String {
    let mut drawing = Drawing::new(WIDTH, HEIGHT, "rangefinder error over the distance", sheet);
    let nearest = |far: f64, m: f64| if m > 0.0 { far.max(1.0 / m) } else { far };
    let points = report.residuals.iter().map(|r| r.distance_m);
    let most = points
        .chain(report.curve.iter().map(|p| p.distance_m))
        .fold(0.0, nearest);
    let across = Scale::new(
        0.0,
        if most > 0.0 { most * 1.04 } else { 1.0 },
        PLOT.right - 14.0,
        PLOT.left + 6.0,
    );
    let reach = reach_of(report);
    let up = Scale::new(-reach, reach, PLOT.bottom, PLOT.top);

    draw_limits(&mut drawing, report, &up);
    draw_frame(&mut drawing, &across, &up);
    draw_curves(&mut drawing, report, &across, &up);
    for residual in &report.residuals {
        draw_reading(&mut drawing, residual, &across, &up);
    }
    draw_key(&mut drawing, report);
    drawing.finish()
}

/// How far the chart reaches either way, in depths.
fn reach_of(report: &Report) -> f64 {
    let readings = report.residuals.iter().flat_map(|r| {
        let u = r.residual_depths_u.unwrap_or(0.0);
        [r.residual_depths.abs() + u, r.left_depths.abs()]
    });
    let lines = report.curve.iter().flat_map(|p| {
        let u = p.error_depths_u.unwrap_or(0.0);
        [
            p.error_depths.abs() + u,
            p.left_depths.abs(),
            p.resolvable_in_depths.unwrap_or(0.0),
        ]
    });
    let most = readings
        .chain(lines)
        .filter(|v| v.is_finite())
        .fold(report.options.limit_depths * 1.25, f64::max);
    (most * 1.05).clamp(0.1, GREATEST_DEPTHS)
}

fn draw_limits(drawing: &mut Drawing, report: &Report, up: &Scale) {
    let limit = report.options.limit_depths;
    let band = Area {
        top: up.place(limit),
        bottom: up.place(-limit),
        ..PLOT
    };
    drawing.hatch(&band, 7.0);
    for y in [band.top, band.bottom] {
        drawing.line(at(band.left, y), at(band.right, y), Pen::FINE);
    }
}

fn draw_frame(drawing: &mut Drawing, across: &Scale, up: &Scale) {
    draw_axes(drawing, &PLOT, up, &up.ticks(8), Signs::Both);
    let upward = "error, depths (+ sharp too near)";
    let below = "distance from the film, m";
    draw_names(drawing, &PLOT, upward, below, HEIGHT - 14.0);
    let far = across.place(0.0);
    drawing.line(at(far, PLOT.bottom), at(far, PLOT.bottom + 4.0), Pen::FINE);
    drawing.text(at(far, PLOT.bottom + 17.0), Anchor::Middle, 13.0, "∞");
    // From the near end, where letters have most room.
    let mut free_from = f64::NEG_INFINITY;
    for m in LETTERED_M.iter().filter(|m| across.contains(1.0 / **m)) {
        let x = across.place(1.0 / m);
        let is_free = x >= free_from && x <= far - LEAST_APART;
        let figure = if is_free {
            free_from = x + LEAST_APART;
            signed_off(*m, shortest_decimals(*m, 2))
        } else {
            String::new()
        };
        draw_tick(drawing, &PLOT, x, &figure);
    }
}

fn draw_curves(drawing: &mut Drawing, report: &Report, across: &Scale, up: &Scale) {
    let mut curve = |of: &dyn Fn(&CurvePoint) -> Option<f64>, pen: Pen| {
        let place = |p: &CurvePoint| {
            let depths = of(p).filter(|d| up.contains(*d))?;
            Some(at(across.place(1.0 / p.distance_m), up.place(depths)))
        };
        let points: Vec<Point> = report.curve.iter().filter_map(place).collect();
        if points.len() > 1 {
            drawing.polyline(&points, pen);
        }
    };
    curve(&|p| p.resolvable_in_depths, Pen::DASHED);
    curve(&|p| p.resolvable_in_depths.map(|d| -d), Pen::DASHED);
    curve(&|p| Some(p.error_depths + p.error_depths_u?), Pen::HAIR);
    curve(&|p| Some(p.error_depths - p.error_depths_u?), Pen::HAIR);
    curve(&|p| Some(p.error_depths), Pen::BOLD);
    curve(&|p| Some(p.left_depths), Pen::BROKEN);
}

fn draw_reading(drawing: &mut Drawing, residual: &Residual, across: &Scale, up: &Scale) {
    let x = across.place(1.0 / residual.distance_m);
    let (depths, left) = (residual.residual_depths, residual.left_depths);
    if !depths.is_finite() || !left.is_finite() {
        return;
    }
    if let Some(u) = residual.residual_depths_u.filter(|u| u.is_finite()) {
        draw_bar(drawing, x, up.place(depths + u), up.place(depths - u));
    }
    let mark = if residual.left_out {
        Mark::OpenTriangle
    } else {
        Mark::FilledSquare.draw(drawing, at(x, up.place(left)), 3.2);
        Mark::OpenCircle
    };
    mark.draw(drawing, at(x, up.place(depths)), 3.6);
    if !up.contains(depths) {
        let below = if depths > 0.0 { 16.0 } else { -8.0 };
        drawing.text(
            at(x, up.place(depths) + below),
            Anchor::Middle,
            9.0,
            &signed(depths, 1),
        );
    }
}

/// What marks and lines mean, in two rows along the top, and the verdicts.
fn draw_key(drawing: &mut Drawing, report: &Report) {
    let found = format!(
        "as found: worst {}, {}",
        signed_off(report.worst_in_depths, 2),
        verdict_word(report.verdict)
    );
    let left = format!(
        "after the settings: {}, {}",
        signed_off(report.left_in_depths, 2),
        verdict_word(report.left_verdict)
    );
    let (first, second) = (14.0, 34.0);
    let column = |n: f64| PLOT.left + 8.0 + n * 196.0;
    let text = |drawing: &mut Drawing, x: f64, y: f64, words: &str| {
        drawing.text(at(x + 16.0, y + 3.8), Anchor::Start, 11.0, words);
    };
    let rule = |drawing: &mut Drawing, x: f64, y: f64, pen: Pen| {
        drawing.line(at(x - 8.0, y), at(x + 11.0, y), pen);
    };
    rule(drawing, column(0.0), first, Pen::BOLD);
    Mark::OpenCircle.draw(drawing, at(column(0.0) + 1.5, first), 3.6);
    text(drawing, column(0.0), first, &found);
    rule(drawing, column(0.0), second, Pen::BROKEN);
    Mark::FilledSquare.draw(drawing, at(column(0.0) + 1.5, second), 3.2);
    text(drawing, column(0.0), second, &left);
    if report
        .residuals
        .iter()
        .any(|r| r.residual_depths_u.is_some())
    {
        draw_bar(drawing, column(1.0) + 4.0, first - 6.0, first + 6.0);
        text(drawing, column(1.0), first, "95 % interval of a reading");
    }
    if report.base.is_some() {
        rule(drawing, column(1.0), second, Pen::DASHED);
        text(drawing, column(1.0), second, "least the base can tell");
    }
    let swatch = Area {
        left: column(2.0) - 8.0,
        right: column(2.0) + 11.0,
        top: first - 5.0,
        bottom: first + 5.0,
    };
    drawing.hatch(&swatch, 5.0);
    for y in [swatch.top, swatch.bottom] {
        drawing.line(at(swatch.left, y), at(swatch.right, y), Pen::FINE);
    }
    text(drawing, column(2.0), first, "limit");
    if report.residuals.iter().any(|r| r.left_out) {
        Mark::OpenTriangle.draw(drawing, at(column(2.0) + 1.5, second), 3.6);
        text(drawing, column(2.0), second, "left out as far off");
    }
}
