//! A shot's trace, thinned for drawing.

use super::channel::{Channel, Raw};
use super::expose;
use super::size::Times;
use super::{Flag, Trace, TraceMarks, TracePoint};
use crate::Seconds;

/// Points of a trace.
const TRACE_POINTS: usize = 380;

/// The trace of a shot that starts at sample `start`.
pub(super) fn trace(channel: &Channel<'_>, raw: &Raw, times: &Times, start: f64) -> Trace {
    let Some(e0) = times.e0 else {
        return Trace::default();
    };
    let dt = channel.signal.dt;
    let mut light = raw.light.first.clone();
    light.extend(raw.local.plateau(&channel.signal, &raw.fit));
    light.extend_from_slice(&raw.light.second);
    let first = raw.local.regions.first as f64 + 0.5;
    let point = |i: usize| TracePoint {
        time_s: Seconds::s(((first + i as f64 - start) * dt * 1e7).round() * 1e-7),
        openness: (light[i] / e0 * 1e4).round() * 1e-4,
    };
    let size = (light.len() * 2).div_ceil(TRACE_POINTS);
    let points = if light.len() <= TRACE_POINTS {
        (0..light.len()).map(point).collect()
    } else {
        (0..light.len())
            .step_by(size)
            .flat_map(|from| {
                let block = from..(from + size).min(light.len());
                let by = |a: &usize, b: &usize| light[*a].total_cmp(&light[*b]);
                let low = block.clone().min_by(by).unwrap_or(from);
                let high = block.max_by(by).unwrap_or(from);
                [low.min(high), low.max(high)]
            })
            .map(point)
            .collect()
    };
    let from_start = |place: f64| Seconds::s((place - start) * dt);
    let open = expose::fully_open(&light, e0, channel.signal.noise)
        .filter(|_| !times.flags.contains(&Flag::NeverFullyOpen));
    let marks = TraceMarks {
        opening_s: times.opened.map(|opened| from_start(opened.0)),
        open_s: open.map(|open| from_start(first + open.0)),
        closing_s: open.map(|open| from_start(first + open.1)),
        closed_s: times.closed.map(|closed| from_start(closed.0)),
    };
    Trace { points, marks }
}
