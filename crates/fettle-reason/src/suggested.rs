//! Which signs a reading of exposure times suggests.

use fettle_notes::{DialMark, Pattern, ServiceNotes, Sign, SignId, SuggestedBy};

/// A pattern that a reading shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// Which.
    pub pattern: Pattern,
    /// The marks at which it shows; empty when they are not known.
    pub marks: Vec<DialMark>,
    /// How great it is, in stops, positive in the sense of the pattern; `None` for one without a figure.
    pub stops: Option<f64>,
    /// Its expanded uncertainty; `None` when it is not known.
    pub uncertainty_stops: Option<f64>,
}

/// A sign that is likely there, and the pattern that says so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suggested<'a> {
    /// The sign's id.
    pub sign: &'a SignId,
    /// The sign.
    pub what: &'a Sign,
    /// Which of the patterns shown, counted from 0.
    pub by: usize,
}

/// The signs that the patterns shown suggest, in the order of the notes; of several patterns the greatest.
///
/// A figure must be greater than the notes ask for by more than its uncertainty: an interval that straddles the bound
/// suggests nothing (the rule of ISO 14253-1).
#[must_use]
pub fn suggested<'a>(notes: &'a ServiceNotes, shown: &[Shown]) -> Vec<Suggested<'a>> {
    let greatest = |sign: &Sign| {
        let fitting = shown
            .iter()
            .enumerate()
            .filter(|(_, shown)| sign.suggested_by.iter().any(|by| fits(by, shown)));
        fitting
            .max_by(|(_, a), (_, b)| figure(a).total_cmp(&figure(b)))
            .map(|(place, _)| place)
    };
    notes
        .signs
        .iter()
        .filter_map(|(sign, what)| greatest(what).map(|by| Suggested { sign, what, by }))
        .collect()
}

fn figure(shown: &Shown) -> f64 {
    shown.stops.unwrap_or(0.0)
}

fn fits(by: &SuggestedBy, shown: &Shown) -> bool {
    if by.pattern != shown.pattern {
        return false;
    }
    let counted = shown
        .marks
        .iter()
        .filter(|mark| by.counts_at(**mark))
        .count();
    let whole_dial = by.from.is_none() && by.to.is_none();
    let at_marks = match by.pattern {
        // Two marks are alike only where both are meant.
        Pattern::Alike => counted == shown.marks.len() && counted > 0,
        _ => counted > 0 || (whole_dial && shown.marks.is_empty()),
    };
    let beyond = by.over_stops.is_none_or(|over| {
        let uncertainty = shown.uncertainty_stops.unwrap_or(0.0);
        !by.pattern.has_figure() || shown.stops.is_some_and(|stops| stops - uncertainty > over)
    });
    at_marks && beyond
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIGNS: &str = r#"
[circumstance.rest]
name = "rest"
question = "Unused for years?"
chance = 0.5
[fault.grease]
name = "hardened grease"
is = "cause"
leak = 0.1
brought_on_by = { rest = 0.4 }
parts = ["shutter"]
cured_by = ["clean"]
[work.clean]
name = "clean"
minutes = 30
success = 0.9
[sign.hang]
question = "Do the slow speeds hang?"
at = "shutter"
minutes = 1
links = { grease = 0.8 }
leak = 0.01
measured = "shutter"
suggested_by = [{ pattern = "slow-end", over_stops = 0.25, to = "1/10" }, { pattern = "all-slow" }]
[sign.alike]
question = "Do two speeds from 1/2 to 1/100 give the same time?"
at = "shutter"
minutes = 1
links = { grease = 0.1 }
leak = 0.01
measured = "shutter"
suggested_by = [{ pattern = "alike", from = "1/2", to = "1/100" }]
"#;

    fn notes() -> ServiceNotes {
        let text = format!("{}\n{SIGNS}", crate::fixture::TOML);
        fettle_notes::parse(&text, None)
            .expect("the notes of the test are right")
            .0
    }

    fn marks(texts: &[&str]) -> Vec<DialMark> {
        texts
            .iter()
            .map(|text| text.parse().expect("a mark"))
            .collect()
    }

    fn shown(pattern: Pattern, at: &[&str], stops: f64) -> Shown {
        Shown {
            pattern,
            marks: marks(at),
            stops: Some(stops),
            uncertainty_stops: Some(0.05),
        }
    }

    fn signs(shown: &[Shown]) -> Vec<(String, usize)> {
        suggested(&notes(), shown)
            .iter()
            .map(|it| (it.sign.to_string(), it.by))
            .collect()
    }

    #[test]
    fn a_sign_is_suggested_where_the_interval_lies_beyond_what_the_notes_ask() {
        let at = ["1", "1/2"];
        assert_eq!(
            signs(&[shown(Pattern::SlowEnd, &at, 0.31)]),
            [("hang".to_owned(), 0)]
        );
        assert!(signs(&[shown(Pattern::SlowEnd, &at, 0.29)]).is_empty());
        assert!(signs(&[shown(Pattern::SlowEnd, &["1/100"], 0.9)]).is_empty());
    }

    #[test]
    fn of_several_patterns_the_greatest_is_given() {
        let both = [
            shown(Pattern::AllSlow, &["1", "1/100"], 0.3),
            shown(Pattern::SlowEnd, &["1"], 0.6),
        ];
        assert_eq!(signs(&both), [("hang".to_owned(), 1)]);
    }

    #[test]
    fn both_of_two_alike_marks_must_be_meant() {
        assert_eq!(
            signs(&[shown(Pattern::Alike, &["1/50", "1/100"], 0.1)]),
            [("alike".to_owned(), 0)]
        );
        assert!(signs(&[shown(Pattern::Alike, &["1/100", "1/250"], 0.1)]).is_empty());
    }
}
