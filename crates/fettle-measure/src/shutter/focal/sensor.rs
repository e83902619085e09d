//! One sensor of a recording: its channel, its place, and when the curtains pass it.

use super::lag::Lag;
use super::passage::Passage;
use crate::shutter::level::Pool;
use crate::shutter::overview;
use crate::shutter::session::Heard;
use crate::shutter::size::{self, Clock, Times};

/// A sensor that was listened to.
pub(super) struct Sensor<'a> {
    pub(super) heard: Heard<'a>,
    /// Where it stands, as given.
    pub(super) x: f64,
    /// Times of the channel's shots.
    pub(super) times: Vec<Times>,
    /// Passages of the channel's shots.
    pub(super) passages: Vec<Option<Passage>>,
    /// Its usual 10 to 90 % ramp in samples, of both curtains together.
    pub(super) ramp: Option<f64>,
    /// How late it tells of the light.
    pub(super) lag: Lag,
}

impl<'a> Sensor<'a> {
    pub(super) fn new(heard: Heard<'a>, x: f64) -> Self {
        Self {
            heard,
            x,
            times: Vec::new(),
            passages: Vec::new(),
            ramp: None,
            lag: Lag::default(),
        }
    }

    /// Measures the shots that are not measured yet.
    pub(super) fn measure(&mut self, pool: Option<&Pool>, clock: Clock) {
        let channel = &self.heard.channel;
        for raw in channel.shots.iter().skip(self.times.len()) {
            let times = size::size(channel, raw, pool, clock);
            let e0 = pool.map(|pool| pool.for_shot(raw.level));
            let e0 = e0.map(|it| (it.level, it.variance));
            let dark = times.budget.dark_s.to_s() / channel.signal.dt;
            let passage = e0
                .filter(|_| times.effective.is_some())
                .and_then(|e0| Passage::of(channel, raw, e0, dark));
            self.times.push(times);
            self.passages.push(passage);
        }
        let ramps: Vec<f64> = self
            .passages
            .iter()
            .flatten()
            .filter_map(|it| it.ramps)
            .map(|(rise, fall)| 0.5 * (rise + fall))
            .collect();
        self.ramp = (!ramps.is_empty()).then(|| overview::median(&ramps));
    }
}
