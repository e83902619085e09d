//! How a click sounds, to know it again: the spectrum of its first milliseconds.

use realfft::RealFftPlanner;

use super::band::Bands;

/// What is taken of a click, from just before its onset: about as long as metal rings.
const BEFORE_S: f64 = 0.3e-3;
const LASTING_S: f64 = 12e-3;
/// Bands, evenly on the logarithm of the frequency.
const BANDS: usize = 24;
const FROM_HZ: f64 = 1000.0;
const TO_HZ: f64 = 12_000.0;
/// Of this much of the sampling rate on there is nothing to hear.
const OF_RATE: f64 = 0.45;
/// Two clicks of one part are alike by this; those of two parts are as a rule by 0.3 to 0.6.
const ALIKE: f64 = 0.8;
/// One part is known again by this: 95 % of true pairs have two others as like; a knock and a fast release seldom have.
const SAME: f64 = 0.93;

/// Amplitudes in bands, their squares adding to one.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Voice([f64; BANDS]);

impl Voice {
    /// The click whose onset is `at` seconds.
    pub(super) fn of(bands: &Bands<'_>, at: f64) -> Self {
        let from = ((at - BEFORE_S).max(0.0) * bands.rate) as usize;
        let length = (LASTING_S * bands.rate) as usize;
        Self::of_wave(&bands.filtered(from, from + length), bands.rate)
    }

    fn of_wave(wave: &[f64], rate: f64) -> Self {
        let length = wave.len().next_power_of_two().max(2);
        let transform = RealFftPlanner::new().plan_fft_forward(length);
        let mut padded = wave.to_vec();
        padded.resize(length, 0.0);
        let mut spectrum = transform.make_output_vec();
        if transform.process(&mut padded, &mut spectrum).is_err() {
            return Self::default();
        }
        let octaves = (TO_HZ.min(OF_RATE * rate) / FROM_HZ).ln();
        let mut energy = [0.0; BANDS];
        for (n, value) in spectrum.iter().enumerate() {
            let hz = n as f64 * rate / length as f64;
            let place = BANDS as f64 * (hz / FROM_HZ).ln() / octaves;
            if place >= 0.0
                && let Some(band) = energy.get_mut(place as usize)
            {
                *band += value.norm_sqr();
            }
        }
        // A resonance near a border falls to either side of it.
        let at = |n: Option<usize>| n.and_then(|n| energy.get(n)).copied().unwrap_or(0.0);
        let mut amplitudes = [0.0; BANDS];
        for (n, amplitude) in amplitudes.iter_mut().enumerate() {
            let beside = at(n.checked_sub(1)) + at(Some(n + 1));
            *amplitude = (0.5 * at(Some(n)) + 0.25 * beside).sqrt();
        }
        let all = amplitudes.iter().map(|it| it * it).sum::<f64>().sqrt();
        Self(amplitudes.map(|it| it / all.max(f64::MIN_POSITIVE)))
    }

    /// Whether one part of a camera can have made both.
    pub(super) fn is_alike(&self, other: &Self) -> bool {
        self.likeness(other) > ALIKE
    }

    /// Whether it is one part of a camera that made both.
    pub(super) fn is_same(&self, other: &Self) -> bool {
        self.likeness(other) > SAME
    }

    fn likeness(&self, other: &Self) -> f64 {
        self.0.iter().zip(&other.0).map(|(a, b)| a * b).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ringing(hertz: &[f64], slower: f64) -> Vec<f64> {
        (0..576)
            .map(|n| {
                let time = f64::from(n) / 48_000.0;
                let tones = hertz
                    .iter()
                    .map(|hz| (std::f64::consts::TAU * hz * time).sin());
                tones.sum::<f64>() * (-time * 400.0 / slower).exp()
            })
            .collect()
    }

    #[test]
    fn a_click_is_known_again_and_another_is_not() {
        let voice = |hertz: &[f64], slower| Voice::of_wave(&ringing(hertz, slower), 48_000.0);
        let one = voice(&[1500.0, 2900.0, 6100.0], 1.0);
        assert!(one.is_alike(&voice(&[1505.0, 2890.0, 6110.0], 1.2)));
        assert!(!one.is_alike(&voice(&[2100.0, 4300.0, 9000.0], 1.0)));
        assert!(!one.is_alike(&Voice::of_wave(&[], 48_000.0)));
        assert!(!one.is_alike(&voice(&[], 1.0)));
    }
}
