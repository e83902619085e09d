//! Amounts by month.

use super::{LETTERS, WIDTH};
use crate::frame::{Signs, draw_axes, draw_names};
use crate::scale::Scale;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, at};

const HEIGHT: f64 = 280.0;
const PLOT: Area = Area {
    left: 74.0,
    right: WIDTH - 14.0,
    top: 14.0,
    bottom: HEIGHT - 52.0,
};
/// Part of a month's room that its bar takes.
const BAR: f64 = 0.7;
/// Months lettered, at most about.
const MOST_LETTERED: usize = 12;

/// One month.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MonthBar {
    /// As it is lettered: `2026-04`.
    pub month: String,
    /// The amount; below zero when more was given back than came.
    pub amount: f64,
}

/// Months in their order, none left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MonthsChart {
    /// What it shows, for a reader that cannot see it.
    pub title: String,
    /// What the amounts are in: `EUR before tax`.
    pub unit: String,
    /// The months.
    pub months: Vec<MonthBar>,
}

/// Draws a bar a month.
#[must_use]
pub fn months_chart(chart: &MonthsChart, sheet: Sheet) -> String {
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &chart.title, sheet);
    let amounts = || {
        chart
            .months
            .iter()
            .map(|month| month.amount)
            .filter(|amount| amount.is_finite())
    };
    let low = amounts().fold(0.0, f64::min);
    let high = amounts().fold(0.0, f64::max).max(low + 1.0);
    let upright = Scale::new(1.05 * low, 1.05 * high, PLOT.bottom, PLOT.top);
    let room = PLOT.width() / chart.months.len().max(1) as f64;
    let every = chart.months.len().div_ceil(MOST_LETTERED).max(1);
    for (n, month) in chart.months.iter().enumerate() {
        let middle = PLOT.left + room * (n as f64 + 0.5);
        if month.amount.is_finite() {
            let (end, zero) = (upright.place(month.amount), upright.place(0.0));
            let bar = Area {
                left: middle - BAR * room / 2.0,
                right: middle + BAR * room / 2.0,
                top: end.min(zero),
                bottom: end.max(zero),
            };
            drawing.rect(&bar, Tone::Paper, Pen::FINE);
            drawing.hatch(&bar, 4.0);
        }
        if n % every == 0 {
            let place = at(middle, PLOT.bottom + 16.0);
            drawing.text(place, Anchor::Middle, LETTERS, &month.month);
        }
    }
    draw_axes(
        &mut drawing,
        &PLOT,
        &upright,
        &upright.ticks(6),
        Signs::Minus,
    );
    draw_names(
        &mut drawing,
        &PLOT,
        &chart.unit,
        "month of the bill",
        HEIGHT - 8.0,
    );
    drawing.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_month_below_zero_hangs_from_the_line_and_nothing_breaks_without_months() {
        let month = |amount| MonthBar {
            month: "2026-04".to_owned(),
            amount,
        };
        for months in [
            vec![],
            vec![month(f64::NAN)],
            vec![month(120.0), month(-40.0)],
        ] {
            let chart = MonthsChart {
                months,
                ..MonthsChart::default()
            };
            let svg = months_chart(&chart, Sheet::Light);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
            roxmltree::Document::parse(&svg).unwrap();
        }
    }
}
