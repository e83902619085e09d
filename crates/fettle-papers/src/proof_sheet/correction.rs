//! The correction an owner can use for a speed that runs long or short.

use crate::language::Language;
use crate::words::Words;

/// Says what to do at a marked speed whose exposure is off, in thirds of a stop, the steps of lens and film scales.
///
/// `error_stops` is positive when the exposure is longer than marked. `None` when it rounds to nothing, or is not a
/// number.
///
/// ```
/// use fettle_papers::{Language, exposure_correction};
///
/// let words = exposure_correction(Language::En, "1/500", 0.35);
/// assert_eq!(words.as_deref(), Some("at 1/500 give a third of a stop less"));
/// ```
#[must_use]
pub fn exposure_correction(language: Language, marked: &str, error_stops: f64) -> Option<String> {
    if !error_stops.is_finite() {
        return None;
    }
    let words = Words::of(language);
    let thirds = (error_stops.abs() * 3.0).round().min(90.0) as u32;
    let whole = thirds / 3;
    let named = usize::try_from(whole)
        .ok()
        .and_then(|whole| words.list("proof.numbers").get(whole.checked_sub(1)?));
    let n = named.cloned().unwrap_or_else(|| whole.to_string());
    let amount = match (whole, thirds % 3) {
        (0, 0) => return None,
        (0, 1) => words.say("proof.third").to_owned(),
        (0, _) => words.say("proof.two_thirds").to_owned(),
        (_, 0) => words.count_as(language, "proof.stops", whole.into(), &n),
        (_, 1) => words.fill("proof.stops_and_third", &[("n", n)]),
        _ => words.fill("proof.stops_and_two_thirds", &[("n", n)]),
    };
    let way = if error_stops > 0.0 {
        "proof.give_less"
    } else {
        "proof.give_more"
    };
    let with = [("marked", marked.to_owned()), ("amount", amount)];
    Some(words.fill(way, &with))
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
                exposure_correction(Language::En, "1/500", error).as_deref(),
                want,
                "{error}"
            );
        }
    }

    #[test]
    fn corrections_are_told_in_german_too() {
        let cases = [
            (0.34, "bei 1/500 eine Drittelstufe weniger belichten"),
            (-1.0, "bei 1/500 eine Stufe mehr belichten"),
            (-2.4, "bei 1/500 zwei und eine Drittelstufe mehr belichten"),
            (5.0, "bei 1/500 5 Stufen weniger belichten"),
        ];
        for (error, want) in cases {
            let told = exposure_correction(Language::De, "1/500", error);
            assert_eq!(told.as_deref(), Some(want), "{error}");
        }
    }
}
