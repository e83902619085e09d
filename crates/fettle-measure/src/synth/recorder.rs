//! What a recorder's processing does to samples: gain control, noise suppression, lossy coding.

use std::f64::consts::PI;

use crate::{Hertz, Seconds};

/// Below this the level counts as silence and the gain stands at its greatest.
const QUIETEST: f64 = 0.01;

/// Automatic gain control, noise suppression or both.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GainControl {
    /// Time constant with which the gain falls when the level rises.
    pub attack: Seconds,
    /// Time constant with which it recovers.
    pub release: Seconds,
    /// How far the level is evened out: 0 not at all, 1 fully.
    pub strength: f64,
    /// Level against the light's below which the signal is muted; `None` without noise suppression.
    pub gate: Option<f64>,
}

impl GainControl {
    /// Applies it to samples `step` seconds apart, levels against the light's.
    pub(crate) fn apply(&self, samples: &mut [f64], step: f64) {
        let share = |time: Seconds| -(-step / time.to_s().max(1e-9)).exp_m1();
        let (attack, release) = (share(self.attack), share(self.release));
        let (mut envelope, mut open) = (0.0_f64, 0.0_f64);
        for sample in samples {
            let level = sample.abs();
            let rate = if level > envelope { attack } else { release };
            envelope += rate * (level - envelope);
            let gain = (envelope.max(QUIETEST) / 0.3).powf(-self.strength);
            if let Some(gate) = self.gate {
                let (goal, rate) = if level > gate || envelope > gate {
                    (1.0, attack)
                } else {
                    (0.0, release)
                };
                open += rate * (goal - open);
                *sample *= open;
            }
            *sample *= gain;
        }
    }
}

/// A transform codec: overlapping cosine transforms, quantised more coarsely where the signal is
/// strong, nothing kept above a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Codec {
    /// Nothing above this is kept.
    pub limit: Hertz,
    /// Step of the quantiser as a part of a band's rms.
    pub coarseness: f64,
}

/// Coefficients of one transform.
const FRAME: usize = 576;
/// Coefficients quantised with one step.
const BAND: usize = 16;

impl Codec {
    /// The samples as they come back out.
    pub(crate) fn apply(&self, samples: &[f64], rate: f64) -> Vec<f64> {
        let transform = Transform::new();
        let kept = (self.limit.to_hz() / (0.5 * rate) * FRAME as f64) as usize;
        let mut padded = vec![0.0; FRAME];
        padded.extend_from_slice(samples);
        padded.resize((samples.len() / FRAME + 4) * FRAME, 0.0);
        let mut out = vec![0.0; padded.len()];
        for start in (0..padded.len() - FRAME).step_by(FRAME) {
            let mut bands = transform.forward(&padded[start..start + 2 * FRAME], kept);
            for band in bands.chunks_mut(BAND) {
                let power = band.iter().map(|it| it * it).sum::<f64>() / band.len() as f64;
                let step = self.coarseness * power.sqrt();
                if step > 0.0 {
                    band.iter_mut()
                        .for_each(|it| *it = (*it / step).round() * step);
                }
            }
            transform.back(&bands, &mut out[start..start + 2 * FRAME]);
        }
        out[FRAME..FRAME + samples.len()].to_vec()
    }
}

/// The modified discrete cosine transform with a sine window (Princen, Johnson & Bradley 1987).
struct Transform {
    window: Vec<f64>,
    cosines: Vec<f64>,
}

impl Transform {
    fn new() -> Self {
        let turn = |n: usize| PI * (n as f64 + 0.5) / (2 * FRAME) as f64;
        Self {
            window: (0..2 * FRAME).map(|n| turn(n).sin()).collect(),
            cosines: (0..8 * FRAME)
                .map(|n| (PI * n as f64 / (4 * FRAME) as f64).cos())
                .collect(),
        }
    }

    fn cosine(&self, n: usize, k: usize) -> f64 {
        self.cosines[(2 * n + 1 + FRAME) * (2 * k + 1) % (8 * FRAME)]
    }

    fn forward(&self, samples: &[f64], kept: usize) -> Vec<f64> {
        let windowed: Vec<f64> = samples
            .iter()
            .zip(&self.window)
            .map(|(x, w)| x * w)
            .collect();
        let at = |k| {
            windowed
                .iter()
                .enumerate()
                .map(|(n, x)| x * self.cosine(n, k))
                .sum()
        };
        (0..kept.min(FRAME)).map(at).collect()
    }

    fn back(&self, bands: &[f64], out: &mut [f64]) {
        for (n, (value, window)) in out.iter_mut().zip(&self.window).enumerate() {
            let sum: f64 = bands
                .iter()
                .enumerate()
                .map(|(k, x)| x * self.cosine(n, k))
                .sum();
            *value += window * sum * 2.0 / FRAME as f64;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fine_codec_that_keeps_everything_gives_the_samples_back() {
        let samples: Vec<f64> = (0..3000).map(|n| (f64::from(n) * 0.37).sin()).collect();
        let codec = Codec {
            limit: Hertz::hz(24_000.0),
            coarseness: 1e-9,
        };
        for (got, want) in codec.apply(&samples, 48_000.0).iter().zip(&samples) {
            assert!((got - want).abs() < 1e-6, "{got} {want}");
        }
    }

    #[test]
    fn gain_control_evens_out_a_long_level() {
        let mut samples = vec![1.0; 48_000];
        let control = GainControl {
            attack: Seconds::ms(10.0),
            release: Seconds::ms(100.0),
            strength: 1.0,
            gate: None,
        };
        control.apply(&mut samples, 1.0 / 48_000.0);
        assert!((samples[47_999] - 0.3).abs() < 1e-6);
        assert!(samples[0] > 5.0);
    }
}
