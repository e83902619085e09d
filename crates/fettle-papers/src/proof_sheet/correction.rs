//! The correction an owner can use for a speed that runs long or short.

/// Says what to do at a marked speed whose exposure is off, in thirds of a stop, the steps of lens and film scales.
///
/// `error_stops` is positive when the exposure is longer than marked. `None` when it rounds to nothing, or is not a
/// number.
///
/// ```
/// use fettle_papers::exposure_correction;
///
/// let words = exposure_correction("1/500", 0.35);
/// assert_eq!(words.as_deref(), Some("at 1/500 give a third of a stop less"));
/// ```
#[must_use]
pub fn exposure_correction(marked: &str, error_stops: f64) -> Option<String> {
    if !error_stops.is_finite() {
        return None;
    }
    let thirds = (error_stops.abs() * 3.0).round().min(90.0) as u32;
    let amount = match (thirds / 3, thirds % 3) {
        (0, 0) => return None,
        (0, 1) => "a third of a stop".to_owned(),
        (0, _) => "two thirds of a stop".to_owned(),
        (1, 0) => "one stop".to_owned(),
        (whole, 0) => format!("{} stops", whole_word(whole)),
        (whole, 1) => format!("{} and a third stops", whole_word(whole)),
        (whole, _) => format!("{} and two thirds stops", whole_word(whole)),
    };
    let way = if error_stops > 0.0 { "less" } else { "more" };
    Some(format!("at {marked} give {amount} {way}"))
}

fn whole_word(whole: u32) -> String {
    match whole {
        1 => "one".to_owned(),
        2 => "two".to_owned(),
        3 => "three".to_owned(),
        _ => whole.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corrections_are_told_in_thirds_with_their_direction() {
        let cases = [
            (0.34, Some("at 1/500 give a third of a stop less")),
            (-0.6, Some("at 1/500 give two thirds of a stop more")),
            (1.02, Some("at 1/500 give one stop less")),
            (-1.4, Some("at 1/500 give one and a third stops more")),
            (2.0, Some("at 1/500 give two stops less")),
            (4.7, Some("at 1/500 give 4 and two thirds stops less")),
            (0.16, None),
            (-0.16, None),
            (0.17, Some("at 1/500 give a third of a stop less")),
            (f64::NAN, None),
        ];
        for (error, want) in cases {
            assert_eq!(
                exposure_correction("1/500", error).as_deref(),
                want,
                "{error}"
            );
        }
    }
}
