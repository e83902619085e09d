//! What is left in a drawer as time goes by: a fan of chances, and when it runs out.

use crate::mark::Mark;
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::svg::{Anchor, Area, Drawing, Pen, at};
use crate::written::written_chance;

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 280.0;
const PLOT: Area = Area {
    left: 60.0,
    right: WIDTH - 16.0,
    top: 44.0,
    bottom: HEIGHT - 54.0,
};
/// The bar of the run-out lies so far below the axis' figures.
const RUN_OUT_DOWN: f64 = 30.0;
/// Rulings of the wide band and, between them, of the inner one.
const WIDE_GAP: f64 = 8.0;
const INNER_GAP: f64 = 4.0;
/// Dates lettered along the axis, at most about.
const LETTERED: f64 = 8.0;
/// Months between lettered dates.
const MONTHS: [i32; 9] = [1, 2, 3, 6, 12, 24, 60, 120, 240];
/// Years beyond these are no dates.
const YEARS: std::ops::RangeInclusive<f64> = 0.0..=9999.0;

/// A drawer's forecast for drawing. Dates are years with their fraction: 2031.5 is the middle of 2031.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StockFan {
    /// What is in the drawer.
    pub title: String,
    /// What is left by date, from today on.
    pub points: Vec<StockFanPoint>,
    /// Until when it is to last, and the chance that it does.
    pub until: Option<(f64, f64)>,
    /// When it runs out: sooner one time in ten, as likely sooner as later, later one time in ten; `None` for never.
    pub runs_out: [Option<f64>; 3],
}

/// What is left on one day; each figure is undercut with its chance.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StockFanPoint {
    /// The day.
    pub year: f64,
    /// Pieces, one time in ten fewer.
    pub p10: f64,
    /// One time in four fewer.
    pub p25: f64,
    /// As likely fewer as more.
    pub p50: f64,
    /// Three times in four fewer.
    pub p75: f64,
    /// Nine times in ten fewer.
    pub p90: f64,
}

/// Draws the pieces left over the years: the middle as a bold stair, half of the chance as a close ruling about it, eight tenths as a
/// wide one; below the axis when the drawer runs out, as a bar of eight tenths with its middle.
#[must_use]
pub fn stock_fan(fan: &StockFan, sheet: Sheet) -> String {
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &title(fan), sheet);
    let points: Vec<StockFanPoint> = fan.points.iter().copied().filter(is_sound).collect();
    let first = points.first().map_or(0.0, |point| point.year);
    let last = points.last().map_or(0.0, |point| point.year);
    let most = points.iter().map(|point| point.p90).fold(1.0, f64::max);
    let chart = Chart {
        points,
        x: Scale::new(first, last, PLOT.left, PLOT.right),
        y: Scale::new(0.0, 1.08 * most, PLOT.bottom, PLOT.top),
        years: (first, last),
    };
    chart.draw_bands(&mut drawing);
    chart.draw_frame(&mut drawing);
    chart.draw_until(&mut drawing, fan.until);
    chart.draw_middle(&mut drawing);
    chart.draw_run_out(&mut drawing, fan.runs_out);
    draw_key(&mut drawing);
    drawing.finish()
}

/// What the chart shows, for a reader that cannot see it.
fn title(fan: &StockFan) -> String {
    let lasts = fan.until.and_then(|(_, chance)| written_chance(chance));
    match lasts {
        Some(chance) => format!(
            "{}: pieces left by date; lasts with a chance of {chance}",
            fan.title
        ),
        None => format!("{}: pieces left by date", fan.title),
    }
}

fn is_sound(point: &StockFanPoint) -> bool {
    let figures = [point.p10, point.p25, point.p50, point.p75, point.p90];
    YEARS.contains(&point.year) && figures.iter().all(|it| (0.0..1e9).contains(it))
}

struct Chart {
    points: Vec<StockFanPoint>,
    x: Scale,
    y: Scale,
    years: (f64, f64),
}

impl Chart {
    /// Each point's figures hold until the next one's day.
    fn stretches(&self) -> impl Iterator<Item = (StockFanPoint, f64, f64)> {
        let next = self.points.iter().skip(1);
        let pairs = self.points.iter().zip(next);
        pairs.map(|(here, next)| (*here, self.x.place(here.year), self.x.place(next.year)))
    }

    fn draw_bands(&self, drawing: &mut Drawing) {
        for (point, left, right) in self.stretches() {
            let band = |low: f64, high: f64| Area {
                left,
                right,
                top: self.y.place(high),
                bottom: self.y.place(low),
            };
            drawing.hatch(&band(point.p10, point.p90), WIDE_GAP);
            drawing.hatch(&band(point.p25, point.p75), INNER_GAP);
        }
        let edges: [fn(&StockFanPoint) -> f64; 4] =
            [|it| it.p10, |it| it.p25, |it| it.p75, |it| it.p90];
        for (n, edge) in edges.into_iter().enumerate() {
            let pen = if n == 0 || n == 3 {
                Pen::FINE
            } else {
                Pen::HAIR
            };
            self.draw_stair(drawing, edge, pen);
        }
    }

    fn draw_middle(&self, drawing: &mut Drawing) {
        self.draw_stair(drawing, |it| it.p50, Pen::BOLD.wide(2.0));
    }

    fn draw_stair(&self, drawing: &mut Drawing, of: fn(&StockFanPoint) -> f64, pen: Pen) {
        let mut stair = Vec::new();
        for (point, left, right) in self.stretches() {
            let y = self.y.place(of(&point));
            stair.extend([at(left, y), at(right, y)]);
        }
        if let Some(last) = self.points.last() {
            stair.push(at(self.x.place(last.year), self.y.place(of(last))));
        }
        drawing.polyline(&stair, pen);
    }

