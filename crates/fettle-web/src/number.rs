//! Figures with their unit and uncertainty, as they stand on a page.
//!
//! An expanded uncertainty is given with two significant digits and the value to the same place
//! (JCGM 100:2008, 7.2.6). The minus sign is U+2212, so that signs have the width of digits.

use jiff::ZonedDateTime;
use jiff::civil::Date;

/// Places after the point when nothing is known of the uncertainty.
const PLACES_WITHOUT_UNCERTAINTY: usize = 3;
const MOST_PLACES: i32 = 6;

/// `value ± uncertainty unit`; without an uncertainty the value alone, to three places.
pub(crate) fn figure(value: f64, uncertainty: Option<f64>, unit: &str) -> String {
    let unit = spaced(unit);
    match uncertainty.filter(|u| u.is_finite() && *u > 0.0) {
        Some(u) => {
            let places = places_for(u);
            format!("{} ± {}{unit}", fixed(value, places), fixed(u, places))
        }
        None => format!("{}{unit}", trimmed(value, PLACES_WITHOUT_UNCERTAINTY)),
    }
}

/// As [`figure`], with a sign before positive values too: for deviations.
pub(crate) fn deviation(value: f64, uncertainty: Option<f64>, unit: &str) -> String {
    let text = figure(value, uncertainty, unit);
    if value > 0.0 && text.starts_with(|first: char| first.is_ascii_digit()) {
        format!("+{text}")
    } else {
        text
    }
}

/// A deviation in stops to two places: `+0.25`, `−0.03`, `0.00`.
pub(crate) fn stops(value: f64) -> String {
    let text = fixed(value, 2);
    if value > 0.0 && text != "0.00" {
        format!("+{text}")
    } else {
        text
    }
}

/// A deviation in stops with its uncertainty, to hundredths: finer means nothing to a picture. An
/// uncertainty is rounded up, so that none stands as zero.
pub(crate) fn stops_off(value: f64, uncertainty: Option<f64>) -> String {
    match uncertainty.filter(|u| u.is_finite() && *u > 0.0) {
        Some(u) => format!(
            "{} ± {:.2}",
            stops(value),
            (u * 100.0 - 1e-9).ceil() / 100.0
        ),
        None => stops(value),
    }
}

/// An exposure time: seconds from one second on, milliseconds below.
///
/// Without an uncertainty four digits say enough.
pub(crate) fn exposure(seconds: f64, uncertainty: Option<f64>) -> String {
    let (value, scale, unit) = if seconds.abs() >= 1.0 {
        (seconds, 1.0, "s")
    } else {
        (seconds * 1e3, 1e3, "ms")
    };
    match uncertainty {
        Some(u) => figure(value, Some(u * scale), unit),
        None => format!(
            "{}{}",
            trimmed(value, places_of_four_digits(value)),
            spaced(unit)
        ),
    }
}

/// A figure as it stands in a field to be typed over: four digits, a plain minus.
pub(crate) fn plain(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let places = (3 - value.abs().log10().floor() as i32).clamp(0, MOST_PLACES);
    let text = format!("{value:.*}", usize::try_from(places).unwrap_or(0));
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Minutes of work: `45 min`, `2 h`, `2 h 05 min`; part minutes only below ten.
pub(crate) fn minutes(value: f64) -> String {
    if !value.is_finite() || value < 0.0 {
        return "unknown".to_owned();
    }
    if value < 10.0 {
        return format!("{} min", trimmed(value, 1));
    }
    let whole = value.round();
    let (hours, rest) = ((whole / 60.0).floor(), whole % 60.0);
    if hours < 1.0 {
        format!("{rest:.0} min")
    } else if rest < 1.0 {
        format!("{hours:.0} h")
    } else {
        format!("{hours:.0} h {rest:02.0} min")
    }
}

/// A chance in whole per cent; none stands as certain that is not: `34 %`, `under 1 %`, `over 99 %`.
pub(crate) fn chance(part: f64) -> String {
    let percent = part * 100.0;
    if percent > 0.0 && percent < 1.0 {
        "under\u{a0}1\u{a0}%".to_owned()
    } else if percent > 99.0 && percent < 100.0 {
        "over\u{a0}99\u{a0}%".to_owned()
    } else {
        format!("{percent:.0}\u{a0}%")
    }
}

/// `14 March 2026`.
pub(crate) fn date(date: Date) -> String {
    date.strftime("%-d %B %Y").to_string()
}

/// `14 March 2026, 15:09`.
pub(crate) fn moment(at: &ZonedDateTime) -> String {
    at.strftime("%-d %B %Y, %H:%M").to_string()
}

/// `1 shot`, `2 shots`.
pub(crate) fn count(number: usize, one: &str, many: &str) -> String {
    if number == 1 {
        format!("1 {one}")
    } else {
        format!("{number} {many}")
    }
}

/// A weight as parcels are weighed: `640 g`, `1.25 kg`.
pub(crate) fn grams(grams: u32) -> String {
    if grams < 1000 {
        return format!("{grams} g");
    }
    let kilograms = format!("{:.3}", f64::from(grams) / 1000.0);
    format!(
        "{} kg",
        kilograms.trim_end_matches('0').trim_end_matches('.')
    )
}

/// Pieces that came or went: `+2`, `−1`, `0`.
pub(crate) fn signed(pieces: i64) -> String {
    match pieces {
        ..0 => format!("\u{2212}{}", pieces.unsigned_abs()),
        0 => "0".to_owned(),
        1.. => format!("+{pieces}"),
    }
}

/// `340 kB`, `12 MB`.
pub(crate) fn bytes(size: usize) -> String {
    match size {
        ..1_000 => format!("{size} bytes"),
        1_000..1_000_000 => format!("{} kB", size / 1_000),
        _ => format!("{} MB", size / 1_000_000),
    }
}

fn spaced(unit: &str) -> String {
    if unit.is_empty() {
        String::new()
    } else {
        format!("\u{a0}{unit}")
    }
}

/// Places after the point that give `u` two significant digits, counted after rounding.
fn places_for(u: f64) -> usize {
    let digits = |u: f64| (1 - u.log10().floor() as i32).clamp(0, MOST_PLACES);
    let places = digits(u);
    let scale = 10f64.powi(places);
    let rounded = (u * scale).round() / scale;
    let places = if rounded > 0.0 {
        digits(rounded)
    } else {
        places
    };
    usize::try_from(places).unwrap_or(0)
}

/// Places after the point that give a value four digits in all, at most three.
fn places_of_four_digits(value: f64) -> usize {
    match value.abs() {
        ..10.0 => 3,
        10.0..100.0 => 2,
        100.0..1000.0 => 1,
        _ => 0,
    }
}

/// Fixed places, no "negative zero", a true minus sign.
fn fixed(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "unknown".to_owned();
    }
    let text = format!("{:.*}", places, value.abs());
    let is_zero = text.chars().all(|c| c == '0' || c == '.');
    if value < 0.0 && !is_zero {
        format!("\u{2212}{text}")
    } else {
        text
    }
}

