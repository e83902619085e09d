//! What is held beside a recording while it is measured.

use std::sync::OnceLock;

use super::clicks::{self, Click, Mended};
use crate::Recording;
use crate::recording::Samples;

/// A recording's samples as they are measured, where these are not its own.
pub(super) struct Beside {
    mended: Option<Mended>,
    /// Each channel's samples under a steady lamp.
    steadied: Vec<OnceLock<Samples>>,
    care: Care,
}

/// How much is asked of a recording beyond its times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Care {
    /// Everything: the flanks, those of blades, tell of the sensor too.
    Whole,
    /// All but that.
    WithoutSensor,
    /// What can be told at once: flanks are paired once, and a lamp's swing stays in the samples and goes into the budget.
    AtOnce,
}

impl Beside {
    /// Takes the clicks off a recording; nothing is steadied yet.
    pub(super) fn of(recording: &Recording) -> Self {
        Self::mended(recording, clicks::mend(recording), Care::Whole)
    }

    /// The same while listening, when the next shot may come at any time.
    pub(super) fn while_listening(recording: &Recording) -> Self {
        Self::mended(recording, clicks::mend(recording), Care::AtOnce)
    }

    /// The same for sensors along a gate.
    pub(super) fn along_gate(recording: &Recording) -> Self {
        Self::mended(
            recording,
            clicks::mend_along_gate(recording),
            Care::WithoutSensor,
        )
    }

    fn mended(recording: &Recording, mended: Option<Mended>, care: Care) -> Self {
        Self {
            mended,
            steadied: vec![OnceLock::new(); recording.channel_count()],
            care,
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

    /// What is asked beyond the times.
    pub(super) fn care(&self) -> Care {
        self.care
    }

    /// Where a channel's samples under a steady lamp are put.
    pub(super) fn steadied(&self, channel: usize) -> &OnceLock<Samples> {
        &self.steadied[channel]
    }
}