    fn draw_frame(&self, drawing: &mut Drawing) {
        let (left, bottom) = (PLOT.left, PLOT.bottom);
        drawing.line(at(left, PLOT.top), at(left, bottom), Pen::FINE);
        drawing.line(at(left, bottom), at(PLOT.right, bottom), Pen::FINE);
        let ticks = self.y.ticks(5);
        let whole = ticks.values().iter().filter(|it| it.fract().abs() < 1e-6);
        for value in whole {
            let y = self.y.place(*value);
            drawing.line(at(left - 4.0, y), at(left, y), Pen::FINE);
            let figure = format!("{value:.0}");
            drawing.text(at(left - 7.0, y + 3.5), Anchor::End, 10.5, &figure);
        }
        let middle = at(14.0, f64::midpoint(PLOT.top, bottom));
        drawing.text_upward(middle, Anchor::Middle, 11.0, "pieces left");
        for (year, word) in self.dates() {
            let x = self.x.place(year);
            drawing.line(at(x, bottom), at(x, bottom + 4.0), Pen::FINE);
            drawing.text(at(x, bottom + 16.0), Anchor::Middle, 10.5, &word);
        }
    }

    /// The dates to letter: first days of years, or of months where few years are drawn.
    fn dates(&self) -> Vec<(f64, String)> {
        let (first, last) = self.years;
        let wanted = 12.0 * (last - first) / LETTERED;
        let step = MONTHS.into_iter().find(|step| f64::from(*step) >= wanted);
        let step = step.unwrap_or(1200);
        let from = (first * 12.0 / f64::from(step)).ceil() as i32;
        let to = (last * 12.0 / f64::from(step)).floor() as i32;
        let date = |n: i32| {
            let months = n * step;
            let (year, month) = (months.div_euclid(12), months.rem_euclid(12) + 1);
            let word = if step % 12 == 0 {
                year.to_string()
            } else {
                format!("{year}-{month:02}")
            };
            (f64::from(months) / 12.0, word)
        };
        (from..=to).map(date).collect()
    }

    fn draw_until(&self, drawing: &mut Drawing, until: Option<(f64, f64)>) {
        let Some((year, chance)) = until.filter(|(year, _)| self.x.contains(*year)) else {
            return;
        };
        let x = self.x.place(year);
        drawing.line(at(x, PLOT.top - 6.0), at(x, PLOT.bottom), Pen::CENTRE);
        let Some(chance) = written_chance(chance) else {
            return;
        };
        let is_left = x > f64::midpoint(PLOT.left, PLOT.right);
        let (aside, anchor) = if is_left {
            (-6.0, Anchor::End)
        } else {
            (6.0, Anchor::Start)
        };
        let words = format!("lasts until here: {chance}");
        drawing.text(at(x + aside, PLOT.top), anchor, 11.0, &words);
    }

    fn draw_run_out(&self, drawing: &mut Drawing, runs_out: [Option<f64>; 3]) {
        let y = PLOT.bottom + RUN_OUT_DOWN;
        drawing.text(at(PLOT.left - 7.0, y + 3.5), Anchor::End, 10.5, "runs out");
        let [early, middle, late] = runs_out.map(|day| day.filter(|day| YEARS.contains(day)));
        let (first, last) = self.years;
        let Some(from) = early.filter(|day| *day <= last) else {
            drawing.text(at(PLOT.right, y + 3.5), Anchor::End, 10.5, "later →");
            return;
        };
        let end = late.filter(|day| *day <= last);
        let (left, right) = (self.x.place(from), self.x.place(end.unwrap_or(last)));
        drawing.line(at(left, y), at(right, y), Pen::BOLD);
        let cap =
            |drawing: &mut Drawing, x: f64| drawing.line(at(x, y - 4.0), at(x, y + 4.0), Pen::FINE);
        if from >= first {
            cap(drawing, left);
        }
        if end.is_some() {
            cap(drawing, right);
        } else {
            // It goes on past the sheet.
            drawing.polyline(
                &[
                    at(right - 5.0, y - 4.0),
                    at(right, y),
                    at(right - 5.0, y + 4.0),
                ],
                Pen::FINE,
            );
        }
        if let Some(middle) = middle.filter(|day| self.x.contains(*day)) {
            Mark::FilledSquare.draw(drawing, at(self.x.place(middle), y), 3.6);
        }
    }
}

/// What lines and rulings mean, along the top.
fn draw_key(drawing: &mut Drawing) {
    let y = 14.0;
    let mut x = PLOT.left;
    drawing.line(at(x, y), at(x + 20.0, y), Pen::BOLD.wide(2.0));
    drawing.text(
        at(x + 26.0, y + 3.8),
        Anchor::Start,
        11.0,
        "as likely more as fewer",
    );
    x += 166.0;
    for (gaps, words, width) in [
        (&[INNER_GAP][..], "five times in ten", 130.0),
        (&[WIDE_GAP][..], "eight times in ten", 136.0),
    ] {
        let swatch = Area {
            left: x,
            top: y - 6.0,
            right: x + 20.0,
            bottom: y + 6.0,
        };
        for gap in gaps {
            drawing.hatch(&swatch, *gap);
        }
        for edge in [swatch.top, swatch.bottom] {
            drawing.line(at(swatch.left, edge), at(swatch.right, edge), Pen::FINE);
        }
        drawing.text(at(x + 26.0, y + 3.8), Anchor::Start, 11.0, words);
        x += width;
    }
    Mark::FilledSquare.draw(drawing, at(x + 6.0, y), 3.6);
    drawing.text(at(x + 16.0, y + 3.8), Anchor::Start, 11.0, "runs out");
}
