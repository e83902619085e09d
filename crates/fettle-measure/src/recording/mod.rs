//! Recordings: samples of one to eight channels with their rate, read from bytes.

mod ahead;
mod coded;
mod error;
mod intake;
mod means;
mod runs;
mod samples;
mod scout;
mod table;
mod wave;
mod wave_out;
mod waveform;

use std::io::{Read, Seek};
use std::ops::Range;

use ahead::Ahead;
pub use error::RecordingError;
use intake::{Intake, MOST_HELD};
pub(crate) use means::Means;
pub(crate) use samples::{Samples, Track};
pub use wave_out::{wave_head, wave_samples};
pub use waveform::{View, Waveform};

use crate::{Hertz, Seconds};

/// Rates that can be read.
const RATES_HZ: std::ops::RangeInclusive<f64> = 1.0..=1e8;
/// Channels that can be read.
const MOST_CHANNELS: usize = 8;

/// What is known of the steps between neighbouring values.
#[derive(Clone, Debug, PartialEq)]
enum Steps {
    Unknown,
    /// Integers of so many bits, scaled to ±1.
    OfBits(u8),
    /// Of each channel of a table, as its values show.
    Seen(Vec<Option<f64>>),
}

/// Samples of one to eight channels at an even rate.
///
/// Up to six million samples, all channels together, are held whole; of a longer recording the
/// samples where something happens, and the means of blocks of some 1/8000 s.
#[derive(Clone, Debug, PartialEq)]
pub struct Recording {
    name: String,
    sample_rate: Hertz,
    samples: Samples,
    steps: Steps,
    header_repaired: bool,
    uneven_time: bool,
    /// Standard uncertainty of a time that a lossy coding brings.
    coding: Option<Seconds>,
}

