//! Makes the record's texts fit to be set: what the faces lack is shown as an empty box and told.

use serde_json::Value;
use unicode_segmentation::UnicodeSegmentation as _;

use crate::fonts::Fonts;

/// Stands for a character no face has.
const BOX: char = '□';
/// A run of characters this wide without a place to break gets one, so that no word leaves its column: in
/// twentieths of the letters' size, as [`width`] reckons.
const LONGEST_RUN: u32 = 280;
/// The place to break: a space without width.
const BREAK: char = '\u{200b}';

/// Which characters are let through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Letters {
    /// All that some face covers.
    Covered,
    /// Only the everyday ones, without combining marks, when the faces refused a combination of covered ones.
    Everyday,
}

/// Goes through every text in `contents`, and gives back those that had to be changed, as they were.
pub(crate) fn make_legible(contents: &mut Value, letters: Letters) -> Vec<String> {
    let mut changed = Vec::new();
    walk(contents, letters, &mut changed);
    changed
}

fn walk(value: &mut Value, letters: Letters, changed: &mut Vec<String>) {
    match value {
        Value::String(text) => {
            let (legible, lost) = legible(text, letters);
            if lost && !is_drawing(text) && !changed.contains(text) {
                changed.push(text.clone());
            }
            *text = legible;
        }
        Value::Array(items) => items.iter_mut().for_each(|v| walk(v, letters, changed)),
        Value::Object(fields) => fields.values_mut().for_each(|v| walk(v, letters, changed)),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// The drawings travel among the texts; their words come from texts that are told of already.
fn is_drawing(text: &str) -> bool {
    text.starts_with("<svg ")
}

/// The text as it can be set, and whether a character was lost.
fn legible(text: &str, letters: Letters) -> (String, bool) {
    let breaks = !is_drawing(text);
    let mut out = String::with_capacity(text.len());
    let (mut lost, mut run) = (false, 0);
    // Marks stay with their letter: a place to break between them would tear them off.
    for cluster in text.graphemes(true) {
        for c in cluster.chars() {
            match set(c, letters) {
                Set::As(c) => out.push(c),
                Set::Dropped => {}
                Set::Lost => {
                    lost = true;
                    out.push(BOX);
                }
            }
        }
        let first = cluster.chars().next().unwrap_or(' ');
        run = if first.is_whitespace() || first.is_control() || first == '-' || stands_alone(first)
        {
            0
        } else {
            run + width(first)
        };
        if breaks && run >= LONGEST_RUN {
            out.push(BREAK);
            run = 0;
        }
    }
    (out, lost)
}

/// What becomes of a character.
enum Set {
    As(char),
    Dropped,
    Lost,
}

fn set(c: char, letters: Letters) -> Set {
    if c.is_control() || c == '\u{2028}' || c == '\u{2029}' {
        Set::As(' ')
    } else if steers_direction(c) {
        Set::Dropped
    } else if joins(c) && letters == Letters::Covered
        || Fonts::bundled().cover(c) && (letters == Letters::Covered || everyday(c))
    {
        Set::As(c)
    } else {
        Set::Lost
    }
}

/// Han, kana and the like: a line may end after each of them.
fn stands_alone(c: char) -> bool {
    matches!(c, '\u{2e80}'..='\u{a4cf}' | '\u{f900}'..='\u{faff}' | '\u{ff00}'..='\u{ff60}' | '\u{20000}'..='\u{3ffff}')
}

/// About how wide a character is set, in twentieths of the letters' size; rather too much than too little.
fn width(c: char) -> u32 {
    match c {
        'i' | 'j' | 'l' | 'f' | 't' | 'r' | 'I' | '.' | ',' | ':' | ';' | '!' | '|' | '\'' => 7,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '…' | '—' => 19,
        '\u{370}'..='\u{4ff}' => 13,
        c if c.is_uppercase() => 15,
        c if c.is_ascii() || ('\u{a0}'..'\u{250}').contains(&c) => 11,
        _ => 20,
    }
}

/// Marks that would turn the text around them about; the direction of letters themselves is enough.
fn steers_direction(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Characters without a shape of their own that join or part others.
fn joins(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{ad}')
}

/// Latin, Greek and Cyrillic letters, figures, and the signs the papers use themselves.
fn everyday(c: char) -> bool {
    matches!(c,
        ' '..='~' | '\u{a0}'..='\u{ac}' | '\u{ae}'..='\u{24f}' | '\u{370}'..='\u{3ff}' | '\u{400}'..='\u{45f}'
        | '–' | '—' | '‘' | '’' | '“' | '”' | '…' | '−' | '₀' | '⅓' | '⅔' | '□')
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn characters_without_a_glyph_become_boxes_and_are_told_once() {
        let mut contents = json!({"owner": "𓀀𓀁 Anna", "again": ["𓀀𓀁 Anna"], "place": "青木"});
        let changed = make_legible(&mut contents, Letters::Covered);
        assert_eq!(changed, ["𓀀𓀁 Anna"]);
        assert_eq!(
            contents,
            json!({"owner": "□□ Anna", "again": ["□□ Anna"], "place": "青木"})
        );
    }

    #[test]
    fn lines_and_controls_become_spaces_and_direction_marks_go() {
        assert_eq!(
            legible("a\nb\u{0}c\u{202e}d", Letters::Covered),
            ("a b cd".to_owned(), false)
        );
    }

    #[test]
    fn a_word_too_long_for_the_page_gets_places_to_break() {
        let (text, lost) = legible(&"x".repeat(90), Letters::Covered);
        assert!(!lost);
        assert_eq!(text.matches(BREAK).count(), 3);
        let (wide, _) = legible(&"W".repeat(90), Letters::Covered);
        assert_eq!(wide.matches(BREAK).count(), 6);
        assert_eq!(text.replace(BREAK, ""), "x".repeat(90));
    }

    #[test]
    fn places_to_break_never_part_a_letter_from_its_marks() {
        let name = "สวัสดีครับผู้ที่รักกล้องถ่ายรูปทั้งหลาย";
        let (text, lost) = legible(name, Letters::Covered);
        assert!(!lost);
        assert!(text.contains(BREAK));
        let parts: Vec<&str> = text
            .split(BREAK)
            .flat_map(|part| part.graphemes(true))
            .collect();
        assert_eq!(parts, name.graphemes(true).collect::<Vec<_>>());
        assert_eq!(
            legible(&"青".repeat(90), Letters::Covered).0,
            "青".repeat(90)
        );
    }

    #[test]
    fn everyday_letters_leave_combining_marks_out() {
        assert_eq!(
            legible("e\u{301}é", Letters::Everyday),
            ("e□é".to_owned(), true)
        );
    }
}
