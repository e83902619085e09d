//! A flash contact as a recorder sees it: a voltage that steps when the contact closes.

use super::{Chain, Opening, samples};
use crate::Seconds;

/// One closing of a flash contact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// When it first closes; in a release, counted from the release.
    pub at: Seconds,
    /// How long it stays closed.
    pub lasting: Seconds,
    /// How often it springs open again just after the first closing.
    pub chatter: u8,
    /// How long each springing open lasts, and each closing between two of them.
    pub chatter_gap: Seconds,
}

impl Default for Contact {
    fn default() -> Self {
        Self {
            at: Seconds::s(0.0),
            lasting: Seconds::ms(30.0),
            chatter: 0,
            chatter_gap: Seconds::ms(0.1),
        }
    }
}

impl Opening for Contact {
    fn area(&self, time: f64) -> f64 {
        let gap = self.chatter_gap.to_s();
        let sprung = f64::from(self.chatter) * 2.0 * gap;
        let open_again = time < sprung && time.rem_euclid(2.0 * gap) >= gap;
        if (0.0..self.lasting.to_s()).contains(&time) && !open_again {
            1.0
        } else {
            0.0
        }
    }

    fn is_steady(&self, from: f64, to: f64) -> bool {
        let sprung = f64::from(self.chatter) * 2.0 * self.chatter_gap.to_s();
        let ends = self.lasting.to_s();
        to < 0.0 || from > ends || (from > sprung && to < ends)
    }

    fn end(&self) -> f64 {
        self.lasting.to_s()
    }
}

/// The channel of a flash contact whose closings, in the order of time, are counted from the
/// recording's start. The chain's levels are relative to the step.
#[must_use]
pub fn record_contacts(
    chain: &Chain,
    lasting: Seconds,
    seed: u64,
    contacts: &[Contact],
) -> Vec<f32> {
    let closings: Vec<(f64, Contact)> = contacts.iter().map(|it| (it.at.to_s(), *it)).collect();
    samples(chain, lasting, seed, &closings)
}
