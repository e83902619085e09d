//! A lamp switched so fast or so deep that its ripple would pass for flanks: seen before any shot is.

use realfft::RealFftPlanner;

use crate::recording::Samples;

/// Windows looked at are about this long, in seconds, half of each being in the next ...
const WINDOW_S: f64 = 0.02;
/// ... and where these show none so long: a ripple of some 200 Hz is too slow for the others.
const SLOW_WINDOW_S: f64 = 0.04;
/// Slower swings do not pass for flanks.
const LOWEST_HZ: f64 = 150.0;
/// A ripple that could mislead comes to this part of the recording's span ...
const LEAST: f64 = 0.01;
/// ... and stands out of the noise by so many standard deviations.
const OVER_NOISE: f64 = 8.0;
/// The strongest frequency of at least so many windows, and of this part of those that are not still.
const WINDOWS: usize = 2;
const AGREEING: f64 = 0.4;
/// Smoothing lasts this long at least, and goes beyond that or a swing by as much at most.
const SMOOTHED_S: f64 = 0.3e-3;
const BEYOND_S: f64 = 1e-3;
/// Harmonics that smoothing takes off.
const HARMONICS: usize = 6;

/// The samples of a channel smoothed over whole swings of its ripple, if there is one.
pub(crate) fn smoothed(samples: &Samples, channel: usize, dt: f64) -> Option<Samples> {
    let hz = frequency(samples, channel, dt)
        .or_else(|| frequency_in(SLOW_WINDOW_S, samples, channel, dt))?;
    let width = width(hz, dt);
    let mut smooth = samples.clone();
    for range in samples.held_ranges() {
        let part: Vec<f64> = samples
            .over(channel, range.clone())
            .map(f64::from)
            .collect();
        let mean = running_mean(&part, width);
        let change: Vec<f64> = mean.iter().zip(&part).map(|(it, was)| it - was).collect();
        smooth.add(channel, range.start, &change);
    }
    Some(smooth)
}

/// The frequency that most windows with something in them swing at.
pub(crate) fn frequency(samples: &Samples, channel: usize, dt: f64) -> Option<f64> {
    frequency_in(WINDOW_S, samples, channel, dt)
}

/// The same in windows of so many seconds.
fn frequency_in(window: f64, samples: &Samples, channel: usize, dt: f64) -> Option<f64> {
    let length = ((window / dt) as usize).max(64).next_power_of_two();
    let track = samples.track(channel);
    let (low, high) = track.means.span();
    let noise = OVER_NOISE * track.noise / (length as f64).sqrt();
    let least = (LEAST * f64::from(high - low)).max(noise);
    let plan = RealFftPlanner::new().plan_fft_forward(length);
    let mut spectrum = plan.make_output_vec();
    let bin_hz = 1.0 / (length as f64 * dt);
    let lowest = (LOWEST_HZ / bin_hz).ceil() as usize + 1;
    let hann = |n: usize| 1.0 - (std::f64::consts::TAU * (n as f64 + 0.5) / length as f64).cos();
    let hann: Vec<f64> = (0..length).map(hann).collect();
    let mut windowed = plan.make_input_vec();
    let mut peaks: Vec<(usize, f64)> = Vec::new();
    for range in samples.held_ranges() {
        let part: Vec<f64> = samples.over(channel, range).map(f64::from).collect();
        for window in part.windows(length).step_by(length / 2) {
            let mean = window.iter().sum::<f64>() / length as f64;
            let square = window.iter().map(|it| (it - mean).powi(2)).sum::<f64>();
            if square.is_nan() || square < 0.25 * least * least * length as f64 {
                continue;
            }
            for ((windowed, it), hann) in windowed.iter_mut().zip(window).zip(&hann) {
                *windowed = hann * (it - mean);
            }
            plan.process(&mut windowed, &mut spectrum).ok()?;
            // Against a wave's amplitude, half of which lies in its line of a window of mean 1.
            let size = |n: usize| {
                spectrum
                    .get(n)
                    .map_or(0.0, |it| 2.0 * it.norm() / length as f64)
            };
            let power = |n: &usize| spectrum[*n].norm_sqr();
            let peak = (lowest..spectrum.len() - 1)
                .max_by(|a, b| power(a).total_cmp(&power(b)))
                .filter(|peak| size(*peak) > least);
            // What falls from the lowest on is a flank's.
            peaks.extend(peak.map(|it| {
                let near = [size(it - 1), size(it), size(it + 1)];
                let lean = (near[2] - near[0]) / near.iter().sum::<f64>();
                (if it > lowest { it } else { 0 }, it as f64 + lean)
            }));
        }
    }
    let votes = |at: usize| peaks.iter().filter(move |it| it.0.abs_diff(at) <= 1);
    let best = peaks
        .iter()
        .map(|it| it.0)
        .filter(|it| *it > 0)
        .max_by_key(|it| votes(*it).count())?;
    let count = votes(best).count();
    if count < WINDOWS || (count as f64) < AGREEING * peaks.len() as f64 {
        return None;
    }
    Some(votes(best).map(|it| it.1).sum::<f64>() / count as f64 * bin_hz)
}

/// Samples that hold whole swings, as nearly as whole samples can.
fn width(hz: f64, dt: f64) -> usize {
    let from = (SMOOTHED_S.max(0.9 / hz) / dt).ceil().max(1.0) as usize;
    let to = from + (BEYOND_S / dt) as usize;
    let left = |width: usize| {
        (1..=HARMONICS)
            .map(|k| {
                let half = std::f64::consts::PI * hz * dt * k as f64;
                let count = width as f64;
                let dulled = (half * count).sin() / (count * half.sin());
                (dulled / k as f64).powi(2)
            })
            .filter(|it| it.is_finite())
            .sum::<f64>()
    };
    (from..=to)
        .min_by(|a, b| left(*a).total_cmp(&left(*b)))
        .unwrap_or(from)
}

/// Centred means of `width` values, fewer at the ends.
fn running_mean(x: &[f64], width: usize) -> Vec<f64> {
    let mut sums = Vec::with_capacity(x.len() + 1);
    sums.push(0.0);
    let mut sum = 0.0;
    for value in x {
        sum += value;
        sums.push(sum);
    }
    let before = width / 2;
    (0..x.len())
        .map(|n| {
            let from = n.saturating_sub(before);
            let to = (n + width - before).min(x.len());
            (sums[to] - sums[from]) / (to - from).max(1) as f64
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smoothing_takes_a_ripple_off() {
        for hz in [230.0, 1_000.0, 3_333.0, 9_700.0, 19_000.0] {
            let dt = 1.0 / 48_000.0;
            let wave = |n: i32| 1.0 + 0.5 * (std::f64::consts::TAU * hz * f64::from(n) * dt).sin();
            let x: Vec<f64> = (0..4_000).map(wave).collect();
            let smooth = running_mean(&x, width(hz, dt));
            for value in &smooth[1_000..3_000] {
                assert!((value - 1.0).abs() < 0.02, "{hz} Hz: {value}");
            }
        }
    }
}
