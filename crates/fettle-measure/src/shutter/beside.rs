//! What is held beside a recording while it is measured.

use std::cell::OnceCell;

use super::clicks::{self, Click, Mended};
use crate::Recording;
use crate::recording::Samples;

/// A recording's samples as they are measured, where these are not its own.
pub(super) struct Beside {
    mended: Option<Mended>,
    /// Each channel's samples under a steady lamp.
    steadied: Vec<OnceCell<Samples>>,
    /// Whether the flanks are those of blades, and there is time to ask them about the sensor.
    sensor: bool,
}

impl Beside {
    /// Takes the clicks off a recording; nothing is steadied yet.
    pub(super) fn of(recording: &Recording) -> Self {
        Self::mended(recording, clicks::mend(recording), true)
    }

    /// The same while listening, when the next shot may come at any time.
    pub(super) fn while_listening(recording: &Recording) -> Self {
        Self::mended(recording, clicks::mend(recording), false)
    }

    /// The same for sensors along a gate.
    pub(super) fn along_gate(recording: &Recording) -> Self {
        Self::mended(recording, clicks::mend_along_gate(recording), false)
    }

    fn mended(recording: &Recording, mended: Option<Mended>, sensor: bool) -> Self {
        Self {
            mended,
            steadied: vec![OnceCell::new(); recording.channel_count()],
            sensor,
        }
    }

    /// The samples to measure, and the clicks that were taken off a channel, counted from 0.
    pub(super) fn samples<'a>(
        &'a self,
        recording: &'a Recording,
        channel: usize,
    ) -> (&'a Samples, &'a [Click]) {
        match &self.mended {
            Some(it) => (
                &it.samples,
                it.clicks.get(channel).map_or([].as_slice(), Vec::as_slice),
            ),
            None => (recording.samples(), &[]),
        }
    }

    /// Whether the flanks are to tell what the sensor does.
    pub(super) fn tells_sensor(&self) -> bool {
        self.sensor
    }

    /// Where a channel's samples under a steady lamp are put.
    pub(super) fn steadied(&self, channel: usize) -> &OnceCell<Samples> {
        &self.steadied[channel]
    }
}
