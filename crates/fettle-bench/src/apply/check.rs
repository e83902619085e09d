//! Rules that many changes share: texts, numbers, money, and JSON that reads back as it was written.

use rusqlite::{Connection, OptionalExtension};
use rust_decimal::Decimal;

use super::door::Refusal;
use crate::{
    change::Change,
    ids::EntryId,
    money::{Currency, Money},
    term::Term,
};

/// The longest text on one line that the record takes, in bytes.
pub const LINE_MAX_BYTES: usize = 500;
/// The longest prose that the record takes, in bytes.
pub const PROSE_MAX_BYTES: usize = 50_000;
/// The most rows that one change may bring, such as lines of a quote.
pub(crate) const ROWS_MAX: usize = 2_000;
/// The most decimals of a share in percent.
const PERCENT_DECIMALS: u32 = 4;
/// The largest amount of a bill's line or a payment: with this, what all lines come to stays within exact decimals.
const PAYABLE_MAX: i64 = 1_000_000_000_000;
/// The longest time counted in days: a hundred years.
const DAYS_MAX: u32 = 36_525;

/// A text on one line.
pub(crate) fn check_line(field: &'static str, text: &str, needed: bool) -> Result<(), Refusal> {
    check_text(field, text, needed, LINE_MAX_BYTES, |c| !c.is_control())
}

/// A text of any number of lines.
pub(crate) fn check_prose(field: &'static str, text: &str, needed: bool) -> Result<(), Refusal> {
    check_text(field, text, needed, PROSE_MAX_BYTES, |c| {
        !c.is_control() || matches!(c, '\n' | '\r' | '\t')
    })
}

fn check_text(
    field: &'static str,
    text: &str,
    needed: bool,
    most: usize,
    fits: impl Fn(char) -> bool,
) -> Result<(), Refusal> {
    if needed && text.trim().is_empty() {
        return Err(Refusal::rule(field, "is empty: write something"));
    }
    if text.len() > most {
        return Err(Refusal::rule(
            field,
            format!(
                "has {} bytes, the most is {most}: write it shorter, or attach a paper",
                text.len()
            ),
        ));
    }
    if let Some(bad) = text.chars().find(|&c| !fits(c)) {
        return Err(Refusal::rule(
            field,
            format!(
                "holds the control character U+{:04X}: take it out",
                u32::from(bad)
            ),
        ));
    }
    Ok(())
}

pub(crate) fn check_term(field: &'static str, term: &Term) -> Result<(), Refusal> {
    check_line(field, &term.words, true)?;
    term.id.as_deref().map_or(Ok(()), |id| check_id(field, id))
}

/// An id of the service notes.
pub(crate) fn check_id(field: &'static str, id: &str) -> Result<(), Refusal> {
    let word = |word: &str| {
        !word.is_empty()
            && word
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
    };
    if id.len() <= 40 && id.split('-').all(word) {
        Ok(())
    } else {
        Err(Refusal::rule(
            field,
            format!(
                "`{id}` is not an id of service notes: those are words of a-z and 0-9 joined by `-`, at most 40 characters"
            ),
        ))
    }
}

pub(crate) fn check_count(field: &'static str, count: usize) -> Result<(), Refusal> {
    if count > ROWS_MAX {
        return Err(Refusal::rule(
            field,
            format!("has {count} lines, the most is {ROWS_MAX}"),
        ));
    }
    Ok(())
}

pub(crate) fn check_finite(field: &'static str, number: Option<f64>) -> Result<(), Refusal> {
    match number {
        Some(number) if !number.is_finite() => Err(Refusal::rule(
            field,
            format!("is {number}: leave it out when there is no figure"),
        )),
        _ => Ok(()),
    }
}

