//! Quantities with their unit in the type: a bare number never says what it means.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

/// Defines a quantity: private value, constructor and reader by unit, arithmetic that keeps the
/// unit, `Debug` with the unit, serde as a plain number.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $from:ident, $to:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("From a number of ", $unit, ".")]
            #[must_use]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("The number of ", $unit, ".")]
            #[must_use]
            pub const fn $to(self) -> f64 {
                self.0
            }

            /// The magnitude.
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", self.0, $unit)
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(values: I) -> Self {
                Self(values.map(|value| value.0).sum())
            }
        }
    };
}

quantity! {
    /// A duration or a moment on a recording's own clock.
    Seconds, "s", s, to_s
}

quantity! {
    /// A frequency or a rate of samples.
    Hertz, "Hz", hz, to_hz
}

quantity! {
    /// A ratio of exposures on the scale where one stop doubles it.
    Stops, "stops", of, to_stops
}

quantity! {
    /// A length in the camera.
    Millimetres, "mm", mm, to_mm
}

quantity! {
    /// A level against another, 20 log10 of the ratio of amplitudes.
    Decibels, "dB", db, to_db
}

impl Seconds {
    /// From a number of milliseconds.
    #[must_use]
    pub const fn ms(value: f64) -> Self {
        Self(value * 1e-3)
    }

    /// The number of milliseconds.
    #[must_use]
    pub const fn to_ms(self) -> f64 {
        self.0 * 1e3
    }

    /// How much longer this exposure is than `nominal`, `log2` of the ratio; positive is more
    /// exposure. `None` unless both are positive.
    #[must_use]
    pub fn error_against(self, nominal: Self) -> Option<Stops> {
        (self.0 > 0.0 && nominal.0 > 0.0).then(|| Stops((self.0 / nominal.0).log2()))
    }
}

impl Decibels {
    /// From a ratio of amplitudes, which must be positive.
    #[must_use]
    pub fn from_amplitude_ratio(ratio: f64) -> Self {
        Self(20.0 * ratio.log10())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn debug_names_the_unit() {
        assert_eq!(format!("{:?}", Seconds::ms(2.0)), "0.002 s");
        assert_eq!(format!("{:?}", Stops::of(-0.25)), "-0.25 stops");
    }

    #[test]
    fn twice_the_time_is_one_stop_more() {
        let error = Seconds::s(0.02).error_against(Seconds::s(0.01)).unwrap();
        assert!((error.to_stops() - 1.0).abs() < 1e-12);
        assert_eq!(Seconds::s(0.0).error_against(Seconds::s(0.01)), None);
    }

    #[test]
    fn a_quantity_is_a_plain_number_in_json() {
        assert_eq!(serde_json::to_string(&Seconds::s(0.5)).unwrap(), "0.5");
        let back: Seconds = serde_json::from_str("2").unwrap();
        assert_eq!(back, Seconds::s(2.0));
    }
}
