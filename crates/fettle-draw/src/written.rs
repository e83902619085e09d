//! Figures as they are written on drawings and papers: rounded to what the uncertainty bears.

/// Figures from here on are written with a power of ten, so that none runs off a sheet.
const PLAIN_BELOW: f64 = 1e9;

/// A duration written out: the figure, its expanded uncertainty when there is one, and the unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenTime {
    /// The figure, with a true minus sign.
    pub figure: String,
    /// The uncertainty to the same decimals; `None` when none was given.
    pub uncertainty: Option<String>,
    /// `ms` below one second, `s` from there on.
    pub unit: &'static str,
}

impl WrittenTime {
    /// Writes a duration in seconds with its expanded uncertainty in seconds.
    ///
    /// The uncertainty keeps two significant digits (GUM, JCGM 100:2008, 7.2.6) and the figure ends at the same
    /// decimal; without one the figure keeps three significant digits. `None` when `seconds` is not finite.
    #[must_use]
    pub fn new(seconds: f64, uncertainty_s: Option<f64>) -> Option<Self> {
        if !seconds.is_finite() {
            return None;
        }
        let (factor, unit) = if seconds.abs() < 0.999_5 {
            (1e3, "ms")
        } else {
            (1.0, "s")
        };
        let value = seconds * factor;
        let u = uncertainty_s
            .map(|u| u * factor)
            .filter(|u| u.is_finite() && *u > 0.0);
        let decimals = match u {
            Some(u) => decimals_for(u, 2),
            None => decimals_for(value, 3),
        };
        Some(Self {
            figure: signed_off(value, decimals),
            uncertainty: u.map(|u| signed_off(u, decimals)),
            unit,
        })
    }
}

impl std::fmt::Display for WrittenTime {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.figure)?;
        if let Some(u) = &self.uncertainty {
            write!(f, " ± {u}")?;
        }
        write!(f, " {}", self.unit)
    }
}

/// Stops with their sign and two decimals: `+0.31`, `0.00`, `−1.20`.
#[must_use]
pub fn written_stops(stops: f64) -> String {
    let text = signed_off(stops, 2);
    if text.starts_with('−') || text == "0.00" {
        text
    } else {
        format!("+{text}")
    }
}

/// A chance from 0 to 1 in whole per cent: `37 %`; near its ends `< 1 %` and `> 99 %`. `None` when it is not a number.
#[must_use]
pub fn written_chance(chance: f64) -> Option<String> {
    if chance.is_nan() {
        return None;
    }
    let per_cent = chance.clamp(0.0, 1.0) * 100.0;
    Some(match per_cent {
        0.0 => "0 %".to_owned(),
        100.0 => "100 %".to_owned(),
        ..0.95 => "< 1 %".to_owned(),
        99.05.. => "> 99 %".to_owned(),
        _ => format!("{per_cent:.0} %"),
    })
}

/// The decimals that leave `digits` significant digits of a value, between none and six.
#[must_use]
pub fn decimals_for(value: f64, digits: i32) -> usize {
    if !value.is_finite() || value == 0.0 {
        return 0;
    }
    // Rounded first, so that 0.0996 counts as 0.10.
    let magnitude = value.abs().log10().floor() as i32;
    let unit = 10f64.powi(magnitude - digits + 1);
    let rounded = (value.abs() / unit).round() * unit;
    let magnitude = (rounded.log10() + 1e-9).floor() as i32;
    (digits - 1 - magnitude).clamp(0, 6) as usize
}

/// The fewest decimals that show a value somebody chose, as a limit or a length; a value that is no short decimal, as a
/// third, gets `digits` significant digits.
#[must_use]
pub fn shortest_decimals(value: f64, digits: i32) -> usize {
    (0..=4_usize)
        .find(|&d| {
            let scaled = value * 10f64.powi(d as i32);
            (scaled - scaled.round()).abs() < 1e-9 * scaled.abs().max(1.0)
        })
        .unwrap_or_else(|| decimals_for(value, digits))
}