fn trimmed(value: f64, places: usize) -> String {
    let text = fixed(value, places);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_value_stands_to_the_place_of_the_uncertainty() {
        for (value, u, want) in [
            (16.9345, 0.2345, "16.93 ± 0.23\u{a0}ms"),
            (16.9345, 0.0996, "16.93 ± 0.10\u{a0}ms"),
            (16.9345, 0.995, "16.9 ± 1.0\u{a0}ms"),
            (16.9345, 9.96, "17 ± 10\u{a0}ms"),
            (1234.5, 123.0, "1234 ± 123\u{a0}ms"),
            (-0.004, 0.1, "0.00 ± 0.10\u{a0}ms"),
            (-0.04, 0.1, "\u{2212}0.04 ± 0.10\u{a0}ms"),
            (1.0, 1e-9, "1.000000 ± 0.000000\u{a0}ms"),
        ] {
            assert_eq!(figure(value, Some(u), "ms"), want);
        }
    }

    #[test]
    fn without_an_uncertainty_nothing_is_claimed() {
        assert_eq!(figure(1.5, None, "mm"), "1.5\u{a0}mm");
        assert_eq!(figure(1.5, Some(0.0), "mm"), "1.5\u{a0}mm");
        assert_eq!(figure(1.5, Some(f64::NAN), ""), "1.5");
        assert_eq!(figure(f64::NAN, None, "mm"), "unknown\u{a0}mm");
    }

    #[test]
    fn deviations_carry_a_sign() {
        assert_eq!(deviation(0.25, Some(0.1), "stop"), "+0.25 ± 0.10\u{a0}stop");
        assert_eq!(deviation(-0.25, None, "mm"), "\u{2212}0.25\u{a0}mm");
        assert_eq!(stops(0.254), "+0.25");
        assert_eq!(stops(0.001), "0.00");
        assert_eq!(stops(-0.001), "0.00");
        assert_eq!(stops(-0.5), "\u{2212}0.50");
    }

    #[test]
    fn exposures_change_their_unit_at_one_second() {
        assert_eq!(exposure(1.0, Some(0.011)), "1.000 ± 0.011\u{a0}s");
        assert_eq!(exposure(0.9999, Some(0.011)), "1000 ± 11\u{a0}ms");
        assert_eq!(exposure(0.002, None), "2\u{a0}ms");
        assert_eq!(exposure(0.207_999, None), "208\u{a0}ms");
        assert_eq!(exposure(0.020_791, None), "20.79\u{a0}ms");
        assert_eq!(exposure(1.036_4, None), "1.036\u{a0}s");
    }

    #[test]
    fn stops_stand_to_hundredths_and_no_uncertainty_as_zero() {
        assert_eq!(stops_off(0.4005, Some(0.0003)), "+0.40 ± 0.01");
        assert_eq!(stops_off(-0.256, Some(0.03)), "\u{2212}0.26 ± 0.03");
        assert_eq!(stops_off(0.1, Some(0.031)), "+0.10 ± 0.04");
        assert_eq!(stops_off(0.1, None), "+0.10");
    }

    #[test]
    fn minutes_become_hours() {
        for (value, want) in [
            (0.0, "0 min"),
            (1.5, "1.5 min"),
            (9.96, "10 min"),
            (59.4, "59 min"),
            (59.6, "1 h"),
            (60.0, "1 h"),
            (65.0, "1 h 05 min"),
            (120.0, "2 h"),
            (-1.0, "unknown"),
            (f64::INFINITY, "unknown"),
        ] {
            assert_eq!(minutes(value), want, "{value}");
        }
    }

    #[test]
    fn a_figure_to_be_typed_over_is_plain() {
        for (value, want) in [
            (0.0, "0"),
            (-0.125, "-0.125"),
            (0.05, "0.05"),
            (78.52, "78.52"),
            (123_456.0, "123456"),
            (0.012_363, "0.01236"),
            (f64::NAN, "0"),
        ] {
            assert_eq!(plain(value), want);
        }
    }

    #[test]
    fn sizes_and_counts_read_as_words() {
        assert_eq!(bytes(999), "999 bytes");
        assert_eq!(bytes(1_000), "1 kB");
        assert_eq!(bytes(1_000_000), "1 MB");
        assert_eq!(count(1, "shot", "shots"), "1 shot");
        assert_eq!(count(0, "shot", "shots"), "0 shots");
    }
}
