//! Writes donors, what is on them, and what is taken from them.

use rusqlite::OptionalExtension;

use super::{
    check::{check_count, check_id, check_line, check_money, check_prose, check_term},
    door::{Column, Door, Outcome, Refusal},
    lot::{NewLot, lot, make_lot},
    movement::{Moving, record},
    stock::{at_visit, check_pieces, of_lot, part_of, too_many},
};
use crate::{
    change::{
        DonorCorrected, DonorDetails, DonorPartsNoted, OnDonor, PartOf, PartSalvaged, SalvagedTo,
        for_visit, noted, with,
    },
    ids::{DonorId, DonorPartId, MovementId},
    journal::Made,
    term::Term,
    words::{DonorPartIs, Grade, Movement},
};

/// The most pieces of one part on one donor.
const ON_DONOR_MAX: u32 = 1_000;

pub(crate) fn register(door: &mut Door<'_>, it: DonorDetails) -> Result<Outcome, Refusal> {
    check_donor(&it)?;
    let at = door.at.clone();
    let mut columns = donor_columns(&it).to_vec();
    columns.push(("at_utc", &at));
    let id = DonorId::new(door.insert("donor", &columns)?);
    let mut outcome = Outcome::new(it, Made::Donor(id));
    outcome.donor = Some(id);
    Ok(outcome)
}

pub(crate) fn correct(door: &mut Door<'_>, mut it: DonorCorrected) -> Result<Outcome, Refusal> {
    it.donor = door.known("donor", it.donor)?;
    check_donor(&it.details)?;
    door.update("donor", it.donor.get(), &donor_columns(&it.details))?;
    let donor = it.donor;
    let mut outcome = Outcome::new(it, Made::Nothing);
    outcome.donor = Some(donor);
    Ok(outcome)
}

fn check_donor(it: &DonorDetails) -> Result<(), Refusal> {
    check_line("maker", &it.maker, false)?;
    check_line("model", &it.model, true)?;
    check_line("serial", &it.serial, false)?;
    check_line("source", &it.source, false)?;
    check_prose("condition", &it.condition, false)?;
    it.notes_id
        .as_deref()
        .map_or(Ok(()), |id| check_id("notes_id", id))
}

fn donor_columns(it: &DonorDetails) -> [Column<'_>; 6] {
    [
        ("maker", &it.maker),
        ("model", &it.model),
        ("notes_id", &it.notes_id),
        ("serial", &it.serial),
        ("condition", &it.condition),
        ("source", &it.source),
    ]
}

pub(crate) fn note_parts(door: &mut Door<'_>, mut it: DonorPartsNoted) -> Result<Outcome, Refusal> {
    it.donor = door.known("donor", it.donor)?;
    check_count("parts", it.parts.len())?;
    if it.parts.is_empty() {
        return Err(Refusal::rule("parts", "has none: note at least one part"));
    }
    for on in &it.parts {
        note_part(door, it.donor, on)?;
    }
    let donor = it.donor;
    let told = format!("{}: {}", named(door, donor)?, noted(&it.parts));
    let mut outcome = Outcome::new(it, Made::Nothing).telling(told);
    outcome.donor = Some(donor);
    Ok(outcome)
}

fn note_part(door: &mut Door<'_>, donor: DonorId, on: &OnDonor) -> Result<(), Refusal> {
    check_term("part", &on.part)?;
    check_prose("note", &on.note, false)?;
    if on.quantity > ON_DONOR_MAX {
        return Err(too_many("quantity", on.quantity));
    }
    let known: Option<i64> = door
        .connection
        .prepare_cached(
            "SELECT id FROM donor_part WHERE donor_id = ?1 AND ifnull(term_id, words) = ?2",
        )?
        .query_row((donor.get(), on.part.key()), |row| row.get(0))
        .optional()?;
    let taken = known.map_or(Ok(0), |id| taken_of(door, DonorPartId::new(id)))?;
    let quantity = i64::from(on.quantity) + taken;
    let (donor, at) = (donor.get(), door.at.clone());
    let columns: &[Column<'_>] = &[
        ("donor_id", &donor),
        ("term_id", &on.part.id),
        ("words", &on.part.words),
        ("quantity", &quantity),
        ("state", &on.state.as_str()),
        ("note", &on.note),
        ("at_utc", &at),
    ];
    match known {
        Some(id) => door.update("donor_part", id, columns)?,
        None => {
            door.insert("donor_part", columns)?;
        }
    }
    Ok(())
}

/// How many pieces were taken from a donor's part so far.
fn taken_of(door: &Door<'_>, id: DonorPartId) -> rusqlite::Result<i64> {
    door.connection
        .prepare_cached(
            "SELECT ifnull(sum(change_pieces), 0) FROM movement WHERE donor_part_id = ?1",
        )?
        .query_row([id.get()], |row| row.get(0))
}

