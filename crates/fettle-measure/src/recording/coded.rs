//! Sound that is packed or wrapped otherwise than WAV: FLAC, AIFF, Ogg Vorbis and MP3.

use std::io::{ErrorKind, Read, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};

use symphonia::core::audio::GenericAudioBufferRef;
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_FLAC, CODEC_ID_MP3, CODEC_ID_VORBIS};
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::common::Limit;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream};
use symphonia::core::meta::MetadataOptions;

use super::ahead::Ahead;
use super::{Form, MOST_CHANNELS, Recording, RecordingError};
use crate::{Hertz, Seconds};

/// Bytes of titles and pictures that are held while a file is read.
const MOST_TAG_BYTES: usize = 1 << 16;
/// Bits of an integer sample that can be read.
const BITS: std::ops::RangeInclusive<u32> = 4..=32;

/// Standard uncertainty of an effective time through MP3, and through Vorbis, whose coarser low
/// notes shift the fully open level. Rounded up from the rms errors of twelve generated recordings of
/// seven shots, 1/8 to 1/500, each packed by one common encoder: MP3 at 96 to 320 kbit/s 5 to 2 µs,
/// Vorbis at qualities 3 to 8 170 to 40 µs.
const MP3_S: f64 = 8e-6;
const VORBIS_S: f64 = 200e-6;

const COPY_AGAIN: &str = "copy the file again, whole, or record again as WAV";

/// Reads a file whose first bytes promise one of these forms.
pub(super) fn read<R>(
    name: &str,
    mut source: R,
    most_held: usize,
) -> Result<Recording, RecordingError>
where
    R: Read + Seek + Send + Sync,
{
    let length = source
        .seek(SeekFrom::End(0))
        .and_then(|length| source.rewind().map(|()| length))
        .map_err(|error| unreadable(name, &error))?;
    let decode = AssertUnwindSafe(|| decode(name, Measured { source, length }, most_held));
    // The decoder is not ours, and a damaged file must not take the program down with it.
    catch_unwind(decode).unwrap_or_else(|_| Err(damaged(name, "start", "the decoder gave up")))
}

/// A source whose length is known.
struct Measured<R> {
    source: R,
    length: u64,
}

impl<R: Read> Read for Measured<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        self.source.read(buffer)
    }
}

impl<R: Seek> Seek for Measured<R> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.source.seek(to)
    }
}

impl<R: Read + Seek + Send + Sync> MediaSource for Measured<R> {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length)
    }
}

/// What a lossy coding adds to a time's uncertainty.
fn uncertainty(coding: &AudioCodecParameters) -> Option<Seconds> {
    match coding.codec {
        CODEC_ID_MP3 => Some(Seconds::s(MP3_S)),
        CODEC_ID_VORBIS => Some(Seconds::s(VORBIS_S)),
        _ => None,
    }
}

fn damaged(name: &str, place: impl Into<String>, reason: &str) -> RecordingError {
    RecordingError::new(name, place, reason, COPY_AGAIN)
}

fn unreadable(name: &str, error: &std::io::Error) -> RecordingError {
    let reason = format!("it cannot be read ({})", super::error::in_words(error));
    RecordingError::new(
        name,
        "start",
        reason,
        "check the disk and the file's permissions",
    )
}

/// What went wrong at `place`, in our words.
fn failed(name: &str, place: &str, error: &Error) -> RecordingError {
    match error {
        Error::IoError(error) if error.kind() != ErrorKind::UnexpectedEof => {
            unreadable(name, error)
        }
        Error::Unsupported(what) => RecordingError::new(
            name,
            place,
            format!("this kind of sound file is not read ({what})"),
            "save the recording as WAV or FLAC",
        ),
        other => damaged(name, place, &format!("the sound is damaged ({other})")),
    }
}

fn decode<R>(name: &str, source: Measured<R>, most_held: usize) -> Result<Recording, RecordingError>
where
    R: Read + Seek + Send + Sync,
{
    let stream = MediaSourceStream::new(Box::new(source), Default::default());
    let tags = MetadataOptions::default()
        .limit_tag_bytes(Limit::Maximum(MOST_TAG_BYTES))
        .limit_visual_bytes(Limit::Maximum(MOST_TAG_BYTES));
    let mut format = symphonia::default::get_probe()
        .probe(&Hint::new(), stream, FormatOptions::default(), tags)
        .map_err(|error| failed(name, "start", &error))?;
    let no_sound = || {
        RecordingError::new(
            name,
            "start",
            "there is no sound in it that can be read",
            "save the recording as WAV or FLAC",
        )
    };
    let track = format
        .default_track(TrackType::Audio)
        .ok_or_else(no_sound)?;
    let Some(CodecParameters::Audio(coding)) = track.codec_params.clone() else {
        return Err(no_sound());
    };
    // Before the decoder lays out a buffer for as many as a damaged head may claim.
    if let Some(channels) = &coding.channels {
        check_channels(name, "start", channels.count())?;
    }
    let (id, stated) = (track.id, track.num_frames);
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(&coding, &AudioDecoderOptions::default())
        .map_err(|error| failed(name, "start", &error))?;
    let mut taken = Taken::new(name, &coding, most_held)?;
    take_all(format.as_mut(), decoder.as_mut(), id, &mut taken)?;
    taken.into_recording(stated)
}

