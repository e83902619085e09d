//! Calendar files, read back by the rules of RFC 5545.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use fettle_papers::{Event, EventKind, Language, calendar, event_title};
use jiff::Timestamp;
use jiff::civil::{Date, date};
use proptest::prelude::*;

fn made() -> Timestamp {
    "2026-11-27T09:05:00Z".parse().unwrap()
}

fn event(title: &str, words: &str) -> Event {
    Event {
        uid: "promised-57@saltmere.example".to_owned(),
        on: date(2026, 12, 31),
        title: title.to_owned(),
        words: words.to_owned(),
    }
}

/// The lines put together again (§3.1): a line break followed by a space is no line break.
fn unfolded(file: &str) -> Vec<String> {
    let whole = file.strip_suffix("\r\n").expect("the last line ends too");
    whole
        .replace("\r\n ", "")
        .split("\r\n")
        .map(str::to_owned)
        .collect()
}

/// A text as it was before it was escaped (§3.3.11).
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => match chars.next() {
                Some('n' | 'N') => out.push('\n'),
                Some(c) => out.push(c),
                None => panic!("a backslash at the end"),
            },
            ',' | ';' => panic!("a bare {c}"),
            c => out.push(c),
        }
    }
    out
}

fn values(file: &str, name: &str) -> Vec<String> {
    let lines = unfolded(file).into_iter();
    lines
        .filter_map(|line| line.strip_prefix(name).map(str::to_owned))
        .collect()
}

#[test]
fn an_event_is_a_whole_day_that_leaves_it_free() {
    let file = calendar(
        &[event("Aldous; promised, at last", "two\nlines \\ here")],
        made(),
    );
    assert_eq!(
        file,
        calendar(
            &[event("Aldous; promised, at last", "two\nlines \\ here")],
            made()
        )
    );
    let wanted = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "CALSCALE:GREGORIAN",
        "BEGIN:VEVENT",
        "UID:promised-57@saltmere.example",
        "DTSTAMP:20261127T090500Z",
        "DTSTART;VALUE=DATE:20261231",
        "DTEND;VALUE=DATE:20270101",
        "SUMMARY:Aldous\\; promised\\, at last",
        "DESCRIPTION:two\\nlines \\\\ here",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
        "END:VCALENDAR",
    ];
    let lines = unfolded(&file);
    let told: Vec<&str> = lines
        .iter()
        .map(String::as_str)
        .filter(|line| !line.starts_with("PRODID:"))
        .collect();
    assert_eq!(told, wanted);
}

#[test]
fn the_last_day_of_all_has_no_end() {
    let last = Event {
        on: Date::MAX,
        ..event("", "")
    };
    let file = calendar(&[last], made());
    assert_eq!(values(&file, "DTSTART;VALUE=DATE:"), ["99991231"]);
    assert!(values(&file, "DTEND").is_empty());
}

#[test]
fn titles_tell_the_kind_in_every_language() {
    let kinds = [
        EventKind::Promised,
        EventKind::LookAgain,
        EventKind::GuaranteeEnds,
    ];
    for language in Language::ALL {
        let mut titles: Vec<String> = kinds
            .iter()
            .map(|kind| event_title(language, *kind, "Aldous Corran 66", "57"))
            .collect();
        assert!(
            titles
                .iter()
                .all(|it| it.contains("Aldous Corran 66") && it.contains("57"))
        );
        titles.sort();
        titles.dedup();
        assert_eq!(titles.len(), kinds.len());
    }
}

proptest! {
    #[test]
    fn any_text_comes_back_from_short_lines(title in any::<String>(), words in "\\PC{0,300}") {
        let file = calendar(&[event(&title, &words), event("second", "")], made());
        for line in file.split("\r\n") {
            prop_assert!(line.len() <= 75, "{} octets", line.len());
            prop_assert!(!line.contains(|c: char| c.is_control() && c != '\t'), "{line:?}");
        }
        let plain: String = title
            .replace("\r\n", "\n")
            .replace('\r', "\n")
            .chars()
            .filter(|c| !c.is_control() || matches!(c, '\n' | '\t'))
            .collect();
        let titles: Vec<String> = values(&file, "SUMMARY:").iter().map(|it| unescaped(it)).collect();
        prop_assert_eq!(titles, [plain, "second".to_owned()]);
        let told: Vec<String> = values(&file, "DESCRIPTION:").iter().map(|it| unescaped(it)).collect();
        prop_assert_eq!(told.join(""), words);
    }
}
