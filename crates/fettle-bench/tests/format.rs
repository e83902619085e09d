//! A journal written once is read for ever: the changes in `tests/data` stay as they are when the types move on.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::collections::BTreeSet;

use fettle_bench::Change;

/// One change a line; lines are added for new kinds and fields, never altered.
const WRITTEN: &str = include_str!("data/changes.jsonl");

#[test]
fn every_change_ever_written_reads_and_writes_the_same() {
    let mut kinds = BTreeSet::new();
    for (n, line) in WRITTEN.lines().enumerate() {
        let change: Change =
            serde_json::from_str(line).unwrap_or_else(|error| panic!("line {}: {error}", n + 1));
        assert_eq!(
            serde_json::to_string(&change).unwrap(),
            line,
            "line {}",
            n + 1
        );
        kinds.insert(change.kind());
    }
    let missing: Vec<_> = Change::KINDS
        .iter()
        .filter(|kind| !kinds.contains(*kind))
        .collect();
    assert!(missing.is_empty(), "no line for {missing:?}");
}

#[test]
fn a_field_that_is_not_known_is_refused_and_not_dropped() {
    for line in WRITTEN.lines() {
        let more = line.replacen('{', "{\"from_a_newer_version\":1,", 1);
        let error = serde_json::from_str::<Change>(&more)
            .unwrap_err()
            .to_string();
        assert!(
            error.contains("unknown field `from_a_newer_version`"),
            "{error} of {line}"
        );
    }
}
