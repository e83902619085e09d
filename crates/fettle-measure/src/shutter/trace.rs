//! The opening against time, thinned to what a drawing needs.

use serde::{Deserialize, Serialize};

use crate::Seconds;

/// One point of a trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TracePoint {
    /// From the shot's `start_s`.
    pub time_s: Seconds,
    /// `E / E0`: 0 closed, 1 fully open.
    pub openness: f64,
}

/// Moments of a shot, from its `start_s`.
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize, Deserialize)]
pub struct TraceMarks {
    /// First 1 % crossing: zero but for rounding.
    pub opening_s: Option<Seconds>,
    /// Fully open; `None` when it never opens fully.
    pub open_s: Option<Seconds>,
    /// Begins to close; `None` when it never opens fully.
    pub closing_s: Option<Seconds>,
    /// Last 1 % crossing.
    pub closed_s: Option<Seconds>,
}

/// A shot's opening against time, coupling undone, at most some 400 points with the least and
/// greatest of each stretch kept. In JSON two columns `time_s` and `openness` beside the marks.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "Columns", into = "Columns")]
pub struct Trace {
    /// In the order of time.
    pub points: Vec<TracePoint>,
    /// The moments to be marked on it.
    pub marks: TraceMarks,
}

#[derive(Serialize, Deserialize)]
struct Columns {
    time_s: Vec<f64>,
    openness: Vec<f64>,
    marks: TraceMarks,
}

impl From<Columns> for Trace {
    fn from(columns: Columns) -> Self {
        let points = columns.time_s.into_iter().zip(columns.openness);
        let point = |(time, openness)| TracePoint {
            time_s: Seconds::s(time),
            openness,
        };
        Self {
            points: points.map(point).collect(),
            marks: columns.marks,
        }
    }
}

impl From<Trace> for Columns {
    fn from(trace: Trace) -> Self {
        let (time_s, openness) = trace
            .points
            .iter()
            .map(|point| (point.time_s.to_s(), point.openness))
            .unzip();
        Self {
            time_s,
            openness,
            marks: trace.marks,
        }
    }
}