pub(crate) fn check_minutes(field: &'static str, minutes: Option<f64>) -> Result<(), Refusal> {
    check_finite(field, minutes)?;
    match minutes {
        Some(minutes) if !(0.0..=1e6).contains(&minutes) => Err(Refusal::rule(
            field,
            format!("is {minutes} min: give 0 or more"),
        )),
        _ => Ok(()),
    }
}

pub(crate) fn check_money(field: &'static str, money: Option<Money>) -> Result<(), Refusal> {
    match money {
        Some(money) if money.amount < Decimal::ZERO => {
            Err(Refusal::rule(field, format!("is {money}: give 0 or more")))
        }
        _ => Ok(()),
    }
}

/// A share in percent.
pub(crate) fn check_percent(field: &'static str, percent: Option<Decimal>) -> Result<(), Refusal> {
    match percent {
        Some(percent) if !(Decimal::ZERO..=Decimal::ONE_HUNDRED).contains(&percent) => Err(
            Refusal::rule(field, format!("is {percent} %: give 0 to 100")),
        ),
        Some(percent) if percent.normalize().scale() > PERCENT_DECIMALS => Err(Refusal::rule(
            field,
            format!("is {percent} %: give at most {PERCENT_DECIMALS} decimals"),
        )),
        _ => Ok(()),
    }
}

/// A rate of tax, which needs a name.
pub(crate) fn check_tax(percent: Option<Decimal>, name: &str) -> Result<(), Refusal> {
    check_percent("tax_percent", percent)?;
    check_line("tax_name", name, percent.is_some())
}

/// An amount that can be paid in coins, above or below zero.
pub(crate) fn check_payable(
    field: &'static str,
    amount: Decimal,
    currency: Currency,
) -> Result<(), Refusal> {
    if amount.normalize().scale() > currency.decimals() {
        return Err(Refusal::rule(
            field,
            format!(
                "is {amount}, but {currency} has no coin smaller than {}: round it",
                currency.coin()
            ),
        ));
    }
    if amount.abs() > Decimal::from(PAYABLE_MAX) {
        return Err(Refusal::rule(
            field,
            format!("is {amount}: the most is {PAYABLE_MAX}"),
        ));
    }
    Ok(())
}

/// A number of days.
pub(crate) fn check_days(field: &'static str, days: Option<u32>) -> Result<(), Refusal> {
    match days {
        Some(days) if days > DAYS_MAX => Err(Refusal::rule(
            field,
            format!("is {days} days: the most is {DAYS_MAX}"),
        )),
        _ => Ok(()),
    }
}

/// A country's two letters of ISO 3166-1, or nothing.
pub(crate) fn check_country(field: &'static str, country: &str) -> Result<(), Refusal> {
    match country.as_bytes() {
        [] => Ok(()),
        [a, b] if a.is_ascii_uppercase() && b.is_ascii_uppercase() => Ok(()),
        _ => Err(Refusal::rule(
            field,
            format!("`{country}` is not a country: write its two capital letters of ISO 3166-1"),
        )),
    }
}

/// The change as JSON. What does not read back as it was written must not enter the journal, for it could not be replayed.
pub(crate) fn to_faithful_json(change: &Change) -> Result<String, Refusal> {
    let json = serde_json::to_string(change)
        .map_err(|error| Refusal::rule("change", format!("cannot be written as JSON: {error}")))?;
    match serde_json::from_str::<Change>(&json) {
        Ok(back) if back == *change => Ok(json),
        Ok(_) => Err(Refusal::rule(
            "change",
            "does not read back from JSON as it was written",
        )),
        Err(error) => Err(Refusal::rule(
            "change",
            format!("does not read back from JSON: {error}"),
        )),
    }
}

/// The entry that struck this one.
pub(crate) fn struck_by(
    connection: &Connection,
    entry: EntryId,
) -> rusqlite::Result<Option<EntryId>> {
    connection
        .prepare_cached("SELECT by_id FROM struck WHERE id = ?1")?
        .query_row([entry.get()], |row| Ok(EntryId::new(row.get(0)?)))
        .optional()
}
