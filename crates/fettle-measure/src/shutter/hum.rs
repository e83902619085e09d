//! Mains hum: which family of harmonics stands out on the dark stretches.

use std::f64::consts::TAU;
use std::ops::Range;

use super::overview::Overview;

/// Blocks taken together for the look at hum.
pub(crate) const BLOCKS: usize = 4;
/// Harmonics looked at.
pub(crate) const HARMONICS: usize = 6;
/// What mains swing at, but for some tenths.
pub(super) const NOMINAL_HZ: [f64; 2] = [50.0, 60.0];
/// Length of one Hann window and the step from one to the next.
const WINDOW_S: f64 = 0.2;
const HOP_S: f64 = 0.1;
/// Side frequencies of comparison lie beyond the window's main lobe.
const BESIDE_HZ: f64 = 17.0;
/// A harmonic stands out when its mean power is so many times that beside it.
const STANDS_OUT: f64 = 2.5;
/// Windows beyond this number add nothing.
const MOST_WINDOWS: usize = 120;

/// The hum's frequency and which of its harmonics (1 the fundamental) stand out.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Hum {
    pub(crate) hz: f64,
    pub(crate) harmonics: Vec<usize>,
    /// Amplitude of all harmonics together, in the signal's units.
    pub(crate) amplitude: f64,
}

/// Looks for hum in the dark stretches of a channel, given in [`BLOCKS`] blocks taken together.
pub(crate) fn of_dark(
    overview: &Overview<'_>,
    dark: impl IntoIterator<Item = Range<usize>>,
) -> Option<Hum> {
    let step = overview.dt * (overview.block * BLOCKS) as f64;
    let parts = looked_at(dark, step).into_iter();
    let dark: Vec<Vec<f64>> = parts.map(|it| overview.merged(BLOCKS, it)).collect();
    find(&dark, step)
}

/// Of dark stretches of blocks `step` seconds apart those parts that [`find`] looks at.
fn looked_at(stretches: impl IntoIterator<Item = Range<usize>>, step: f64) -> Vec<Range<usize>> {
    let (length, hop) = window(step);
    let mut left = MOST_WINDOWS;
    let mut parts = Vec::new();
    for stretch in stretches {
        let fitting = stretch.len().checked_sub(length);
        let count = fitting.map_or(0, |beyond| 1 + beyond / hop).min(left);
        if count > 0 {
            parts.push(stretch.start..stretch.start + length + (count - 1) * hop);
            left -= count;
        }
    }
    parts
}

/// Blocks of a window, and from one to the next.
fn window(step: f64) -> (usize, usize) {
    let blocks = |seconds: f64| ((seconds / step).round() as usize).max(1);
    (blocks(WINDOW_S), blocks(HOP_S))
}

/// Looks for hum in the dark stretches, given as blocks `step` seconds apart.
fn find(dark: &[Vec<f64>], step: f64) -> Option<Hum> {
    let windows = windows(dark, step);
    NOMINAL_HZ
        .into_iter()
        .filter_map(|hz| family(&windows, step, hz))
        .max_by(|a, b| a.amplitude.total_cmp(&b.amplitude))
}

/// Windows of equal length, in runs of overlapping neighbours.
fn windows(dark: &[Vec<f64>], step: f64) -> Vec<Vec<&[f64]>> {
    let (length, hop) = window(step);
    if length < 8 {
        return Vec::new();
    }
    let mut left = MOST_WINDOWS;
    let mut runs = Vec::new();
    for stretch in dark {
        let run: Vec<&[f64]> = stretch.windows(length).step_by(hop).take(left).collect();
        left -= run.len();
        runs.push(run);
    }
    runs
}

fn family(runs: &[Vec<&[f64]>], step: f64, hz: f64) -> Option<Hum> {
    let mut harmonics = Vec::new();
    let mut power = 0.0;
    for k in 1..=HARMONICS {
        let at = hz * k as f64;
        if at * step > 0.3 {
            break;
        }
        let here = mean_power(runs, step, at);
        let beside =
            0.5 * (mean_power(runs, step, at - BESIDE_HZ) + mean_power(runs, step, at + BESIDE_HZ));
        if here > STANDS_OUT * beside && here > 0.0 {
            harmonics.push(k);
            power += here - beside;
        }
    }
    let strongest = *harmonics.first()?;
    let shift = shift(runs, step, hz * strongest as f64) / strongest as f64;
    Some(Hum {
        hz: hz + shift,
        harmonics,
        amplitude: power.sqrt(),
    })
}

