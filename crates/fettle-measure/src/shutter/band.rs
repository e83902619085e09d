//! Lossy codings that the file does not own up to.
//!
//! What keeps only what the ear notices keeps nothing above some frequency: the noise of the dark falls off
//! a cliff there. A recorder's own filter lets pass all but the last part before half the sample rate,
//! and what a sensor loses at high frequencies falls gently.

use realfft::RealFftPlanner;

use super::channel::Raw;
use super::local::{End, Fit, Local, Signal};
use super::overview::median;

/// Samples of one Hann window, and most windows.
const WINDOW: usize = 512;
const MOST_WINDOWS: usize = 400;
const LEAST_WINDOWS: usize = 8;
/// The cliff lies between these parts of half the sample rate.
const FROM: f64 = 0.15;
const TO: f64 = 0.89;
/// Its width in bins, and the bins on either side that are compared.
const CLIFF: usize = 6;
const BESIDE: usize = 12;
/// How far the power falls across it, and everything above stays below.
const FALLS: f64 = 8.0;
/// Next to a flank, as far as a coding's frames reach.
const NEAR_S: f64 = 12e-3;
/// So near to a flank a coding errs nearly as on it; within a frame, of 6 ms hop and more, its errors fade.
const NEAREST_S: f64 = 4.5e-3;
/// They fade to this part at least over as far again, or are lost in what chance leaves.
const LEAST_LEFT: f64 = 0.1;
/// Its errors are seen by means over this time: within the lowest of its bands they are white.
const MEAN_S: f64 = 1.5e-3;
/// All shots alike together count for one shot as so many means of its own.
const SHARED: f64 = 8.0;
/// Shots are alike that last as long within this factor, or longer than a frame.
const ALIKE: f64 = 3.0;
const FRAME_S: f64 = 25e-3;
/// An echo of a flank is seen by departures over this time.
const SEEN_S: f64 = 0.5e-3;

/// Whether the noise of the dark around these shots ends at a cliff.
pub(crate) fn is_limited(signal: &Signal<'_>, shots: &[Raw]) -> bool {
    spectrum(signal, shots).is_some_and(|power| has_cliff(&power))
}

/// Power of the dark's windows, the median of each frequency: a coding is in all of them, a click that rings
/// in few.
fn spectrum(signal: &Signal<'_>, shots: &[Raw]) -> Option<Vec<f64>> {
    let plan = RealFftPlanner::new().plan_fft_forward(WINDOW);
    let mut bins = plan.make_output_vec();
    let mut powers: Vec<Vec<f64>> = vec![Vec::new(); bins.len()];
    let each = (MOST_WINDOWS / shots.len().max(1)).max(2) / 2;
    let thinned = shots
        .iter()
        .step_by(shots.len().div_ceil(MOST_WINDOWS / 2).max(1));
    for shot in thinned {
        let regions = &shot.local.regions;
        let before = (1..=each).map_while(|n| regions.first.checked_sub(n * WINDOW));
        let before = before.take_while(|from| *from >= regions.before);
        let after = (0..each).map(|n| regions.after + n * WINDOW);
        let after = after.take_while(|from| from + WINDOW <= regions.end);
        for from in before.chain(after) {
            let range = from..from + WINDOW;
            if !signal.samples.is_whole(range.clone()) {
                continue;
            }
            let values: Vec<f64> = signal.over(range).collect();
            // Second differences lift the high frequencies out of what leaks from the low.
            let mut windowed: Vec<f64> = (0..WINDOW)
                .map(|n| {
                    let at = |n: usize| values.get(n).copied().unwrap_or(f64::NAN);
                    let second = at(n.max(1) - 1) - 2.0 * at(n) + at((n + 1).min(WINDOW - 1));
                    let part = (n as f64 + 0.5) / WINDOW as f64;
                    second * (1.0 - (std::f64::consts::TAU * part).cos())
                })
                .collect();
            if windowed.iter().any(|it| !it.is_finite()) {
                continue;
            }
            plan.process(&mut windowed, &mut bins).ok()?;
            for (all, bin) in powers.iter_mut().zip(&bins) {
                all.push(bin.norm_sqr());
            }
        }
    }
    let count = powers.first().map_or(0, Vec::len);
    let mut power: Vec<f64> = powers.iter().map(|all| median(all)).collect();
    // Second differences pass a frequency by the fourth power of twice the sine.
    for (k, value) in power.iter_mut().enumerate().skip(1) {
        *value /= (2.0 * (std::f64::consts::PI * k as f64 / WINDOW as f64).sin()).powi(4);
    }
    (count >= LEAST_WINDOWS).then_some(power)
}

