//! Traces drawn: one in full with its moments, or two small for comparison.

use crate::mark::Mark;
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::sheet::Tone;
use crate::svg::{Anchor, Area, Drawing, Pen, at};
use crate::trace::Trace;
use crate::written::{WrittenTime, signed_off};

/// The openness the upright axis runs to; noise and overshoot beyond it are cut.
const LOWEST: f64 = -0.08;
const HIGHEST: f64 = 1.16;

/// Draws one trace over time, with first opening, full, closing and closed marked and the effective time ruled above.
///
/// Times are told from first opening. `label` says what was fired, as `1/125 s`.
#[must_use]
pub fn trace_chart(label: &str, trace: &Trace, sheet: Sheet) -> String {
    let plot = Area {
        left: 68.0,
        top: 56.0,
        right: 626.0,
        bottom: 230.0,
    };
    let title = format!("{label}: opening of the shutter over time");
    let mut drawing = Drawing::new(640.0, 296.0, &title, sheet);
    drawing.text(at(plot.left, 16.0), Anchor::Start, 13.0, label);
    let Some(axes) = Axes::new(plot, trace.extent_s()) else {
        return without_trace(drawing, plot);
    };
    axes.draw(&mut drawing, 8, 11.0, true);
    let upright = (plot.top + plot.bottom) / 2.0;
    drawing.text_upward(at(16.0, upright), Anchor::Middle, 11.0, "openness, E/E₀");
    drawing.polyline(&trace.curve(|t| axes.x(t), |e| axes.y(e)), Pen::BOLD);
    draw_effective(&mut drawing, &axes, trace, 38.0);
    draw_moments(&mut drawing, &axes, trace);
    drawing.finish()
}

/// Draws a pair of traces of one speed over each other, small: as it came broken, as it goes in a full line.
///
/// Both begin at first opening. Either may be missing.
#[must_use]
pub fn trace_pair(
    label: &str,
    before: Option<&Trace>,
    after: Option<&Trace>,
    sheet: Sheet,
) -> String {
    let plot = Area {
        left: 22.0,
        top: 48.0,
        right: 208.0,
        bottom: 102.0,
    };
    let title = format!("{label}: opening of the shutter over time, before and after");
    let mut drawing = Drawing::new(214.0, 118.0, &title, sheet);
    drawing.text(at(plot.left, 11.0), Anchor::Start, 11.5, label);
    let extents = [before, after]
        .into_iter()
        .flatten()
        .filter_map(Trace::extent_s);
    let extent = extents.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    let Some(axes) = Axes::new(plot, extent) else {
        return without_trace(drawing, plot);
    };
    axes.draw(&mut drawing, 4, 9.0, false);
    let series = [
        (before, Pen::BROKEN, Mark::OpenCircle, plot.left, 34.0),
        (after, Pen::BOLD, Mark::FilledSquare, plot.left + 92.0, 42.0),
    ];
    for (trace, pen, mark, told_x, y) in series {
        let Some(trace) = trace else { continue };
        drawing.polyline(&trace.curve(|t| axes.x(t), |e| axes.y(e)), pen);
        let Some((from, written)) = rule_effective(&mut drawing, &axes, trace, y) else {
            continue;
        };
        mark.draw(&mut drawing, at(from - 7.0, y), 2.2);
        mark.draw(&mut drawing, at(told_x + 3.0, 21.0), 2.2);
        let told = at(told_x + 9.0, 24.0);
        drawing.text(told, Anchor::Start, 9.0, &written.to_string());
    }
    drawing.finish()
}

fn without_trace(mut drawing: Drawing, plot: Area) -> String {
    let middle = at(
        (plot.left + plot.right) / 2.0,
        (plot.top + plot.bottom) / 2.0,
    );
    drawing.text(middle, Anchor::Middle, 12.0, "no trace");
    drawing.finish()
}

/// The two axes of a trace: time from first opening, and openness.
struct Axes {
    plot: Area,
    time: Scale,
    openness: Scale,
    lo_s: f64,
    hi_s: f64,
}

impl Axes {
    fn new(plot: Area, extent_s: Option<(f64, f64)>) -> Option<Self> {
        let (lo_s, hi_s) = extent_s?;
        let hi_s = hi_s.max(lo_s + 1e-6);
        Some(Self {
            plot,
            time: Scale::new(lo_s, hi_s, plot.left, plot.right),
            openness: Scale::new(LOWEST, HIGHEST, plot.bottom, plot.top),
            lo_s,
            hi_s,
        })
    }

    fn x(&self, time_s: f64) -> f64 {
        self.time.place(time_s)
    }

    fn y(&self, openness: f64) -> f64 {
        self.openness.place(openness)
    }

