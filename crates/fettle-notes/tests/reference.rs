//! The reference page says what the program does: its example checks clean, and every key and kind of problem is in it.

use std::collections::BTreeSet;
use std::error::Error;

use fettle_notes::{ProblemKind, parse};

type Outcome<T = ()> = Result<T, Box<dyn Error>>;

const PAGE: &str = include_str!("../../../docs/service-notes.md");

/// One table of every sort, each with a key that is none: the answers list the keys that there are.
const ONE_OF_EACH: &str = r#"
zzzzzzzz = 0
[model]
zzzzzzzz = 0
[part.a]
zzzzzzzz = 0
grades = { zzzzzzzz = 0 }
[removal.a]
zzzzzzzz = 0
fasteners = [{ zzzzzzzz = 0 }]
back = { zzzzzzzz = 0 }
[circumstance.a]
zzzzzzzz = 0
[fault.a]
zzzzzzzz = 0
[sign.a]
zzzzzzzz = 0
suggested_by = [{ zzzzzzzz = 0 }]
[work.a]
zzzzzzzz = 0
[setting.a]
zzzzzzzz = 0
adjusters = [{ zzzzzzzz = 0, effects = { a = { zzzzzzzz = 0 } } }]
[limit.a]
kind = "shutter"
zzzzzzzz = 0
tolerances = [{ zzzzzzzz = 0 }]
[limit.b]
kind = "register"
zzzzzzzz = 0
[limit.c]
kind = "rangefinder"
zzzzzzzz = 0
[limit.d]
kind = "meter"
zzzzzzzz = 0
[limit.t]
kind = "teeth"
zzzzzzzz = 0
[limit.e]
kind = "reading"
zzzzzzzz = 0
[limit.f]
kind = "check"
zzzzzzzz = 0
"#;

/// First cells of the page's table rows, without the quotes.
fn rows() -> BTreeSet<&'static str> {
    PAGE.lines()
        .filter_map(|line| line.strip_prefix("| `")?.split_once('`'))
        .map(|(key, _)| key)
        .collect()
}

/// Every key that the reader knows, table by table.
fn known_keys() -> Outcome<Vec<Vec<String>>> {
    let problems = parse(ONE_OF_EACH, None)
        .err()
        .ok_or("every table has a wrong key")?;
    let helps = problems
        .iter()
        .filter(|p| p.kind == ProblemKind::UnknownKey)
        .map(|p| &p.help);
    let listed = helps.map(|help| {
        let keys = help.as_deref()?.strip_prefix("the keys here are ")?;
        Some(
            keys.split(", ")
                .map(|key| key.trim_matches('`').to_owned())
                .collect(),
        )
    });
    listed
        .collect::<Option<_>>()
        .ok_or_else(|| "a wrong key is answered with a list".into())
}

#[test]
fn the_pages_example_checks_clean() -> Outcome {
    let (_, after) = PAGE
        .split_once("<!-- example")
        .ok_or("a mark before the example")?;
    let (_, after) = after.split_once("```toml\n").ok_or("an example")?;
    let (example, _) = after.split_once("```").ok_or("an end of the example")?;
    let (notes, warnings) = parse(example, Some("sprat.toml"))?;
    assert_eq!(warnings, []);
    assert_eq!(notes.counts().limits, 5);
    Ok(())
}

#[test]
fn every_key_stands_in_the_page() -> Outcome {
    let rows = rows();
    let tables = known_keys()?;
    assert_eq!(tables.len(), 23, "one answer a table");
    for key in tables.iter().flatten() {
        assert!(rows.contains(key.as_str()), "`{key}` has no row");
    }
    Ok(())
}

#[test]
fn every_key_of_the_page_is_one_that_the_reader_knows() -> Outcome {
    let known: BTreeSet<String> = known_keys()?.into_iter().flatten().collect();
    let kinds: BTreeSet<&str> = ProblemKind::ALL.iter().map(|k| k.as_str()).collect();
    for row in rows() {
        assert!(
            known.contains(row) || kinds.contains(row),
            "`{row}` is no key and no kind"
        );
    }
    Ok(())
}

#[test]
fn every_kind_of_problem_stands_in_the_page() {
    let rows = rows();
    for kind in ProblemKind::ALL {
        assert!(rows.contains(kind.as_str()), "`{kind}` has no row");
    }
}
