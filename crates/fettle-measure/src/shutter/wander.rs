//! The mains' frequency at each shot.
//!
//! A grid keeps its frequency to some hundredths of a hertz: one for the whole session leaves a part
//! of the hum beside every shot. How well the hum's waves fit around a shot tells the frequency there.

use rayon::prelude::*;

use super::local::{Local, Signal};
use super::overview::median;
use super::poles::Poles;

/// Shots that tell the session's frequency.
const TELLING: usize = 5;
/// These lie within so much of the frequency that the dark shows, and are sought in steps of so many turns over
/// a shot's surroundings.
const WITHIN_HZ: f64 = 0.4;
const STEP_TURNS: f64 = 0.25;
const MOST_STEPS: usize = 16;
/// Mains wander by about so much within a session, as a standard deviation.
const WANDERS_HZ: f64 = 0.03;
/// What makes no difference beside a shot.
const ALIKE_HZ: f64 = 5e-4;
/// Step of the differences that show the cost's slope and bending.
const STEP_HZ: f64 = 0.02;
/// Steps towards its bottom, and their greatest length.
const ROUNDS: usize = 3;
const FARTHEST_HZ: f64 = 0.1;
/// By how much a frequency for the session must fit a shot better than that of the dark.
const BETTER: f64 = 4.0;

/// The mains' frequency over the session, about `hz`, and the shots each with its own.
pub(crate) fn follow(
    signal: &Signal<'_>,
    hz: f64,
    shots: Vec<Local>,
    poles: Poles,
) -> (f64, Vec<Local>) {
    let hz = of_session(hz, &shots, poles);
    let own = |shot: Local| {
        let waves = Waves { shot: &shot, poles };
        let own = waves.bottom(hz, Some(WANDERS_HZ));
        let known = shot
            .mains_hz()
            .is_some_and(|it| (it - own).abs() < ALIKE_HZ);
        if known {
            shot
        } else {
            shot.with_mains(signal, own)
        }
    };
    (hz, shots.into_par_iter().map(own).collect())
}

/// The frequency that those shots tell which have most beside them, or `hz` where that fits as well.
fn of_session(hz: f64, shots: &[Local], poles: Poles) -> f64 {
    let mut longest: Vec<&Local> = shots.iter().collect();
    longest.sort_by(|a, b| b.lasts().total_cmp(&a.lasts()));
    longest.truncate(TELLING);
    let told: Vec<(Waves<'_>, f64)> = longest
        .into_par_iter()
        .map(|shot| {
            let waves = Waves { shot, poles };
            let own = waves.bottom(waves.lowest(hz), None);
            (waves, own)
        })
        .collect();
    let middle = median(&told.iter().map(|it| it.1).collect::<Vec<f64>>());
    let gained = |(waves, _): &(Waves<'_>, f64)| {
        let (least, excess) = waves.fit(middle);
        (waves.fit(hz).0 - least) / excess
    };
    let gained: Vec<f64> = told.par_iter().map(gained).collect();
    if !gained.is_empty() && median(&gained) > BETTER {
        middle
    } else {
        hz
    }
}

/// How well hum of a frequency fits around one shot.
struct Waves<'a> {
    shot: &'a Local,
    poles: Poles,
}

impl Waves<'_> {
    /// Squared residuals against the variance of noise alone, and by what part they are more than that.
    fn fit(&self, hz: f64) -> (f64, f64) {
        let fit = self.shot.trying_mains(hz).fit(self.poles);
        fit.map_or((f64::INFINITY, 1.0), |fit| (fit.chi2, fit.excess()))
    }

    /// The frequency that fits best of those about `hz`, roughly.
    fn lowest(&self, hz: f64) -> f64 {
        let count = (WITHIN_HZ * self.shot.lasts() / STEP_TURNS)
            .ceil()
            .min(MOST_STEPS as f64);
        let step = WITHIN_HZ / count.max(1.0);
        let around = (0..=2 * count as usize).map(|n| hz + (n as f64 - count) * step);
        let costs = around.map(|hz| (hz, self.fit(hz).0));
        let best = costs.min_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(hz, |it| it.0)
    }

    /// The bottom of the cost near `about`, where the frequency is known to be with this deviation.
    fn bottom(&self, about: f64, known: Option<f64>) -> f64 {
        let precision = known.map_or(0.0, |deviation| deviation.powi(-2));
        let mut hz = about;
        for _ in 0..ROUNDS {
            let [left, here, right] = [-STEP_HZ, 0.0, STEP_HZ].map(|step| self.fit(hz + step));
            let precision = here.1 * precision;
            let slope = (right.0 - left.0) / (2.0 * STEP_HZ) + 2.0 * precision * (hz - about);
            let bending = (left.0 + right.0 - 2.0 * here.0) / (STEP_HZ * STEP_HZ) + 2.0 * precision;
            let step = -slope / bending;
            if !step.is_finite() || bending <= 0.0 {
                break;
            }
            hz += step.clamp(-FARTHEST_HZ, FARTHEST_HZ);
            if step.abs() < STEP_HZ {
                break;
            }
        }
        hz
    }
}
