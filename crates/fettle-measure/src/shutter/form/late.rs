//! Blades before a sensor whose output falls late.

use rayon::prelude::*;

use super::likely::{Likely, weighted};
use super::{COUNTS, DECISIVE};
use crate::shutter::blades::{Blades, Release, Sensor};
use crate::shutter::flanks::{Flanks, Params, fit_from, fit_late, of_rise};

/// Blades close in this part of the time in which they open, behind a tail.
const CLOSING: std::ops::RangeInclusive<f64> = 0.42..=2.8;
/// How much of what speaks for one form of tail against another is believed: no sensor has just one.
const UNSURE: f64 = 0.25;
/// What a mixture, which has one more thing to fit, must explain more than a whole fall, in variances.
const MIXES: f64 = 20.0;
/// Times of a fall from which the search for a tail begins, and those around one that is known.
const TAILS_S: [f64; 4] = [0.15e-3, 0.3e-3, 0.6e-3, 1.2e-3];
const AROUND: [f64; 3] = [0.8, 1.0, 1.25];
/// Parts of the output from which the search begins where not all of it falls late.
const MIXED: [f64; 2] = [0.4, 0.1];
/// A little that falls late and that blades alone explain nearly as well adds so many of its standard
/// uncertainties. It is looked for from this part of the output and this time, and searched for where that
/// gives this part of what decides.
const SURE: f64 = 3.0;
const LITTLE: f64 = 0.05;
const LITTLE_S: f64 = 0.3e-3;
const PROMISING: f64 = 0.5;

/// Sensors that fall late, those too unlikely left out, in the time `tail` or nearly where that is known.
pub(super) fn fits(flanks: &Flanks, tail: Option<f64>) -> Vec<Likely> {
    let opens = opens(flanks);
    let around = tail.map(|tail| AROUND.map(|it| it * tail).to_vec());
    let whole = around.clone().unwrap_or(TAILS_S.to_vec());
    let mut found = of_share(flanks, &opens, &whole, 1.0);
    // What a mixture ends like tells little of its late part.
    let any = [TAILS_S.to_vec(), around.unwrap_or_default()].concat();
    for mut it in mixtures(flanks, &opens, &any) {
        it.fitted.misfit += MIXES;
        found.push(it);
    }
    believed(found)
}

/// Sensors of whose output a part falls late.
fn mixtures(flanks: &Flanks, opens: &[(Blades, Params)], times: &[f64]) -> Vec<Likely> {
    let found = MIXED.iter();
    let found = found.flat_map(|share| of_share(flanks, opens, times, *share));
    weighted(found.collect())
}

fn believed(found: Vec<Likely>) -> Vec<Likely> {
    let mut found = weighted(found);
    for it in &mut found {
        it.weight = it.weight.powf(UNSURE);
    }
    found
}

/// The same where blades before a straight sensor explain the flanks nearly: a little that falls late is one
/// that surely adds to a time.
pub(super) fn surely(flanks: &Flanks) -> Vec<Likely> {
    let found = believed(mixtures(flanks, &opens(flanks), &TAILS_S));
    if found.first().is_some_and(|it| it.adds(SURE)) {
        found
    } else {
        Vec::new()
    }
}

/// Whether a little may fall late, as seen at much less expense than by [`fits`].
pub(super) fn is_promising(flanks: &Flanks, straight: &Likely) -> bool {
    let sensor = Sensor {
        release: Release::Slow(LITTLE_S),
        share: LITTLE,
        ..Sensor::STRAIGHT
    };
    let Likely { blades, fitted, .. } = straight;
    let late = fit_from(flanks, blades, sensor, fitted.params.before(sensor));
    late.is_some_and(|late| {
        let gained = fitted.misfit - late.misfit;
        let late = Likely::from(blades.clone(), late);
        gained > PROMISING * DECISIVE && late.adds(PROMISING * SURE)
    })
}

impl Likely {
    /// Whether what the output adds to a time is so many times its standard uncertainty.
    fn adds(&self, times: f64) -> bool {
        let (late, deviation) = self.late_figure();
        late > times * deviation
    }
}

/// How many blades there are, and how they open, the likeliest first: no tail touches the opening.
fn opens(flanks: &Flanks) -> Vec<(Blades, Params)> {
    let mut found: Vec<(f64, Blades, Params)> = COUNTS
        .iter()
        .filter_map(|count| {
            let blades = Blades::of(Some(*count));
            let fitted = of_rise(flanks, &blades)?;
            Some((fitted.misfit, blades, fitted.params))
        })
        .collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let likely = found.into_iter().take(2);
    likely.map(|(_, blades, params)| (blades, params)).collect()
}

/// Sensors of whose output `share` falls late, in one of `times` or nearly, behind blades that open so.
fn of_share(flanks: &Flanks, opens: &[(Blades, Params)], times: &[f64], share: f64) -> Vec<Likely> {
    let releases = [Release::Slow as fn(f64) -> Release, Release::Held];
    let mut found: Vec<Likely> = opens
        .par_iter()
        .flat_map(|opens| releases.par_iter().map(move |release| (opens, release)))
        .flat_map_iter(|((blades, opens), release)| {
            fit_late(flanks, blades, opens, *release, (times, share))
                .into_iter()
                .map(|fitted| Likely::from(blades.clone(), fitted))
        })
        .collect();
    // Short blades behind a slow pole look like longer ones behind a held output.
    found.retain(|it| {
        let [opening, closing] = [false, true].map(|falls| it.fitted.motion(falls).lasting);
        CLOSING.contains(&(closing / opening))
    });
    // Searches that began apart and ended alike count once.
    found.sort_by(|a, b| a.fitted.misfit.total_cmp(&b.fitted.misfit));
    found.dedup_by(|a, b| (a.fitted.misfit - b.fitted.misfit).abs() < 0.1);
    found
}
