//! Samples as the bytes of a WAV file, written while they come.

/// Bytes before the samples.
const HEAD: usize = 58;
const FLOATS: u16 = 3;
const BYTES_PER_SAMPLE: u32 = 4;

/// The head of a WAV file of 32-bit floats with so many frames. A sample that was lost is written as
/// not a number: it spoils only the shots it touches.
#[must_use]
pub fn wave_head(rate_hz: u32, channels: u16, frames: u64) -> Vec<u8> {
    let frame = BYTES_PER_SAMPLE * u32::from(channels);
    let data = u32::try_from(frames.saturating_mul(u64::from(frame))).unwrap_or(u32::MAX);
    let samples = u32::try_from(frames).unwrap_or(u32::MAX);
    let mut head = Vec::with_capacity(HEAD);
    head.extend(b"RIFF");
    head.extend(data.saturating_add(HEAD as u32 - 8).to_le_bytes());
    head.extend(b"WAVEfmt ");
    head.extend(18_u32.to_le_bytes());
    head.extend(FLOATS.to_le_bytes());
    head.extend(channels.to_le_bytes());
    head.extend(rate_hz.to_le_bytes());
    head.extend(rate_hz.saturating_mul(frame).to_le_bytes());
    head.extend((BYTES_PER_SAMPLE as u16 * channels).to_le_bytes());
    head.extend((8 * BYTES_PER_SAMPLE as u16).to_le_bytes());
    head.extend(0_u16.to_le_bytes());
    head.extend(b"fact");
    head.extend(4_u32.to_le_bytes());
    head.extend(samples.to_le_bytes());
    head.extend(b"data");
    head.extend(data.to_le_bytes());
    head
}

/// Frames, one sample of each channel after the other, as they stand in such a file.
pub fn wave_samples(frames: &[f32], bytes: &mut Vec<u8>) {
    bytes.extend(frames.iter().flat_map(|sample| sample.to_le_bytes()));
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;
    use crate::recording::read;

    #[test]
    fn what_is_written_reads_back() {
        let frames = [0.25, -0.5, 1.0, f32::MIN_POSITIVE, -0.125, 0.75];
        let mut bytes = wave_head(44_100, 2, 3);
        wave_samples(&frames, &mut bytes);
        let back = read("a.wav", Cursor::new(bytes)).unwrap();
        let channel = |n: usize| back.values(n, 0..3).collect::<Vec<_>>();
        assert_eq!(channel(0), [0.25, 1.0, -0.125]);
        assert_eq!(channel(1), [-0.5, f32::MIN_POSITIVE, 0.75]);
        assert!(!back.is_header_repaired());
    }

    #[test]
    fn a_head_whose_lengths_are_not_yet_known_is_repaired() {
        let mut bytes = wave_head(48_000, 1, 0);
        wave_samples(&[0.5; 100], &mut bytes);
        let back = read("a.wav", Cursor::new(bytes)).unwrap();
        assert_eq!(back.length(), 100);
    }
}
