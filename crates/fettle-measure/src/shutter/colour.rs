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
        let mut flank = Scatter::of(signal, FLANK_S);
        let mut long = LONG_S.map(|seconds| Scatter::of(signal, seconds));
        let sound = |it: &&Raw| !it.spoiled && !it.overlapping;
        for shot in shots.iter().filter(sound) {
            for dark in [0, 2] {
                // By blocks, so that it makes no difference whether samples or their blocks' means are held.
                let rest = shot.local.departures_of_blocks(signal, &shot.fit, dark);
                flank.add(&rest);
                long.iter_mut().for_each(|it| it.add(&rest));
            }
        }
        let long = long.iter().map(|it| it.excess(signal));
        Self {
            flank: flank.excess(signal),
            long: long.fold(1.0, f64::max),
        }
    }
}

/// Second differences of means over some time.
struct Scatter {
    /// Blocks a mean.
    blocks: usize,
    squares: f64,
    count: usize,
}

impl Scatter {
    fn of(signal: &Signal<'_>, seconds: f64) -> Self {
        let samples = (seconds / signal.dt).round() as usize;
        Self {
            blocks: samples.div_ceil(signal.block()).max(1),
            squares: 0.0,
            count: 0,
        }
    }

    /// Takes in what a fit leaves of neighbouring blocks.
    fn add(&mut self, rest: &[f64]) {
        let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
        let means: Vec<f64> = rest.chunks_exact(self.blocks).map(mean).collect();
        for three in means.windows(3) {
            let second = three[0] - 2.0 * three[1] + three[2];
            if second.is_finite() {
                self.squares += second * second;
                self.count += 1;
            }
        }
    }

    /// The means' variance against white noise's, as far as it is no chance.
    fn excess(&self, signal: &Signal<'_>) -> f64 {
        if self.count < LEAST {
            return 1.0;
        }
        let count = self.count as f64;
        let samples = (self.blocks * signal.block()) as f64;
        let white = 6.0 * signal.noise.powi(2) / samples;
        // Neighbours share two of their three means, so that they scatter as half as many would.
        let chance = CHANCE * (4.0 / count).sqrt();
        (self.squares / count / white / (1.0 + chance)).max(1.0)
    }
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
