//! Whether there is any setting at all that brings the readings inside.

use super::fit::Fit;
use super::task::{ADJUSTERS, READINGS, Task, Turns};
use crate::synth::Gauss;

const ROUNDS: usize = 300;
/// Beyond its limit by less than this a reading counts as brought inside.
const SLACK: f64 = 0.02;
const WEIGHED: usize = 48;
const SEED: u64 = 0x5245_4143;

/// How likely a setting exists that brings all readings inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reach {
    /// Within the adjusters' travel.
    pub(super) within_travel: f64,
    /// If nothing stopped them.
    pub(super) beyond_travel: f64,
}

impl Reach {
    /// Draws mechanisms from what is believed and looks for a setting of each.
    pub(super) fn new(task: &Task, fits: &[Fit]) -> Self {
        let mut gauss = Gauss::new(SEED);
        let (mut within, mut beyond) = (0.0, 0.0);
        for n in 0..WEIGHED {
            let fit = &fits[n * fits.len() / WEIGHED];
            let (effects, now) = draw(task, fit, &mut gauss);
            let (mut low, mut high) = (task.back, task.on);
            for j in 0..ADJUSTERS {
                low[j] = (low[j] + fit.play.lost(j, false)).min(0.0);
                high[j] = (high[j] - fit.play.lost(j, true)).max(0.0);
            }
            within += f64::from(is_reachable(&effects, &now, &low, &high));
            let free = ([f64::NEG_INFINITY; ADJUSTERS], [f64::INFINITY; ADJUSTERS]);
            beyond += f64::from(is_reachable(&effects, &now, &free.0, &free.1));
        }
        Self {
            within_travel: within / WEIGHED as f64,
            beyond_travel: beyond / WEIGHED as f64,
        }
    }
}

/// One mechanism as it may be: effects and present readings.
fn draw(task: &Task, fit: &Fit, gauss: &mut Gauss) -> ([Turns; READINGS], [f64; READINGS]) {
    let mut effects = [[0.0; ADJUSTERS]; READINGS];
    let mut now = [0.0; READINGS];
    let at = fit.after(&[0.0; ADJUSTERS]);
    for i in 0..task.readings.len() {
        if let Some(foreseen) = fit.foresee(i, &at) {
            now[i] = foreseen.mean + foreseen.variance.sqrt() * gauss.normal();
        }
        if let Some(drawn) = fit.draw_effects(i, || gauss.normal()) {
            effects[i] = drawn;
        }
    }
    (effects, now)
}

/// Whether movements between `low` and `high` bring every `now + effects·v` within ±1.
///
/// Projections onto one condition after the other, which converge when the conditions can be met together (Bregman,
/// The method of successive projection, Soviet Math. Dokl. 6, 1965); each adjuster is scaled to its effect.
fn is_reachable(
    effects: &[Turns; READINGS],
    now: &[f64; READINGS],
    low: &Turns,
    high: &Turns,
) -> bool {
    let scale: Turns = std::array::from_fn(|j| {
        let strength: f64 = effects.iter().map(|row| row[j].powi(2)).sum();
        if strength > 0.0 {
            1.0 / strength.sqrt()
        } else {
            0.0
        }
    });
    let mut moved = [0.0; ADJUSTERS];
    for _ in 0..ROUNDS {
        let mut worst = 0.0_f64;
        for (row, now) in effects.iter().zip(now) {
            let reading: f64 = now + (0..ADJUSTERS).map(|j| row[j] * moved[j]).sum::<f64>();
            let over = (reading.abs() - 1.0).max(0.0);
            worst = worst.max(over);
            let norm: f64 = (0..ADJUSTERS).map(|j| (row[j] * scale[j]).powi(2)).sum();
            if over > 0.0 && norm > 1e-12 {
                let back = over.copysign(reading) / norm;
                for j in 0..ADJUSTERS {
                    moved[j] -= back * row[j] * scale[j].powi(2);
                }
            }
        }
        if worst <= SLACK {
            return true;
        }
        for j in 0..ADJUSTERS {
            moved[j] = moved[j].clamp(low[j], high[j]);
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    const FREE: (Turns, Turns) = ([f64::NEG_INFINITY; ADJUSTERS], [f64::INFINITY; ADJUSTERS]);

    fn rows(rows: &[[f64; 2]]) -> [Turns; READINGS] {
        std::array::from_fn(|i| {
            rows.get(i)
                .map_or([0.0; ADJUSTERS], |r| [r[0], r[1], 0.0, 0.0])
        })
    }

    #[test]
    fn two_readings_that_one_screw_drives_apart_cannot_be_met() {
        let effects = rows(&[[1.0, 0.0], [1.0, 0.0]]);
        assert!(!is_reachable(
            &effects,
            &[3.0, -3.0, 0.0, 0.0, 0.0, 0.0],
            &FREE.0,
            &FREE.1
        ));
        assert!(is_reachable(
            &effects,
            &[3.9, 2.1, 0.0, 0.0, 0.0, 0.0],
            &FREE.0,
            &FREE.1
        ));
    }

    #[test]
    fn travel_that_ends_too_soon_is_told() {
        let effects = rows(&[[1.0, 0.2], [0.3, 1.0]]);
        let now = [8.0, -6.0, 0.0, 0.0, 0.0, 0.0];
        assert!(is_reachable(&effects, &now, &FREE.0, &FREE.1));
        assert!(!is_reachable(
            &effects,
            &now,
            &[-2.0; ADJUSTERS],
            &[9.0; ADJUSTERS]
        ));
    }
}
