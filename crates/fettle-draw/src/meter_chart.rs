//! A meter's errors over the light, as found and after the shift, against their limit.

use fettle_measure::meter::{CurvePoint, ReadingRow, Report};

use crate::frame::{Signs, draw_axes, draw_names, draw_tick};
use crate::mark::Mark;
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::{shortest_decimals, signed_off, written_stops};

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 334.0;
const PLOT: Area = Area {
    left: 66.0,
    top: 50.0,
    right: 626.0,
    bottom: 268.0,
};
/// The chart reaches at least this far either way in stops, and at most that far; readings beyond stand at its edge with their figure.
const LEAST_STOPS: f64 = 0.5;
const GREATEST_STOPS: f64 = 4.0;
/// A shift smaller than this is not drawn: the two curves would be one.
const LEAST_SHIFT: f64 = 0.005;
/// Radius of a reading's mark.
const RADIUS: f64 = 3.4;

/// Draws errors in stops over the true light in EV.
///
/// The limit is a ruled band. As found: readings as circles with half their resolution as bars, strays crossed, and the curve with the band in
/// which it lies in 95 of 100 runs. After the shift: the curve, broken, and the readings as squares. A knee is an upright line, the
/// stretch that is inside the limit after the shift a bracket below.
#[must_use]
pub fn meter_chart(report: &Report, sheet: Sheet) -> String {
    let title = "Errors of the meter in stops over the light, with their limit";
    let mut drawing = Drawing::new(WIDTH, HEIGHT, title, sheet);
    let across = across_of(report);
    let (down, up, step) = reach_of(report);
    let upright = Scale::new(-down, up, PLOT.bottom, PLOT.top);
    let shifted = report.shift_stops.abs() >= LEAST_SHIFT;

    draw_limit(&mut drawing, report, &upright);
    draw_frame(&mut drawing, &across, &upright, step);
    draw_knee(&mut drawing, report, &across);
    for side in [-1.0, 1.0] {
        let edge = |p: &CurvePoint| p.error_stops_u.map(|u| p.error_stops + side * u);
        draw_curve(&mut drawing, report, &across, &upright, edge, Pen::FINE);
    }
    let found = |p: &CurvePoint| Some(p.error_stops);
    draw_curve(&mut drawing, report, &across, &upright, found, Pen::BOLD);
    if shifted {
        let after = |p: &CurvePoint| Some(p.error_stops + report.shift_stops);
        draw_curve(&mut drawing, report, &across, &upright, after, Pen::BROKEN);
    }
    for reading in report.readings.iter().filter(|r| is_drawable(r)) {
        let x = across.place(reading.true_ev);
        if shifted && reading.kept {
            let y = upright.place(reading.error_stops + report.shift_stops);
            Mark::FilledSquare.draw(&mut drawing, at(x, y), RADIUS * 0.7);
        }
        draw_reading(&mut drawing, reading, x, &upright);
    }
    draw_usable(&mut drawing, report, &across);
    draw_key(&mut drawing, report, shifted);
    drawing.finish()
}

fn is_drawable(reading: &ReadingRow) -> bool {
    reading.true_ev.is_finite() && reading.error_stops.is_finite()
}

/// The lights that the chart holds, half an EV wider than the readings.
fn across_of(report: &Report) -> Scale {
    let lights = || {
        report
            .readings
            .iter()
            .map(|r| r.true_ev)
            .filter(|v| v.is_finite())
    };
    let (low, high) = lights().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
        (low.min(v), high.max(v))
    });
    let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
    Scale::new(low - 0.5, high + 0.5, PLOT.left, PLOT.right)
}

