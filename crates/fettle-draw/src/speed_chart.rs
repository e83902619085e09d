//! Errors of a shutter's speeds, against their limits.

use crate::frame::{Signs, draw_axes, draw_names};
use crate::mark::Mark;
use crate::scale::Scale;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, at};
use crate::written::written_stops;

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 268.0;
const PLOT: Area = Area {
    left: 66.0,
    top: 34.0,
    right: 626.0,
    bottom: 216.0,
};
/// Least and greatest reach of the chart either way in stops; readings beyond are shown at the edge with their figure.
const LEAST_STOPS: f64 = 0.5;
const GREATEST_STOPS: f64 = 3.0;
/// No more marks than this are lettered; beyond it every second one is.
const LETTERED: usize = 18;

/// The errors of marked speeds, one or several series of them, and the limits they are held to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SpeedChart {
    /// What the chart shows, for a reader that cannot see it.
    pub title: String,
    /// The marked speeds from slow to fast.
    pub speeds: Vec<SpeedColumn>,
    /// The series' names with their shapes, in the order of [`SpeedColumn::readings`].
    pub series: Vec<(String, Mark)>,
}

/// One marked speed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SpeedColumn {
    /// As engraved: `1`, `1/125`, without a unit.
    pub marked: String,
    /// Greatest error allowed either way, in stops; `None` when nothing is asked of this speed.
    pub limit_stops: Option<f64>,
    /// One entry a series; `None` where it was not measured. Readings that are not finite are left out.
    pub readings: Vec<Option<SpeedReading>>,
}

/// One reading of a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpeedReading {
    /// `log2(measured / marked)`: positive is longer.
    pub error_stops: f64,
    /// Expanded uncertainty (k = 2) in stops; `None` when it is not known.
    pub uncertainty_stops: Option<f64>,
}

impl SpeedReading {
    fn uncertainty(&self) -> Option<f64> {
        self.uncertainty_stops.filter(|u| u.is_finite() && *u > 0.0)
    }
}

/// Draws the errors in stops over the dial's marks.
///
/// The limits are a ruled band, each reading a mark with its uncertainty as a bar. A reading beyond the chart stands
/// at its edge with an arrow and its figure.
#[must_use]
pub fn speed_chart(chart: &SpeedChart, sheet: Sheet) -> String {
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &chart.title, sheet);
    let (down, up, step) = reach_of(chart);
    let scale = Scale::new(-down, up, PLOT.bottom, PLOT.top);
    let column = PLOT.width() / chart.speeds.len().max(1) as f64;

    draw_limits(&mut drawing, chart, &scale, column);
    draw_frame(&mut drawing, &scale, step);
    for (i, speed) in chart.speeds.iter().enumerate() {
        let centre = PLOT.left + (i as f64 + 0.5) * column;
        drawing.line(
            at(centre, PLOT.bottom),
            at(centre, PLOT.bottom + 4.0),
            Pen::FINE,
        );
        if chart.speeds.len() <= LETTERED || i % 2 == 0 {
            drawing.text(
                at(centre, PLOT.bottom + 17.0),
                Anchor::Middle,
                11.0,
                &speed.marked,
            );
        }
        draw_readings(&mut drawing, chart, speed, &scale, centre, column);
    }
    if chart.speeds.is_empty() {
        let middle = at((PLOT.left + PLOT.right) / 2.0, scale.place(0.0) - 8.0);
        drawing.text(middle, Anchor::Middle, 12.0, "no speed measured");
    }
    draw_key(&mut drawing, chart);
    drawing.finish()
}

