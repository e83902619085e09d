//! How often each thing was seen: a row a thing, its share with its interval.

use super::{LETTERS, WIDTH};
use crate::lettering::{width_of, wrapped};
use crate::mark::Mark;
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::svg::{Anchor, Area, Drawing, Pen, at};

const ROW: f64 = 26.0;
const TOP: f64 = 8.0;
const BELOW: f64 = 40.0;
/// The names take at most this width; what is longer is broken into two lines.
const NAMES: f64 = 250.0;
const LEAST_NAMES: f64 = 90.0;
/// Figures at the right: `12 of 61`.
const FIGURES: f64 = 76.0;

/// One thing and how often it was seen.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Share {
    /// What.
    pub name: String,
    /// How often.
    pub count: u32,
    /// Out of how many.
    pub of: u32,
    /// Lower end of the interval of its chance, 0 to 1.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Several, in the order in which they are drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SharesChart {
    /// What they are of, for a reader that cannot see it.
    pub title: String,
    /// The rows.
    pub rows: Vec<Share>,
}

/// Draws the share of each row as a mark and its interval as a bar, over 0 to the highest upper end.
#[must_use]
pub fn shares_chart(chart: &SharesChart, sheet: Sheet) -> String {
    let names = chart
        .rows
        .iter()
        .map(|row| width_of(&row.name, LETTERS))
        .fold(LEAST_NAMES, f64::max)
        .min(NAMES);
    let rows = chart.rows.len() as f64;
    let height = TOP + ROW * rows + BELOW;
    let plot = Area {
        left: names + 14.0,
        right: WIDTH - FIGURES,
        top: TOP,
        bottom: TOP + ROW * rows,
    };
    let highest = chart
        .rows
        .iter()
        .map(|row| row.high)
        .filter(|high| high.is_finite())
        .fold(0.05, f64::max)
        .min(1.0);
    let across = Scale::new(0.0, highest, plot.left, plot.right);
    let mut drawing = Drawing::new(WIDTH, height, &chart.title, sheet);
    let ticks = Scale::new(0.0, 100.0 * highest, plot.left, plot.right).ticks(6);
    for &percent in ticks.values() {
        let x = across.place(percent / 100.0);
        drawing.line(at(x, plot.top), at(x, plot.bottom), Pen::HAIR);
        let figure = format!("{percent:.*} %", ticks.decimals());
        let place = at(x, plot.bottom + 16.0);
        drawing.text(place, Anchor::Middle, LETTERS, &figure);
    }
    drawing.line(
        at(plot.left, plot.bottom),
        at(plot.right, plot.bottom),
        Pen::FINE,
    );
    let middle = at((plot.left + plot.right) / 2.0, plot.bottom + 33.0);
    let words = "share of the cameras, with 90 % interval";
    drawing.text(middle, Anchor::Middle, LETTERS, words);
    for (n, row) in chart.rows.iter().enumerate() {
        draw_row(&mut drawing, row, &across, &plot, n);
    }
    drawing.finish()
}

fn draw_row(drawing: &mut Drawing, row: &Share, across: &Scale, plot: &Area, n: usize) {
    let y = plot.top + ROW * (n as f64 + 0.5);
    let lines = wrapped(&row.name, LETTERS, plot.left - 14.0, 2);
    let first = y + 4.0 - 6.5 * (lines.len().max(1) - 1) as f64;
    for (i, line) in lines.iter().enumerate() {
        let place = at(plot.left - 10.0, first + 13.0 * i as f64);
        drawing.text(place, Anchor::End, LETTERS, line);
    }
    if row.low.is_finite() && row.high.is_finite() {
        let (from, to) = (across.place(row.low), across.place(row.high));
        drawing.line(at(from, y), at(to, y), Pen::FINE);
        for x in [from, to] {
            drawing.line(at(x, y - 4.0), at(x, y + 4.0), Pen::FINE);
        }
    }
    if row.of > 0 {
        let share = f64::from(row.count) / f64::from(row.of);
        Mark::FilledSquare.draw(drawing, at(across.place(share), y), 3.6);
    }
    let figure = format!("{} of {}", row.count, row.of);
    drawing.text(
        at(plot.right + 10.0, y + 4.0),
        Anchor::Start,
        LETTERS,
        &figure,
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_marked_where_it_stands_and_counted_beside() {
        let row = |name: &str, count, low, high| Share {
            name: name.to_owned(),
            count,
            of: 20,
            low,
            high,
        };
        let chart = SharesChart {
            title: "faults".to_owned(),
            rows: vec![row("grease", 10, 0.3, 0.7), row("pawl <worn>", 1, 0.0, 0.2)],
        };
        let svg = shares_chart(&chart, Sheet::Light);
        assert!(svg.contains("10 of 20") && svg.contains("1 of 20"), "{svg}");
        assert!(svg.contains("pawl &lt;worn&gt;"), "{svg}");
        roxmltree::Document::parse(&svg).unwrap();
    }

    #[test]
    fn broken_figures_draw_no_coordinate_that_is_none() {
        let chart = SharesChart {
            title: String::new(),
            rows: vec![Share {
                low: f64::NAN,
                high: f64::INFINITY,
                ..Share::default()
            }],
        };
        let svg = shares_chart(&chart, Sheet::Light);
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
}
