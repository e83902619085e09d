//! What the coupling holds at one moment.

use nalgebra::DVector;

use super::local::Fit;
use super::poles::Fading;

/// A signal at one moment: how it depends on the parameters, and what is known of it.
#[derive(Clone, Debug)]
pub(crate) struct Level {
    pub(crate) slope: DVector<f64>,
    pub(crate) known: f64,
}

/// The coupled signal and the one between the poles.
#[derive(Clone, Debug)]
pub(crate) struct State {
    pub(crate) coupled: Level,
    pub(crate) between: Level,
}

/// The same under a fit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry {
    pub(crate) coupled: f64,
    pub(crate) between: f64,
}

impl Level {
    pub(crate) fn zero(count: usize) -> Self {
        Self {
            slope: DVector::zeros(count),
            known: 0.0,
        }
    }

    pub(crate) fn of_parameter(index: usize, count: usize) -> Self {
        let mut level = Self::zero(count);
        level.slope[index] = 1.0;
        level
    }

    pub(crate) fn add(&mut self, factor: f64, other: &Self) {
        self.slope.axpy(factor, &other.slope, 1.0);
        self.known += factor * other.known;
    }

    pub(crate) fn scale(&mut self, factor: f64) {
        self.slope *= factor;
        self.known *= factor;
    }

    pub(crate) fn under(&self, fit: &Fit) -> f64 {
        self.known + self.slope.dot(&fit.params)
    }
}

impl State {
    /// Still light for a while.
    pub(crate) fn decay(&mut self, fading: Fading) {
        self.coupled.scale(fading.last);
        if fading.across != 0.0 {
            self.coupled.add(fading.across, &self.between);
        }
        self.between.scale(fading.first);
    }

    /// A step of the light by `factor` times a parameter.
    pub(crate) fn step(&mut self, index: usize, factor: f64) {
        self.coupled.slope[index] += factor;
        self.between.slope[index] += factor;
    }

    pub(crate) fn under(&self, fit: &Fit) -> Entry {
        Entry {
            coupled: self.coupled.under(fit),
            between: self.between.under(fit),
        }
    }
}

impl Entry {
    pub(crate) fn after(self, fading: Fading) -> Self {
        Self {
            coupled: self.coupled * fading.last + self.between * fading.across,
            between: self.between * fading.first,
        }
    }
}
