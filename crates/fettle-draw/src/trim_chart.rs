//! An adjustment's readings over its trials, against their limits, and what the next turn is to bring.

use fettle_measure::trim::{Advice, Reading, State};

use crate::frame::{Signs, draw_axes, draw_tick};
use crate::mark::Mark;
use crate::scale::Scale;
use crate::sheet::Sheet;
use crate::svg::{Anchor, Area, Drawing, Pen, at};

const WIDTH: f64 = 640.0;
/// Above the panels stands the key, below them the axis' name.
const HEAD: f64 = 26.0;
const FOOT: f64 = 22.0;
const PANEL_HEIGHT: f64 = 168.0;
/// What a panel's plot leaves to its name, figures and ticks.
const LEFT: f64 = 58.0;
const RIGHT: f64 = 8.0;
const TOP: f64 = 22.0;
const BOTTOM: f64 = 22.0;
/// Letters of a name that fit over a panel of half the width.
const MOST_LETTERS: usize = 40;
/// Trials lettered along a panel, and along one of the whole width.
const LETTERED: usize = 8;
const LETTERED_WIDE: usize = 18;
/// A scale reaches so far beyond what stands on it.
const MARGIN: f64 = 0.08;
/// A forecast's bar widens the scale to no more than this many times the readings' and limits' span.
const MOST_FORECAST: f64 = 0.6;

/// Draws one small panel a reading: the readings over the trials with twice their repeatability as a bar, the limits as
/// a ruled band about the target, and the reading to expect after the turns of `advice` with its uncertainty.
///
/// `advice` is the answer to `state`. When the readings are inside there is no next turn and no forecast.
#[must_use]
pub fn trim_chart(state: &State, advice: &Advice, sheet: Sheet) -> String {
    let columns = if state.readings.len() > 1 { 2 } else { 1 };
    let rows = state.readings.len().div_ceil(columns).max(1);
    let height = HEAD + rows as f64 * PANEL_HEIGHT + FOOT;
    let mut drawing = Drawing::new(WIDTH, height, &title(state, advice), sheet);
    let width = WIDTH / columns as f64;
    for (i, reading) in state.readings.iter().enumerate() {
        let left = (i % columns) as f64 * width;
        let top = HEAD + (i / columns) as f64 * PANEL_HEIGHT;
        let plot = Area {
            left: left + LEFT,
            right: left + width - RIGHT,
            top: top + TOP,
            bottom: top + PANEL_HEIGHT - BOTTOM,
        };
        let panel = Panel {
            reading,
            taken: taken(state, i),
            forecast: forecast(advice, i),
            plot,
            columns: state.trials.len() + usize::from(!advice.inside),
            lettered: if columns > 1 { LETTERED } else { LETTERED_WIDE },
        };
        panel.draw(&mut drawing, !advice.inside);
    }
    draw_key(&mut drawing, !advice.inside);
    let foot = at(WIDTH / 2.0, height - 7.0);
    drawing.text(foot, Anchor::Middle, 11.0, "trial");
    drawing.finish()
}

/// What the chart shows, for a reader that cannot see it.
fn title(state: &State, advice: &Advice) -> String {
    let names: Vec<&str> = state.readings.iter().map(|r| r.name.as_str()).collect();
    let trials = state.trials.len().saturating_sub(1);
    let end = if advice.inside {
        "all inside"
    } else {
        "with the forecast for the next"
    };
    format!(
        "{} over {trials} trials against their limits, {end}",
        names.join(", ")
    )
}

/// The readings of one kind that were taken, with the trial.
fn taken(state: &State, i: usize) -> Vec<(usize, f64)> {
    let trials = state.trials.iter().enumerate();
    trials
        .filter_map(|(n, trial)| Some((n, trial.readings.get(i).copied().flatten()?)))
        .filter(|(_, value)| value.is_finite())
        .collect()
}

fn forecast(advice: &Advice, i: usize) -> Option<(f64, f64)> {
    if advice.inside {
        return None;
    }
    let mean = advice.predicted.get(i).copied().flatten()?;
    let u = advice.predicted_u.get(i).copied().flatten()?;
    (mean.is_finite() && u.is_finite()).then_some((mean, u))
}

struct Panel<'a> {
    reading: &'a Reading,
    taken: Vec<(usize, f64)>,
    /// The reading to expect and its expanded uncertainty.
    forecast: Option<(f64, f64)>,
    plot: Area,
    columns: usize,
    lettered: usize,
}

