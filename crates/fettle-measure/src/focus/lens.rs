//! A lens and its conjugates.

use crate::OptionError;

/// A thick lens in air: its focal length and the separation of its principal (nodal) planes.
///
/// With the distance `D` from film to subject, the focal length `f` and the nodal separation `h`, the two conjugates share
/// `S = D - h`, so that `1/u + 1/v = 1/f` and `u + v = S`: `v = (S - sqrt(S² - 4 f S)) / 2`. Of the two images the one with the
/// lens nearer the film is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    focal_mm: f64,
    nodal_mm: f64,
}

impl Lens {
    /// A lens of `focal_mm` (5 to 2000) with its principal planes `nodal_mm` apart (-500 to 500, negative when they are crossed).
    ///
    /// # Errors
    /// [`OptionError`] that names the option and its range.
    pub fn new(focal_mm: f64, nodal_mm: f64) -> Result<Self, OptionError> {
        OptionError::check("--focal-mm", focal_mm, 5.0..=2000.0, " mm")?;
        OptionError::check("--nodal-mm", nodal_mm, -500.0..=500.0, " mm")?;
        Ok(Self { focal_mm, nodal_mm })
    }

    /// The focal length.
    #[must_use]
    pub const fn focal_mm(&self) -> f64 {
        self.focal_mm
    }

    /// The separation of the principal planes.
    #[must_use]
    pub const fn nodal_mm(&self) -> f64 {
        self.nodal_mm
    }

    /// The nearest distance that has an image at all: `S = 4 f`, where subject and image are of one size.
    #[must_use]
    pub fn nearest_mm(&self) -> f64 {
        4.0 * self.focal_mm + self.nodal_mm
    }

    /// How far the lens stands out from infinity when a subject at `distance_mm` is sharp; `None` when it is nearer than
    /// [`nearest_mm`](Self::nearest_mm) or no number.
    ///
    /// `e = v - f = v² / S`, in which nothing cancels however far the subject is.
    #[must_use]
    pub fn extension_mm(&self, distance_mm: f64) -> Option<f64> {
        if distance_mm == f64::INFINITY {
            return Some(0.0);
        }
        let between = distance_mm - self.nodal_mm;
        let beyond = between - 4.0 * self.focal_mm;
        if beyond.is_nan() || beyond < 0.0 {
            return None;
        }
        let root = between.sqrt() + beyond.sqrt();
        let image = 2.0 * self.focal_mm * between.sqrt() / root;
        Some(image / between * image)
    }

    /// The distance that is sharp with the lens `extension_mm` out from infinity: infinite at 0, `None` when the lens stands
    /// nearer to the film than at infinity, where nothing is sharp, or farther out than at its nearest distance.
    #[must_use]
    pub fn distance_mm(&self, extension_mm: f64) -> Option<f64> {
        if !(0.0..=self.focal_mm).contains(&extension_mm) {
            return None;
        }
        let image = self.focal_mm + extension_mm;
        // Not a number only for 0 / 0, which the focal length rules out; an extension below the smallest number gives infinity.
        Some(image * (image / extension_mm) + self.nodal_mm)
    }

    /// How much the extension shrinks for each millimetre that the subject goes farther, `-de/dD`; 0 at infinity.
    #[must_use]
    pub fn slope(&self, distance_mm: f64) -> Option<f64> {
        let extension = self.extension_mm(distance_mm)?;
        // 1/u + 1/v = 1/f gives dv/du = -(v/u)², and D moves by du + dv.
        let ratio = extension / self.focal_mm;
        let squared = ratio * ratio;
        (squared < 1.0).then(|| squared / (1.0 - squared))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lens(focal_mm: f64, nodal_mm: f64) -> Lens {
        Lens::new(focal_mm, nodal_mm).unwrap()
    }

    /// Bisection on the lens equation itself, which shares nothing with the closed form.
    fn extension_by_bisection(focal: f64, nodal: f64, distance: f64) -> f64 {
        let between = distance - nodal;
        // f²/x with x = u - f and e = f²/x: u + v = 2 f + x + f²/x.
        let (mut near, mut far) = (focal, between);
        for _ in 0..200 {
            let x = f64::midpoint(near, far);
            if 2.0 * focal + x + focal * focal / x < between {
                near = x;
            } else {
                far = x;
            }
        }
        focal * focal / near
    }

    #[test]
    fn the_extension_solves_the_lens_equation() {
        for (focal, nodal) in [(50.0, 0.0), (75.0, 2.3), (35.0, -4.0), (135.0, 11.0)] {
            let lens = lens(focal, nodal);
            for distance in [lens.nearest_mm() * 1.01, 700.0, 1000.0, 3000.0, 2e4, 1e6] {
                let (got, want) = (
                    lens.extension_mm(distance).unwrap(),
                    extension_by_bisection(focal, nodal, distance),
                );
                assert!(
                    (got - want).abs() <= 1e-9,
                    "{focal} {distance}: {got} {want}"
                );
            }
        }
    }

    #[test]
    fn a_very_far_subject_loses_no_digits() {
        let lens = lens(50.0, 0.0);
        for distance in [1e9, 1e12, 1e15] {
            let got = lens.extension_mm(distance).unwrap();
            let series = 2500.0 / (distance - 100.0);
            assert!((got / series - 1.0).abs() < 1e-12, "{got} {series}");
        }
        assert_eq!(lens.extension_mm(f64::INFINITY), Some(0.0));
        assert_eq!(lens.distance_mm(0.0), Some(f64::INFINITY));
    }

    #[test]
    fn at_the_nearest_distance_image_and_subject_are_of_one_size() {
        let lens = lens(50.0, 3.0);
        let extension = lens.extension_mm(203.0).unwrap();
        assert!((extension - 50.0).abs() < 1e-9, "{extension}");
        assert_eq!(lens.extension_mm(202.999), None);
        assert_eq!(lens.extension_mm(-1000.0), None);
        assert_eq!(lens.extension_mm(f64::NAN), None);
        assert_eq!(lens.distance_mm(-0.01), None);
        assert_eq!(lens.distance_mm(50.1), None);
    }

    #[test]
    fn a_lens_that_cannot_be_is_refused() {
        assert!(Lens::new(0.05, 0.0).is_err());
        assert!(Lens::new(f64::NAN, 0.0).is_err());
        assert!(Lens::new(50.0, 1e4).is_err());
    }

    proptest! {
        #[test]
        fn distance_and_extension_are_inverse(focal in 10.0..300.0, nodal in -20.0..20.0, times in 4.001..1e5) {
            let lens = lens(focal, nodal);
            let distance = focal * times + nodal;
            let back = lens.distance_mm(lens.extension_mm(distance).unwrap()).unwrap();
            // Next to one to one the distance hardly depends on the extension's last digits.
            prop_assert!((back / distance - 1.0).abs() < 1e-9, "{distance} {back}");
        }

        #[test]
        fn the_slope_is_the_derivative(focal in 10.0..300.0, times in 5.0..1e3) {
            let lens = lens(focal, 0.0);
            let distance = focal * times;
            let step = distance * 1e-5;
            let by_difference = (lens.extension_mm(distance - step).unwrap()
                - lens.extension_mm(distance + step).unwrap()) / (2.0 * step);
            let slope = lens.slope(distance).unwrap();
            prop_assert!((slope / by_difference - 1.0).abs() < 1e-5, "{slope} {by_difference}");
        }
    }
}