fn check_channels(
    name: &str,
    place: impl Into<String>,
    count: usize,
) -> Result<(), RecordingError> {
    if (1..=MOST_CHANNELS).contains(&count) {
        return Ok(());
    }
    Err(RecordingError::new(
        name,
        place,
        format!("{count} channels cannot be read"),
        "record one to eight channels",
    ))
}

/// Decodes packet by packet to the end, or to where the file was cut off.
fn take_all(
    format: &mut dyn FormatReader,
    decoder: &mut dyn AudioDecoder,
    track: u32,
    taken: &mut Taken<'_>,
) -> Result<(), RecordingError> {
    loop {
        let packet = match format.next_packet() {
            Ok(Some(packet)) if packet.track_id == track => packet,
            Ok(Some(_)) => continue,
            Ok(None) | Err(Error::ResetRequired) => return Ok(()),
            Err(Error::IoError(error)) if error.kind() == ErrorKind::UnexpectedEof => {
                return Ok(());
            }
            Err(error) => return Err(failed(taken.name, &taken.place(), &error)),
        };
        taken.expect(packet.pts.get())?;
        match decoder.decode(&packet) {
            Ok(buffer) => taken.push(&buffer)?,
            // The first packets may lean on sound from before the file's beginning.
            Err(Error::DecodeError(_)) if taken.frames() == 0 => {}
            Err(error) => return Err(failed(taken.name, &taken.place(), &error)),
        }
    }
}

/// What has been decoded so far.
struct Taken<'a> {
    name: &'a str,
    rate: u32,
    bits: Option<u8>,
    coding: Option<Seconds>,
    /// Whether every packet says which sample it begins with.
    numbered: bool,
    most_held: usize,
    /// Its form, and what takes in its samples, once the first are there.
    intake: Option<(Form, Ahead)>,
    part: Vec<Vec<f32>>,
}

impl<'a> Taken<'a> {
    fn new(
        name: &'a str,
        coding: &AudioCodecParameters,
        most_held: usize,
    ) -> Result<Self, RecordingError> {
        let rate = coding
            .sample_rate
            .ok_or_else(|| damaged(name, "start", "the samples a second are not stated"))?;
        let bits = coding.bits_per_sample.filter(|bits| BITS.contains(bits));
        Ok(Self {
            name,
            rate,
            bits: bits.and_then(|bits| u8::try_from(bits).ok()),
            coding: uncertainty(coding),
            numbered: coding.codec == CODEC_ID_FLAC,
            most_held,
            intake: None,
            part: Vec::new(),
        })
    }

    fn frames(&self) -> usize {
        self.intake
            .as_ref()
            .map_or(0, |(_, intake)| intake.length())
    }

    /// Where in the sound we are.
    fn place(&self) -> String {
        self.place_of(self.frames())
    }

    fn place_of(&self, frame: usize) -> String {
        let seconds = frame as f64 / f64::from(self.rate.max(1));
        format!("{seconds:.3} s")
    }

    /// Refuses a gap: times across it would be wrong without a trace.
    fn expect(&self, first: i64) -> Result<(), RecordingError> {
        if !self.numbered || i64::try_from(self.frames()) == Ok(first) {
            return Ok(());
        }
        Err(damaged(self.name, self.place(), "samples are missing here"))
    }

    fn push(&mut self, buffer: &GenericAudioBufferRef<'_>) -> Result<(), RecordingError> {
        let count = buffer.num_planes();
        check_channels(self.name, self.place(), count)?;
        let is_float = matches!(
            buffer,
            GenericAudioBufferRef::F32(_) | GenericAudioBufferRef::F64(_)
        );
        let (form, mut intake) = match self.intake.take() {
            Some(known) => known,
            None => {
                let form = Form {
                    sample_rate: Hertz::hz(f64::from(self.rate)),
                    channels: count,
                    bits: self.bits.filter(|_| !is_float),
                };
                (form, form.ahead(self.name, self.most_held)?)
            }
        };
        if form.channels != count || buffer.spec().rate() != self.rate {
            let reason = "channels or rate change within the recording";
            return Err(damaged(self.name, self.place_of(intake.length()), reason));
        }
        if !intake.has_room_for(intake.length().saturating_add(buffer.frames())) {
            return Err(RecordingError::new(
                self.name,
                self.place_of(intake.length()),
                "there are too many samples",
                "cut the recording into shorter ones",
            ));
        }
        buffer.copy_to_vecs_planar(&mut self.part);
        intake.push(&self.part);
        self.intake = Some((form, intake));
        Ok(())
    }

