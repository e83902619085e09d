//! Laws that hold for any input: reading never panics, and every problem lies in the file.

use fettle_notes::{Date, ModelId, Problem, ServiceNotes, parse, parse_bytes, template};
use proptest::prelude::*;

const GOOD: &str = include_str!("cases/good.toml");

/// The problems told, whether or not the file can be used.
fn problems(result: Result<(ServiceNotes, Vec<Problem>), fettle_notes::Problems>) -> Vec<Problem> {
    match result {
        Ok((_, warnings)) => warnings,
        Err(problems) => problems.into_vec(),
    }
}

/// Whether every place told lies in the text: at most one column beyond the end of a line that is there.
fn all_in_file(text: &str, problems: &[Problem]) -> Result<(), TestCaseError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let lines: Vec<usize> = text
        .split('\n')
        .map(|l| l.strip_suffix('\r').unwrap_or(l).chars().count())
        .collect();
    for problem in problems {
        let also = problem.also.iter().map(|a| (a.line, a.column));
        for (line, column) in also.chain([(problem.line, problem.column)]) {
            let length = lines.get(line as usize - 1).copied();
            prop_assert!(
                length.is_some_and(|l| (1..=l + 1).contains(&(column as usize))),
                "{problem}"
            );
        }
        prop_assert!(!problem.message.is_empty() && !problem.to_string().ends_with('\n'));
    }
    Ok(())
}

/// Words and signs from which texts like service notes are put together.
fn scraps() -> impl Strategy<Value = String> {
    let words = [
        "[",
        "]",
        "{",
        "}",
        "=",
        ".",
        ",",
        "\"",
        "'",
        "\"\"\"",
        "'''",
        "\n",
        "\r\n",
        " ",
        "#",
        "\\",
        "part",
        "removal",
        "fault",
        "sign",
        "work",
        "setting",
        "limit",
        "circumstance",
        "model",
        "format",
        "id",
        "name",
        "at",
        "after",
        "either",
        "links",
        "leak",
        "brought_on_by",
        "cured_by",
        "adjusters",
        "effects",
        "per_turn",
        "marks",
        "tolerances",
        "kind",
        "shutter",
        "\"shutter\"",
        "a",
        "b",
        "\"a\"",
        "0.5",
        "-1",
        "1e999",
        "nan",
        "inf",
        "0x7f",
        "true",
        "2026-03-14",
        "é",
        "\u{0}",
        "\u{feff}",
        "1/500",
        "[part.a]\n",
        "[removal.a]\n",
        "[fault.a]\n",
        "[limit.a]\n",
        "after = [\"a\"]\n",
        "kind = \"shutter\"\n",
        "marks = [\"1\"]\n",
    ];
    prop::collection::vec(prop::sample::select(words.to_vec()), 0..80)
        .prop_map(|words| words.concat())
}

/// A good file with one thing changed: a line taken out, a line twice, two lines exchanged, or a character changed.
fn mutated() -> impl Strategy<Value = String> {
    let lines = GOOD.lines().count();
    let chars = GOOD.chars().count();
    prop_oneof![
        (0..lines).prop_map(|at| {
            GOOD.lines()
                .enumerate()
                .filter(|(n, _)| *n != at)
                .map(|(_, l)| format!("{l}\n"))
                .collect()
        }),
        (0..lines, 0..lines).prop_map(|(from, to)| {
            let mut all: Vec<&str> = GOOD.lines().collect();
            all.insert(to, all[from]);
            all.join("\n")
        }),
        (0..lines, 0..lines).prop_map(|(a, b)| {
            let mut all: Vec<&str> = GOOD.lines().collect();
            all.swap(a, b);
            all.join("\n")
        }),
        (0..chars, any::<char>()).prop_map(|(at, with)| {
            GOOD.chars()
                .enumerate()
                .map(|(n, c)| if n == at { with } else { c })
                .collect()
        }),
        (0..chars).prop_map(|at| GOOD.chars().take(at).collect()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn any_bytes_are_read_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let found = problems(parse_bytes(&bytes, Some("any.toml")));
        all_in_file(&String::from_utf8_lossy(&bytes), &found)?;
    }

    #[test]
    fn any_text_like_notes_is_read_without_panic(text in scraps()) {
        let found = problems(parse(&text, None));
        prop_assert!(!found.is_empty());
        all_in_file(&text, &found)?;
    }

    #[test]
    fn problems_of_a_changed_file_lie_in_the_file(text in mutated()) {
        let found = problems(parse(&text, Some("good.toml")));
        all_in_file(&text, &found)?;
        prop_assert!(found.is_sorted_by_key(|p| (p.line, p.column)));
    }

    #[test]
    fn reading_twice_tells_the_same(text in mutated()) {
        prop_assert_eq!(parse(&text, None), parse(&text, None));
    }

    #[test]
    fn a_new_file_checks_clean_whatever_the_names(
        id in "[a-z0-9]{1,8}(-[a-z0-9]{1,8}){0,3}", maker in any::<String>(), name in any::<String>(),
    ) {
        let model = ModelId::new(&id).map_err(|e| TestCaseError::fail(e.to_string()))?;
        let revised = Date::new(2026, 3, 14).ok_or_else(|| TestCaseError::fail("a date"))?;
        let text = template(&model, &maker, &name, revised);
        let read = parse(&text, Some(&format!("{id}.toml")));
        let (notes, warnings) = read.map_err(|p| TestCaseError::fail(p.to_string()))?;
        prop_assert!(warnings.is_empty(), "{warnings:?}");
        prop_assert_eq!(notes.model.id, model);
    }
}