/// How far the chart reaches down and up, and the step of its ticks, in stops.
fn reach_of(chart: &SpeedChart) -> (f64, f64, f64) {
    let (mut down, mut up) = (LEAST_STOPS, LEAST_STOPS);
    for speed in &chart.speeds {
        if let Some(limit) = usable_limit(speed) {
            (down, up) = (down.max(limit), up.max(limit));
        }
        for reading in speed.readings.iter().flatten() {
            let u = reading.uncertainty().unwrap_or(0.0);
            if reading.error_stops.is_finite() {
                down = down.max(u - reading.error_stops);
                up = up.max(u + reading.error_stops);
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

fn usable_limit(speed: &SpeedColumn) -> Option<f64> {
    speed.limit_stops.filter(|l| l.is_finite() && *l >= 0.0)
}

fn draw_limits(drawing: &mut Drawing, chart: &SpeedChart, scale: &Scale, column: f64) {
    for (i, speed) in chart.speeds.iter().enumerate() {
        let Some(limit) = usable_limit(speed) else {
            continue;
        };
        let left = PLOT.left + i as f64 * column;
        let band = Area {
            left,
            right: left + column,
            top: scale.place(limit),
            bottom: scale.place(-limit),
        };
        drawing.hatch(&band, 5.0);
        for y in [band.top, band.bottom] {
            drawing.line(at(band.left, y), at(band.right, y), Pen::FINE);
        }
    }
}

fn draw_frame(drawing: &mut Drawing, scale: &Scale, step: f64) {
    draw_axes(drawing, &PLOT, scale, &scale.ticks_by(step), Signs::Both);
    let upward = "error, stops (+ longer)";
    draw_names(drawing, &PLOT, upward, "marked speed, s", HEIGHT - 14.0);
}

fn draw_readings(
    drawing: &mut Drawing,
    chart: &SpeedChart,
    speed: &SpeedColumn,
    scale: &Scale,
    centre: f64,
    column: f64,
) {
    let apart = (column * 0.24).min(11.0);
    let middle = (chart.series.len() as f64 - 1.0) / 2.0;
    for (n, ((_, mark), reading)) in chart.series.iter().zip(&speed.readings).enumerate() {
        let Some(reading) = reading.filter(|r| r.error_stops.is_finite()) else {
            continue;
        };
        let x = centre + (n as f64 - middle) * apart;
        if !scale.contains(reading.error_stops) {
            draw_beyond(drawing, x, scale, reading.error_stops, *mark);
            continue;
        }
        if let Some(u) = reading.uncertainty() {
            draw_interval(
                drawing,
                x,
                scale,
                [reading.error_stops - u, reading.error_stops + u],
            );
        }
        mark.draw(drawing, at(x, scale.place(reading.error_stops)), 3.6);
    }
}

/// The interval of a reading, from `top` to `bottom`.
pub(crate) fn draw_bar(drawing: &mut Drawing, x: f64, top: f64, bottom: f64) {
    drawing.line(at(x, top), at(x, bottom), Pen::FINE);
    for y in [top, bottom] {
        draw_end(drawing, x, y);
    }
}

fn draw_end(drawing: &mut Drawing, x: f64, y: f64) {
    drawing.line(at(x - 2.6, y), at(x + 2.6, y), Pen::FINE);
}

/// The interval between two ends; one beyond the chart is an arrowhead at its edge, so that none looks shorter
/// than it is.
fn draw_interval(drawing: &mut Drawing, x: f64, scale: &Scale, [low, high]: [f64; 2]) {
    let (top, bottom) = (scale.place(high), scale.place(low));
    drawing.line(at(x, top), at(x, bottom), Pen::FINE);
    for (end, y, inward) in [(high, top, 6.0), (low, bottom, -6.0)] {
        if scale.contains(end) {
            draw_end(drawing, x, y);
            continue;
        }
        for side in [-2.6, 2.6] {
            drawing.line(at(x + side, y + inward), at(x, y), Pen::FINE);
        }
    }
}

/// A reading beyond the chart: an arrow at the edge, then its mark and its figure.
fn draw_beyond(drawing: &mut Drawing, x: f64, scale: &Scale, error: f64, mark: Mark) {
    let edge = scale.place(error);
    let inward = if error > 0.0 { 1.0 } else { -1.0 };
    let corners = [
        at(x, edge),
        at(x + 4.0, edge + 9.0 * inward),
        at(x - 4.0, edge + 9.0 * inward),
    ];
    drawing.outline(&corners, Tone::Ink, Pen::FINE);
    mark.draw(drawing, at(x, edge + 16.0 * inward), 3.6);
    let place = at(x, edge + 27.0 * inward + 3.0);
    drawing.text(place, Anchor::Middle, 9.0, &written_stops(error));
}

/// What the shapes mean, along the top.
fn draw_key(drawing: &mut Drawing, chart: &SpeedChart) {
    let mut x = PLOT.left + 4.0;
    let y = 14.0;
    for (name, mark) in &chart.series {
        mark.draw(drawing, at(x, y), 3.6);
        drawing.text(at(x + 9.0, y + 3.8), Anchor::Start, 11.0, name);
        x += 26.0 + 5.6 * name.chars().count() as f64;
    }
    let readings = chart
        .speeds
        .iter()
        .flat_map(|s| s.readings.iter().flatten());
    if readings.into_iter().any(|r| r.uncertainty().is_some()) {
        draw_bar(drawing, x, y - 6.0, y + 6.0);
        drawing.text(
            at(x + 9.0, y + 3.8),
            Anchor::Start,
            11.0,
            "expanded uncertainty, k = 2",
        );
        x += 182.0;
    }
    if chart.speeds.iter().any(|s| usable_limit(s).is_some()) {
        let swatch = Area {
            left: x - 4.0,
            top: y - 5.0,
            right: x + 14.0,
            bottom: y + 5.0,
        };
        drawing.hatch(&swatch, 5.0);
        for edge in [swatch.top, swatch.bottom] {
            drawing.line(at(swatch.left, edge), at(swatch.right, edge), Pen::FINE);
        }
        drawing.text(at(x + 20.0, y + 3.8), Anchor::Start, 11.0, "limit");
    }
}