/// As [`signed_off`], with a plus before figures above zero: for deviations.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let figure = signed_off(value, decimals);
    if value > 0.0 && figure.chars().any(|c| matches!(c, '1'..='9')) {
        format!("+{figure}")
    } else {
        figure
    }
}

/// A figure with a fixed number of decimals, a true minus sign, and no negative zero; from a thousand million on with a
/// power of ten.
#[must_use]
pub fn signed_off(value: f64, decimals: usize) -> String {
    let text = if value.abs() < PLAIN_BELOW {
        format!("{value:.decimals$}")
    } else {
        format!("{value:.2e}")
    };
    match text.strip_prefix('-') {
        None => text,
        Some(digits) if digits.chars().all(|c| matches!(c, '0' | '.')) => digits.to_owned(),
        Some(digits) => format!("−{digits}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_rounded_to_their_uncertainty() {
        let cases = [
            (0.008_213_4, Some(0.000_091), "8.213 ± 0.091 ms"),
            (0.008_213_4, Some(0.000_099_6), "8.21 ± 0.10 ms"),
            (0.008_213_4, None, "8.21 ms"),
            (1.003_62, Some(0.004_1), "1.0036 ± 0.0041 s"),
            (0.999_4, Some(0.012), "999 ± 12 ms"),
            (0.999_6, Some(0.012), "1.000 ± 0.012 s"),
            (0.0, None, "0 ms"),
            (-0.000_4, None, "−0.400 ms"),
            (0.125, Some(0.0), "125 ms"),
        ];
        for (seconds, u, want) in cases {
            assert_eq!(WrittenTime::new(seconds, u).unwrap().to_string(), want);
        }
        assert_eq!(WrittenTime::new(f64::NAN, None), None);
    }

    #[test]
    fn stops_carry_their_sign_and_zero_has_none() {
        let cases = [
            (0.314, "+0.31"),
            (-1.2, "−1.20"),
            (0.004, "0.00"),
            (-0.004, "0.00"),
            (0.005_1, "+0.01"),
        ];
        for (stops, want) in cases {
            assert_eq!(written_stops(stops), want);
        }
    }

    #[test]
    fn chances_are_whole_per_cents_and_none_is_certain_that_is_not() {
        let cases = [
            (0.0, "0 %"),
            (0.004, "< 1 %"),
            (0.009_9, "1 %"),
            (0.374, "37 %"),
            (0.99, "99 %"),
            (0.999, "> 99 %"),
            (1.0, "100 %"),
            (1.2, "100 %"),
            (-0.1, "0 %"),
        ];
        for (chance, want) in cases {
            assert_eq!(written_chance(chance).as_deref(), Some(want), "{chance}");
        }
        assert_eq!(written_chance(f64::NAN), None);
    }

    #[test]
    fn no_figure_is_long() {
        assert_eq!(signed_off(-2.5e12, 2), "−2.50e12");
        assert_eq!(signed_off(999_999_999.0, 1), "999999999.0");
        assert!(signed_off(f64::MAX, 6).len() < 10);
    }

    #[test]
    fn chosen_values_are_written_as_chosen() {
        let cases = [
            (0.02, 2),
            (0.25, 2),
            (74.0, 0),
            (1.7, 1),
            (0.1 + 0.2, 1),
            (1.0 / 3.0, 2),
            (2.0 / 3.0, 2),
        ];
        for (value, want) in cases {
            assert_eq!(shortest_decimals(value, 2), want, "{value}");
        }
    }

    #[test]
    fn decimals_follow_the_rounded_value() {
        let cases = [
            (12.0, 2, 0),
            (9.96, 2, 0),
            (9.94, 2, 1),
            (0.0996, 2, 2),
            (1e-30, 2, 6),
            (1e30, 2, 0),
        ];
        for (value, digits, want) in cases {
            assert_eq!(decimals_for(value, digits), want, "{value}");
        }
    }
}
