//! WAV: RIFF chunks with integer or float samples.

use std::io::{BufReader, ErrorKind, Read, Seek, SeekFrom};

use super::ahead::Ahead;
use super::{Form, MOST_CHANNELS, Recording, RecordingError};
use crate::Hertz;

/// Bytes decoded at a time.
const CHUNK: usize = 1 << 16;
/// Tags of the format chunk.
const INTEGERS: u16 = 1;
const FLOATS: u16 = 3;
const EXTENSIBLE: u16 = 0xfffe;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Coding {
    Unsigned8,
    Signed16,
    Signed24,
    Signed32,
    Float32,
    Float64,
}

impl Coding {
    const fn bytes(self) -> usize {
        match self {
            Self::Unsigned8 => 1,
            Self::Signed16 => 2,
            Self::Signed24 => 3,
            Self::Signed32 | Self::Float32 => 4,
            Self::Float64 => 8,
        }
    }

    const fn bits(self) -> Option<u8> {
        match self {
            Self::Unsigned8 => Some(8),
            Self::Signed16 => Some(16),
            Self::Signed24 => Some(24),
            Self::Signed32 => Some(32),
            Self::Float32 | Self::Float64 => None,
        }
    }

    /// One sample, ±1 full scale, from exactly as many bytes as it has.
    fn decode(self, bytes: &[u8]) -> f32 {
        match (self, bytes) {
            (Self::Unsigned8, [a]) => (f32::from(*a) - 128.0) / 128.0,
            (Self::Signed16, [a, b]) => f32::from(i16::from_le_bytes([*a, *b])) / 32_768.0,
            (Self::Signed24, [a, b, c]) => {
                (i32::from_le_bytes([0, *a, *b, *c]) >> 8) as f32 / 8_388_608.0
            }
            (Self::Signed32, [a, b, c, d]) => {
                (f64::from(i32::from_le_bytes([*a, *b, *c, *d])) / 2_147_483_648.0) as f32
            }
            (Self::Float32, [a, b, c, d]) => f32::from_le_bytes([*a, *b, *c, *d]),
            (Self::Float64, [a, b, c, d, e, f, g, h]) => {
                f64::from_le_bytes([*a, *b, *c, *d, *e, *f, *g, *h]) as f32
            }
            _ => 0.0,
        }
    }
}

#[derive(Clone, Copy, Debug)]
struct Format {
    coding: Coding,
    channels: usize,
    rate: u32,
}

struct Reader<'a, R> {
    name: &'a str,
    most_held: usize,
    source: BufReader<R>,
    place: u64,
    length: u64,
}

pub(super) fn read<R: Read + Seek>(
    name: &str,
    source: R,
    most_held: usize,
) -> Result<Recording, RecordingError> {
    let mut reader = Reader {
        name,
        most_held,
        source: BufReader::new(source),
        place: 0,
        length: 0,
    };
    reader.length = reader
        .source
        .seek(SeekFrom::End(0))
        .map_err(|error| reader.failed(&error))?;
    reader
        .source
        .rewind()
        .map_err(|error| reader.failed(&error))?;
    let riff = reader.bytes::<12>("the header ends too early")?;
    if &riff[8..] != b"WAVE" {
        return Err(reader.refuse(
            8,
            "the RIFF file is not marked as WAVE",
            "save the recording as WAV",
        ));
    }
    let mut format = None;
    loop {
        let at = reader.place;
        if at + 8 > reader.length {
            let (reason, remedy) = if format.is_some() {
                (
                    "there is no data chunk",
                    "record again: the recorder was stopped too early",
                )
            } else {
                (
                    "there is no format chunk",
                    "save the recording as WAV again",
                )
            };
            return Err(reader.refuse(at, reason, remedy));
        }
        let head = reader.bytes::<8>("a chunk ends too early")?;
        let length = u64::from(u32::from_le_bytes([head[4], head[5], head[6], head[7]]));
        match (&head[..4], format) {
            (b"fmt ", _) => format = Some(reader.format(length)?),
            (b"data", Some(format)) => return reader.data(format, length),
            (b"data", None) => {
                return Err(reader.refuse(
                    at,
                    "samples come before the format chunk",
                    "save the recording as WAV again",
                ));
            }
            _ => reader.skip(length + (length & 1))?,
        }
    }
}