    /// The axes with at most about `time_ticks` figures along the time, lettered at a size. The unit of time follows
    /// the last figure when the axis is not `named`.
    fn draw(&self, drawing: &mut Drawing, time_ticks: usize, letters: f64, named: bool) {
        let plot = &self.plot;
        for (value, figure) in [(0.0, "0"), (0.5, "0.5"), (1.0, "1")] {
            let y = self.y(value);
            drawing.line(at(plot.left, y), at(plot.right, y), Pen::HAIR);
            drawing.line(at(plot.left - 4.0, y), at(plot.left, y), Pen::FINE);
            // Moments at the very start are numbered between axis and figures.
            let apart = if named { 18.0 } else { 6.0 };
            let place = at(plot.left - apart, y + letters * 0.32);
            drawing.text(place, Anchor::End, letters, figure);
        }
        let (factor, unit) = if self.hi_s - self.lo_s < 2.0 {
            (1e3, "ms")
        } else {
            (1.0, "s")
        };
        let (lo, hi) = (self.lo_s * factor, self.hi_s * factor);
        let scale = Scale::new(lo, hi, plot.left, plot.right);
        let ticks = scale.ticks(time_ticks);
        for (left, &value) in (0..ticks.values().len()).rev().zip(ticks.values()) {
            let x = scale.place(value);
            drawing.line(at(x, plot.bottom), at(x, plot.bottom + 4.0), Pen::FINE);
            let mut figure = signed_off(value, ticks.decimals());
            if left == 0 && !named {
                figure = format!("{figure} {unit}");
            }
            let y = plot.bottom + 4.0 + letters;
            if left == 0 && x > plot.right - 12.0 {
                drawing.text(at(plot.right + 6.0, y), Anchor::End, letters, &figure);
            } else {
                drawing.text(at(x, y), Anchor::Middle, letters, &figure);
            }
        }
        let corner = at(plot.left, plot.bottom);
        drawing.line(at(plot.left, plot.top), corner, Pen::FINE);
        drawing.line(corner, at(plot.right, plot.bottom), Pen::FINE);
        if named {
            let middle = f64::midpoint(plot.left, plot.right);
            let place = at(middle, plot.bottom + 6.0 + 2.2 * letters);
            let words = format!("{unit} from first opening");
            drawing.text(place, Anchor::Middle, letters, &words);
        }
    }
}

/// Rules the effective time at `y` with its sides let down to the axis and its figure above.
fn draw_effective(drawing: &mut Drawing, axes: &Axes, trace: &Trace, y: f64) {
    let Some((from, to)) = trace.effective_interval_s() else {
        return;
    };
    let (from, to) = (axes.x(from), axes.x(to));
    for x in [from, to] {
        drawing.line(at(x, y - 5.0), at(x, axes.y(0.0)), Pen::DASHED);
    }
    if let Some((_, written)) = rule_effective(drawing, axes, trace, y) {
        let half = 70.0;
        let middle = f64::midpoint(from, to).clamp(axes.plot.left + half, axes.plot.right - half);
        let words = format!("effective {written}");
        drawing.text(at(middle, y - 8.0), Anchor::Middle, 11.0, &words);
    }
}

/// Rules the effective time at `y` like a dimension on a drawing; gives back where it begins and its figure.
fn rule_effective(
    drawing: &mut Drawing,
    axes: &Axes,
    trace: &Trace,
    y: f64,
) -> Option<(f64, WrittenTime)> {
    let (from, to) = trace.effective_interval_s()?;
    let (from, to) = (axes.x(from), axes.x(to));
    drawing.line(at(from, y), at(to, y), Pen::FINE);
    for x in [from, to] {
        drawing.line(at(x - 2.5, y + 2.5), at(x + 2.5, y - 2.5), Pen::FINE);
    }
    let written = WrittenTime::new(trace.effective_s?, trace.effective_uncertainty_s)?;
    Some((from, written))
}

/// The four moments: numbered on the curve, told below.
fn draw_moments(drawing: &mut Drawing, axes: &Axes, trace: &Trace) {
    let moments = [
        ("first opening", trace.first_opening_s, 0.01, Anchor::End),
        ("full", trace.full_s, 0.99, Anchor::End),
        ("closing", trace.closing_s, 0.99, Anchor::Start),
        ("closed", trace.closed_s, 0.01, Anchor::Start),
    ];
    let mut told = Vec::new();
    for (n, (name, moment, level, side)) in (1..).zip(moments) {
        let Some(time) = trace.moment_s(moment) else {
            continue;
        };
        let place = at(axes.x(time), axes.y(level));
        drawing.circle(place, 2.6, Tone::Paper, Pen::FINE);
        let shift = if side == Anchor::End { -6.0 } else { 6.0 };
        drawing.text(
            at(place.x + shift, place.y - 4.0),
            side,
            11.0,
            &n.to_string(),
        );
        if let Some(written) = WrittenTime::new(time, None) {
            told.push(format!("{n} {name} {written}"));
        }
    }
    let words = told.join("   ·   ");
    let middle = (axes.plot.left + axes.plot.right) / 2.0;
    drawing.text(
        at(middle, axes.plot.bottom + 54.0),
        Anchor::Middle,
        11.0,
        &words,
    );
}
