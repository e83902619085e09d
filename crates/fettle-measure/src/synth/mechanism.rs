//! An adjustment that never was: screws with play that move readings, and an instrument that repeats so well.

use super::noise::Gauss;

/// How the mechanism is made; the truth beside what notes may say of it.
#[derive(Clone, Debug, PartialEq)]
pub struct MechanismMake {
    /// What one turn does: `effects[reading][adjuster]`, in the reading's unit.
    pub effects: Vec<Vec<f64>>,
    /// The play of each adjuster in turns, 0 or more.
    pub backlash_turns: Vec<f64>,
    /// Where in its play each screw stands at first: 0 when it last pushed backward, 1 when it last pushed on.
    pub stands: Vec<f64>,
    /// The true readings as found.
    pub found: Vec<f64>,
    /// Standard deviation of one reading.
    pub repeatability: Vec<f64>,
}

/// A mechanism that can be turned and read.
pub struct Mechanism {
    make: MechanismMake,
    /// Turns by which each screw stands beyond the backward end of its play.
    within: Vec<f64>,
    /// How far each part has moved, in turns.
    moved: Vec<f64>,
    noise: Gauss,
}

impl Mechanism {
    /// The mechanism as found; `seed` fixes the scatter of its readings.
    #[must_use]
    pub fn new(make: MechanismMake, seed: u64) -> Self {
        let within = make.backlash_turns.iter().zip(&make.stands);
        Self {
            within: within
                .map(|(play, stands)| play * stands.clamp(0.0, 1.0))
                .collect(),
            moved: vec![0.0; make.backlash_turns.len()],
            noise: Gauss::new(seed),
            make,
        }
    }

    /// Turns the screws; a part follows only once its play is taken up.
    pub fn turn(&mut self, turns: &[f64]) {
        let screws = self.within.iter_mut().zip(&mut self.moved);
        for (((within, moved), play), turns) in screws.zip(&self.make.backlash_turns).zip(turns) {
            let free = *within + turns;
            *within = free.clamp(0.0, *play);
            *moved += free - *within;
        }
    }

    /// What the readings truly are.
    #[must_use]
    pub fn truth(&self) -> Vec<f64> {
        let found = self.make.found.iter().zip(&self.make.effects);
        found
            .map(|(found, row)| {
                let change: f64 = row.iter().zip(&self.moved).map(|(s, q)| s * q).sum();
                found + change
            })
            .collect()
    }

    /// Reads every reading once.
    pub fn read(&mut self) -> Vec<f64> {
        let truth = self.truth();
        let readings = truth.iter().zip(&self.make.repeatability);
        readings
            .map(|(truth, sd)| truth + sd * self.noise.normal())
            .collect()
    }

    /// How it is made.
    #[must_use]
    pub fn make(&self) -> &MechanismMake {
        &self.make
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_follows_only_once_its_play_is_taken_up() {
        let mut mechanism = Mechanism::new(
            MechanismMake {
                effects: vec![vec![2.0], vec![-1.0]],
                backlash_turns: vec![0.5],
                stands: vec![0.4],
                found: vec![1.0, 3.0],
                repeatability: vec![0.0, 0.0],
            },
            1,
        );
        let mut after = |turns: f64| {
            mechanism.turn(&[turns]);
            mechanism.read()
        };
        let seen = [after(0.3), after(1.0), after(-0.5), after(-0.25)];
        let want = [[1.0, 3.0], [3.0, 2.0], [3.0, 2.0], [2.5, 2.25]];
        for (seen, want) in seen.iter().zip(want) {
            for (seen, want) in seen.iter().zip(want) {
                assert!((seen - want).abs() < 1e-12, "{seen} {want}");
            }
        }
    }
}