fn has_cliff(power: &[f64]) -> bool {
    let all = power.len();
    let mean = |range: std::ops::Range<usize>| {
        let part = power.get(range).unwrap_or_default();
        part.iter().sum::<f64>() / part.len().max(1) as f64
    };
    let (from, to) = ((FROM * all as f64) as usize, (TO * all as f64) as usize);
    (from.max(BESIDE)..to).any(|k| {
        let (below, above) = (mean(k - BESIDE..k), mean(k + CLIFF..k + CLIFF + BESIDE));
        let rest = power.get(k + CLIFF..).unwrap_or_default();
        let most = rest
            .chunks(BESIDE)
            .map(|it| it.iter().sum::<f64>() / it.len() as f64);
        below > FALLS * above && most.fold(0.0, f64::max) * FALLS < below
    })
}

/// What a lossy coding leaves next to one shot's flanks, where it errs nearly as on them, and beyond.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Coded {
    near: Errors,
    far: Errors,
    /// Seconds that the shot lasts.
    lasts: f64,
}

/// Errors of means.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Errors {
    /// Sum of the squares of means, each times its samples, less white noise's: of samples that erred each for
    /// itself as much as the means do.
    squares: f64,
    means: f64,
}

impl Errors {
    fn add(&mut self, other: Self) {
        self.squares += other.squares;
        self.means += other.means;
    }

    fn variance(self) -> f64 {
        (self.squares / self.means.max(1.0)).max(0.0)
    }
}

impl Coded {
    fn of(signal: &Signal<'_>, shot: &Raw) -> Self {
        let samples = |seconds: f64| ((seconds / signal.dt) as usize).max(1);
        let (near, size) = (samples(NEAREST_S), samples(MEAN_S));
        let mut places = vec![(0, End::Last(2 * near)), (2, End::First(2 * near))];
        // The level is fitted to a short plateau, which takes its errors up.
        let reach = if shot.open > 4.0 * NEAREST_S {
            2 * near
        } else {
            near
        };
        if shot.open > 2.0 * NEAREST_S {
            places.extend([(1, End::First(reach)), (1, End::Last(reach))]);
        }
        let mut coded = Self {
            near: Errors::default(),
            far: Errors::default(),
            lasts: shot.integral.value / shot.peak + shot.open,
        };
        for (stretch, end) in places {
            let mut departs = shot.local.departures(signal, &shot.fit, stretch, end);
            if matches!(end, End::Last(_)) {
                departs.reverse();
            }
            for (n, part) in departs.chunks_exact(size).enumerate() {
                let mean = part.iter().sum::<f64>() / size as f64;
                if mean.is_finite() {
                    let errors = Errors {
                        squares: mean * mean * size as f64 - signal.noise.powi(2),
                        means: 1.0,
                    };
                    let is_near = (n + 1) * size <= near;
                    let sum = if is_near {
                        &mut coded.near
                    } else {
                        &mut coded.far
                    };
                    sum.add(errors);
                }
            }
        }
        coded
    }

    /// Whether the frames around both shots' flanks hold about as much.
    fn is_alike(self, other: Self) -> bool {
        let ratio = self.lasts.min(FRAME_S) / other.lasts.min(FRAME_S);
        (1.0 / ALIKE..=ALIKE).contains(&ratio)
    }
}

/// What a lossy coding leaves next to the flanks of all shots.
pub(crate) fn coded(signal: &Signal<'_>, shots: &[Raw]) -> Vec<Coded> {
    let sound = shots.iter().filter(|it| !it.spoiled);
    sound.map(|shot| Coded::of(signal, shot)).collect()
}

