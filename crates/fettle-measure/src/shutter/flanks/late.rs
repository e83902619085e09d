//! Blades before a sensor whose output falls late.

use super::{
    DELAY, Fitted, Flanks, Params, RELEASE, SHARE, WAY, Which, crossing, descend, residuals, square,
};
use crate::shutter::blades::{Blades, Release, Sensor};

/// Rounds of the fit: the parameters hide one another.
const ROUNDS: usize = 40;
/// Where to begin: the time of the closing in that of the opening, run-up and delay.
const CLOSINGS: [f64; 6] = [0.5, 0.7, 1.0, 1.4, 2.0, 2.6];
const RUN_UPS: [f64; 2] = [0.1, 0.6];
const DELAYS_S: [f64; 3] = [0.0, 0.06e-3, 0.2e-3];
/// Of the beginnings with each time of the closing so many are followed, and of what comes out so many.
const BEGUN: usize = 3;
const BEST: usize = 6;

/// Blades, which open as `opens` says, before a sensor that falls late, fitted from many beginnings: how
/// they close is hidden behind its fall, wholly or in part. `times` are those of the fall to begin with;
/// `share` is the part of the output that falls so, which is fitted where it is less than 1.
pub(crate) fn fit_late(
    flanks: &Flanks,
    blades: &Blades,
    opens: &Params,
    release: fn(f64) -> Release,
    (times, share): (&[f64], f64),
) -> Vec<Fitted> {
    let begin = |closing: f64, delay: f64, run_up: f64, time: f64| {
        let sensor = Sensor {
            release: release(time),
            delay,
            share,
            ..Sensor::STRAIGHT
        };
        let params = Params::late(flanks, blades, opens, sensor, [closing, run_up]);
        let misfit = square(&residuals(flanks, blades, sensor, &params, Which::Fall));
        (misfit, sensor, params)
    };
    let likeliest = |closing: &f64| {
        let all = times.iter().flat_map(|time| {
            DELAYS_S.iter().flat_map(move |delay| {
                RUN_UPS.map(move |run_up| begin(*closing, *delay, run_up, *time))
            })
        });
        let mut all: Vec<(f64, Sensor, Params)> = all.collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all.truncate(BEGUN);
        all
    };
    let mut fits: Vec<Fitted> = CLOSINGS
        .iter()
        .flat_map(likeliest)
        .filter_map(|(_, sensor, params)| {
            descend(flanks, blades, sensor, params, (Which::Fall, ROUNDS))
        })
        .collect();
    fits.sort_by(|a, b| a.misfit.total_cmp(&b.misfit));
    fits.truncate(BEST);
    let whole = (Which::Both, ROUNDS);
    fits.iter()
        .filter_map(|it| descend(flanks, blades, it.sensor, it.params, whole))
        .collect()
}

impl Params {
    /// The same movements before another sensor.
    pub(crate) fn before(mut self, sensor: Sensor) -> Self {
        self.0[RELEASE] = sensor.release.time();
        self.0[DELAY] = sensor.delay;
        self.0[SHARE] = sensor.share;
        self
    }

    /// Where to begin before a sensor that falls late, of blades that open as `opens` says and close in
    /// the given part of that time, with the given run-up: the output passes half where the flank does.
    fn late(
        flanks: &Flanks,
        blades: &Blades,
        opens: &Self,
        sensor: Sensor,
        [closing, run_up]: [f64; 2],
    ) -> Self {
        let fall = &flanks.fall;
        let mut params = opens.before(sensor);
        params.0[4] = closing * opens.0[1];
        params.0[3] = fall.half + WAY * params.0[4];
        params.0[5] = run_up;
        params.0[9] = 0.0;
        params.0[10] = 0.0;
        let seen = fall.made(blades, params.motion(true), sensor);
        // What passes half beyond the flank's end begins that much too late.
        let half = crossing(&seen, 0.5, true).unwrap_or(seen.len() as f64);
        params.moved(3, fall.half - half * fall.step)
    }
}
