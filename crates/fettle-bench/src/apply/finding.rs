//! Writes signs, circumstances, earlier hands and faults, and whether a full strip is ordered.

use super::{
    check::{check_count, check_finite, check_line, check_prose, check_term},
    door::{Door, Outcome, Refusal},
};
use crate::{
    change::{CircumstanceKnown, EarlierHandsNoted, FaultRecorded, SignObserved, StripOrdered},
    ids::FaultId,
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

pub(crate) fn order_strip(door: &mut Door<'_>, mut it: StripOrdered) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    door.update("visit", visit.id.get(), &[("full_strip", &it.ordered)])?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}