/// How far the chart reaches down and up, and the step of its ticks, in stops.
fn reach_of(report: &Report) -> (f64, f64, f64) {
    let shifts = [0.0, report.shift_stops];
    let readings = report
        .readings
        .iter()
        .map(|r| (r.error_stops, r.resolution_stops / 2.0));
    let curve = report
        .curve
        .iter()
        .map(|p| (p.error_stops, p.error_stops_u.unwrap_or(0.0).min(1.0)));
    let limit = report.limit_stops * 1.15;
    let (mut down, mut up) = (LEAST_STOPS.max(limit), LEAST_STOPS.max(limit));
    for (error, u) in readings.chain(curve) {
        for shift in shifts {
            let (low, high) = (error + shift - u, error + shift + u);
            if low.is_finite() && high.is_finite() {
                (down, up) = (down.max(-low), up.max(high));
            }
        }
    }
    let (down, up) = (down.min(GREATEST_STOPS), up.min(GREATEST_STOPS));
    let step = match down + up {
        ..=2.25 => 0.25,
        ..=4.5 => 0.5,
        _ => 1.0,
    };
    let outward = |reach: f64| (reach / step - 1e-9).ceil() * step;
    (outward(down), outward(up), step)
}

fn draw_limit(drawing: &mut Drawing, report: &Report, upright: &Scale) {
    let limit = report.limit_stops;
    if !(limit.is_finite() && limit > 0.0) {
        return;
    }
    let band = Area {
        top: upright.place(limit),
        bottom: upright.place(-limit),
        ..PLOT
    };
    drawing.hatch(&band, 6.0);
    for y in [band.top, band.bottom] {
        drawing.line(at(PLOT.left, y), at(PLOT.right, y), Pen::FINE);
    }
}

fn draw_frame(drawing: &mut Drawing, across: &Scale, upright: &Scale, step: f64) {
    draw_axes(
        drawing,
        &PLOT,
        upright,
        &upright.ticks_by(step),
        Signs::Both,
    );
    let ticks = across.ticks(14);
    for &value in ticks.values() {
        let figure = signed_off(value, ticks.decimals());
        draw_tick(drawing, &PLOT, across.place(value), &figure);
    }
    let upward = "error, stops (+ reads high)";
    let light = "true light, EV at ISO 100";
    draw_names(drawing, &PLOT, upward, light, HEIGHT - 6.0);
}

fn draw_knee(drawing: &mut Drawing, report: &Report, across: &Scale) {
    let Some(knee) = report.knee_ev.filter(|v| across.contains(*v)) else {
        return;
    };
    let x = across.place(knee);
    drawing.line(at(x, PLOT.top), at(x, PLOT.bottom), Pen::CENTRE.wide(1.0));
    let within = report
        .knee_ev_u
        .filter(|u| u.is_finite())
        .map(|u| format!(" ± {}", signed_off(u, 1)))
        .unwrap_or_default();
    let words = format!("knee {}{within} EV", signed_off(knee, 1));
    // Written towards the middle, so that it does not run off the sheet.
    let (place, anchor) = if x > (PLOT.left + PLOT.right) / 2.0 {
        (at(x - 5.0, PLOT.top + 9.0), Anchor::End)
    } else {
        (at(x + 5.0, PLOT.top + 9.0), Anchor::Start)
    };
    drawing.text(place, anchor, 10.0, &words);
}

/// A line over the light, broken where it leaves the chart.
fn draw_curve(
    drawing: &mut Drawing,
    report: &Report,
    across: &Scale,
    upright: &Scale,
    value: impl Fn(&CurvePoint) -> Option<f64>,
    pen: Pen,
) {
    let mut run: Vec<Point> = Vec::new();
    for point in &report.curve {
        match value(point).filter(|v| upright.contains(*v)) {
            Some(v) => run.push(at(across.place(point.true_ev), upright.place(v))),
            None => drawing.polyline(&std::mem::take(&mut run), pen),
        }
    }
    drawing.polyline(&run, pen);
}

fn draw_reading(drawing: &mut Drawing, reading: &ReadingRow, x: f64, upright: &Scale) {
    let error = reading.error_stops;
    let y = upright.place(error);
    let half = reading.resolution_stops / 2.0;
    if upright.contains(error) && half.is_finite() {
        let (top, bottom) = (upright.place(error + half), upright.place(error - half));
        drawing.line(at(x, top), at(x, bottom), Pen::FINE);
    }
    Mark::OpenCircle.draw(drawing, at(x, y), RADIUS);
    if !reading.kept {
        draw_cross(drawing, at(x, y));
    }
    if !upright.contains(error) {
        let inward = if error > 0.0 { 15.0 } else { -9.0 };
        let words = written_stops(error);
        drawing.text(at(x, y + inward), Anchor::Middle, 9.0, &words);
    }
}