/// Variance of a single sample on this shot's flanks, as far as what is beside them and others like it tell.
fn variance(signal: &Signal<'_>, shot: &Raw, all: &[Coded]) -> f64 {
    let own = Coded::of(signal, shot);
    let (mut near, mut far) = (Errors::default(), Errors::default());
    for it in all.iter().filter(|it| it.is_alike(own)) {
        near.add(it.near);
        far.add(it.far);
    }
    let squares = own.near.squares + SHARED * near.variance();
    // A variance of so few means is itself in doubt: that of Student's t (JCGM 101, 6.4.9.4).
    let beside = (squares / (own.near.means + SHARED - 2.0)).max(0.0);
    let [first, second] = shot.local.regions.flanks().map(|it| it.len() as f64);
    let flank = if second > 0.0 {
        0.5 * (first + second)
    } else {
        first
    };
    beside * on_flank(far.variance() / near.variance(), 0.5 * flank * signal.dt)
}

/// How much more a coding errs on a flank of which this is half than next to it, where its errors fall by the
/// factor `fades` from the nearest means to those beyond: frames that overlap under sine windows
/// leave errors that fade nearly as a Gaussian curve with the distance from what they hold.
fn on_flank(fades: f64, half: f64) -> f64 {
    let [near, far] = [0.5, 1.5].map(|part| (half + part * NEAREST_S).powi(2));
    if fades.is_finite() {
        fades.clamp(LEAST_LEFT, 1.0).powf(-near / (far - near))
    } else {
        1.0
    }
}

/// Standard uncertainty that the coding brings to a mean over so many seconds near this shot's flanks.
pub(crate) fn of_mean(signal: &Signal<'_>, shot: &Raw, all: &[Coded], seconds: f64) -> f64 {
    (variance(signal, shot, all) * signal.dt / seconds).sqrt()
}

/// The same of `∫x dt` over this shot's flanks.
pub(crate) fn over_flanks(signal: &Signal<'_>, shot: &Raw, all: &[Coded]) -> f64 {
    let flanks = shot.local.regions.flanks();
    let samples: usize = flanks.iter().map(ExactSizeIterator::len).sum();
    (variance(signal, shot, all) * samples as f64).sqrt() * signal.dt
}

/// The greatest departure of means over so many samples before the shot opens and while it stands open, next to
/// its flanks: blades let no light through there a second time.
pub(crate) fn beside(signal: &Signal<'_>, local: &Local, fit: &Fit, samples: usize) -> f64 {
    let near = (NEAR_S / signal.dt) as usize;
    let ends = [
        (0, End::Last(near)),
        (1, End::First(near)),
        (1, End::Last(near)),
    ]
    .map(|(stretch, end)| local.departures(signal, fit, stretch, end));
    let means = ends.iter().flat_map(|it| it.chunks_exact(samples.max(1)));
    let means = means.map(|it| it.iter().sum::<f64>() / it.len() as f64);
    means.fold(0.0, |most, mean| most.max(mean.abs()))
}