/// What was taken off a donor was on it; a refusal ends with the way out.
pub(crate) fn check_on_donor(
    door: &Door<'_>,
    id: DonorPartId,
    way_out: &str,
) -> Result<(), Refusal> {
    let noted: Option<(i64, String)> = door
        .connection
        .prepare_cached("SELECT quantity, words FROM donor_part WHERE id = ?1")?
        .query_row([id.get()], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    let taken = taken_of(door, id)?;
    match noted {
        Some((quantity, words)) if taken > quantity => Err(Refusal::rule(
            "entry",
            format!(
                "{taken} × {words} would be taken from this donor, more than would have been on it ({quantity}): {way_out}"
            ),
        )),
        _ => Ok(()),
    }
}

fn named(door: &Door<'_>, donor: DonorId) -> rusqlite::Result<String> {
    let details = details(door, donor)?;
    Ok(with(
        &format!("donor {donor}, {}", details.name()),
        &details.serial,
        "",
    )
    .replace(": ", " "))
}

fn details(door: &Door<'_>, donor: DonorId) -> rusqlite::Result<DonorDetails> {
    door.connection
        .prepare_cached("SELECT maker, model, notes_id, serial FROM donor WHERE id = ?1")?
        .query_row([donor.get()], |row| {
            Ok(DonorDetails {
                maker: row.get(0)?,
                model: row.get(1)?,
                notes_id: row.get(2)?,
                serial: row.get(3)?,
                ..DonorDetails::default()
            })
        })
}

pub(crate) fn salvage(door: &mut Door<'_>, mut it: PartSalvaged) -> Result<Outcome, Refusal> {
    it.from = door.known("from", it.from)?;
    check_pieces("quantity", it.quantity)?;
    check_money("price", it.price)?;
    check_prose("note", &it.note, false)?;
    let (drawer, visit) = match it.to {
        SalvagedTo::Drawer(drawer) => {
            if it.price.is_some() {
                return Err(Refusal::rule(
                    "price",
                    "is for what goes to a visit: leave it out, and give it when the part is taken from the drawer",
                ));
            }
            (Some(door.known("to", drawer)?), None)
        }
        SalvagedTo::Visit(visit) => (None, Some(door.visit(visit)?)),
    };
    it.to = match (drawer, visit) {
        (Some(drawer), _) => SalvagedTo::Drawer(drawer),
        (None, Some(visit)) => SalvagedTo::Visit(visit.id),
        (None, None) => it.to,
    };
    let (donor, part, state) = on_donor(door, it.from, it.quantity)?;
    let body = details(door, donor)?;
    let of = PartOf {
        model: body.name(),
        notes_id: body.notes_id,
        part,
    };
    let source = named(door, donor)?;
    let part = part_of(door, &of)?;
    let new = NewLot {
        drawer,
        donor: Some(donor),
        grade: Grade::Salvaged,
        price: None,
        source: &source,
        note: &it.note,
    };
    let id = make_lot(door, part, &new)?;
    let pieces = i64::from(it.quantity);
    let mut came = Moving::new(id, Movement::Salvaged, pieces, "");
    came.donor_part = Some(it.from);
    record(door, &came)?;
    let mut made = Made::Lot(id);
    if let Some(visit) = visit {
        let mut went = Moving::new(id, Movement::Taken, -pieces, &it.note);
        (went.visit, went.price) = (Some(visit.id), it.price);
        let taken: MovementId = record(door, &went)?;
        made = Made::Taken(taken);
    }
    let lot = lot(door, id)?;
    let to = match visit {
        Some(visit) => for_visit(Some(visit.id)),
        None => format!(": {}", lot.told()),
    };
    let told = with(
        &format!(
            "took {} × {} ({state}) off {source}{to}",
            it.quantity, of.part
        ),
        &it.note,
        "",
    );
    let mut outcome = of_lot(Outcome::new(it, made), &lot).telling(told);
    outcome.donor = Some(donor);
    Ok(at_visit(outcome, visit))
}

/// The donor, the part and its state, when there are as many pieces on it as are asked for.
fn on_donor(
    door: &Door<'_>,
    id: DonorPartId,
    pieces: u32,
) -> Result<(DonorId, Term, DonorPartIs), Refusal> {
    let (donor, part, state, noted): (DonorId, Term, DonorPartIs, i64) = door
        .connection
        .prepare_cached(
            "SELECT donor_id, term_id, words, state, quantity FROM donor_part WHERE id = ?1",
        )?
        .query_row([id.get()], |row| {
            let part = Term {
                id: row.get(1)?,
                words: row.get(2)?,
            };
            let state = crate::read::word(row, 3, DonorPartIs::from_text)?;
            Ok((DonorId::new(row.get(0)?), part, state, row.get(4)?))
        })?;
    let left = noted - taken_of(door, id)?;
    if i64::from(pieces) > left {
        return Err(Refusal::rule(
            "quantity",
            format!(
                "is {pieces}, but {left} of {part} are left on donor {donor}: take fewer, or note what is on it"
            ),
        ));
    }
    if part.id.is_some() && details(door, donor)?.notes_id.is_none() {
        return Ok((donor, Term::own(part.words), state));
    }
    Ok((donor, part, state))
}
