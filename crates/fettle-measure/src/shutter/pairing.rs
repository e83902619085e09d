//! Which flanks open and which close, when the first look at them may have been wrong.
//!
//! Until the coupling is known, a high corner makes steps of its own: full light is gone within
//! some ten milliseconds, as steeply as slow blades close. Flanks paired so give a model that does
//! not describe the recording, which its residuals show. Then the flanks are looked for as higher
//! corners would have them, and with the light the other way up; the pairing that leaves the least is
//! taken.

use std::f64::consts::TAU;

use super::channel::Channel;
use super::coupling::{self, Coupling};
use super::detect::{self, Detection};
use super::hum::Hum;
use super::local::{Fit, Local};
use crate::recording::Means;

/// Corners the flanks are looked for with, in hertz, when the first look was wrong.
const CORNERS_HZ: [f64; 4] = [0.0, 4.0, 12.0, 30.0];
/// A model astray by this part of the light, on the root of the mean square, may have the wrong flanks.
const DOUBTFUL: f64 = 0.02;
/// Another pairing must leave less than this part of what the first leaves.
const BETTER: f64 = 0.5;
/// What each shot not held whole costs, as a part of the light.
const CUT: f64 = 0.05;
/// A shot whose dark departs by more than this part of the light from every model is not told.
const ASTRAY: f64 = 0.1;

/// A pairing of flanks with what follows from it.
pub(super) struct Paired {
    pub(super) found: Detection,
    pub(super) coupling: Coupling,
    pub(super) hum: Option<Hum>,
    /// How far the model is from the recording, as a part of the light; `None` without a whole shot.
    misfit: Option<f64>,
    /// Shots not held whole.
    cut: usize,
}

/// The shots with the coupling they show, looking anew where the first look does not describe the
/// recording, if that is asked for. `means` are the channel's block means.
pub(super) fn settle(
    channel: &mut Channel<'_>,
    means: &Means,
    first: &Detection,
    anew: bool,
) -> Paired {
    let mut best = Paired::of(channel, means, first);
    if !anew || best.misfit.is_none_or(|misfit| misfit < DOUBTFUL) {
        return best;
    }
    let mut least = BETTER * best.cost();
    for corner in CORNERS_HZ {
        for inverted in [best.found.inverted, !best.found.inverted] {
            let found = detect::detect_as(&channel.overview, means, TAU * corner, Some(inverted));
            if found.candidates == best.found.candidates || found.candidates.is_empty() {
                continue;
            }
            let other = Paired::of(channel, means, &found);
            if other.cost() < least {
                least = other.cost();
                best = other;
            }
        }
    }
    best
}

impl Paired {
    /// The coupling that a pairing shows, and the flanks looked for once more under it.
    fn of(channel: &mut Channel<'_>, means: &Means, first: &Detection) -> Self {
        channel.turn(first.inverted);
        channel.hum = channel.find_hum(&first.candidates);
        let locals = channel.locals(first);
        let coupling = coupling::find(&locals);
        let sum = coupling.poles.sum();
        let found = detect::detect_as(&channel.overview, means, sum, None);
        channel.turn(found.inverted);
        let misfit = if found.inverted == first.inverted && is_like(&found, first) {
            misfit(&found, &locals, coupling)
        } else {
            let locals = channel.locals(&found);
            misfit(&found, &locals, coupling::find(&locals))
        };
        let whole = found.candidates.iter().filter(|it| it.is_whole()).count();
        Self {
            cut: found.candidates.len() - whole,
            found,
            coupling,
            hum: channel.hum.clone(),
            misfit,
        }
    }

    fn cost(&self) -> f64 {
        self.misfit
            .map_or(f64::INFINITY, |misfit| misfit + CUT * self.cut as f64)
    }
}

/// Whether two looks found the same shots, but for where their flanks end.
fn is_like(one: &Detection, other: &Detection) -> bool {
    one.candidates.len() == other.candidates.len()
        && one.candidates.iter().zip(&other.candidates).all(|(a, b)| {
            a.is_whole() == b.is_whole()
                && a.opening.map(|it| it.steepest) == b.opening.map(|it| it.steepest)
        })
}

/// Root mean square over the shots of how far the model is from each, and of how far they are from
/// agreeing on the fully open level, as a part of it.
fn misfit(found: &Detection, locals: &[Local], coupling: Coupling) -> Option<f64> {
    let fits: Vec<(&Local, Fit)> = locals
        .iter()
        .filter_map(|local| Some((local, local.fit(coupling.poles)?)))
        .collect();
    let levels: Vec<f64> = fits
        .iter()
        .filter_map(|(local, fit)| local.level(fit).map(|level| level.0))
        .collect();
    let opened = found.candidates.iter().filter_map(|it| it.opening);
    let height = if levels.is_empty() {
        opened.fold(0.0, |most, opening| opening.height.abs().max(most))
    } else {
        levels.iter().copied().fold(0.0, f64::max)
    };
    if fits.is_empty() {
        return None;
    }
    if height <= 0.0 {
        return Some(f64::INFINITY);
    }
    let apart: f64 = levels
        .iter()
        .map(|level| (1.0 - level / height).powi(2))
        .sum();
    let square: f64 = fits
        .iter()
        .map(|(local, fit)| (local.astray(fit) / height).powi(2))
        .sum();
    Some(((square + apart) / fits.len() as f64).sqrt())
}

/// Spoils the shots of which the model says nothing: their dark is not where it puts it.
pub(super) fn spoil_astray(channel: &mut Channel<'_>) {
    let limit = ASTRAY * channel.height();
    for shot in &mut channel.shots {
        shot.spoiled |= shot.local.astray_in_the_dark(&shot.fit) > limit;
    }
}
