//! A card moved by hand before the sensor, the lamp burning: what proves a measuring chain.

use super::{Chain, Opening, Take, samples};
use crate::Seconds;

/// The card taken away and put back once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncovering {
    /// When the first light comes past the card.
    pub at: Seconds,
    /// How long the card takes to leave.
    pub opening: Seconds,
    /// How long all of the light is let through.
    pub held: Seconds,
    /// How long the card takes to come back.
    pub closing: Seconds,
}

/// A recording of a card moved by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct HandScene {
    /// The uncoverings, in the order of time and not overlapping.
    pub uncoverings: Vec<Uncovering>,
    /// The measuring chain.
    pub chain: Chain,
    /// How long is recorded.
    pub lasting: Seconds,
    /// Fixes noise and phases.
    pub seed: u64,
}

impl HandScene {
    /// Makes the recording; its truth are the scene's own figures.
    #[must_use]
    pub fn record(&self) -> Take {
        let openings: Vec<(f64, Uncovering)> = self
            .uncoverings
            .iter()
            .map(|it| (it.at.to_s(), *it))
            .collect();
        Take {
            samples: samples(&self.chain, self.lasting, self.seed, &openings),
            sample_rate: self.chain.sample_rate,
            bits: self.chain.bits,
            truth: Vec::new(),
        }
    }
}

impl Opening for Uncovering {
    fn area(&self, time: f64) -> f64 {
        let part = (time / self.opening.to_s()).min((self.end() - time) / self.closing.to_s());
        let part = part.clamp(0.0, 1.0);
        // A hand gathers speed and slows down; the card's edge is straight.
        part * part * (3.0 - 2.0 * part)
    }

    fn is_steady(&self, from: f64, to: f64) -> bool {
        let (opened, closes) = (self.opening.to_s(), self.opening.to_s() + self.held.to_s());
        to <= 0.0 || from >= self.end() || (from >= opened && to <= closes)
    }

    fn end(&self) -> f64 {
        (self.opening + self.held + self.closing).to_s()
    }
}
