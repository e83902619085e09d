//! The noise of the flanks once a lamp is divided out of them.
//!
//! Switched as fast as the recorder samples, a lamp leaves more there than dividing by its light raises the
//! recorder's own noise by: its edges fall between samples, and the sensor sees each a little later while the
//! blades move on.

use super::Lamp;
use crate::shutter::channel::Raw;
use crate::shutter::local::Signal;
use crate::shutter::overview::median;

/// Weights of a fourth difference, which blades that move evenly leave nothing in, and their squares' sum.
const FOURTH: [f64; 5] = [1.0, -4.0, 6.0, -4.0, 1.0];
const SQUARES: f64 = 70.0;
/// The median of the absolute of a Gaussian number of deviation 1.
const MEDIAN: f64 = 0.6745;
/// Fourth differences needed to tell.
const LEAST: usize = 400;

/// The noise of all flanks together against what dividing by the lamp's light makes of the dark's, at least 1.
pub(crate) fn of_flanks(signal: &Signal<'_>, shots: &[Raw], lamp: &Lamp) -> f64 {
    let mut sizes = Vec::new();
    for shot in shots.iter().filter(|it| !it.spoiled) {
        let flanks = shot.local.regions.flanks();
        for (range, light) in flanks
            .into_iter()
            .zip([&shot.light.first, &shot.light.second])
        {
            let told = signal.noise * lamp.raises_noise(range, signal.dt);
            let fourth = light.windows(FOURTH.len()).map(|five| {
                let sum: f64 = five.iter().zip(FOURTH).map(|(value, by)| value * by).sum();
                sum.abs() / told
            });
            sizes.extend(fourth.filter(|it| it.is_finite()));
        }
    }
    if sizes.len() < LEAST {
        return 1.0;
    }
    (median(&sizes) / (MEDIAN * SQUARES.sqrt())).max(1.0)
}
