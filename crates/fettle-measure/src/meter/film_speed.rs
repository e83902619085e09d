//! Film speeds on a meter's dial, also an old one's.
//!
//! Degrees and arithmetic speeds go by `degrees = 1 + 10 log10(arithmetic)` (ISO 5800). The standards before 1960 rated film about
//! one stop slower, as a safety against thin negatives; the revisions of about 1960 took that out, so that the same film's
//! number doubled. A dial that old therefore stands at half of today's number for the same exposure.

use serde::{Deserialize, Serialize};

/// Stops by which speeds before about 1960 are told lower than today's. A round figure: standards and makers differed.
pub const SAFETY_STOPS: f64 = 1.0;
/// Degrees of the oldest European scale are about this many above the DIN of its time.
const SCHEINER_ABOVE_DIN: f64 = 10.0;
/// Speeds that a film or a dial can have, arithmetic.
const LEAST: f64 = 0.1;
const MOST: f64 = 1e6;

/// What the numbers on a dial mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SpeedScale {
    /// ASA or ISO, arithmetic, from about 1960 on.
    Arithmetic,
    /// DIN or ISO degrees, from about 1960 on.
    Degrees,
    /// ASA before about 1960.
    OldArithmetic,
    /// DIN before about 1960, often written as tenths: 18/10.
    OldDegrees,
    /// European Scheiner degrees, about ten above the DIN of the time.
    Scheiner,
}

impl SpeedScale {
    /// Stops by which this scale tells a film slower than today's do; show it where an old dial is used.
    #[must_use]
    pub const fn safety_stops(self) -> f64 {
        match self {
            Self::Arithmetic | Self::Degrees => 0.0,
            Self::OldArithmetic | Self::OldDegrees | Self::Scheiner => SAFETY_STOPS,
        }
    }

    /// The film speed of today, arithmetic, that a mark on the dial is right for; `None` for a mark that is no speed.
    ///
    /// ```
    /// use fettle_measure::meter::SpeedScale;
    /// assert_eq!(SpeedScale::Degrees.iso_of(21.0), Some(100.0));
    /// assert_eq!(SpeedScale::OldArithmetic.iso_of(50.0), Some(100.0));
    /// ```
    #[must_use]
    pub fn iso_of(self, mark: f64) -> Option<f64> {
        let of_its_time = match self {
            Self::Arithmetic | Self::OldArithmetic => mark,
            Self::Degrees | Self::OldDegrees => arithmetic_of(mark),
            Self::Scheiner => arithmetic_of(mark - SCHEINER_ABOVE_DIN),
        };
        let iso = of_its_time * self.safety_stops().exp2();
        (LEAST..=MOST).contains(&iso).then_some(iso)
    }

    /// The mark to set on the dial for a film of today's speed, arithmetic; `None` for what is no speed.
    #[must_use]
    pub fn mark_for(self, iso: f64) -> Option<f64> {
        if !(LEAST..=MOST).contains(&iso) {
            return None;
        }
        let of_its_time = iso / self.safety_stops().exp2();
        Some(match self {
            Self::Arithmetic | Self::OldArithmetic => of_its_time,
            Self::Degrees | Self::OldDegrees => degrees_of(of_its_time),
            Self::Scheiner => degrees_of(of_its_time) + SCHEINER_ABOVE_DIN,
        })
    }
}

fn degrees_of(arithmetic: f64) -> f64 {
    1.0 + 10.0 * arithmetic.log10()
}

fn arithmetic_of(degrees: f64) -> f64 {
    10f64.powf((degrees - 1.0) / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [SpeedScale; 5] = [
        SpeedScale::Arithmetic,
        SpeedScale::Degrees,
        SpeedScale::OldArithmetic,
        SpeedScale::OldDegrees,
        SpeedScale::Scheiner,
    ];

    #[test]
    fn degrees_are_those_of_the_standard_at_its_full_marks() {
        // ISO 5800, table of speeds: 25/15°, 50/18°, 100/21°, 200/24°, 400/27°; arithmetic numbers are rounded.
        for (iso, degrees) in [
            (25.0, 15.0),
            (50.0, 18.0),
            (100.0, 21.0),
            (200.0, 24.0),
            (400.0, 27.0),
        ] {
            let got = SpeedScale::Degrees.mark_for(iso).unwrap();
            assert!((got - degrees).abs() < 0.05, "{iso}: {got}");
        }
    }

    #[test]
    fn an_old_dial_stands_a_stop_lower() {
        assert_eq!(SpeedScale::OldArithmetic.mark_for(100.0), Some(50.0));
        let old = SpeedScale::OldDegrees.mark_for(100.0).unwrap();
        assert!((old - 17.99).abs() < 0.01, "{old}");
        let oldest = SpeedScale::Scheiner.mark_for(100.0).unwrap();
        assert!((oldest - 27.99).abs() < 0.01, "{oldest}");
    }

    #[test]
    fn there_and_back_is_the_same_speed() {
        for scale in ALL {
            for third in -9..40 {
                let iso = 10f64.powf(f64::from(third) / 10.0);
                let mark = scale.mark_for(iso).unwrap();
                let back = scale.iso_of(mark).unwrap();
                assert!((back / iso - 1.0).abs() < 1e-12, "{scale:?} {iso}: {back}");
            }
        }
    }

    #[test]
    fn what_is_no_speed_is_none() {
        for scale in ALL {
            for bad in [f64::NAN, f64::INFINITY, -1e9, 1e9] {
                assert_eq!(scale.iso_of(bad), None, "{scale:?} {bad}");
                assert_eq!(scale.mark_for(bad), None, "{scale:?} {bad}");
            }
            assert_eq!(scale.mark_for(0.0), None);
        }
    }
}
