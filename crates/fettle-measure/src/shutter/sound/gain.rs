//! Has something on the way from the microphone changed the level?

use super::band::{Bands, mean, quantile};
use super::click::Click;

/// Samples of silence that a gate makes.
const SILENCE_S: f64 = 10e-3;
/// Samples looked at before a silence: with a gate they are noise cut short, else a sound that has
/// died away to the recorder's last step.
const CUT_S: f64 = 2e-3;
/// So many of the recorder's steps, rms, are not died away.
const CUT_STEPS: f64 = 4.0;
/// The floor falls by this much (6 dB) after clicks when the gain is turned down by them.
const DUCKED: f64 = 0.25;

/// Whether a gate silences what is quiet: stretches of exact zeros that begin amid noise.
pub(super) fn is_gated(samples: impl Iterator<Item = f32>, rate: f64, step: Option<f64>) -> bool {
    let silence = ((SILENCE_S * rate) as usize).max(8);
    let cut = ((CUT_S * rate) as usize).max(4);
    let least = CUT_STEPS * step.unwrap_or(3e-5);
    let (mut cuts, mut died) = (0, 0);
    let mut recent = vec![0.0; cut];
    let (mut sounding, mut zeros) = (0, 0);
    for sample in samples {
        if sample != 0.0 {
            if let Some(place) = recent.get_mut(sounding % cut) {
                *place = f64::from(sample).powi(2);
            }
            sounding += 1;
            zeros = 0;
            continue;
        }
        zeros += 1;
        if zeros == silence && sounding >= cut {
            let rms = (recent.iter().sum::<f64>() / cut as f64).sqrt();
            if rms > least {
                cuts += 1;
            } else {
                died += 1;
            }
        }
    }
    cuts >= 2 && cuts > died
}

/// Whether the floor is lower after clicks than before them.
pub(super) fn is_ducked(bands: &Bands<'_>, clicks: &[Click]) -> bool {
    let (near, far) = (bands.steps(0.06), bands.steps(0.16));
    let (close, before) = (bands.steps(0.01), bands.steps(0.11));
    let mut ratios = Vec::new();
    for (n, click) in clicks.iter().enumerate() {
        let earlier = n.checked_sub(1).and_then(|n| clicks.get(n));
        let apart = earlier.is_none_or(|it| click.at - it.at > 0.8)
            && clicks.get(n + 1).is_none_or(|it| it.at - click.at > 0.17);
        let at = bands.steps(click.at);
        let after = bands.high.get(at + near..at + far);
        let ahead = bands
            .high
            .get(at.saturating_sub(before)..at.saturating_sub(close));
        if let (true, Some(after), Some(ahead)) = (apart && at > before, after, ahead) {
            ratios.push(mean(after) / mean(ahead).max(1e-30));
        }
    }
    ratios.len() >= 3 && quantile(ratios, 0.7) < DUCKED
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sound_that_dies_away_is_not_gated_and_noise_cut_short_is() {
        let noise = |n: usize| ((n as f32 * 12.9898).sin() * 43_758.547).fract() - 0.5;
        let mut cut = Vec::new();
        let mut died = Vec::new();
        for _ in 0..3 {
            cut.extend((0..2000).map(|n| 0.1 * noise(n)));
            died.extend((0..2000).map(|n| {
                let value = 0.5 * noise(n) * (-(n as f32) / 150.0).exp();
                (value * 32_768.0).round() / 32_768.0
            }));
            cut.extend([0.0; 2000]);
            died.extend([0.0; 2000]);
        }
        assert!(is_gated(cut.into_iter(), 48_000.0, Some(1.0 / 32_768.0)));
        assert!(!is_gated(died.into_iter(), 48_000.0, Some(1.0 / 32_768.0)));
    }
}
