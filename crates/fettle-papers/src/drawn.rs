//! Charts in the language of a paper. They are drawn in English; what is written on them is put over word by word.

use crate::language::Language;
use crate::words::Words;

/// The words written on the charts of the proof sheet.
const WRITTEN: [&str; 5] = [
    "drawn.error_stops",
    "drawn.marked_speed",
    "drawn.expanded_uncertainty",
    "drawn.limit",
    "drawn.no_trace",
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
    match WRITTEN.into_iter().find(|key| from.say(key) == written) {
        Some(key) => to.say(key).to_owned(),
        None => with_decimal_signs(written, language),
    }
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
    use fettle_draw::{
        Mark, Sheet, SpeedChart, SpeedColumn, SpeedReading, speed_chart, trace_pair,
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

    #[test]
    fn every_word_to_put_over_stands_on_a_chart() {
        let chart = chart();
        for key in WRITTEN {
            let word = Words::of(Language::En).say(key);
            assert!(chart.contains(&format!(">{word}</text>")), "{word}");
        }
    }

    #[test]
    fn words_and_decimal_signs_are_put_over_and_the_drawing_stays() {
        let english = chart();
        assert_eq!(in_language(english.clone(), Language::En), english);
        let german = in_language(english.clone(), Language::De);
        for key in WRITTEN {
            let word = Words::of(Language::De).say(key);
            assert!(german.contains(&format!(">{word}</text>")), "{word}");
        }
        let shapes = |svg: &str| svg.lines().filter(|it| !it.starts_with("<text")).count();
        assert_eq!(shapes(&english), shapes(&german));
        assert_eq!(
            with_decimal_signs("+0.5 of 1/60, f. 1.", Language::De),
            "+0,5 of 1/60, f. 1."
        );
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
