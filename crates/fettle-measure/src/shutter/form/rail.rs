//! Blades before a sensor that ends at a rail.

use super::likely::{Likely, fits as every, weighted};
use crate::shutter::blades::{Blades, Sensor};
use crate::shutter::flanks::{Fitted, Flanks, fit_from};

/// Light against a rail's that is tried, the least first.
const DRIVES: [f64; 6] = [1.08, 1.35, 1.7, 2.2, 3.0, 4.0];
/// Fewest blades, and how much more than a round one their opening grows with the square of the time.
const FEWEST: u32 = 3;
const FEWEST_GROWS: f64 = 1.654;
/// Rails from which the search begins, and numbers of blades, where one lies above the corner that few blades
/// leave in a flank.
const RAILS: [f64; 4] = [0.5, 0.62, 0.74, 0.88];
const FEW: [u32; 4] = [3, 4, 5, 6];

/// Round openings before rails, in the order of [`DRIVES`], and the fewest blades before the lowest one: below the
/// corner in their flank they look like these, and are fully open later. What does not fit is left out.
pub(super) fn fits(flanks: &Flanks, round: &Fitted) -> Vec<Likely> {
    let mut found = Vec::new();
    let mut begin = round.params;
    let mut before = 1.0;
    let mut go_on = |blades: Blades, drive: f64, grows: f64| {
        // What is seen of the flank stays as it is.
        let longer = (grows * drive / before).sqrt();
        let sensor = Sensor::railed(drive);
        if let Some(fitted) = fit_from(flanks, &blades, sensor, begin.lasting(longer)) {
            (begin, before) = (fitted.params, drive);
            found.push(Likely::from(blades, fitted));
        }
    };
    for drive in DRIVES {
        go_on(Blades::of(None), drive, 1.0);
    }
    go_on(
        Blades::of(Some(FEWEST)),
        DRIVES[DRIVES.len() - 1],
        FEWEST_GROWS,
    );
    let mut found = weighted(found);
    for it in &mut found {
        it.weight = 1.0;
    }
    found
}

/// Few blades before a rail above the corner in their flank, which tells how far beyond it the light goes.
pub(super) fn clipped(flanks: &Flanks) -> Vec<Likely> {
    every(flanks, &FEW.map(Some), &RAILS.map(Sensor::clipped))
}
