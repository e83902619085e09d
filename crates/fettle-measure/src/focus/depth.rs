//! Depth of focus and depth of field.

use crate::OptionError;

/// A lens opening and the circle of confusion that still passes for a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    f: f64,
    coc_mm: f64,
}

impl Depth {
    /// The opening `f` (f-number, 0.5 to 256) and the circle of confusion `coc_mm` (0.001 to 1; 0.03 mm for 24×36, about 0.05 mm for 6×6).
    ///
    /// # Errors
    /// [`OptionError`] that names the option and its range.
    pub fn new(f: f64, coc_mm: f64) -> Result<Self, OptionError> {
        OptionError::check("--f", f, 0.5..=256.0, ", an f-number")?;
        OptionError::check("--coc-mm", coc_mm, 0.001..=1.0, " mm")?;
        Ok(Self { f, coc_mm })
    }

    /// The f-number.
    #[must_use]
    pub const fn f(&self) -> f64 {
        self.f
    }

    /// The circle of confusion.
    #[must_use]
    pub const fn coc_mm(&self) -> f64 {
        self.coc_mm
    }

    /// One depth: how far the film may lie either way from the sharp image of a far subject, `N c`.
    #[must_use]
    pub const fn mm(&self) -> f64 {
        self.f * self.coc_mm
    }

    /// The hyperfocal distance `H = f²/(N c) + f`, from the lens.
    #[must_use]
    pub fn hyperfocal_mm(&self, focal_mm: f64) -> f64 {
        focal_mm * focal_mm / self.mm() + focal_mm
    }

    /// Near and far limit of what is sharp enough with the lens set to `subject_mm`, all from the lens: `s (H-f)/(H+s-2f)` and
    /// `s (H-f)/(H-s)`, the far one infinite from the hyperfocal distance on. `None` unless the subject is farther than the focal length.
    #[must_use]
    pub fn near_far_mm(&self, focal_mm: f64, subject_mm: f64) -> Option<(f64, f64)> {
        if subject_mm.is_nan() || focal_mm <= 0.0 || subject_mm <= focal_mm {
            return None;
        }
        let hyperfocal = self.hyperfocal_mm(focal_mm);
        let reach = hyperfocal - focal_mm;
        if subject_mm == f64::INFINITY {
            return Some((reach, f64::INFINITY));
        }
        let near = subject_mm * reach / (hyperfocal + subject_mm - 2.0 * focal_mm);
        let far = if subject_mm < hyperfocal {
            subject_mm * reach / (hyperfocal - subject_mm)
        } else {
            f64::INFINITY
        };
        Some((near, far))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The blur of a point at `point` when a thin lens is set to `subject`, both from the lens, traced through the image distances.
    fn blur_mm(focal: f64, f: f64, subject: f64, point: f64) -> f64 {
        let image = |s: f64| {
            if s == f64::INFINITY {
                focal
            } else {
                focal * s / (s - focal)
            }
        };
        let (film, sharp) = (image(subject), image(point));
        focal / f * (sharp - film).abs() / sharp
    }

    #[test]
    fn at_its_limits_a_point_blurs_to_the_circle_of_confusion() {
        let depth = Depth::new(4.0, 0.03).unwrap();
        for subject in [800.0, 2000.0, 9000.0, f64::INFINITY] {
            let (near, far) = depth.near_far_mm(50.0, subject).unwrap();
            let blur = blur_mm(50.0, 4.0, subject, near);
            assert!((blur - 0.03).abs() < 1e-9, "{subject} near {blur}");
            if far.is_finite() {
                let blur = blur_mm(50.0, 4.0, subject, far);
                assert!((blur - 0.03).abs() < 1e-9, "{subject} far {blur}");
            }
        }
    }

    #[test]
    fn set_to_the_hyperfocal_distance_all_is_sharp_from_half_of_it() {
        let depth = Depth::new(8.0, 0.03).unwrap();
        let hyperfocal = depth.hyperfocal_mm(50.0);
        assert!((hyperfocal - 10_466.666_666_666_666).abs() < 1e-9);
        let (near, far) = depth.near_far_mm(50.0, hyperfocal).unwrap();
        assert!((near - hyperfocal / 2.0).abs() < 1e-9, "{near}");
        assert!(far.is_infinite() || far > 1e12, "{far}");
        assert_eq!(depth.near_far_mm(50.0, 50.0), None);
        assert_eq!(depth.near_far_mm(50.0, f64::NAN), None);
    }

    #[test]
    fn an_opening_that_cannot_be_is_refused() {
        assert!(Depth::new(0.0, 0.03).is_err());
        assert!(Depth::new(2.0, 30.0).is_err());
    }
}