/// Mean squared amplitude at a frequency.
fn mean_power(runs: &[Vec<&[f64]>], step: f64, hz: f64) -> f64 {
    let mut count = 0;
    let mut sum = 0.0;
    let table = Table::new(runs, step, hz);
    for window in runs.iter().flatten() {
        let (re, im) = table.phasor(window);
        sum += re * re + im * im;
        count += 1;
    }
    if count == 0 {
        0.0
    } else {
        sum / f64::from(count)
    }
}

/// How far the true frequency lies from `hz`, from the phasors' turning between neighbours.
fn shift(runs: &[Vec<&[f64]>], step: f64, hz: f64) -> f64 {
    let table = Table::new(runs, step, hz);
    let hop = (HOP_S / step).round();
    let (mut re, mut im) = (0.0, 0.0);
    for run in runs {
        let phasors: Vec<(f64, f64)> = run.iter().map(|window| table.phasor(window)).collect();
        for pair in phasors.windows(2) {
            re += pair[1].0 * pair[0].0 + pair[1].1 * pair[0].1;
            im += pair[1].1 * pair[0].0 - pair[1].0 * pair[0].1;
        }
    }
    // Between two windows the reference itself turns by hz * hop.
    let turned = im.atan2(re) - TAU * hz * hop * step;
    let wrapped = turned - TAU * (turned / TAU).round();
    wrapped / (TAU * hop * step)
}

/// Hann-weighted reference waves.
struct Table(Vec<(f64, f64)>);

impl Table {
    fn new(runs: &[Vec<&[f64]>], step: f64, hz: f64) -> Self {
        let length = runs
            .iter()
            .flatten()
            .next()
            .map_or(0, |window| window.len());
        let reference = |i: usize| {
            let part = (i as f64 + 0.5) / length as f64;
            // A Hann window has mean 1/2; an amplitude of 1 gives a phasor of magnitude 1.
            let weight = 2.0 * (1.0 - (TAU * part).cos()) / length as f64;
            let phase = TAU * hz * step * i as f64;
            (weight * phase.cos(), -weight * phase.sin())
        };
        Self((0..length).map(reference).collect())
    }

    fn phasor(&self, window: &[f64]) -> (f64, f64) {
        let (mut re, mut im) = (0.0, 0.0);
        for (value, (cos, sin)) in window.iter().zip(&self.0) {
            re += value * cos;
            im += value * sin;
        }
        (re, im)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::Gauss;

    #[test]
    fn hum_is_found_with_its_frequency() {
        let step = 5e-4;
        let mut gauss = Gauss::new(3);
        let signal: Vec<f64> = (0..8000)
            .map(|i| {
                let turns = TAU * 59.98 * f64::from(i) * step;
                0.02 * turns.sin() + 0.01 * (3.0 * turns + 1.0).sin() + 0.01 * gauss.normal()
            })
            .collect();
        let dark = [signal[..3000].to_vec(), signal[3500..].to_vec()];
        let hum = find(&dark, step).unwrap();
        assert!((hum.hz - 59.98).abs() < 0.01, "{}", hum.hz);
        assert_eq!(hum.harmonics, [1, 3]);
        assert!((hum.amplitude - 0.0224).abs() < 0.002, "{}", hum.amplitude);
    }

    #[test]
    fn what_is_not_looked_at_changes_nothing() {
        let (step, mut gauss) = (5e-4, Gauss::new(5));
        let wave = |i: usize| (TAU * 50.01 * i as f64 * step).sin();
        let signal: Vec<f64> = (0..40_000).map(|i| wave(i) + gauss.normal()).collect();
        let stretches = vec![0..399, 500..9_321, 9_500..39_999];
        let parts = looked_at(stretches.clone(), step);
        assert_eq!(parts.len(), 2, "{parts:?}");
        assert!(parts[1].end < 30_000, "{parts:?}");
        let over = |ranges: Vec<Range<usize>>| -> Vec<Vec<f64>> {
            let over = ranges.into_iter().map(|it| signal[it].to_vec());
            over.collect()
        };
        let (all, part) = (find(&over(stretches), step), find(&over(parts), step));
        assert!(all.is_some());
        assert_eq!(all, part);
    }

    #[test]
    fn white_noise_has_no_hum() {
        let mut gauss = Gauss::new(4);
        let signal: Vec<f64> = (0..8000).map(|_| gauss.normal()).collect();
        assert_eq!(find(&[signal], 5e-4), None);
    }
}
