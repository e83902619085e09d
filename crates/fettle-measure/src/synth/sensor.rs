//! Sensors driven too hard, and impulses beside the light.

use std::f64::consts::PI;

use crate::Seconds;

/// What a saturated phototransistor does on closing only: stored charge holds its output up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tail {
    /// How long the output stays up once the light begins to fall.
    pub delay: Seconds,
    /// Time constant of the fall after that.
    pub closing: Seconds,
    /// The part of the output that is so held up; the rest is prompt.
    pub share: f64,
    /// Whether it falls towards the light (a slow pole) or only no faster than the time constant
    /// allows.
    pub follows: bool,
}

/// Output against light for a sensor beyond its linear range; 1 stays 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Overdrive {
    /// `x (1 + k)/(1 + k x)`.
    Compressed(f64),
    /// `tanh(k x)/tanh k`.
    Rounded(f64),
    /// Straight up to this part of the light, flat above.
    Saturated(f64),
}

impl Overdrive {
    pub(crate) fn output(self, light: f64) -> f64 {
        match self {
            Self::Compressed(k) => light * (1.0 + k) / (1.0 + k * light),
            Self::Rounded(k) if k.abs() > 1e-6 => (k * light).tanh() / k.tanh(),
            Self::Rounded(_) => light,
            Self::Saturated(at) => (light / at).min(1.0),
        }
    }
}

/// An impulse that the input picks up, half a sine long.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Click {
    /// When it begins.
    pub at: Seconds,
    /// How long it lasts.
    pub lasting: Seconds,
    /// Its height against the light's, signed.
    pub height: f64,
}

impl Click {
    /// Its mean over the sample that ends at `time` and began `step` before.
    pub(crate) fn over(&self, time: f64, step: f64) -> f64 {
        let lasting = self.lasting.to_s().max(1e-9);
        let phase = |time: f64| ((time - self.at.to_s()) / lasting).clamp(0.0, 1.0) * PI;
        let (from, to) = (phase(time - step), phase(time));
        self.height * (from.cos() - to.cos()) * lasting / (PI * step)
    }
}
