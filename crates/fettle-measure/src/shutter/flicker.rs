//! Flicker of the lamp, seen while the shutter stands open.

use realfft::RealFftPlanner;

use super::local::{Local, Signal};
use super::poles::Poles;

/// Lowest frequency looked for; slower changes are drift of the lamp.
const LOWEST_HZ: f64 = 70.0;
/// Longest stretch looked at, in samples.
const LONGEST: usize = 1 << 16;
/// Shortest stretch that can tell, in seconds.
const SHORTEST_S: f64 = 0.04;
/// Power over the median of the spectrum from which a line is flicker.
const STANDS_OUT: f64 = 60.0;
/// Half-width of a line, in bins of the Hann window.
const LINE: usize = 2;

/// The strongest line of the lamp's flicker.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Flicker {
    pub(crate) hz: f64,
    /// Amplitude as a part of the mean light.
    pub(crate) depth: f64,
}

impl Flicker {
    /// Root mean square against the mean light.
    pub(crate) fn swing(self) -> f64 {
        self.depth / 2.0_f64.sqrt()
    }
}

/// Looks for flicker in the longest of the shots, which shows it best. Its hum is fitted to the dark
/// alone, as flicker at twice the mains frequency would pass for hum.
pub(crate) fn of_longest(signal: &Signal<'_>, shots: &[Local], poles: Poles) -> Option<Flicker> {
    let longest = shots.iter().max_by(|a, b| a.open().total_cmp(&b.open()))?;
    let (level, _) = longest.level(&longest.fit(poles)?)?;
    let dark_only = longest.with_flicker(signal, level);
    let fit = dark_only.fit(poles)?;
    let level = dark_only.level(&fit)?.0;
    let open = dark_only.plateau(signal, &fit);
    let range = dark_only.regions.open..dark_only.regions.second;
    if signal.samples.is_whole(range.clone()) {
        return find(&open, level, signal.dt);
    }
    // Means that stand for each sample of their block would pass for a lack of quick noise.
    let block = signal.block();
    let border = range.start.next_multiple_of(block) - range.start;
    let whole = open.get(border..).unwrap_or_default();
    let means: Vec<f64> = whole
        .chunks_exact(block)
        .map(|part| part.iter().sum::<f64>() / block as f64)
        .collect();
    find(&means, level, signal.dt * block as f64)
}

/// Looks for flicker in the light of a shot standing fully open at `level`.
fn find(open: &[f64], level: f64, dt: f64) -> Option<Flicker> {
    let open = &open[..open.len().min(LONGEST)];
    let count = open.len();
    if (count as f64) * dt < SHORTEST_S || level <= 0.0 {
        return None;
    }
    let mut windowed: Vec<f64> = open
        .iter()
        .enumerate()
        .map(|(n, value)| {
            let part = (n as f64 + 0.5) / count as f64;
            (1.0 - (std::f64::consts::TAU * part).cos()) * (value - level)
        })
        .collect();
    let plan = RealFftPlanner::new().plan_fft_forward(count);
    let mut spectrum = plan.make_output_vec();
    plan.process(&mut windowed, &mut spectrum).ok()?;
    let power: Vec<f64> = spectrum
        .iter()
        .map(|bin| bin.re * bin.re + bin.im * bin.im)
        .collect();
    let bin_hz = 1.0 / (count as f64 * dt);
    let lowest = ((LOWEST_HZ / bin_hz).ceil() as usize).max(LINE + 1);
    let searched = power.get(lowest..power.len().saturating_sub(LINE))?;
    let middle = super::overview::median(searched);
    let peak = (0..searched.len()).max_by(|a, b| searched[*a].total_cmp(&searched[*b]))? + lowest;
    if power[peak].is_nan() || power[peak] <= STANDS_OUT * middle.max(f64::MIN_POSITIVE) {
        return None;
    }
    let line = &power[peak - LINE..=peak + LINE];
    let total: f64 = line.iter().sum();
    let centre: f64 = line
        .iter()
        .enumerate()
        .map(|(i, bin)| i as f64 * bin)
        .sum::<f64>()
        / total;
    // A wave of amplitude 1 puts 3/8 count² of power into a Hann line of weight 2 sin².
    let amplitude = (total * 8.0 / 3.0).sqrt() / count as f64;
    Some(Flicker {
        hz: (peak as f64 + centre - LINE as f64) * bin_hz,
        depth: amplitude / level,
    })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::synth::Gauss;

    fn open(depth: f64) -> Vec<f64> {
        let mut gauss = Gauss::new(8);
        (0..9600)
            .map(|n| 1.0 + depth * (TAU * 100.0 * f64::from(n) / 48_000.0).sin())
            .map(|light| light + 0.005 * gauss.normal())
            .collect()
    }

    #[test]
    fn flicker_is_found_with_its_depth() {
        let found = find(&open(0.03), 1.0, 1.0 / 48_000.0).unwrap();
        assert!((found.hz - 100.0).abs() < 1.0, "{}", found.hz);
        assert!((found.depth - 0.03).abs() < 0.001, "{}", found.depth);
    }

    #[test]
    fn a_steady_lamp_has_none() {
        assert_eq!(find(&open(0.0), 1.0, 1.0 / 48_000.0), None);
    }
}
