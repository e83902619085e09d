//! Ranges of the format's figures: the one table behind the checks, their messages and the reference page.

use std::fmt;

use crate::model::Minutes;

/// The figures that a key takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Range {
    low: f64,
    low_open: bool,
    high: f64,
    unit: &'static str,
}

impl Range {
    /// From `low` to `high`, both allowed.
    const fn from(low: f64, high: f64, unit: &'static str) -> Self {
        Self {
            low,
            low_open: false,
            high,
            unit,
        }
    }

    /// More than nothing, at most `high`.
    const fn up_to(high: f64, unit: &'static str) -> Self {
        Self {
            low: 0.0,
            low_open: true,
            high,
            unit,
        }
    }

    pub(crate) fn contains(&self, value: f64) -> bool {
        let above = if self.low_open {
            value > self.low
        } else {
            value >= self.low
        };
        above && value <= self.high
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { low, high, .. } = self;
        if self.low_open {
            write!(f, "more than {low} and at most {high}")?;
        } else {
            write!(f, "from {low} to {high}")?;
        }
        if self.unit.is_empty() {
            Ok(())
        } else {
            write!(f, " {}", self.unit)
        }
    }
}

pub(crate) const CHANCE: Range = Range::from(0.0, 1.0, "");
pub(crate) const MINUTES: Range = Range::up_to(Minutes::MAX, "minutes");
pub(crate) const COUNT: Range = Range::from(1.0, 1000.0, "");
/// Sheet film of the largest cameras is some 600 mm long.
pub(crate) const FRAME_MM: Range = Range::up_to(600.0, "mm");
pub(crate) const WEIGHT_G: Range = Range::up_to(50_000.0, "g");
pub(crate) const FASTENER_MM: Range = Range::up_to(200.0, "mm");
pub(crate) const STOPS: Range = Range::up_to(5.0, "stops");
pub(crate) const F_NUMBER: Range = Range::from(0.5, 512.0, "");
/// Places on the picture, measured from its edge.
pub(crate) const ALONG_MM: Range = Range::from(0.0, 600.0, "mm");
/// Places on the picture, measured from its centre.
pub(crate) const SEAT_MM: Range = Range::from(-600.0, 600.0, "mm");
pub(crate) const REGISTER_MM: Range = Range::up_to(1000.0, "mm");
pub(crate) const REGISTER_LIMIT_MM: Range = Range::up_to(5.0, "mm");
pub(crate) const FOCAL_MM: Range = Range::up_to(2000.0, "mm");
pub(crate) const COC_MM: Range = Range::up_to(1.0, "mm");
pub(crate) const DEPTHS: Range = Range::up_to(20.0, "depths of focus");
pub(crate) const DISTANCE_M: Range = Range::up_to(100_000.0, "m");
pub(crate) const BASE_MM: Range = Range::up_to(1000.0, "mm");
pub(crate) const MAGNIFICATION: Range = Range::up_to(20.0, "");
/// The nodal points may be crossed.
pub(crate) const NODAL_MM: Range = Range::from(-500.0, 500.0, "mm");
pub(crate) const ARC_SECONDS: Range = Range::up_to(3600.0, "seconds of arc");
pub(crate) const PITCH_MM: Range = Range::from(0.1, 50.0, "mm");
pub(crate) const TEETH: Range = Range::from(4.0, 1000.0, "");
pub(crate) const ANGLE_DEG: Range = Range::from(10.0, 30.0, "degrees");
pub(crate) const WEAR_MM: Range = Range::up_to(5.0, "mm");
pub(crate) const EV: Range = Range::from(-20.0, 30.0, "EV");
pub(crate) const READING: Range = Range::from(-1e9, 1e9, "");
pub(crate) const READING_LIMIT: Range = Range::up_to(1e9, "");
pub(crate) const PER_TURN: Range = Range::from(-1e6, 1e6, "");
pub(crate) const REL_U: Range = Range::up_to(10.0, "");
pub(crate) const PLAY_TURNS: Range = Range::from(0.0, 100.0, "turns");
pub(crate) const BACK_TURNS: Range = Range::from(-1000.0, 0.0, "turns");
pub(crate) const ON_TURNS: Range = Range::from(0.0, 1000.0, "turns");

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: &str = include_str!("../../../docs/service-notes.md");

    #[test]
    fn every_range_stands_in_the_reference_page() {
        let all = [
            CHANCE,
            MINUTES,
            COUNT,
            FRAME_MM,
            WEIGHT_G,
            FASTENER_MM,
            STOPS,
            F_NUMBER,
            ALONG_MM,
            SEAT_MM,
            REGISTER_MM,
            REGISTER_LIMIT_MM,
            FOCAL_MM,
            COC_MM,
            DEPTHS,
            DISTANCE_M,
            BASE_MM,
            MAGNIFICATION,
            NODAL_MM,
            ARC_SECONDS,
            EV,
            READING,
            READING_LIMIT,
            PER_TURN,
            REL_U,
            PLAY_TURNS,
            BACK_TURNS,
            ON_TURNS,
        ];
        for range in all {
            assert!(PAGE.contains(&range.to_string()), "{range}");
        }
    }

    #[test]
    fn a_range_says_whether_its_lower_end_belongs_to_it() {
        assert!(CHANCE.contains(0.0) && CHANCE.contains(1.0) && !CHANCE.contains(1.01));
        assert!(!MINUTES.contains(0.0) && MINUTES.contains(0.1));
        assert!(!READING.contains(f64::NAN) && !READING.contains(f64::INFINITY));
        assert_eq!(CHANCE.to_string(), "from 0 to 1");
        assert_eq!(MINUTES.to_string(), "more than 0 and at most 10000 minutes");
    }
}
