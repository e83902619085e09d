//! The infinity stop, by collimator or far target.

use serde::{Deserialize, Serialize};

use super::{Depth, FocusScrew, Lens};
use crate::OptionError;
use crate::spread::coverage_factor;

/// What readings of a far target say about the infinity stop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Infinity {
    /// How far the lens must go out from the stop for infinity to be sharp; negative when it already stands too far out there.
    pub error_mm: f64,
    /// Half-width of its 95 % interval; `None` for a single reading.
    pub error_mm_u: Option<f64>,
    /// The error in depths `N c`.
    pub error_depths: f64,
    /// Turns outwards of what sets infinity that take the error out.
    pub turns: f64,
    /// Half-width of their 95 % interval.
    pub turns_u: Option<f64>,
    /// What is sharp at the stop as it is; `None` when nothing is, not even infinity.
    #[serde(with = "super::distance::maybe")]
    pub sharp_at_m: Option<f64>,
}

impl Infinity {
    /// From `readings_mm`, each how far the lens stood out from its stop (negative: it would have to go beyond) when a target at
    /// `target_mm` was sharp at the film; a collimator's target is at infinity.
    ///
    /// A target that is not at infinity asks for its own extension, which is taken off. The uncertainty is that of the mean by
    /// Student's t; the target's distance and the screw are taken as known.
    ///
    /// # Errors
    /// [`OptionError`] when there is no reading, one is larger than the focal length, or the lens has no image of the target.
    pub fn from_readings(
        readings_mm: &[f64],
        target_mm: f64,
        lens: &Lens,
        depth: &Depth,
        screw: &FocusScrew,
    ) -> Result<Self, OptionError> {
        let Some(target) = lens.extension_mm(target_mm) else {
            return Err(OptionError {
                option: "--target-m",
                reason: format!(
                    "the lens has no image of a target nearer than {:.3} m: give its distance from the film in metres, or inf",
                    lens.nearest_mm() / 1000.0
                ),
            });
        };
        if readings_mm.is_empty() {
            return Err(OptionError {
                option: "--extension-mm",
                reason: "give at least one reading".to_owned(),
            });
        }
        for reading in readings_mm {
            OptionError::check(
                "--extension-mm",
                *reading,
                -lens.focal_mm()..=lens.focal_mm(),
                " mm",
            )?;
        }
        let count = readings_mm.len() as f64;
        let mean = readings_mm.iter().sum::<f64>() / count;
        let squares: f64 = readings_mm.iter().map(|r| (r - mean).powi(2)).sum();
        let error_mm_u =
            coverage_factor(count - 1.0).map(|k| k * (squares / (count - 1.0) / count).sqrt());
        let error_mm = mean - target;
        Ok(Self {
            error_mm,
            error_mm_u,
            error_depths: error_mm / depth.mm(),
            turns: screw.turns(error_mm),
            turns_u: error_mm_u.map(|u| screw.turns(u).abs()),
            sharp_at_m: lens.distance_mm(-error_mm).map(|mm| mm / 1000.0),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn from(readings: &[f64], target_mm: f64) -> Result<Infinity, OptionError> {
        Infinity::from_readings(
            readings,
            target_mm,
            &Lens::new(50.0, 0.0).unwrap(),
            &Depth::new(2.0, 0.03).unwrap(),
            &FocusScrew::helicoid(6.0).unwrap(),
        )
    }

    #[test]
    fn a_stop_set_right_reads_the_targets_own_extension() {
        let lens = Lens::new(50.0, 0.0).unwrap();
        let own = lens.extension_mm(40_000.0).unwrap();
        let infinity = from(&[own + 0.012, own - 0.012], 40_000.0).unwrap();
        assert!(infinity.error_mm.abs() < 1e-12, "{infinity:?}");
        // Two readings 0.024 apart: t(1) times 0.012.
        let u = infinity.error_mm_u.unwrap();
        assert!((u - 12.706_2 * 0.012).abs() < 1e-4, "{u}");
    }

    #[test]
    fn a_lens_too_far_out_at_its_stop_is_sharp_nearer() {
        let infinity = from(&[-0.1], f64::INFINITY).unwrap();
        assert!((infinity.error_depths + 0.1 / 0.06).abs() < 1e-12);
        assert!((infinity.turns + 1.0 / 60.0).abs() < 1e-12);
        assert_eq!(infinity.error_mm_u, None);
        // S = (f + e)² / e.
        let sharp = infinity.sharp_at_m.unwrap();
        assert!((sharp - 50.1 * 50.1 / 0.1 / 1000.0).abs() < 1e-9, "{sharp}");
        assert_eq!(from(&[0.1], f64::INFINITY).unwrap().sharp_at_m, None);
    }

    #[test]
    fn readings_that_cannot_be_are_refused() {
        assert!(from(&[], f64::INFINITY).is_err());
        assert!(from(&[f64::NAN], f64::INFINITY).is_err());
        assert!(from(&[0.1], 150.0).is_err());
        assert!(from(&[51.0], f64::INFINITY).is_err());
    }
}
