//! Writes signs, circumstances, earlier hands, faults and quotes.

use rust_decimal::Decimal;

use super::{
    check::{
        check_count, check_finite, check_line, check_minutes, check_money, check_prose, check_term,
    },
    door::{Door, Outcome, Refusal},
};
use crate::{
    change::{
        CircumstanceKnown, EarlierHandsNoted, FaultRecorded, QuoteAnswered, QuoteLine, QuoteMade,
        SignObserved, StripOrdered,
    },
    ids::{FaultId, QuoteId},
    journal::Made,
};

pub(crate) fn observe_sign(door: &mut Door<'_>, mut it: SignObserved) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_term("sign", &it.sign)?;
    check_prose("note", &it.note, false)?;
    check_count("numbers", it.numbers.len())?;
    for number in &it.numbers {
        check_line("numbers", &number.name, false)?;
        check_line("numbers", &number.unit, false)?;
        check_finite("numbers", Some(number.value))?;
    }
    let numbers = to_json("numbers", &it.numbers)?;
    door.say(
        "sign",
        visit.id,
        &it.sign,
        &[
            ("seen", &it.seen.as_str()),
            ("numbers_json", &numbers),
            ("note", &it.note),
        ],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

/// Lists that are read whole stand in one column as JSON.
pub(crate) fn to_json<T: serde::Serialize + ?Sized>(
    field: &'static str,
    value: &T,
) -> Result<String, Refusal> {
    serde_json::to_string(value)
        .map_err(|error| Refusal::rule(field, format!("cannot be written as JSON: {error}")))
}

pub(crate) fn know_circumstance(
    door: &mut Door<'_>,
    mut it: CircumstanceKnown,
) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_term("circumstance", &it.circumstance)?;
    check_prose("note", &it.note, false)?;
    door.say(
        "circumstance",
        visit.id,
        &it.circumstance,
        &[("known", &it.known.as_str()), ("note", &it.note)],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

pub(crate) fn note_earlier_hands(
    door: &mut Door<'_>,
    mut it: EarlierHandsNoted,
) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_line("at", &it.at, false)?;
    check_prose("what", &it.what, true)?;
    let at = door.at.clone();
    door.insert(
        "earlier_hands",
        &[
            ("visit_id", &visit.id.get()),
            ("place", &it.at),
            ("what", &it.what),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

pub(crate) fn record_fault(door: &mut Door<'_>, mut it: FaultRecorded) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_term("fault", &it.fault)?;
    check_prose("note", &it.note, false)?;
    if let Some(cause) = it.because_of {
        it.because_of = Some(door.known_at("because_of", cause, visit.id)?);
    }
    let because = it.because_of.map(FaultId::get);
    let id = door.say(
        "fault",
        visit.id,
        &it.fault,
        &[
            ("fault_is", &it.is.as_str()),
            ("found", &it.found.as_str()),
            ("because_of_id", &because),
            ("note", &it.note),
        ],
    )?;
    check_no_circle(door, FaultId::new(id))?;
    Ok(Outcome::new(it, Made::Fault(FaultId::new(id))).at(&visit))
}

/// A fault cannot have brought itself on, not even by way of others.
pub(crate) fn check_no_circle(door: &Door<'_>, fault: FaultId) -> Result<(), Refusal> {
    let circle = door
        .connection
        .prepare_cached(
            "WITH RECURSIVE cause (id) AS ( \
                 SELECT because_of_id FROM fault WHERE id = ?1 AND because_of_id IS NOT NULL \
                 UNION SELECT fault.because_of_id FROM fault JOIN cause ON fault.id = cause.id \
                 WHERE fault.because_of_id IS NOT NULL) \
             SELECT 1 FROM cause WHERE id = ?1",
        )?
        .exists([fault.get()])?;
    if circle {
        return Err(Refusal::rule(
            "because_of",
            "makes a circle: this fault would have brought itself on; name another cause, or none",
        ));
    }
    Ok(())
}

pub(crate) fn make_quote(door: &mut Door<'_>, mut it: QuoteMade) -> Result<Outcome, Refusal> {
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
    let mut sum = Decimal::ZERO;
    for line in &it.lines {
        check_line_of_quote(line)?;
        sum = sum
            .checked_add(line.amount)
            .ok_or_else(|| Refusal::rule("lines", "add up to more than exact decimals can hold"))?;
    }
    if sum != it.total.amount {
        return Err(Refusal::rule(
            "total",
            format!("is {}, but the lines add up to {sum}", it.total.amount),
        ));
    }
    check_money("total", Some(it.total))?;
    let at = door.at.clone();
    let id = door.insert(
        "quote",
        &[
            ("visit_id", &visit.id.get()),
            ("total_amount", &it.total.amount.to_string()),
            ("total_currency", &it.total.currency.as_str()),
            ("note", &it.note),
            ("at_utc", &at),
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

pub(crate) fn order_strip(door: &mut Door<'_>, mut it: StripOrdered) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    door.update("visit", visit.id.get(), &[("full_strip", &it.ordered)])?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

pub(crate) fn answer_quote(door: &mut Door<'_>, mut it: QuoteAnswered) -> Result<Outcome, Refusal> {
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
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}
