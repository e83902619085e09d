//! Lettering: how wide words come out, and where they break.

/// Advance widths of letters in thousandths of the letter height, from a wide sans serif (`DejaVu Sans`), so that words
/// fit in whatever font a page has.
fn advance(c: char) -> f64 {
    let thousandths = match c {
        'i' | 'j' | 'l' | '\'' | '|' => 290,
        'I' | ' ' | '\u{a0}' | '.' | ',' | ':' | ';' => 325,
        'f' | 't' | 'r' | '-' | '/' | '(' | ')' | '[' | ']' | '!' | '·' => 400,
        's' | 'z' | 'c' | 'J' | '?' => 550,
        'w' | 'C' | 'G' | 'D' | 'H' | 'N' | 'O' | 'Q' | '×' | '±' | '−' | '+' | '=' => 810,
        'm' | 'M' | 'W' | '%' | '@' | '—' | '…' => 1000,
        'a'..='z' | '0'..='9' => 636,
        'A'..='Z' => 700,
        '\u{300}'..='\u{36f}' => 0,
        '\u{1100}'.. => 1050,
        _ => 660,
    };
    f64::from(thousandths) / 1000.0
}

/// Greatest width of words set in one line, in the unit of `size`.
pub(crate) fn width_of(words: &str, size: f64) -> f64 {
    words.chars().map(advance).sum::<f64>() * size
}

/// Breaks words into at most `lines` lines no wider than `width`; what does not fit ends in an ellipsis.
///
/// A single word wider than a line is broken within.
pub(crate) fn wrapped(words: &str, size: f64, width: f64, lines: usize) -> Vec<String> {
    let (mut out, whole) = broken(words, size, width, lines);
    if !whole && let Some(last) = out.last_mut() {
        while !last.is_empty() && width_of(last, size) + advance('…') * size > width {
            last.pop();
        }
        last.truncate(last.trim_end_matches([' ', ',', ';', ':']).len());
        last.push('…');
    }
    out
}

/// The narrowest width between two limits, by steps of four, at which words fit in `lines` lines; the upper limit when
/// they fit in none. No word is broken within where the upper limit holds it.
pub(crate) fn snug_width(words: &str, size: f64, lines: usize, least: f64, most: f64) -> f64 {
    let longest = split(words)
        .into_iter()
        .map(|word| width_of(word, size))
        .fold(least, f64::max);
    let mut width = longest;
    while width < most && !broken(words, size, width, lines).1 {
        width += 4.0;
    }
    width.min(most)
}

/// Single words. A figure keeps its unit, and a space that forbids a break joins two words to one.
fn split(words: &str) -> Vec<&str> {
    let breaks = |c: char| c.is_whitespace() && !matches!(c, '\u{a0}' | '\u{202f}');
    // Where the last word begins and ends.
    let mut last: Option<(usize, usize)> = None;
    let mut out: Vec<&str> = Vec::new();
    let mut end = 0;
    for piece in words.split_inclusive(breaks) {
        let begin = end;
        end += piece.len();
        let word = piece.trim_end_matches(breaks);
        if word.is_empty() {
            continue;
        }
        let start = match last {
            Some((start, before)) if together(&words[start..before], word) => {
                out.pop();
                start
            }
            _ => begin,
        };
        last = Some((start, begin + word.len()));
        out.push(&words[start..begin + word.len()]);
    }
    out
}

/// Whether two words stay on one line: a figure and its unit, or a sign and its figure.
fn together(before: &str, word: &str) -> bool {
    let unit = word.trim_end_matches(['?', ',', '.', ';', ':']);
    (before.ends_with(|c: char| c.is_ascii_digit()) && UNITS.contains(&unit))
        || matches!(before, "<" | ">" | "±" | "×")
}

const UNITS: [&str; 11] = [
    "%", "s", "ms", "min", "mm", "m", "g", "N", "V", "°", "stops",
];

/// The lines, and whether all words found room.
fn broken(words: &str, size: f64, width: f64, lines: usize) -> (Vec<String>, bool) {
    let mut out: Vec<String> = Vec::new();
    for mut word in split(words) {
        if let Some(line) = out.last_mut()
            && width_of(line, size) + (advance(' ') * size) + width_of(word, size) <= width + SLACK
        {
            line.push(' ');
            line.push_str(word);
            continue;
        }
        loop {
            if out.len() == lines {
                // The last line is filled to its end, so that it shows all it can before the ellipsis.
                if let Some(line) = out.last_mut() {
                    line.push(' ');
                    line.push_str(word);
                }
                return (out, false);
            }
            let head = head_within(word, size, width);
            out.push(word[..head].to_owned());
            word = &word[head..];
            if word.is_empty() {
                break;
            }
        }
    }
    (out, true)
}

/// What sums of widths may differ by from rounding.
const SLACK: f64 = 1e-6;

/// How many bytes of a word fit in a width: at least its first letter.
fn head_within(word: &str, size: f64, width: f64) -> usize {
    let mut used = 0.0;
    for (at, c) in word.char_indices() {
        used += advance(c);
        if used * size > width + SLACK && at > 0 {
            return at;
        }
    }
    word.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_break_between_words_and_end_in_an_ellipsis_when_they_must() {
        assert_eq!(wrapped("wind knob", 11.0, 80.0, 2), ["wind knob"]);
        assert_eq!(
            wrapped("cover of the wind side", 11.0, 80.0, 2),
            ["cover of the", "wind side"]
        );
        assert_eq!(
            wrapped("measuring roller with its rubber sleeve", 11.0, 110.0, 2),
            ["measuring roller", "with its rubber sl…"]
        );
        assert!(wrapped("", 11.0, 80.0, 2).is_empty());
    }

    #[test]
    fn a_figure_keeps_its_unit() {
        let words = "Is it longer than 13 s? by < 1 %";
        assert_eq!(
            split(words),
            ["Is", "it", "longer", "than", "13 s?", "by", "< 1 %"]
        );
        assert_eq!(split(" 4 \u{a0}x  y "), ["4", "\u{a0}x", "y"]);
        assert!(split("  ").is_empty());
    }

    #[test]
    fn no_line_is_wider_than_asked() {
        let words =
            "flash contact springs on their insulating block, Unterbrecherscheibenhalterung";
        for width in [30.0, 64.0, 90.0, 150.0] {
            for lines in 1..5 {
                let out = wrapped(words, 11.0, width, lines);
                assert!(out.len() <= lines);
                for line in out {
                    assert!(width_of(&line, 11.0) <= width + 1e-6, "{line} in {width}");
                }
            }
        }
    }

    #[test]
    fn a_snug_width_holds_the_words_and_four_less_does_not() {
        let words = "spring of the frame stop lever";
        let width = snug_width(words, 11.0, 2, 40.0, 300.0);
        assert!(!wrapped(words, 11.0, width, 2).concat().contains('…'));
        assert!(wrapped(words, 11.0, width - 4.0, 2).concat().contains('…'));
        assert!((snug_width(words, 11.0, 1, 40.0, 60.0) - 60.0).abs() < 1e-9);
    }
}