/// Over a reading that was left out.
fn draw_cross(drawing: &mut Drawing, place: Point) {
    let r = RADIUS * 1.7;
    for side in [-1.0, 1.0] {
        let (from, to) = (
            at(place.x - r, place.y - side * r),
            at(place.x + r, place.y + side * r),
        );
        drawing.line(from, to, Pen::BOLD);
    }
}

/// The stretch that is inside the limit after the shift, as a bracket under the figures.
fn draw_usable(drawing: &mut Drawing, report: &Report, across: &Scale) {
    let y = PLOT.bottom + 25.0;
    let Some((from, to)) = report.usable_from_ev.zip(report.usable_to_ev) else {
        let place = at((PLOT.left + PLOT.right) / 2.0, y + 3.0);
        let words = "nowhere inside the limit, even after the shift";
        drawing.text(place, Anchor::Middle, 10.0, words);
        return;
    };
    let (left, right) = (across.place(from), across.place(to));
    for (a, b) in [
        (at(left, y), at(right, y)),
        (at(left, y - 3.0), at(left, y + 3.0)),
        (at(right, y - 3.0), at(right, y + 3.0)),
    ] {
        drawing.line(a, b, Pen::BOLD);
    }
    let words = format!(
        "inside the limit after the shift: {} to {} EV",
        signed_off(from, 1),
        signed_off(to, 1)
    );
    let middle = ((left + right) / 2.0).clamp(PLOT.left + 120.0, PLOT.right - 120.0);
    drawing.text(at(middle, y + 12.0), Anchor::Middle, 9.5, &words);
}

/// What the shapes mean, in two lines along the top.
fn draw_key(drawing: &mut Drawing, report: &Report, shifted: bool) {
    let sample = |drawing: &mut Drawing, x: f64, y: f64, pen: Pen| {
        drawing.line(at(x - 4.0, y), at(x + 16.0, y), pen);
    };
    let (upper, lower) = (14.0, 32.0);
    let start = PLOT.left + 4.0;
    let words = |drawing: &mut Drawing, x: f64, y: f64, words: &str| {
        drawing.text(at(x, y + 3.8), Anchor::Start, 11.0, words);
    };
    sample(drawing, start, upper, Pen::BOLD);
    Mark::OpenCircle.draw(drawing, at(start + 6.0, upper), RADIUS);
    words(drawing, start + 22.0, upper, "as found");
    if shifted {
        sample(drawing, start + 92.0, upper, Pen::BROKEN);
        Mark::FilledSquare.draw(drawing, at(start + 98.0, upper), RADIUS * 0.7);
        let decimals = shortest_decimals(report.shift_stops, 2).min(2);
        let sign = if report.shift_stops > 0.0 { "+" } else { "" };
        let shift = signed_off(report.shift_stops, decimals);
        let after = format!("after the shift of {sign}{shift} stops");
        words(drawing, start + 114.0, upper, &after);
    }
    if report.readings.iter().any(|r| !r.kept) {
        let place = at(start + 322.0, upper);
        Mark::OpenCircle.draw(drawing, place, RADIUS);
        draw_cross(drawing, place);
        words(drawing, start + 334.0, upper, "left out");
    }
    for y in [lower - 4.0, lower + 4.0] {
        sample(drawing, start, y, Pen::FINE);
    }
    words(drawing, start + 22.0, lower, "band of the curve, 95 %");
    let swatch = Area {
        left: start + 178.0,
        right: start + 196.0,
        top: lower - 5.0,
        bottom: lower + 5.0,
    };
    drawing.hatch(&swatch, 5.0);
    for y in [swatch.top, swatch.bottom] {
        drawing.line(at(swatch.left, y), at(swatch.right, y), Pen::FINE);
    }
    let decimals = shortest_decimals(report.limit_stops, 2);
    let limit = format!("limit ± {}", signed_off(report.limit_stops, decimals));
    words(drawing, start + 202.0, lower, &limit);
    let bar = start + 290.0;
    drawing.line(at(bar, lower - 6.0), at(bar, lower + 6.0), Pen::FINE);
    words(drawing, bar + 7.0, lower, "resolution");
}