impl<R: Read + Seek> Reader<'_, R> {
    fn refuse(&self, place: u64, reason: &str, remedy: &str) -> RecordingError {
        RecordingError::new(self.name, format!("byte {place}"), reason, remedy)
    }

    fn failed(&self, error: &std::io::Error) -> RecordingError {
        let reason = format!("it cannot be read ({})", super::error::in_words(error));
        self.refuse(
            self.place,
            &reason,
            "check the disk and the file's permissions",
        )
    }

    fn bytes<const N: usize>(&mut self, short: &str) -> Result<[u8; N], RecordingError> {
        let mut bytes = [0; N];
        match self.source.read_exact(&mut bytes) {
            Ok(()) => {
                self.place += N as u64;
                Ok(bytes)
            }
            Err(error) if error.kind() == ErrorKind::UnexpectedEof => {
                Err(self.refuse(self.place, short, "copy the file again, whole"))
            }
            Err(error) => Err(self.failed(&error)),
        }
    }

    fn skip(&mut self, count: u64) -> Result<(), RecordingError> {
        self.place = self.place.saturating_add(count);
        let to = self.place.min(self.length);
        self.source
            .seek(SeekFrom::Start(to))
            .map(|_| ())
            .map_err(|error| self.failed(&error))
    }

    fn format(&mut self, length: u64) -> Result<Format, RecordingError> {
        let at = self.place;
        if length < 16 {
            return Err(self.refuse(
                at,
                "the format chunk is too short",
                "save the recording as WAV again",
            ));
        }
        let head = self.bytes::<16>("the format chunk ends too early")?;
        let word = |i: usize| u16::from_le_bytes([head[i], head[i + 1]]);
        let (mut tag, channels, bits) = (word(0), usize::from(word(2)), word(14));
        let rate = u32::from_le_bytes([head[4], head[5], head[6], head[7]]);
        let mut rest = length - 16;
        if tag == EXTENSIBLE && rest >= 24 {
            let extension = self.bytes::<24>("the format chunk ends too early")?;
            tag = u16::from_le_bytes([extension[8], extension[9]]);
            rest -= 24;
        }
        self.skip(rest + (length & 1))?;
        let coding = match (tag, bits) {
            (INTEGERS, 8) => Coding::Unsigned8,
            (INTEGERS, 16) => Coding::Signed16,
            (INTEGERS, 24) => Coding::Signed24,
            (INTEGERS, 32) => Coding::Signed32,
            (FLOATS, 32) => Coding::Float32,
            (FLOATS, 64) => Coding::Float64,
            _ => {
                let reason = format!("coding {tag} with {bits} bits is not read");
                let remedy = "save as WAV with integers of 16, 24 or 32 bits, or floats";
                return Err(self.refuse(at, &reason, remedy));
            }
        };
        if channels == 0 || channels > MOST_CHANNELS {
            let reason = format!("{channels} channels cannot be read");
            return Err(self.refuse(at + 2, &reason, "record one to eight channels"));
        }
        Ok(Format {
            coding,
            channels,
            rate,
        })
    }

    /// Reads the samples. A length of zero, or one beyond the file's end, comes from a recorder
    /// that was cut off: the file's size then decides.
    fn data(mut self, format: Format, stated: u64) -> Result<Recording, RecordingError> {
        let left = self.length.saturating_sub(self.place);
        let repaired = (stated == 0 && left > 0) || stated > left;
        let length = if repaired { left } else { stated };
        let frame = format.coding.bytes() * format.channels;
        let frames = length / frame as u64;
        if frames == 0 {
            let remedy = "record again, and stop the recorder before copying the file";
            return Err(self.refuse(self.place, "there are no samples", remedy));
        }
        let form = Form {
            sample_rate: Hertz::hz(f64::from(format.rate)),
            channels: format.channels,
            bits: format.coding.bits(),
        };
        let mut intake = form.ahead(self.name, self.most_held)?;
        if !usize::try_from(frames).is_ok_and(|frames| intake.has_room_for(frames)) {
            let reason = format!(
                "{frames} samples of {} channels are too many",
                format.channels
            );
            return Err(self.refuse(self.place, &reason, "cut the recording into shorter ones"));
        }
        self.samples(format, frames as usize, &mut intake)?;
        let mut recording = form.recording(self.name, intake.finish());
        recording.header_repaired = repaired;
        Ok(recording)
    }

    fn samples(
        &mut self,
        format: Format,
        frames: usize,
        intake: &mut Ahead,
    ) -> Result<(), RecordingError> {
        let size = format.coding.bytes();
        let frame = size * format.channels;
        let mut part = vec![Vec::new(); format.channels];
        let mut buffer = vec![0; (CHUNK / frame).max(1) * frame];
        let mut left = frames;
        while left > 0 {
            let count = left.min(buffer.len() / frame);
            let bytes = &mut buffer[..count * frame];
            self.source
                .read_exact(bytes)
                .map_err(|error| self.failed(&error))?;
            for (index, channel) in part.iter_mut().enumerate() {
                let sample = |frame: &[u8]| format.coding.decode(&frame[index * size..][..size]);
                channel.clear();
                channel.extend(bytes.chunks_exact(frame).map(sample));
            }
            intake.push(&part);
            self.place += bytes.len() as u64;
            left -= count;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    fn written(bits: u16, format: hound::SampleFormat, values: &[f32]) -> Vec<u8> {
        let spec = hound::WavSpec {
            channels: 2,
            sample_rate: 44_100,
            bits_per_sample: bits,
            sample_format: format,
        };
        let mut bytes = Cursor::new(Vec::new());
        let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
        for value in values {
            for channel in [*value, -*value] {
                match format {
                    hound::SampleFormat::Float => writer.write_sample(channel).unwrap(),
                    hound::SampleFormat::Int => {
                        let steps = 2_f64.powi(i32::from(bits) - 1);
                        writer
                            .write_sample((f64::from(channel) * steps) as i32)
                            .unwrap();
                    }
                }
            }
        }
        writer.finalize().unwrap();
        bytes.into_inner()
    }

    fn opened(bytes: Vec<u8>) -> Result<Recording, RecordingError> {
        read("a.wav", Cursor::new(bytes), usize::MAX)
    }

    fn channel(recording: &Recording, channel: usize) -> Vec<f32> {
        recording.values(channel, 0..usize::MAX).collect()
    }

    const VALUES: [f32; 4] = [0.0, 0.5, -0.25, 0.125];

    #[test]
    fn every_coding_reads_back() {
        let codings = [
            (16, hound::SampleFormat::Int),
            (24, hound::SampleFormat::Int),
            (32, hound::SampleFormat::Int),
            (32, hound::SampleFormat::Float),
        ];
        for (bits, format) in codings {
            let bytes = written(bits, format, &VALUES);
            let recording = opened(bytes).unwrap();
            assert_eq!(channel(&recording, 0), VALUES, "{bits} {format:?}");
            assert_eq!(channel(&recording, 1), VALUES.map(|value| -value));
            assert!((recording.sample_rate().to_hz() - 44_100.0).abs() < 1e-9);
            assert!(!recording.is_header_repaired());
        }
    }

    #[test]
    fn a_header_with_zero_lengths_is_repaired() {
        let mut bytes = written(16, hound::SampleFormat::Int, &VALUES);
        let data = bytes.windows(4).position(|four| four == b"data").unwrap();
        bytes[4..8].fill(0);
        bytes[data + 4..data + 8].fill(0);
        let recording = opened(bytes).unwrap();
        assert!(recording.is_header_repaired());
        assert_eq!(channel(&recording, 0), VALUES);
    }

    #[test]
    fn a_file_cut_short_keeps_its_whole_frames() {
        let mut bytes = written(16, hound::SampleFormat::Int, &VALUES);
        bytes.truncate(bytes.len() - 5);
        let recording = opened(bytes).unwrap();
        assert!(recording.is_header_repaired());
        assert_eq!(channel(&recording, 0), VALUES[..2]);
    }

    #[test]
    fn a_damaged_header_is_named_by_its_byte() {
        let bytes = written(16, hound::SampleFormat::Int, &VALUES);
        let cut = opened(bytes[..20].to_vec()).unwrap_err();
        assert!(cut.to_string().starts_with("a.wav: byte "), "{cut}");
        let mut wrong = bytes;
        wrong[20] = 0x55;
        let error = opened(wrong).unwrap_err();
        assert!(
            error
                .to_string()
                .contains("coding 85 with 16 bits is not read"),
            "{error}"
        );
    }
}
