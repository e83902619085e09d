//! Patterns over the dial: what the session as a whole suggests.
//!
//! Each is raised only where its figure lies beyond what a sound shutter shows by more than its
//! uncertainty, after the decision rule of ISO 14253-1; each carries the figure and its expanded
//! uncertainty.

mod curtains;
mod dial;
mod marks;
mod repeat;
mod statistics;

use super::{Curtain, Finding, Options, Shot, Speed};

/// The tolerance taken for a mark that has none.
const LIMIT_STOPS: f64 = 0.25;

/// What the session as a whole shows.
pub(super) fn over_dial(
    shots: &[Shot],
    speeds: &[Speed],
    curtains: &[Curtain],
    options: &Options,
) -> Vec<Finding> {
    let shots: Vec<&Shot> = shots.iter().filter(|shot| !shot.struck).collect();
    let mut patterns = dial::shifts(&shots, speeds);
    patterns.extend(repeat::slow_first(&shots, speeds));
    patterns.extend(repeat::scatter(&shots, speeds));
    patterns.extend(marks::alike(speeds));
    patterns.extend(marks::missing(speeds, options));
    patterns.extend(marks::bounce(&shots, speeds));
    patterns.extend(curtains::uneven(&shots, speeds, curtains));
    patterns.extend(curtains::capping(&shots, curtains));
    patterns.into_iter().map(Finding::of_session).collect()
}

/// Half the mark's tolerance: a shift below it is not worth a word.
fn worth_a_word(speed: &Speed) -> f64 {
    let limit = speed
        .limit_stops
        .map_or(LIMIT_STOPS, crate::Stops::to_stops);
    0.5 * limit
}

#[cfg(test)]
mod tests;
