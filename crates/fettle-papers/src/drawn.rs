//! Charts in the language of a paper. They are drawn in English; what is written on them is put over word by word.

use crate::language::Language;
use crate::words::Words;

/// What is written on the charts of the proof sheet and on the correction card.
const WRITTEN: [&str; 14] = [
    "drawn.error_stops",
    "drawn.marked_speed",
    "drawn.expanded_uncertainty",
    "drawn.limit",
    "drawn.no_trace",
    "drawn.meter_correction",
    "drawn.shows",
    "drawn.add",
    "drawn.no_correction",
    "drawn.signs",
    "drawn.signs_within",
    "drawn.right_within",
    "drawn.nowhere_within",
    "drawn.knee",
];
const OPENS: &str = "<text";
const CLOSES: &str = "</text>";

/// The chart with its words and decimal signs in the language. What is not known as a word stays.
pub(crate) fn in_language(chart: String, language: Language) -> String {
    if language == Language::En {
        return chart;
    }
    let mut out = String::with_capacity(chart.len());
    let mut rest = chart.as_str();
    while let Some((before, written, after)) = next_text(rest) {
        out.push_str(before);
        out.push_str(&put_over(written, language));
        rest = after;
    }
    out.push_str(rest);
    out
}

/// What stands before the next text of a drawing, the text, and what follows it.
fn next_text(svg: &str) -> Option<(&str, &str, &str)> {
    let opens = svg.find(OPENS)?;
    let begins = opens + svg.get(opens..)?.find('>')? + 1;
    let ends = begins + svg.get(begins..)?.find(CLOSES)?;
    Some((svg.get(..begins)?, svg.get(begins..ends)?, svg.get(ends..)?))
}

fn put_over(written: &str, language: Language) -> String {
    let (from, to) = (Words::of(Language::En), Words::of(language));
    let known = WRITTEN.into_iter().find_map(|key| {
        let figures = figures_of(from.say(key), written)?;
        Some((key, figures))
    });
    match known {
        Some((key, figures)) => with_decimal_signs(&to.fill(key, &figures), language),
        None => with_decimal_signs(written, language),
    }
}

/// What stands in a text in the place of each placeholder of `words`; `None` when the text says something else.
fn figures_of<'a>(words: &'a str, text: &str) -> Option<Vec<(&'a str, String)>> {
    let (before, mut words) = words.split_once('{').unwrap_or((words, ""));
    let mut text = text.strip_prefix(before)?;
    let mut figures = Vec::new();
    while let Some((name, after)) = words.split_once('}') {
        let (until, rest) = after.split_once('{').unwrap_or((after, ""));
        let ends = if until.is_empty() {
            text.len()
        } else {
            text.find(until)?
        };
        figures.push((name, text.get(..ends)?.to_owned()));
        text = text.get(ends + until.len()..)?;
        words = rest;
    }
    text.is_empty().then_some(figures)
}

