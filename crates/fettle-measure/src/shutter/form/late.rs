//! Blades before a sensor whose output falls late.

use rayon::prelude::*;

use super::likely::{Likely, weighted};
use super::{COUNTS, WELL};
use crate::shutter::blades::{Blades, Release};
use crate::shutter::flanks::{Flanks, Params, fit_late, of_rise};

/// Blades close in this part of the time in which they open, behind a tail.
const CLOSING: std::ops::RangeInclusive<f64> = 0.42..=2.8;
/// How much of what speaks for one form of tail against another is believed: no sensor has just one.
const UNSURE: f64 = 0.25;
/// Times of a fall from which the search for a tail begins, and those around one that is known.
const TAILS_S: [f64; 4] = [0.15e-3, 0.3e-3, 0.6e-3, 1.2e-3];
const AROUND: [f64; 3] = [0.8, 1.0, 1.25];
/// Parts of the output from which the search begins where not all of it falls late.
const MIXED: [f64; 2] = [0.4, 0.1];

/// Sensors that fall late, those too unlikely left out, in the time `tail` or nearly where that is known.
pub(super) fn fits(flanks: &Flanks, tail: Option<f64>) -> Vec<Likely> {
    let opens = opens(flanks);
    let around = tail.map(|tail| AROUND.map(|it| it * tail).to_vec());
    let whole = (around.clone().unwrap_or(TAILS_S.to_vec()), 1.0);
    // What a mixture ends like tells little of its late part.
    let any = [TAILS_S.to_vec(), around.unwrap_or_default()].concat();
    let mixed = MIXED.map(|share| (any.clone(), share));
    let mut found: Vec<Likely> = Vec::new();
    for (times, share) in std::iter::once(whole).chain(mixed) {
        let is_well = |it: &Likely| it.fitted.misfit < WELL * it.fitted.freedom;
        if !found.first().is_some_and(is_well) {
            found.extend(of_share(flanks, &opens, &times, share));
            found = weighted(found);
        }
    }
    for it in &mut found {
        it.weight = it.weight.powf(UNSURE);
    }
    found
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
