//! Times of one thing, and how they are told.

use std::time::Duration;

/// What a page may take, 99 times in a hundred.
pub(crate) const GOAL_MS: f64 = 50.0;

/// Times of the same thing, sorted.
#[derive(Clone, Debug, Default)]
pub(crate) struct Times(Vec<f64>);

impl Times {
    pub(crate) fn of(times: impl IntoIterator<Item = Duration>) -> Self {
        let mut times: Vec<f64> = times.into_iter().map(|it| it.as_secs_f64() * 1e3).collect();
        times.sort_by(f64::total_cmp);
        Self(times)
    }

    /// The least that this share of them does not exceed, in ms.
    pub(crate) fn share(&self, share: f64) -> f64 {
        let reach = (self.0.len() as f64 * share).ceil() as usize;
        self.0
            .get(reach.saturating_sub(1))
            .copied()
            .unwrap_or(f64::NAN)
    }

    pub(crate) fn p50(&self) -> f64 {
        self.share(0.5)
    }

    pub(crate) fn p99(&self) -> f64 {
        self.share(0.99)
    }

    pub(crate) fn most(&self) -> f64 {
        self.share(1.0)
    }
}

/// Whether it keeps within the goal, as a mark at the end of a line.
pub(crate) fn mark(p99: f64) -> &'static str {
    if p99 > GOAL_MS { "  OVER" } else { "" }
}