impl Recording {
    /// From samples, all channels equally long, which are held whole; the step between two
    /// neighbouring values is taken as not known.
    ///
    /// # Errors
    /// When the rate lies beyond 1 Hz to 100 MHz, there are no channels or more than eight, or
    /// their lengths differ.
    #[expect(
        clippy::needless_pass_by_value,
        reason = "samples given away are not held twice"
    )]
    pub fn from_channels(
        name: &str,
        sample_rate: Hertz,
        channels: Vec<Vec<f32>>,
    ) -> Result<Self, RecordingError> {
        Self::from_samples(name, sample_rate, &channels, None)
    }

    /// The same, from integers of so many bits where these are known.
    pub(crate) fn from_samples(
        name: &str,
        sample_rate: Hertz,
        channels: &[Vec<f32>],
        bits: Option<u8>,
    ) -> Result<Self, RecordingError> {
        let form = Form {
            sample_rate,
            channels: channels.len(),
            bits,
        };
        let mut intake = form.intake(name, usize::MAX)?;
        let alike = |channel: &Vec<f32>| channel.len() == channels[0].len();
        if !channels.iter().all(alike) {
            return Err(RecordingError::new(
                name,
                "samples",
                "the channels differ in length",
                "record all channels together",
            ));
        }
        intake.push(channels);
        Ok(form.recording(name, intake.finish()))
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

    /// How many channels.
    #[must_use]
    pub const fn channel_count(&self) -> usize {
        self.samples.channels()
    }

    /// The values of a channel, counted from 0, over a range of samples as far as it goes on: ±1 is
    /// full scale for sound files, volts for tables. Samples that are not held are given as the mean
    /// of their block.
    pub fn values(&self, channel: usize, range: Range<usize>) -> impl Iterator<Item = f32> {
        self.samples.over(channel, range)
    }

    /// Whether every sample of a range is held, so that `values` gives no means there.
    #[must_use]
    pub fn is_whole(&self, range: Range<usize>) -> bool {
        self.samples.is_whole(range)
    }

    /// Samples of each channel.
    #[must_use]
    pub const fn length(&self) -> usize {
        self.samples.length()
    }

    /// What is held of the samples.
    pub(crate) const fn samples(&self) -> &Samples {
        &self.samples
    }

    /// The step between neighbouring values of a channel, counted from 0, where it is known.
    pub(crate) fn step(&self, channel: usize) -> Option<f64> {
        match &self.steps {
            Steps::Unknown => None,
            Steps::OfBits(bits) => Some((1.0 - f64::from(*bits)).exp2()),
            Steps::Seen(steps) => steps.get(channel).copied().flatten(),
        }
    }

    /// Whether 1 is the end of the range, as where the samples are integers.
    pub(crate) const fn has_full_scale(&self) -> bool {
        matches!(self.steps, Steps::OfBits(_))
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

    /// Whether it went through a coding that keeps only what the ear notices.
    #[must_use]
    pub const fn is_lossy(&self) -> bool {
        self.coding.is_some()
    }

    /// Standard uncertainty that a lossy coding brings to the time of a shot; 0 without one.
    pub(crate) fn coding(&self) -> Seconds {
        self.coding.unwrap_or(Seconds::s(0.0))
    }

    /// How long it lasts.
    #[must_use]
    pub fn duration(&self) -> Seconds {
        Seconds::s(self.length() as f64 / self.sample_rate.to_hz())
    }
}

/// What a reader knows before it decodes samples.
#[derive(Clone, Copy, Debug)]
struct Form {
    sample_rate: Hertz,
    channels: usize,
    /// Bits of the integers the samples come from; `None` for others.
    bits: Option<u8>,
}

impl Form {
    /// What takes in the samples; holds at most so many.
    fn intake(self, name: &str, most_held: usize) -> Result<Intake, RecordingError> {
        let rate = self.sample_rate.to_hz();
        if !RATES_HZ.contains(&rate) {
            return Err(RecordingError::new(
                name,
                "samples",
                format!("{rate} samples a second cannot be read"),
                "record with 1 to 100 million samples a second",
            ));
        }
        if !(1..=MOST_CHANNELS).contains(&self.channels) {
            return Err(RecordingError::new(
                name,
                "samples",
                format!("{} channels cannot be read", self.channels),
                "record one to eight channels",
            ));
        }
        let full_scale = self.bits.map(|_| 1.0);
        Ok(Intake::new(rate, self.channels, full_scale, most_held))
    }

    /// The same beside what decodes them.
    fn ahead(self, name: &str, most_held: usize) -> Result<Ahead, RecordingError> {
        Ahead::start(name, self.intake(name, most_held)?)
    }

    fn recording(self, name: &str, samples: Samples) -> Recording {
        Recording {
            name: name.to_owned(),
            sample_rate: self.sample_rate,
            samples,
            steps: self.bits.map_or(Steps::Unknown, Steps::OfBits),
            header_repaired: false,
            uneven_time: false,
            coding: None,
        }
    }
}

/// Reads a recording, whatever its name says it is: WAV (integers of 8 to 32 bits, floats of 32 or
/// 64), FLAC, AIFF, Ogg Vorbis, MP3, or a table `time_s,volts...`.
///
/// `name` is used in messages and reports only. The source is read from start to end and its samples
/// are held as [`Recording`] says; a table's rows are all held until its last time is known.
///
/// # Errors
/// When the bytes are no recording; the message names the file, the place, the reason and what to
/// do.
pub fn read(
    name: &str,
    source: impl Read + Seek + Send + Sync,
) -> Result<Recording, RecordingError> {
    read_holding(name, source, MOST_HELD)
}

/// The same, holding at most so many samples of all channels together.
pub(crate) fn read_holding(
    name: &str,
    mut source: impl Read + Seek + Send + Sync,
    most_held: usize,
) -> Result<Recording, RecordingError> {
    let failed = |error: std::io::Error| {
        let reason = format!("it cannot be read ({})", error::in_words(&error));
        RecordingError::new(
            name,
            "start",
            reason,
            "check the disk and the file's permissions",
        )
    };
    let mut head = [0; HEAD];
    let mut filled = 0;
    while filled < HEAD {
        match source.read(&mut head[filled..]) {
            Ok(0) => break,
            Ok(count) => filled += count,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(failed(error)),
        }
    }
    source.rewind().map_err(failed)?;
    let head = &head[..filled];
    match sniff(head) {
        Content::Empty => Err(RecordingError::new(
            name,
            "start",
            "the file is empty",
            "record again, and copy the file once the recorder has closed it",
        )),
        Content::Wave => wave::read(name, source, most_held),
        Content::Coded => coded::read(name, source, most_held),
        Content::Text => table::read(name, source, most_held),
        Content::Other(what) => Err(RecordingError::new(
            name,
            "start",
            format!("it is {what}, which is not read"),
            "save the recording as WAV or FLAC, or as a table of time in seconds and volts",
        )),
    }
}

/// Bytes looked at to tell what a file is.
const HEAD: usize = 512;

enum Content {
    Empty,
    Wave,
    Coded,
    Text,
    Other(&'static str),
}

/// Tells by the first bytes what a file is.
fn sniff(head: &[u8]) -> Content {
    let is_text = |byte: &u8| *byte >= 0x20 || matches!(byte, b'\t' | b'\r' | b'\n' | 0x0c);
    match head {
        [] => Content::Empty,
        [b'R', b'I', b'F', b'F', ..] | [b'R', b'F', b'6', b'4', ..] => Content::Wave,
        [b'f', b'L', b'a', b'C', ..]
        | [b'O', b'g', b'g', b'S', ..]
        | [b'F', b'O', b'R', b'M', ..]
        | [b'I', b'D', b'3', ..]
        | [0xff, 0xe2..=0xfb, ..] => Content::Coded,
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => Content::Other("text in UTF-16"),
        _ if head.iter().all(is_text) => Content::Text,
        _ => Content::Other("neither sound nor a table"),
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use proptest::prelude::*;

    use super::*;

    #[test]
    fn an_empty_file_says_so() {
        let error = read("a.wav", Cursor::new(b"")).unwrap_err();
        assert!(
            error
                .to_string()
                .starts_with("a.wav: start: the file is empty; "),
            "{error}"
        );
    }

    #[test]
    fn a_text_called_wav_is_judged_by_what_it_holds() {
        let error = read("a.wav", Cursor::new("dear reader,\nthis is a letter\n")).unwrap_err();
        assert!(error.to_string().contains("no row of numbers"), "{error}");
    }

    #[test]
    fn channels_must_be_alike() {
        let rate = Hertz::hz(48_000.0);
        assert!(Recording::from_channels("a", rate, vec![]).is_err());
        assert!(Recording::from_channels("a", rate, vec![vec![0.0; 3], vec![0.0; 4]]).is_err());
        assert!(Recording::from_channels("a", rate, vec![vec![]; 9]).is_err());
        assert!(Recording::from_channels("a", Hertz::hz(f64::NAN), vec![vec![]]).is_err());
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
            let _ = read("any", Cursor::new(bytes));
        }

        #[test]
        fn any_bytes_after_a_wave_header_are_read_or_refused(
            bytes in prop::collection::vec(any::<u8>(), 0..200),
            tag in prop::sample::select(vec![1_u8, 3, 0xfe, 0x55]),
            bits in prop::sample::select(vec![0_u8, 8, 16, 24, 32, 64, 255]),
            channels in 0_u8..20,
            length in any::<u32>(),
        ) {
            let mut file = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0".to_vec();
            file.extend([tag, 0, channels, 0, 0x80, 0xbb, 0, 0, 0, 0, 0, 0, 0, 0, bits, 0]);
            file.extend(b"data");
            file.extend(length.to_le_bytes());
            file.extend(bytes);
            let _ = read("any", Cursor::new(file));
        }

        #[test]
        fn any_table_is_read_or_refused(text in "[0-9,;.eE+\\- \n\r\t\"a]{0,400}") {
            let _ = read("any", Cursor::new(text));
        }
    }
}
