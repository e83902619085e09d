//! The poles of the input's high-pass.

use std::f64::consts::TAU;

/// Two equal poles are parted by this much, so that one formula serves all.
const APART: f64 = 1e-5;

/// The corners in rad/s of the poles the light passes one after the other; 0 for one that is not
/// there, and with a single pole that is the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Poles {
    pub(crate) first: f64,
    pub(crate) last: f64,
}

/// What still light leaves of a state after a while: `z` times `first`; `y` times `last` plus `z`
/// times `across`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Fading {
    pub(crate) first: f64,
    pub(crate) last: f64,
    pub(crate) across: f64,
}

impl Poles {
    /// A single pole, or none for 0.
    pub(crate) const fn one(omega: f64) -> Self {
        Self {
            first: 0.0,
            last: omega,
        }
    }

    /// Two poles by the logarithm of their sum and the square of half the logarithm of their ratio.
    /// These are smooth where the poles meet, and almost independent of each other in a fit: shortly
    /// after a flank the signal sinks by the sum alone.
    pub(crate) fn two(sum_log: f64, spread: f64) -> Self {
        let half = spread.max(0.0).sqrt().max(0.5 * APART);
        let middle = sum_log.exp() / (2.0 * half.cosh());
        Self {
            first: middle * (-half).exp(),
            last: middle * half.exp(),
        }
    }

    pub(crate) fn is_two(self) -> bool {
        self.first > 0.0
    }

    /// How many states the poles hold: one even without any, as that costs nothing.
    pub(crate) fn count(self) -> usize {
        1 + usize::from(self.is_two())
    }

    pub(crate) fn sum(self) -> f64 {
        self.first + self.last
    }

    /// The one that forgets last.
    pub(crate) fn slowest(self) -> f64 {
        if self.is_two() {
            self.first.min(self.last)
        } else {
            self.last
        }
    }

    /// The corner of each pole; the geometric mean when there are two.
    pub(crate) fn corner_hz(self) -> f64 {
        if self.is_two() {
            (self.first * self.last).sqrt() / TAU
        } else {
            self.last / TAU
        }
    }

    /// After `time` seconds.
    pub(crate) fn fading(self, time: f64) -> Fading {
        let (first, last) = ((-self.first * time).exp(), (-self.last * time).exp());
        let across = if self.is_two() {
            self.across(first, last)
        } else {
            0.0
        };
        Fading {
            first,
            last,
            across,
        }
    }

    /// What `z` makes of `y`, from what each pole leaves.
    pub(crate) fn across(self, first: f64, last: f64) -> f64 {
        -self.first * (first - last) / (self.last - self.first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_through_two_equal_poles_follows_the_known_form() {
        let poles = Poles::two((2.0_f64 * 3.0).ln(), 0.0);
        for time in [0.01, 0.3, 1.0, 2.0] {
            let fading = poles.fading(time);
            let want = (1.0 - 3.0 * time) * (-3.0 * time).exp();
            let got = fading.last + fading.across;
            assert!((got - want).abs() < 1e-9, "{got} for {want}");
        }
    }

    #[test]
    fn sum_and_ratio_are_kept() {
        let poles = Poles::two(12.0_f64.ln(), (0.5 * 5.0_f64.ln()).powi(2));
        assert!((poles.sum() - 12.0).abs() < 1e-9);
        assert!((poles.last / poles.first - 5.0).abs() < 1e-9);
        assert!((poles.corner_hz() * TAU - 20.0_f64.sqrt()).abs() < 1e-9);
    }
}
