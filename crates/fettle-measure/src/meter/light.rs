//! True exposure values from light that was measured some other way.
//!
//! ISO 2720:1974: reflected light `N²/t = L S / K`, incident light `N²/t = E S / C`. All values are for a film of ISO 100.

use std::ops::RangeInclusive;

/// The calibration constant of reflected light that is in most use, in cd·s/m² at ISO 1.
pub const K: f64 = 12.5;
/// What ISO 2720 allows for `K`.
pub const K_RANGE: RangeInclusive<f64> = 10.6..=13.4;
/// The calibration constant of incident light on a flat receptor that is in most use, in lx·s at ISO 1.
pub const C_FLAT: f64 = 250.0;
/// What ISO 2720 allows for `C` of a flat receptor.
pub const C_FLAT_RANGE: RangeInclusive<f64> = 240.0..=400.0;
/// The calibration constant of incident light on a dome that is in most use, in lx·s at ISO 1.
pub const C_DOME: f64 = 330.0;
/// What ISO 2720 allows for `C` of a dome.
pub const C_DOME_RANGE: RangeInclusive<f64> = 320.0..=540.0;

/// The film speed that exposure values are told for.
const ISO: f64 = 100.0;

/// `EV = log2(100 L / K)` for a luminance in cd/m²; `None` unless both are finite and above zero.
///
/// ```
/// use fettle_measure::meter::light;
/// assert_eq!(light::ev_of_luminance(0.125, light::K), Some(0.0));
/// assert_eq!(light::ev_of_luminance(4096.0, light::K), Some(15.0));
/// ```
#[must_use]
pub fn ev_of_luminance(luminance_cd_m2: f64, k: f64) -> Option<f64> {
    stops(ISO * luminance_cd_m2, k)
}

/// `EV = log2(100 E / C)` for an illuminance in lx; `None` unless both are finite and above zero.
#[must_use]
pub fn ev_of_illuminance(illuminance_lx: f64, c: f64) -> Option<f64> {
    stops(ISO * illuminance_lx, c)
}

/// What a reference meter says, as exposure value at ISO 100: `log2(N²/t) − log2(S/100)`, with the aperture `N`, the time `t` in
/// seconds and the film speed `S` that it was set to. `None` unless all are finite and above zero.
///
/// The time and aperture meant are those of the series, 1/128 s for 1/125: give them so, or up to 0.04 stops are lost.
#[must_use]
pub fn ev_of_exposure(time_s: f64, f_number: f64, iso: f64) -> Option<f64> {
    Some(2.0 * stops(f_number, 1.0)? - stops(time_s, 1.0)? - stops(iso, ISO)?)
}

/// `log2(a / b)` of two finite numbers above zero.
fn stops(a: f64, b: f64) -> Option<f64> {
    let known = |x: f64| x.is_finite() && x > 0.0;
    (known(a) && known(b))
        .then(|| (a / b).log2())
        .filter(|stops| stops.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn assert_close(got: Option<f64>, want: f64) {
        assert!((got.unwrap() - want).abs() < 1e-9, "{got:?}, wanted {want}");
    }

    #[test]
    fn twice_the_light_is_one_stop_more() {
        for light in [0.01, 3.0, 4000.0] {
            let once = ev_of_luminance(light, K).unwrap();
            assert_close(ev_of_luminance(2.0 * light, K), once + 1.0);
            let once = ev_of_illuminance(light, C_DOME).unwrap();
            assert_close(ev_of_illuminance(2.0 * light, C_DOME), once + 1.0);
        }
        assert_close(ev_of_illuminance(2.5, C_FLAT), 0.0);
    }

    #[test]
    fn light_and_exposure_agree_through_the_equation_of_the_standard() {
        // N²/t = L S / K: f/8 and 1/128 s at ISO 100 are right for L = K · 64 · 128 / 100.
        let luminance = K * 64.0 * 128.0 / 100.0;
        assert_close(ev_of_luminance(luminance, K), 13.0);
        assert_close(ev_of_exposure(1.0 / 128.0, 8.0, 100.0), 13.0);
        assert_close(ev_of_exposure(1.0 / 512.0, 8.0, 400.0), 13.0);
    }

    #[test]
    fn what_is_no_light_has_no_value() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(ev_of_luminance(bad, K), None);
            assert_eq!(ev_of_illuminance(1.0, bad), None);
            assert_eq!(ev_of_exposure(bad, 8.0, 100.0), None);
            assert_eq!(ev_of_exposure(0.01, bad, 100.0), None);
            assert_eq!(ev_of_exposure(0.01, 8.0, bad), None);
        }
        assert!(
            K_RANGE.contains(&K)
                && C_FLAT_RANGE.contains(&C_FLAT)
                && C_DOME_RANGE.contains(&C_DOME)
        );
    }
}
