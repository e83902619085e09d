//! Writes quotes and their answers.

use rust_decimal::Decimal;

use super::{
    check::{
        check_count, check_minutes, check_money, check_payable, check_prose, check_tax, check_term,
    },
    door::{Door, Outcome, Refusal},
};
use crate::{
    change::{QuoteAnswered, QuoteLine, QuoteMade},
    ids::QuoteId,
    journal::Made,
    money::Totals,
    words::QuoteKind,
};

pub(crate) fn make(door: &mut Door<'_>, mut it: QuoteMade) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_prose("note", &it.note, false)?;
    check_count("lines", it.lines.len())?;
    if it.lines.is_empty() {
        return Err(Refusal::rule(
            "lines",
            "has none: a quote needs at least one line",
        ));
    }
    for line in &it.lines {
        check_line_of_quote(line)?;
    }
    check_tax(it.tax_percent, &it.tax_name)?;
    let totals = it
        .totals()
        .ok_or_else(|| Refusal::rule("lines", "add up to more than exact decimals can hold"))?;
    if totals.net != it.total.amount {
        return Err(Refusal::rule(
            "total",
            format!(
                "is {}, but the lines add up to {}",
                it.total.amount, totals.net
            ),
        ));
    }
    check_money("total", Some(it.total))?;
    check_deposit(&it, &totals)?;
    let at = door.at.clone();
    let text = |amount: Option<Decimal>| amount.map(|amount| amount.to_string());
    let (tax, deposit) = (text(it.tax_percent), text(it.deposit));
    let valid_until = it.valid_until.map(|day| day.to_string());
    let id = door.insert(
        "quote",
        &[
            ("visit_id", &visit.id.get()),
            ("total_amount", &it.total.amount.to_string()),
            ("total_currency", &it.total.currency.as_str()),
            ("note", &it.note),
            ("at_utc", &at),
            ("quote_kind", &it.kind.as_str()),
            ("tax_percent", &tax),
            ("tax_name", &it.tax_name),
            ("deposit_amount", &deposit),
            ("valid_until", &valid_until),
        ],
    )?;
    for line in &it.lines {
        let grade = line.grade.map(crate::Grade::as_str);
        door.insert(
            "quote_line",
            &[
                ("quote_id", &id),
                ("line_for", &line.line_for.as_str()),
                ("term_id", &line.what.id),
                ("words", &line.what.words),
                ("grade", &grade),
                ("quantity", &line.quantity),
                ("minutes_likely", &line.minutes_likely),
                ("minutes_nine_in_ten", &line.minutes_nine_in_ten),
                ("amount", &line.amount.to_string()),
            ],
        )?;
    }
    Ok(Outcome::new(it, Made::Quote(QuoteId::new(id))).at(&visit))
}

fn check_deposit(it: &QuoteMade, totals: &Totals) -> Result<(), Refusal> {
    let Some(deposit) = it.deposit else {
        return Ok(());
    };
    check_payable("deposit", deposit, it.total.currency)?;
    if deposit < Decimal::ZERO || deposit > totals.gross {
        return Err(Refusal::rule(
            "deposit",
            format!(
                "is {deposit}: give 0 to {}, which is the whole with tax",
                totals.gross
            ),
        ));
    }
    Ok(())
}

fn check_line_of_quote(line: &QuoteLine) -> Result<(), Refusal> {
    check_term("lines", &line.what)?;
    check_minutes("minutes_likely", line.minutes_likely)?;
    check_minutes("minutes_nine_in_ten", line.minutes_nine_in_ten)?;
    if let (Some(likely), Some(nine)) = (line.minutes_likely, line.minutes_nine_in_ten)
        && nine < likely
    {
        return Err(Refusal::rule(
            "minutes_nine_in_ten",
            format!(
                "is {nine}, less than the likely {likely}: what does nine times in ten is the longer time"
            ),
        ));
    }
    Ok(())
}

pub(crate) fn answer(door: &mut Door<'_>, mut it: QuoteAnswered) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    it.quote = door.known_at("quote", it.quote, visit.id)?;
    check_prose("words", &it.words, false)?;
    door.update(
        "quote",
        it.quote.get(),
        &[
            ("agreed", &it.agreed),
            ("answer_words", &it.words),
            ("answered_on", &it.on.to_string()),
        ],
    )?;
    if it.agreed {
        decline_the_others(door, &it)?;
    }
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

/// Of the alternatives the owner chooses one: to agree to it is to decline those still open. Extra work is answered by itself.
fn decline_the_others(door: &Door<'_>, it: &QuoteAnswered) -> Result<(), Refusal> {
    let open: Vec<(i64, QuoteKind, bool)> = door
        .connection
        .prepare_cached("SELECT id, quote_kind, agreed IS NULL FROM quote WHERE visit_id = ?1")?
        .query_map([it.visit.get()], |row| {
            Ok((
                row.get(0)?,
                crate::read::word(row, 1, QuoteKind::from_text)?,
                row.get(2)?,
            ))
        })?
        .collect::<rusqlite::Result<_>>()?;
    let alternative = |id: i64| {
        open.iter()
            .any(|(quote, kind, _)| *quote == id && kind.is_alternative())
    };
    if !alternative(it.quote.get()) {
        return Ok(());
    }
    for (other, _, is_open) in &open {
        if *is_open && *other != it.quote.get() && alternative(*other) {
            door.update(
                "quote",
                *other,
                &[
                    ("agreed", &false),
                    ("answer_words", &""),
                    ("answered_on", &it.on.to_string()),
                ],
            )?;
        }
    }
    Ok(())
}