/// The text with this language's sign in place of each point between two figures.
fn with_decimal_signs(written: &str, language: Language) -> String {
    let sign = Words::of(language).say("house.decimal");
    let chars: Vec<char> = written.chars().collect();
    let is_figure = |at: Option<usize>| {
        at.and_then(|at| chars.get(at))
            .is_some_and(char::is_ascii_digit)
    };
    let mut out = String::with_capacity(written.len());
    for (at, &c) in chars.iter().enumerate() {
        if c == '.' && is_figure(at.checked_sub(1)) && is_figure(at.checked_add(1)) {
            out.push_str(sign);
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use fettle_measure::meter::CardRow;

    use fettle_draw::{
        CorrectionCard, Mark, Sheet, SpeedChart, SpeedColumn, SpeedReading, correction_card,
        speed_chart, trace_pair,
    };

    use super::*;

    fn chart() -> String {
        let chart = SpeedChart {
            title: "chart".to_owned(),
            series: vec![("before".to_owned(), Mark::OpenCircle)],
            speeds: vec![SpeedColumn {
                marked: "1/60".to_owned(),
                limit_stops: Some(0.25),
                readings: vec![Some(SpeedReading {
                    error_stops: 0.3,
                    uncertainty_stops: Some(0.1),
                })],
            }],
        };
        speed_chart(&chart, Sheet::Light) + &trace_pair("1/60 s", None, None, Sheet::Light)
    }

    fn cards() -> String {
        let row = CardRow {
            indicated_ev: 9.0,
            add_stops: 0.3,
            add_stops_u: Some(0.1),
        };
        let card = |rows: Vec<CardRow>, notes: &[&str]| {
            let card = CorrectionCard {
                title: "meter correction".to_owned(),
                camera: "Aldous Corran 66".to_owned(),
                rows,
                notes: notes.iter().map(|&it| it.to_owned()).collect(),
            };
            correction_card(&card, Sheet::Light)
        };
        let notes = [
            "within 0.5 stops without it from 5.0 to 16.0 EV of light",
            "two pieces, knee at 9.5 EV of light",
        ];
        card(vec![row], &notes)
            + &card(Vec::new(), &["nowhere within 0.5 stops without it"])
            + &card(vec![row; 40], &[])
    }

    /// The texts of drawings, in order.
    fn texts(mut svg: &str) -> Vec<&str> {
        let mut texts = Vec::new();
        while let Some((_, text, after)) = next_text(svg) {
            texts.push(text);
            svg = after;
        }
        texts
    }

    #[test]
    fn every_word_to_put_over_is_drawn() {
        let drawn = chart() + &cards();
        let texts = texts(&drawn);
        for key in WRITTEN {
            let word = Words::of(Language::En).say(key);
            let there = texts.iter().any(|text| figures_of(word, text).is_some());
            assert!(there, "{word} is not among {texts:?}");
        }
    }

    #[test]
    fn no_english_word_and_no_point_is_left_and_the_drawing_stays() {
        let english = chart() + &cards();
        assert_eq!(in_language(english.clone(), Language::En), english);
        let german = in_language(english.clone(), Language::De);
        let same: Vec<&str> = texts(&german)
            .into_iter()
            .zip(texts(&english))
            .filter(|(de, en)| de == en && de.contains(|c: char| c.is_ascii_lowercase()))
            .map(|(de, _)| de)
            .collect();
        // Names that the caller gives stay.
        let named = |text: &&str| ["before", "1/60 s", "Aldous Corran 66"].contains(text);
        assert!(same.iter().all(named), "{same:?}");
        let shapes = |svg: &str| svg.lines().filter(|it| !it.starts_with("<text")).count();
        assert_eq!(shapes(&english), shapes(&german));
        let signs = "+0.5 of 1/60, f. 1.";
        assert_eq!(
            with_decimal_signs(signs, Language::De),
            "+0,5 of 1/60, f. 1."
        );
    }

    #[test]
    fn figures_are_taken_out_of_a_text_and_other_texts_left() {
        let words = "within {limit} stops from {from} to {to} EV";
        let told = figures_of(words, "within 0.50 stops from 5.0 to 16.0 EV").unwrap();
        let values: Vec<&str> = told.iter().map(|(_, value)| value.as_str()).collect();
        assert_eq!(values, ["0.50", "5.0", "16.0"]);
        assert_eq!(figures_of(words, "within 0.50 stops"), None);
        assert_eq!(figures_of("limit", "limits"), None);
        assert_eq!(figures_of("limit", "limit"), Some(Vec::new()));
    }

    #[test]
    fn a_drawing_cut_short_does_no_harm() {
        for cut in [
            "<text",
            "<text>",
            "<text x=\"1\">0.5",
            "",
            "é<text>0.5</text>",
        ] {
            let whole = in_language(cut.to_owned(), Language::De);
            assert_eq!(whole.len(), cut.len());
        }
    }
}
