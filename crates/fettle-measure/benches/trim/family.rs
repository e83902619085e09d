//! The family of simulated mechanisms: what is drawn, and what the notes say of it.
//!
//! 1 to 3 adjusters, 1 to 4 readings. The notes' effects have random sign and size, 0.5 to 2 units a turn on the
//! adjuster's own reading and less or more on the others; the true ones differ from them by up to 60 %, evenly. The
//! notes' play is up to 0.3 turns, right to 30 %, the screw standing anywhere in it at first. The setting sought is up
//! to 3.3 turns away on every adjuster, within the travel, and brings all readings to their targets. Mechanisms that are
//! inside as found are drawn again.

use std::collections::BTreeMap;

use fettle_measure::synth::{Mechanism, MechanismMake};
use fettle_measure::trim::{Adjuster, Effect, Reading, State, Trial};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// What a family of mechanisms is drawn from; lengths in limits mean the reading's own limit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Family {
    /// The notes' effects are up to this part wrong.
    pub(crate) notes_off: f64,
    pub(crate) most_play_turns: f64,
    /// The setting sought is up to so far from where each adjuster stands.
    pub(crate) farthest_turns: f64,
    pub(crate) travel_turns: f64,
    /// Effects on other readings than the adjuster's own, against those.
    pub(crate) cross: f64,
    /// Limits, in effects of one turn.
    pub(crate) limits: (f64, f64),
    /// Repeatability, in limits.
    pub(crate) noise: (f64, f64),
}

/// The family of the tables.
pub(crate) const USUAL: Family = Family {
    notes_off: 0.6,
    most_play_turns: 0.3,
    farthest_turns: 3.3,
    travel_turns: 5.0,
    cross: 1.2,
    limits: (0.2, 0.5),
    noise: (0.1, 0.35),
};
const PLAY_OFF: f64 = 0.3;

/// Numbers fixed by a seed.
pub(crate) struct Draw(ChaCha8Rng);

impl Draw {
    pub(crate) fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Evenly between `low` and `high`.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn count(&mut self, low: usize, high: usize) -> usize {
        low + (self.0.next_u64() % (high - low + 1) as u64) as usize
    }

    fn sign(&mut self) -> f64 {
        if self.0.next_u64().is_multiple_of(2) {
            1.0
        } else {
            -1.0
        }
    }
}

/// A mechanism with the state as found.
pub(crate) struct Case {
    pub(crate) mechanism: Mechanism,
    pub(crate) state: State,
}

impl Case {
    /// The mechanism of `seed`, one that is not inside as found.
    pub(crate) fn new(family: &Family, seed: u64) -> Self {
        let mut draw = Draw::new(seed);
        loop {
            let (adjusters, readings) = (draw.count(1, 3), draw.count(1, 4));
            let case = Self::sized(family, adjusters, readings, &mut draw);
            if !case.is_truly_inside() {
                return case;
            }
        }
    }

    /// A mechanism with so many adjusters and readings.
    pub(crate) fn sized(
        family: &Family,
        adjusters: usize,
        readings: usize,
        draw: &mut Draw,
    ) -> Self {
        let plays: Vec<f64> = (0..adjusters)
            .map(|_| draw.between(0.0, family.most_play_turns))
            .collect();
        let sought: Vec<f64> = (0..adjusters)
            .map(|_| draw.between(-family.farthest_turns, family.farthest_turns))
            .collect();
        let mut make = MechanismMake {
            effects: Vec::new(),
            backlash_turns: plays
                .iter()
                .map(|play| play * draw.between(1.0 - PLAY_OFF, 1.0 + PLAY_OFF))
                .collect(),
            stands: plays.iter().map(|_| draw.between(0.0, 1.0)).collect(),
            found: Vec::new(),
            repeatability: Vec::new(),
        };
        let mut state = State {
            adjusters: (0..adjusters)
                .map(|j| Adjuster {
                    name: format!("adjuster {j}"),
                    effects: BTreeMap::new(),
                    backlash_turns: plays[j],
                    min_turns: Some(-family.travel_turns),
                    max_turns: Some(family.travel_turns),
                })
                .collect(),
            ..State::default()
        };
        for i in 0..readings {
            let unit = 10_f64.powf(draw.between(-2.0, 2.0));
            let name = format!("reading {i}");
            let mut row = Vec::new();
            for (j, adjuster) in state.adjusters.iter_mut().enumerate() {
                let size = if i % adjusters == j {
                    draw.between(0.5, 2.0)
                } else {
                    draw.between(0.0, family.cross)
                };
                let per_turn = unit * size * draw.sign();
                let off = draw.between(-family.notes_off, family.notes_off);
                row.push(per_turn * (1.0 + off));
                let effect = Effect {
                    per_turn,
                    rel_u: family.notes_off,
                };
                adjuster.effects.insert(name.clone(), effect);
            }
            let limit = unit * draw.between(family.limits.0, family.limits.1);
            let repeatability = limit * draw.between(family.noise.0, family.noise.1);
            let target = unit * draw.between(-5.0, 5.0);
            let change: f64 = row.iter().zip(&sought).map(|(s, u)| s * u).sum();
            make.found.push(target - change);
            make.effects.push(row);
            make.repeatability.push(repeatability);
            state.readings.push(Reading {
                name,
                unit: "mm".to_owned(),
                target,
                limit,
                repeatability,
            });
        }
        let mut mechanism = Mechanism::new(make, draw.0.next_u64());
        state.trials.push(Trial {
            turns: vec![0.0; adjusters],
            readings: mechanism.read().into_iter().map(Some).collect(),
        });
        Self { mechanism, state }
    }

    /// Makes one trial: turns, and reads.
    pub(crate) fn turn(&mut self, turns: Vec<f64>) {
        self.mechanism.turn(&turns);
        let readings = self.mechanism.read().into_iter().map(Some).collect();
        self.state.trials.push(Trial { turns, readings });
    }

    /// Whether the readings as they truly are lie inside their limits.
    pub(crate) fn is_truly_inside(&self) -> bool {
        let truth = self.mechanism.truth();
        let mut pairs = truth.iter().zip(&self.state.readings);
        pairs.all(|(truth, asked)| (truth - asked.target).abs() <= asked.limit)
    }
}