    fn into_recording(self, stated: Option<u64>) -> Result<Recording, RecordingError> {
        let frames = self.frames();
        let Some((form, intake)) = self.intake.filter(|_| frames > 0) else {
            return Err(damaged(self.name, "start", "there are no samples"));
        };
        let mut recording = form.recording(self.name, intake.finish());
        recording.coding = self.coding;
        recording.header_repaired =
            self.coding.is_none() && stated.is_some_and(|stated| stated != frames as u64);
        Ok(recording)
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use proptest::prelude::*;

    use super::*;
    use crate::Decibels;
    use crate::synth::{Chain, Firing, LeafShutter, Scene};

    const FLAC: &[u8] = include_bytes!("../../tests/data/small.flac");
    const MP3: &[u8] = include_bytes!("../../tests/data/small.mp3");
    const OGG: &[u8] = include_bytes!("../../tests/data/small.ogg");

    /// What the three files hold.
    fn samples() -> Vec<f32> {
        let scene = Scene {
            shutter: LeafShutter::default(),
            firings: vec![Firing::new(Seconds::s(0.2), Seconds::ms(17.0))],
            chain: Chain {
                sample_rate: Hertz::hz(44_100.0),
                snr: Some(Decibels::db(70.0)),
                ..Chain::default()
            },
            lasting: Seconds::s(0.5),
            seed: 1,
        };
        scene.record().samples
    }

    /// A FLAC file of eight silent channels of 16 bits at 48 kHz in frames of 65 535 samples, each of which takes some thirty bytes.
    fn silent_flac(frames: u32) -> Vec<u8> {
        const SAMPLES: u16 = 65_535;
        let mut file = b"fLaC\x80\x00\x00\x22".to_vec();
        file.extend([SAMPLES.to_be_bytes(), SAMPLES.to_be_bytes()].concat());
        file.extend([0; 6]);
        // 20 bits of rate, 3 of channels less one, 5 of bits less one, 36 of a length that is not stated; then no checksum.
        let form: u64 = (48_000 << 44) | (7 << 41) | (15 << 36);
        file.extend(form.to_be_bytes());
        file.extend([0; 16]);
        for number in 0..frames {
            let mut frame = vec![0xff, 0xf8, 0x70, 0x70];
            let number = char::from_u32(number).unwrap();
            frame.extend(number.encode_utf8(&mut [0; 4]).bytes());
            frame.extend((SAMPLES - 1).to_be_bytes());
            frame.push(checksum(&frame, 8, 0x07) as u8);
            frame.extend([0; 3 * 8]);
            frame.extend(checksum(&frame, 16, 0x8005).to_be_bytes());
            file.extend(frame);
        }
        file
    }

    /// The checksum of FLAC's headers and frames: most significant bit first, from 0.
    fn checksum(bytes: &[u8], width: u32, polynomial: u16) -> u16 {
        bytes.iter().fold(0_u16, |sum, byte| {
            (0..8).fold(sum ^ (u16::from(*byte) << (width - 8)), |sum, _| {
                let carries = sum >> (width - 1) & 1 == 1;
                let shifted = (sum << 1) & (u16::MAX >> (16 - width));
                if carries {
                    shifted ^ polynomial
                } else {
                    shifted
                }
            })
        })
    }

    #[test]
    fn a_head_that_claims_many_channels_is_refused_before_room_is_made_for_them() {
        let mut file = aiff(&[0.0; 4000]);
        file[20..22].copy_from_slice(&1000_u16.to_be_bytes());
        let error = opened(&file).unwrap_err();
        assert_eq!(error.place(), "start");
        assert_eq!(error.reason(), "1000 channels cannot be read");
    }

    #[test]
    fn a_small_file_that_unpacks_without_end_is_refused() {
        let sound = opened(&silent_flac(2)).unwrap();
        assert_eq!((sound.channel_count(), sound.length()), (8, 2 * 65_535));
        let bomb = silent_flac(500);
        assert!(bomb.len() < 20_000, "{} bytes", bomb.len());
        let error = opened(&bomb).unwrap_err();
        assert_eq!(error.reason(), "there are too many samples");
    }

    /// An AIFF file of 16 bits and one channel at 44.1 kHz.
    fn aiff(samples: &[f32]) -> Vec<u8> {
        let count = samples.len() as u32;
        let mut common = 1_u16.to_be_bytes().to_vec();
        common.extend(count.to_be_bytes());
        common.extend(16_u16.to_be_bytes());
        // 44100 as a number of 80 bits: 2^15 times 1.3458...
        common.extend([0x40, 0x0e, 0xac, 0x44, 0, 0, 0, 0, 0, 0]);
        let mut sound = vec![0; 8];
        for sample in samples {
            sound.extend(((sample * 32_768.0) as i16).to_be_bytes());
        }
        let mut file = b"FORM".to_vec();
        file.extend((4 + 8 + common.len() as u32 + 8 + sound.len() as u32).to_be_bytes());
        file.extend(b"AIFF");
        for (name, chunk) in [(b"COMM", common), (b"SSND", sound)] {
            file.extend(name);
            file.extend((chunk.len() as u32).to_be_bytes());
            file.extend(chunk);
        }
        file
    }

    fn opened(bytes: &[u8]) -> Result<Recording, RecordingError> {
        super::super::read("a", Cursor::new(bytes))
    }

    fn channel(recording: &Recording) -> Vec<f32> {
        recording.values(0, 0..usize::MAX).collect()
    }

    /// Samples alike to one step of 16 bits.
    fn same(got: &[f32], want: &[f32]) {
        assert_eq!(got.len(), want.len());
        let off = got
            .iter()
            .zip(want)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f32::max);
        assert!(off <= 1.0 / 32_768.0, "{off}");
    }

