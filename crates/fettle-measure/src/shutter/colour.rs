//! How the noise of means falls with the time they are taken over.
//!
//! White noise falls as the square root of that time; noise of low frequencies, as sensors and amplifiers
//! have it, falls slower. Least squares that take noise for white state too little then. How much is
//! seen where the light stands still: second differences of neighbouring means of what the fits leave
//! (after Allan's variance; slopes cancel), against those of white noise.

use super::channel::Raw;
use super::local::Signal;

/// Means over so many samples' time stand for a flank ...
const FLANK_S: f64 = 2e-3;
/// ... and these for the dark around a shot and for its plateau.
const LONG_S: [f64; 4] = [8e-3, 20e-3, 50e-3, 120e-3];
/// Second differences needed to tell.
const LEAST: usize = 12;
/// Standard deviations of chance allowed for.
const CHANCE: f64 = 1.0;

/// Variances against those of white noise, at least 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Colour {
    /// Of means over a flank.
    pub(crate) flank: f64,
    /// Of means over the dark around a shot.
    pub(crate) long: f64,
}

impl Colour {
    pub(crate) const WHITE: Self = Self {
        flank: 1.0,
        long: 1.0,
    };

    /// Of what the fits leave of a channel's dark.
    pub(crate) fn of(signal: &Signal<'_>, shots: &[Raw]) -> Self {
        let rest: Vec<Vec<f64>> = shots
            .iter()
            .filter(|shot| !shot.spoiled && !shot.overlapping)
            .flat_map(|shot| [0, 2].map(|it| whole_blocks(signal, shot, it)))
            .collect();
        let at = |seconds: f64| excess(&rest, signal, seconds);
        Self {
            flank: at(FLANK_S),
            long: LONG_S.into_iter().map(at).fold(1.0, f64::max),
        }
    }
}

/// What the fit leaves of a dark stretch from its first whole block on, so that it makes no difference
/// whether samples or their blocks' means are held.
fn whole_blocks(signal: &Signal<'_>, shot: &Raw, stretch: usize) -> Vec<f64> {
    let regions = &shot.local.regions;
    let start = if stretch == 0 {
        regions.before
    } else {
        regions.after
    };
    let rest = shot.local.departures(signal, &shot.fit, stretch);
    let border = start.next_multiple_of(signal.block()) - start;
    rest.get(border..).unwrap_or_default().to_vec()
}

/// The variance of means over `seconds` against white noise's, as far as it is no chance.
fn excess(rest: &[Vec<f64>], signal: &Signal<'_>, seconds: f64) -> f64 {
    let size = (seconds / signal.dt).round() as usize;
    let size = size.next_multiple_of(signal.block()).max(1);
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    let mut sum = 0.0;
    let mut count = 0_usize;
    for stretch in rest {
        let means: Vec<f64> = stretch.chunks_exact(size).map(mean).collect();
        for three in means.windows(3) {
            let second = three[0] - 2.0 * three[1] + three[2];
            if second.is_finite() {
                sum += second * second;
                count += 1;
            }
        }
    }
    if count < LEAST {
        return 1.0;
    }
    let white = 6.0 * signal.noise.powi(2) / size as f64;
    // Neighbours share two of their three means, so that they scatter as half as many would.
    let chance = CHANCE * (4.0 / count as f64).sqrt();
    (sum / count as f64 / white / (1.0 + chance)).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shutter::beside::Beside;
    use crate::shutter::channel::Channel;
    use crate::synth::{Chain, Firing, Gauss, LeafShutter, Scene};
    use crate::{Decibels, Hertz, Recording, Seconds};

    const RATE_HZ: f64 = 48_000.0;

    /// Ten shots in white noise of 0.005 of the light, and noise that wanders slowly beside it.
    fn colour(wanders: f64, over_s: f64) -> Colour {
        let firing = |n: i32| {
            let at = Seconds::s(0.6 + 1.7 * f64::from(n));
            Firing::new(at, Seconds::ms(20.0))
        };
        let scene = Scene {
            shutter: LeafShutter::default(),
            firings: (0..10).map(firing).collect(),
            chain: Chain {
                sample_rate: Hertz::hz(RATE_HZ),
                bits: None,
                snr: Some(Decibels::db(46.0)),
                ..Chain::default()
            },
            lasting: Seconds::s(18.0),
            seed: 12,
        };
        let gain = scene.chain.gain;
        let mut samples = scene.record().samples;
        let mut gauss = Gauss::new(13);
        let keep = (-1.0 / (over_s * RATE_HZ)).exp();
        let drive = wanders * gain * (1.0 - keep * keep).sqrt();
        let mut state = 0.0;
        for sample in &mut samples {
            state = keep * state + drive * gauss.normal();
            *sample += state as f32;
        }
        let rate = Hertz::hz(RATE_HZ);
        let recording = Recording::from_channels("made.wav", rate, vec![samples]).unwrap();
        let beside = Beside::of(&recording);
        Channel::of(&recording, &beside, 0).colour
    }

    #[test]
    fn white_noise_is_taken_for_white() {
        let Colour { flank, long } = colour(0.0, 1.0);
        assert!((1.0..1.05).contains(&flank), "{flank}");
        assert!((1.0..1.25).contains(&long), "{long}");
    }

    #[test]
    fn noise_that_wanders_slower_than_a_flank_counts_for_the_dark_alone() {
        // A tenth of the white noise, over 50 ms: means over 50 ms then have some 20 times the variance
        // that white noise leaves them, those over 2 ms hardly more.
        let Colour { flank, long } = colour(5e-4, 0.05);
        assert!((1.0..1.3).contains(&flank), "{flank}");
        assert!((3.0..40.0).contains(&long), "{long}");
    }
}
