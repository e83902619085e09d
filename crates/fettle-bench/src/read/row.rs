//! From columns to the types of the record. A value that does not read is a damaged record, and said to be.

use jiff::{Timestamp, civil::Date};
use rusqlite::{Connection, OptionalExtension, Row, types::Type};
use rust_decimal::Decimal;

use crate::{
    change::BenchSettings,
    files::FileRef,
    money::{Currency, Money},
    term::Term,
    words::{Language, PaperSize},
};

type Read<T> = rusqlite::Result<T>;

pub(crate) fn unreadable(column: usize, why: String) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, Type::Text, why.into())
}

fn parsed<T>(row: &Row<'_>, column: usize, parse: impl Fn(&str) -> Option<T>) -> Read<T> {
    let text = row.get_ref(column)?.as_str()?;
    parse(text).ok_or_else(|| unreadable(column, format!("`{text}` cannot be read")))
}

fn parsed_if<T>(
    row: &Row<'_>,
    column: usize,
    parse: impl Fn(&str) -> Option<T>,
) -> Read<Option<T>> {
    match row.get_ref(column)?.as_str_or_null()? {
        None => Ok(None),
        Some(_) => parsed(row, column, parse).map(Some),
    }
}

/// One of the fixed words.
pub(crate) fn word<T>(
    row: &Row<'_>,
    column: usize,
    from_text: impl Fn(&str) -> Option<T>,
) -> Read<T> {
    parsed(row, column, from_text)
}

pub(crate) fn word_if<T>(
    row: &Row<'_>,
    column: usize,
    from_text: impl Fn(&str) -> Option<T>,
) -> Read<Option<T>> {
    parsed_if(row, column, from_text)
}

pub(crate) fn time(row: &Row<'_>, column: usize) -> Read<Timestamp> {
    parsed(row, column, |text| text.parse().ok())
}

pub(crate) fn time_if(row: &Row<'_>, column: usize) -> Read<Option<Timestamp>> {
    parsed_if(row, column, |text| text.parse().ok())
}

pub(crate) fn day(row: &Row<'_>, column: usize) -> Read<Date> {
    parsed(row, column, |text| text.parse().ok())
}

pub(crate) fn day_if(row: &Row<'_>, column: usize) -> Read<Option<Date>> {
    parsed_if(row, column, |text| text.parse().ok())
}

pub(crate) fn decimal(row: &Row<'_>, column: usize) -> Read<Decimal> {
    parsed(row, column, |text| text.parse().ok())
}

pub(crate) fn decimal_if(row: &Row<'_>, column: usize) -> Read<Option<Decimal>> {
    parsed_if(row, column, |text| text.parse().ok())
}

/// The code of a currency.
pub(crate) fn currency(row: &Row<'_>, column: usize) -> Read<Currency> {
    parsed(row, column, |text| Currency::new(text).ok())
}

/// An amount and, in the next column, its currency.
pub(crate) fn money_if(row: &Row<'_>, column: usize) -> Read<Option<Money>> {
    let amount = decimal_if(row, column)?;
    let currency = parsed_if(row, column + 1, |text| Currency::new(text).ok())?;
    Ok(amount
        .zip(currency)
        .map(|(amount, currency)| Money::new(amount, currency)))
}

pub(crate) fn money(row: &Row<'_>, column: usize) -> Read<Money> {
    money_if(row, column)?.ok_or_else(|| unreadable(column, "an amount is missing".to_owned()))
}

/// The id in the notes and, in the next column, the words.
pub(crate) fn term(row: &Row<'_>, column: usize) -> Read<Term> {
    Ok(Term {
        id: row.get(column)?,
        words: row.get(column + 1)?,
    })
}

/// A list or object that stands in one column.
pub(crate) fn json<T: serde::de::DeserializeOwned>(row: &Row<'_>, column: usize) -> Read<T> {
    parsed(row, column, |text| serde_json::from_str(text).ok())
}

pub(crate) fn json_if<T: serde::de::DeserializeOwned>(
    row: &Row<'_>,
    column: usize,
) -> Read<Option<T>> {
    parsed_if(row, column, |text| serde_json::from_str(text).ok())
}

/// Hash, ending and length in three columns.
pub(crate) fn file(row: &Row<'_>, column: usize) -> Read<FileRef> {
    let file = FileRef {
        hash: row.get(column)?,
        extension: row.get(column + 1)?,
        bytes: row.get::<_, i64>(column + 2)?.unsigned_abs(),
    };
    file.check().map_err(|why| unreadable(column, why))?;
    Ok(file)
}

/// The bench's own name, place and terms.
pub(crate) fn settings(connection: &Connection) -> Read<BenchSettings> {
    connection
        .prepare_cached(
            "SELECT name, place, address, contact, currency, hourly_rate, tax_name, tax_percent, tax_number, \
             deposit_percent, round_to, quote_days, guarantee_repair_days, guarantee_overhaul_days, payment, \
             pay_days, country, language, paper_size FROM bench WHERE id = 1",
        )?
        .query_row([], |row| {
            Ok(BenchSettings {
                name: row.get(0)?,
                place: row.get(1)?,
                address: row.get(2)?,
                contact: row.get(3)?,
                currency: currency(row, 4)?,
                hourly_rate: decimal_if(row, 5)?,
                tax_name: row.get(6)?,
                tax_percent: decimal_if(row, 7)?,
                tax_number: row.get(8)?,
                deposit_percent: decimal_if(row, 9)?,
                round_to: decimal_if(row, 10)?,
                quote_days: row.get(11)?,
                guarantee_repair_days: row.get(12)?,
                guarantee_overhaul_days: row.get(13)?,
                payment: row.get(14)?,
                pay_days: row.get(15)?,
                country: row.get(16)?,
                language: word(row, 17, Language::from_text)?,
                paper_size: word(row, 18, PaperSize::from_text)?,
            })
        })
        .optional()?
        .ok_or_else(|| unreadable(0, "the bench has no name".to_owned()))
}
