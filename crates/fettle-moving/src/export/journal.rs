//! The journal as JSON lines: one entry a line, each with a sum, so that a changed line is known by itself.

use fettle_bench::{Change, EntryId, Hand};
use jiff::Timestamp;
use serde::Deserialize;

use super::part::Part;
use crate::error::MovingError;

/// The journal's file.
pub(crate) const FILE: &str = "journal.jsonl";
/// What stands before a line's sum.
const SUM: &str = ",\"sum\":\"";
/// How many hexadecimal digits of BLAKE3 the sum has.
const SUM_DIGITS: usize = 16;

/// An entry as it is applied again.
#[derive(Debug)]
pub(crate) struct Entry {
    pub(crate) id: i64,
    pub(crate) at: Timestamp,
    pub(crate) hand: Hand,
    pub(crate) group: i64,
    pub(crate) change: Change,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    entry: i64,
    at: Timestamp,
    hand: String,
    group: i64,
    change: serde_json::Value,
    #[serde(rename = "sum")]
    _sum: String,
}

pub(crate) fn write(
    part: &mut Part,
    id: EntryId,
    at: Timestamp,
    hand: &Hand,
    group: EntryId,
    change: &str,
) -> Result<(), MovingError> {
    let hand = serde_json::Value::from(hand.as_str());
    let said = format!(
        "{{\"entry\":{id},\"at\":\"{at}\",\"hand\":{hand},\"group\":{group},\"change\":{change}"
    );
    part.put(&format!("{said}{SUM}{}\"}}\n", sum(&said)))
}

fn sum(said: &str) -> String {
    let hash = blake3::hash(said.as_bytes()).to_hex();
    hash.as_str()
        .get(..SUM_DIGITS)
        .unwrap_or_default()
        .to_owned()
}

/// Reads a line, without its end; the error says why that cannot be done.
pub(crate) fn read(line: &str) -> Result<Entry, String> {
    let (said, rest) = line
        .rsplit_once(SUM)
        .ok_or("does not end with a sum, as every line does")?;
    if rest.strip_suffix("\"}") != Some(sum(said).as_str()) {
        return Err("is not as it was written: its sum does not fit".to_owned());
    }
    let line: Line =
        serde_json::from_str(line).map_err(|error| format!("cannot be read: {error}"))?;
    let kind = line.change.get("kind").and_then(serde_json::Value::as_str);
    let kind = kind.unwrap_or_default().to_owned();
    if !Change::KINDS.contains(&kind.as_str()) {
        return Err(format!(
            "holds `{kind}`, a kind of change that is not known here: a newer version of fettle wrote it"
        ));
    }
    let change = serde_json::from_value(line.change)
        .map_err(|error| format!("holds a `{kind}` that cannot be read here: {error}"))?;
    Ok(Entry {
        id: line.entry,
        at: line.at,
        hand: Hand::new(&line.hand),
        group: line.group,
        change,
    })
}
