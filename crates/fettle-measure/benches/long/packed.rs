//! Writes FLAC (RFC 9639) of two channels and 24 bits, with the second of its fixed predictors only.

use std::io::Write;

use crate::Outcome;

/// Samples a frame and channel; 100 s at 96 kHz are a whole number of frames.
const FRAME: usize = 4800;
const BITS: u32 = 24;

pub(crate) struct Flac<'a, W> {
    target: &'a mut W,
    frame: u32,
}

impl<'a, W: Write> Flac<'a, W> {
    pub(crate) fn begin(target: &'a mut W, rate: u32, frames: u64) -> Outcome<Self> {
        target.write_all(b"fLaC\x80\0\0\x22")?;
        let size = (FRAME as u16).to_be_bytes();
        target.write_all(&[size, size].concat())?;
        target.write_all(&[0; 6])?;
        let told = u64::from(rate) << 44 | 1 << 41 | u64::from(BITS - 1) << 36 | frames;
        target.write_all(&told.to_be_bytes())?;
        target.write_all(&[0; 16])?;
        Ok(Self { target, frame: 0 })
    }

    /// Writes whole frames.
    pub(crate) fn write(&mut self, channels: &[Vec<i32>; 2]) -> Outcome<()> {
        let pairs = channels[0].chunks(FRAME).zip(channels[1].chunks(FRAME));
        for (left, right) in pairs {
            if left.len() != FRAME {
                return Err("not a whole number of frames".into());
            }
            // Fixed size, stated below, 96 kHz, two channels apart, 24 bits.
            let mut bytes = vec![0xff, 0xf8, 0x7b, 0x1c];
            number(self.frame, &mut bytes);
            bytes.extend((FRAME as u16 - 1).to_be_bytes());
            bytes.push(crc(&bytes, 0x07, 8) as u8);
            let mut bits = Bits { bytes, left: 0 };
            for samples in [left, right] {
                subframe(samples, &mut bits);
            }
            let mut bytes = bits.bytes;
            let check = crc(&bytes, 0x8005, 16) as u16;
            bytes.extend(check.to_be_bytes());
            self.target.write_all(&bytes)?;
            self.frame += 1;
        }
        Ok(())
    }
}

/// A number of up to 21 bits as UTF-8 would write it.
fn number(value: u32, bytes: &mut Vec<u8>) {
    let low = |shift: u32| 0x80 | (value >> shift & 0x3f) as u8;
    match value {
        0..0x80 => bytes.push(value as u8),
        0x80..0x800 => bytes.extend([0xc0 | (value >> 6) as u8, low(0)]),
        0x800..0x1_0000 => bytes.extend([0xe0 | (value >> 12) as u8, low(6), low(0)]),
        _ => bytes.extend([0xf0 | (value >> 18) as u8, low(12), low(6), low(0)]),
    }
}

fn subframe(samples: &[i32], bits: &mut Bits) {
    bits.put(0b0001_0100, 8);
    for first in &samples[..2] {
        bits.put(*first as u32, BITS);
    }
    let residual = |three: &[i32]| three[2] - 2 * three[1] + three[0];
    let folded = |value: i32| ((value << 1) ^ (value >> 31)) as u32;
    let values: Vec<u32> = samples.windows(3).map(|it| folded(residual(it))).collect();
    let mean = values.iter().map(|it| u64::from(*it)).sum::<u64>() / values.len() as u64;
    let parameter = mean.max(1).ilog2();
    bits.put(0b01_0000, 6);
    bits.put(parameter, 5);
    for value in values {
        for _ in 0..value >> parameter {
            bits.put(0, 1);
        }
        bits.put(1, 1);
        bits.put(value, parameter);
    }
}

/// Bits, the first the highest of its byte.
struct Bits {
    bytes: Vec<u8>,
    /// Bits free in the last byte.
    left: u32,
}

impl Bits {
    /// Appends the lowest `count` bits of `value`.
    fn put(&mut self, value: u32, count: u32) {
        let mut count = count;
        while count > 0 {
            if self.left == 0 {
                self.bytes.push(0);
                self.left = 8;
            }
            let size = count.min(self.left);
            let part = value >> (count - size) & ((1 << size) - 1);
            if let Some(last) = self.bytes.last_mut() {
                *last |= (part << (self.left - size)) as u8;
            }
            self.left -= size;
            count -= size;
        }
    }
}

/// Check of `width` bits by the polynomial, the highest bit first.
fn crc(bytes: &[u8], polynomial: u32, width: u32) -> u32 {
    bytes.iter().fold(0, |mut check, byte| {
        check ^= u32::from(*byte) << (width - 8);
        for _ in 0..8 {
            let over = check >> (width - 1) & 1;
            check = (check << 1 & ((1 << width) - 1)) ^ (over * polynomial);
        }
        check
    })
}