impl Panel<'_> {
    fn draw(&self, drawing: &mut Drawing, has_next: bool) {
        let scale = self.scale();
        self.draw_limits(drawing, &scale);
        self.draw_frame(drawing, &scale, has_next);
        let mut before = None;
        for &(n, value) in &self.taken {
            let here = at(self.column(n), scale.place(value));
            if let Some(before) = before.replace(here) {
                drawing.line(before, here, Pen::DASHED);
            }
        }
        for &(n, value) in &self.taken {
            self.draw_bar(drawing, &scale, n, value, 2.0 * self.reading.repeatability);
            let centre = at(self.column(n), scale.place(value));
            Mark::OpenCircle.draw(drawing, centre, 3.2);
        }
        if let Some((mean, u)) = self.forecast {
            let next = self.columns.saturating_sub(1);
            self.draw_bar(drawing, &scale, next, mean, u);
            let centre = at(self.column(next), scale.place(mean));
            Mark::FilledSquare.draw(drawing, centre, 3.6);
        }
    }

    /// Target and limit, where they can be drawn.
    fn limits(&self) -> Option<(f64, f64)> {
        let (target, limit) = (self.reading.target, self.reading.limit);
        (target.is_finite() && limit.is_finite() && limit > 0.0).then_some((target, limit))
    }

    fn scale(&self) -> Scale {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        let mut hold = |value: f64| (low, high) = (low.min(value), high.max(value));
        if let Some((target, limit)) = self.limits() {
            hold(target - 1.2 * limit);
            hold(target + 1.2 * limit);
        }
        self.taken.iter().for_each(|(_, value)| hold(*value));
        if let Some((mean, _)) = self.forecast {
            hold(mean);
        }
        if low > high {
            (low, high) = (0.0, 1.0);
        }
        if let Some((mean, u)) = self.forecast {
            let reach = u.min(MOST_FORECAST * (high - low));
            (low, high) = (low.min(mean - reach), high.max(mean + reach));
        }
        let margin = MARGIN * (high - low);
        Scale::new(low - margin, high + margin, self.plot.bottom, self.plot.top)
    }

    fn column(&self, n: usize) -> f64 {
        let width = self.plot.width() / self.columns.max(1) as f64;
        self.plot.left + (n as f64 + 0.5) * width
    }

    fn draw_limits(&self, drawing: &mut Drawing, scale: &Scale) {
        let Some((target, limit)) = self.limits() else {
            return;
        };
        let band = Area {
            top: scale.place(target + limit),
            bottom: scale.place(target - limit),
            ..self.plot
        };
        drawing.hatch(&band, 5.0);
        for y in [band.top, band.bottom] {
            drawing.line(at(band.left, y), at(band.right, y), Pen::FINE);
        }
        let y = scale.place(target);
        drawing.line(at(band.left, y), at(band.right, y), Pen::CENTRE);
    }

    fn draw_frame(&self, drawing: &mut Drawing, scale: &Scale, has_next: bool) {
        let plot = &self.plot;
        draw_axes(drawing, plot, scale, &scale.ticks(5), Signs::Minus);
        let every = self.columns.div_ceil(self.lettered).max(1);
        for n in 0..self.columns {
            let x = self.column(n);
            let is_next = has_next && n + 1 == self.columns;
            let word = match n {
                _ if is_next => "next".to_owned(),
                0 => "found".to_owned(),
                // A figure beside the last word would run into it.
                _ if n % every == 0 && (every == 1 || n + every < self.columns) => n.to_string(),
                _ => String::new(),
            };
            draw_tick(drawing, plot, x, &word);
        }
        let name = format!("{}, {}", self.reading.name, self.reading.unit);
        drawing.text(
            at(plot.left, plot.top - 7.0),
            Anchor::Start,
            11.5,
            &shortened(&name),
        );
    }

    /// An uncertainty either way, its ends left off where they lie beyond the chart.
    fn draw_bar(&self, drawing: &mut Drawing, scale: &Scale, n: usize, value: f64, u: f64) {
        if !(u.is_finite() && u > 0.0) {
            return;
        }
        let x = self.column(n);
        let (top, bottom) = (scale.place(value + u), scale.place(value - u));
        drawing.line(at(x, top), at(x, bottom), Pen::FINE);
        for (end, y) in [(value + u, top), (value - u, bottom)] {
            if scale.contains(end) {
                drawing.line(at(x - 2.6, y), at(x + 2.6, y), Pen::FINE);
            }
        }
    }
}

fn shortened(name: &str) -> String {
    if name.chars().count() <= MOST_LETTERS {
        return name.to_owned();
    }
    let kept: String = name.chars().take(MOST_LETTERS - 1).collect();
    format!("{kept}…")
}

/// What the shapes mean, along the top.
fn draw_key(drawing: &mut Drawing, has_next: bool) {
    let y = 12.0;
    let mut x = LEFT + 4.0;
    Mark::OpenCircle.draw(drawing, at(x, y), 3.2);
    drawing.text(at(x + 9.0, y + 3.8), Anchor::Start, 11.0, "read");
    x += 48.0;
    if has_next {
        Mark::FilledSquare.draw(drawing, at(x, y), 3.6);
        drawing.text(at(x + 9.0, y + 3.8), Anchor::Start, 11.0, "to expect");
        x += 72.0;
    }
    drawing.line(at(x, y - 6.0), at(x, y + 6.0), Pen::FINE);
    for end in [y - 6.0, y + 6.0] {
        drawing.line(at(x - 2.6, end), at(x + 2.6, end), Pen::FINE);
    }
    drawing.text(
        at(x + 9.0, y + 3.8),
        Anchor::Start,
        11.0,
        "uncertainty of one reading, k = 2",
    );
    x += 226.0;
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
    drawing.text(
        at(x + 20.0, y + 3.8),
        Anchor::Start,
        11.0,
        "limits about the target",
    );
}
