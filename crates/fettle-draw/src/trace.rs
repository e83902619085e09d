//! One release as it was recorded: how far the shutter stood open, over time.

use crate::svg::{Point, at};

/// Times beyond this are no exposure; they are left out so that no figure overflows.
const LONGEST_S: f64 = 1e6;

/// The opening of a shutter over time, with the moments found on it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// The samples in order of time. Those that are not finite are left out.
    pub points: Vec<TracePoint>,
    /// First opening, where the light crosses 1 % of full; `None` when it lies outside the recording.
    pub first_opening_s: Option<f64>,
    /// The moment it stands fully open; `None` when it never does.
    pub full_s: Option<f64>,
    /// The moment it begins to close; `None` when it never stood fully open.
    pub closing_s: Option<f64>,
    /// Closed again, where the light falls through 1 % of full.
    pub closed_s: Option<f64>,
    /// Effective time `∫E dt / E0`; `None` when it could not be told.
    pub effective_s: Option<f64>,
    /// Its expanded uncertainty (k = 2).
    pub effective_uncertainty_s: Option<f64>,
}

/// One sample of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TracePoint {
    /// On the recording's clock.
    pub time_s: f64,
    /// `E/E0`: 0 closed, 1 fully open.
    pub openness: f64,
}

impl Trace {
    /// The moment all times are told from: first opening, or the first sample.
    pub(crate) fn origin_s(&self) -> f64 {
        usable_time(self.first_opening_s)
            .or_else(|| self.usable().next().map(|p| p.time_s))
            .unwrap_or(0.0)
    }

    pub(crate) fn usable(&self) -> impl Iterator<Item = TracePoint> + '_ {
        self.points.iter().copied().filter(|p| {
            p.openness.is_finite() && p.time_s.is_finite() && p.time_s.abs() < LONGEST_S
        })
    }

    /// First and last time, from the origin.
    pub(crate) fn extent_s(&self) -> Option<(f64, f64)> {
        let origin = self.origin_s();
        self.usable()
            .map(|p| p.time_s - origin)
            .fold(None, |range, t| match range {
                None => Some((t, t)),
                Some((lo, hi)) => Some((f64::min(lo, t), f64::max(hi, t))),
            })
    }

    /// A moment told from the origin.
    pub(crate) fn moment_s(&self, moment: Option<f64>) -> Option<f64> {
        usable_time(moment).map(|t| t - self.origin_s())
    }

    /// The interval of the effective time, from the origin: as long as the exposure and centred on its light, so that
    /// a rectangle of full height over it holds the light of the whole trace.
    pub(crate) fn effective_interval_s(&self) -> Option<(f64, f64)> {
        let effective = usable_time(self.effective_s).filter(|t| *t > 0.0)?;
        let origin = self.origin_s();
        let (mut light, mut moment) = (0.0, 0.0);
        let mut last: Option<TracePoint> = None;
        for p in self.usable() {
            if let Some(before) = last {
                let step = (p.time_s - before.time_s).max(0.0);
                let part = step
                    * f64::midpoint(p.openness.clamp(0.0, 2.0), before.openness.clamp(0.0, 2.0));
                light += part;
                moment += part * (f64::midpoint(p.time_s, before.time_s) - origin);
            }
            last = Some(p);
        }
        (light > 0.0).then(|| {
            let centre = moment / light;
            (centre - effective / 2.0, centre + effective / 2.0)
        })
    }

    /// The curve on the sheet, thinned to the lowest and highest sample of each half pixel.
    pub(crate) fn curve(&self, x_of: impl Fn(f64) -> f64, y_of: impl Fn(f64) -> f64) -> Vec<Point> {
        let origin = self.origin_s();
        let mut curve = Vec::new();
        let mut column: Option<Column> = None;
        for p in self.usable() {
            let place = at(x_of(p.time_s - origin), y_of(p.openness));
            let key = (place.x * 2.0).floor() as i64;
            match &mut column {
                Some(open) if open.key == key => open.add(place),
                _ => {
                    if let Some(done) = column.take() {
                        done.write(&mut curve);
                    }
                    column = Some(Column::new(key, place));
                }
            }
        }
        if let Some(done) = column {
            done.write(&mut curve);
        }
        curve
    }
}

/// The samples that fall on one half pixel.
struct Column {
    key: i64,
    first: Point,
    low: Point,
    high: Point,
    last: Point,
}

impl Column {
    fn new(key: i64, place: Point) -> Self {
        Self {
            key,
            first: place,
            low: place,
            high: place,
            last: place,
        }
    }

    fn add(&mut self, place: Point) {
        if place.y > self.low.y {
            self.low = place;
        }
        if place.y < self.high.y {
            self.high = place;
        }
        self.last = place;
    }

    fn write(self, curve: &mut Vec<Point>) {
        let mut extremes = [self.low, self.high];
        if extremes[0].x > extremes[1].x {
            extremes.reverse();
        }
        for place in [self.first, extremes[0], extremes[1], self.last] {
            if curve.last() != Some(&place) {
                curve.push(place);
            }
        }
    }
}

fn usable_time(time: Option<f64>) -> Option<f64> {
    time.filter(|t| t.is_finite() && t.abs() < LONGEST_S)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A trapezoid: opens over `flank_s`, stays, closes over `flank_s`; sampled every `step_s`.
    pub(crate) fn trapezoid(flank_s: f64, effective_s: f64, step_s: f64) -> Trace {
        let total = effective_s + flank_s;
        let openness = |t: f64| (t / flank_s).min((total - t) / flank_s).clamp(0.0, 1.0);
        let lead = total * 0.2;
        let count = ((total + 2.0 * lead) / step_s) as usize;
        Trace {
            points: (0..=count)
                .map(|i| {
                    let time_s = i as f64 * step_s;
                    TracePoint {
                        time_s,
                        openness: openness(time_s - lead),
                    }
                })
                .collect(),
            first_opening_s: Some(lead),
            full_s: Some(lead + flank_s),
            closing_s: Some(lead + effective_s),
            closed_s: Some(lead + total),
            effective_s: Some(effective_s),
            effective_uncertainty_s: Some(effective_s * 0.011),
        }
    }

    #[test]
    fn the_effective_interval_is_centred_on_the_light() {
        let trace = trapezoid(0.001, 0.008, 1e-5);
        let (from, to) = trace.effective_interval_s().unwrap();
        assert!((from - 0.0005).abs() < 2e-6, "{from}");
        assert!((to - 0.0085).abs() < 2e-6, "{to}");
    }

    #[test]
    fn a_long_trace_is_thinned_without_losing_its_peaks() {
        let mut trace = trapezoid(0.001, 1.0, 1e-5);
        trace.points[50_000].openness = 1.3;
        let curve = trace.curve(|t| t * 400.0, |e| -e);
        assert!(curve.len() < 4_500, "{}", curve.len());
        assert!(curve.iter().any(|p| (p.y + 1.3).abs() < 1e-12));
    }
}