    #[test]
    fn flac_and_aiff_give_back_the_samples() {
        let want = samples();
        for bytes in [FLAC.to_vec(), aiff(&want)] {
            let recording = opened(&bytes).unwrap();
            same(&channel(&recording), &want);
            assert!((recording.sample_rate().to_hz() - 44_100.0).abs() < 1e-9);
            assert_eq!(recording.step(0), Some(1.0 / 32_768.0));
            assert!(!recording.is_lossy());
            assert!(!recording.is_header_repaired());
        }
    }

    #[test]
    fn mp3_and_vorbis_are_known_as_lossy() {
        for bytes in [MP3, OGG] {
            let recording = opened(bytes).unwrap();
            assert!(recording.is_lossy());
            assert_eq!(recording.step(0), None);
            let seconds = recording.duration().to_s();
            assert!((0.45..0.65).contains(&seconds), "{seconds}");
        }
    }

    #[test]
    fn a_flac_file_cut_short_keeps_what_is_whole() {
        let recording = opened(&FLAC[..FLAC.len() * 2 / 3]).unwrap();
        let got = &channel(&recording);
        assert!(recording.is_header_repaired());
        assert!((8_000..20_000).contains(&got.len()), "{}", got.len());
        same(got, &samples()[..got.len()]);
    }

    #[test]
    fn a_flac_file_with_a_damaged_middle_is_refused_with_its_place() {
        let mut bytes = FLAC.to_vec();
        let middle = bytes.len() / 2;
        bytes[middle..middle + 8].fill(0x55);
        let error = opened(&bytes).unwrap_err();
        assert!(error.place().ends_with(" s"), "{error}");
        assert!(error.remedy().contains("copy the file again"), "{error}");
    }

    #[test]
    fn a_bare_head_is_refused() {
        for head in [
            &b"fLaC\0\0\0\x22"[..],
            b"OggS\0\x02",
            b"FORM\0\0\0\0AIFF",
            b"ID3",
        ] {
            let error = opened(head).unwrap_err();
            assert!(error.to_string().starts_with("a: start: "), "{error}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(96))]

        #[test]
        fn damaged_files_are_read_or_refused(
            which in 0_usize..4,
            hits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
            kept in any::<prop::sample::Index>(),
        ) {
            let mut bytes = match which {
                0 => FLAC.to_vec(),
                1 => MP3.to_vec(),
                2 => OGG.to_vec(),
                _ => aiff(&samples()[..4_000]),
            };
            for (place, value) in &hits {
                // Half of the hits fall into the headers.
                let range = if value & 1 == 0 { bytes.len() } else { 200 };
                bytes[place.index(range)] = *value;
            }
            if hits.len() > 6 {
                bytes.truncate(kept.index(bytes.len()));
            }
            let held = opened(&bytes).map_or(0, |it| it.length());
            prop_assert!(held < 4_000_000, "{held} samples out of {} bytes", bytes.len());
        }

        #[test]
        fn any_bytes_after_a_mark_are_read_or_refused(
            mark in prop::sample::select(vec![
                &b"fLaC"[..], b"OggS\0", b"FORM", b"ID3\x04\0\0", b"\xff\xfb\x90\x00",
            ]),
            bytes in prop::collection::vec(any::<u8>(), 0..800),
        ) {
            let _ = opened(&[mark, &bytes].concat());
        }
    }
}
