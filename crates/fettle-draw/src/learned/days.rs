//! How many days cameras stay: each visit's share below a number of days.

use super::{LETTERS, WIDTH};
use crate::frame::{draw_names, draw_tick};
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::signed_off;

const HEIGHT: f64 = 260.0;
const PLOT: Area = Area {
    left: 62.0,
    right: WIDTH - 18.0,
    top: 14.0,
    bottom: HEIGHT - 48.0,
};

/// The days of visits, and what is read off them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DaysChart {
    /// Days from arrival to going home, in any order.
    pub days: Vec<f64>,
    /// Figures to mark with a rule, with the share below each: (`14`, `0.5`).
    pub marked: Vec<(f64, f64)>,
}

/// Draws the share of the cameras that were home after so many days, as a stair.
#[must_use]
pub fn days_chart(chart: &DaysChart, sheet: Sheet) -> String {
    let mut days: Vec<f64> = chart
        .days
        .iter()
        .copied()
        .filter(|days| days.is_finite() && *days >= 0.0)
        .collect();
    days.sort_by(f64::total_cmp);
    let most = days.last().copied().unwrap_or(0.0).max(1.0);
    let across = Scale::new(0.0, 1.04 * most, PLOT.left, PLOT.right);
    let upright = Scale::new(0.0, 1.0, PLOT.bottom, PLOT.top);
    let title = "share of the cameras that were home after so many days";
    let mut drawing = Drawing::new(WIDTH, HEIGHT, title, sheet);
    for &(value, share) in &chart.marked {
        if !value.is_finite() || !share.is_finite() {
            continue;
        }
        let (x, y) = (across.place(value), upright.place(share));
        drawing.line(at(PLOT.left, y), at(x, y), Pen::DASHED);
        drawing.line(at(x, y), at(x, PLOT.bottom), Pen::DASHED);
        let figure = signed_off(value, 0);
        drawing.text_on_paper(
            at(x + 4.0, PLOT.bottom - 5.0),
            Anchor::Start,
            LETTERS,
            &figure,
        );
    }
    let mut stair: Vec<Point> = vec![at(PLOT.left, PLOT.bottom)];
    let mut home = 0;
    // One step for all that took equally long.
    for alike in days.chunk_by(|a, b| a.total_cmp(b).is_eq()) {
        let x = across.place(alike[0]);
        for reached in [home, home + alike.len()] {
            let share = reached as f64 / days.len() as f64;
            stair.push(at(x, upright.place(share)));
        }
        home += alike.len();
    }
    stair.push(at(
        PLOT.right,
        upright.place(if days.is_empty() { 0.0 } else { 1.0 }),
    ));
    drawing.polyline(&stair, Pen::BOLD);
    draw_frame(&mut drawing, &across, &upright);
    drawing.finish()
}

fn draw_frame(drawing: &mut Drawing, across: &Scale, upright: &Scale) {
    let ticks = across.ticks(10);
    for &value in ticks.values() {
        let figure = signed_off(value, ticks.decimals());
        draw_tick(drawing, &PLOT, across.place(value), &figure);
    }
    for share in [0.0, 0.25, 0.5, 0.75, 1.0] {
        let y = upright.place(share);
        drawing.line(at(PLOT.left - 4.0, y), at(PLOT.left, y), Pen::FINE);
        let figure = format!("{:.0} %", 100.0 * share);
        drawing.text(at(PLOT.left - 7.0, y + 3.5), Anchor::End, LETTERS, &figure);
    }
    let corner = at(PLOT.left, PLOT.bottom);
    drawing.line(at(PLOT.left, PLOT.top), corner, Pen::FINE);
    drawing.line(corner, at(PLOT.right, PLOT.bottom), Pen::FINE);
    draw_names(
        drawing,
        &PLOT,
        "home by then",
        "days from arrival",
        HEIGHT - 8.0,
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stair_ends_at_the_whole_and_broken_days_are_left_out() {
        for days in [vec![], vec![f64::NAN, -3.0], vec![3.0, 14.0, 9.0]] {
            let chart = DaysChart {
                days,
                marked: vec![(9.0, 0.5), (f64::NAN, 0.9)],
            };
            let svg = days_chart(&chart, Sheet::Light);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
            roxmltree::Document::parse(&svg).unwrap();
        }
    }
}