/// How far means over about [`SEEN_S`] next to this shot's flanks depart from the model, beyond white
/// noise.
pub(crate) fn echo(signal: &Signal<'_>, shot: &Raw) -> f64 {
    let near = (NEAR_S / signal.dt) as usize;
    let size = ((SEEN_S / signal.dt) as usize).clamp(1, (near / 2).max(1));
    let parts = [
        (0, End::Last(near)),
        (1, End::First(near)),
        (1, End::Last(near)),
        (2, End::First(near)),
    ]
    .map(|(stretch, end)| shot.local.departures(signal, &shot.fit, stretch, end));
    let means = parts.iter().flat_map(|it| it.chunks_exact(size));
    let means = means.map(|it| it.iter().sum::<f64>() / size as f64);
    let squares: Vec<f64> = means
        .filter(|it| it.is_finite())
        .map(|it| it * it)
        .collect();
    let white = signal.noise.powi(2) / size as f64;
    let mean = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
    (mean - white).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shutter::beside::Beside;
    use crate::shutter::channel::Channel;
    use crate::synth::{Chain, Firing, LeafShutter, Scene};
    use crate::{Decibels, Hertz, Recording, Seconds};

    const RATE_HZ: f64 = 48_000.0;

    fn falling(from: usize, width: usize, to: f64) -> Vec<f64> {
        let at = |k: usize| {
            let part = (k.saturating_sub(from) as f64 / width as f64).min(1.0);
            to.powf(part)
        };
        (0..257).map(at).collect()
    }

    #[test]
    fn a_cliff_below_half_the_rate_is_seen() {
        assert!(has_cliff(&falling(186, 4, 1e-3)));
        assert!(has_cliff(&falling(60, 4, 1e-2)));
    }

    #[test]
    fn a_recorders_own_filter_and_a_gentle_fall_are_none() {
        assert!(!has_cliff(&falling(238, 4, 1e-6)));
        assert!(!has_cliff(&falling(40, 200, 1e-2)));
        assert!(!has_cliff(&falling(300, 4, 1e-6)));
    }

    /// Three shots with what a coding leaves next to their flanks: `height` of the light, up for half a
    /// millisecond and down for the next, within 12 ms of closing.
    fn echoing(height: f64) -> Recording {
        let at = |n: i32| 0.6 + 1.5 * f64::from(n);
        let scene = Scene {
            shutter: LeafShutter::default(),
            firings: (0..3)
                .map(|n| Firing::new(Seconds::s(at(n)), Seconds::ms(50.0)))
                .collect(),
            chain: Chain {
                sample_rate: Hertz::hz(RATE_HZ),
                bits: None,
                snr: Some(Decibels::db(60.0)),
                ..Chain::default()
            },
            lasting: Seconds::s(5.0),
            seed: 5,
        };
        let gain = scene.chain.gain;
        let take = scene.record();
        let mut samples = take.samples;
        for it in &take.truth {
            let closed = ((it.start + it.total).to_s() * RATE_HZ) as usize + 20;
            for (n, sample) in samples.iter_mut().skip(closed).take(576).enumerate() {
                let sign = if (n / 24) % 2 == 0 { 1.0 } else { -1.0 };
                *sample += (sign * height * gain) as f32;
            }
        }
        let rate = Hertz::hz(RATE_HZ);
        Recording::from_channels("made.wav", rate, vec![samples]).unwrap()
    }

    #[test]
    fn what_a_coding_leaves_next_to_the_flanks_is_seen_as_far_as_it_goes() {
        for height in [0.0, 0.002, 0.008] {
            let recording = echoing(height);
            let beside = Beside::of(&recording);
            let channel = Channel::of(&recording, &beside, 0);
            assert_eq!(channel.shots.len(), 3);
            let all = coded(&channel.signal, &channel.shots);
            for shot in &channel.shots {
                // One of the four places looked at has it, and windows do not fall in with it.
                let told = echo(&channel.signal, shot) / shot.peak;
                let (least, most) = (0.1 * height, 0.6 * height + 2e-4);
                assert!((least..most).contains(&told), "{told} for {height}");
                let seconds = over_flanks(&channel.signal, shot, &all) / shot.peak;
                assert!(
                    (0.0..height * 3e-3 + 2e-6).contains(&seconds),
                    "{seconds} s"
                );
            }
        }
    }

    #[test]
    fn what_a_coding_leaves_on_a_flank_is_told_by_how_it_fades() {
        // Errors that fade with the distance as a Gaussian curve of this width, over half a flank and beyond.
        for width in [4.6e-3_f64, 9.3e-3] {
            for half in [0.6e-3, 2e-3] {
                let left = |part: f64| (-((half + part * NEAREST_S) / width).powi(2)).exp();
                let told = on_flank(left(1.5) / left(0.5), half) * left(0.5);
                let least = if left(1.5) / left(0.5) < LEAST_LEFT {
                    0.5
                } else {
                    0.999
                };
                assert!((least..1.001).contains(&told), "{told} for {width} s");
            }
        }
        // None at all, or more farther off, is no fading.
        for fades in [f64::NAN, f64::INFINITY, 1.0, 3.0] {
            assert!((on_flank(fades, 1e-3) - 1.0).abs() < 1e-12);
        }
    }
}
