//! Writes drawers and kinds of part; what lots and movements have in common.

use rusqlite::OptionalExtension;

use super::{
    check::{check_id, check_line, check_term},
    door::{Column, Door, Outcome, Refusal, VisitRow},
    lot::LotRow,
};
use crate::{
    change::{DrawerNamed, MinimumSet, PartOf, minimum_told},
    ids::{DrawerId, PartId},
    journal::Made,
};

/// The most pieces in one movement or asked for as a minimum.
pub(crate) const PIECES_MAX: u32 = 1_000_000;

pub(crate) fn check_pieces(field: &'static str, pieces: u32) -> Result<(), Refusal> {
    match pieces {
        0 => Err(Refusal::rule(field, "is 0: give 1 or more")),
        1..=PIECES_MAX => Ok(()),
        _ => Err(too_many(field, pieces)),
    }
}

pub(crate) fn too_many(field: &'static str, pieces: u32) -> Refusal {
    Refusal::rule(field, format!("is {pieces}: the most is {PIECES_MAX}"))
}

pub(crate) fn check_minimum(minimum: Option<u32>) -> Result<(), Refusal> {
    match minimum {
        Some(minimum) if minimum > PIECES_MAX => Err(too_many("minimum", minimum)),
        _ => Ok(()),
    }
}

pub(crate) fn name_drawer(door: &mut Door<'_>, mut it: DrawerNamed) -> Result<Outcome, Refusal> {
    it.drawer = it
        .drawer
        .map(|drawer| door.known("drawer", drawer))
        .transpose()?;
    check_line("name", &it.name, true)?;
    check_line("place", &it.place, false)?;
    let same: Option<i64> = door
        .connection
        .prepare_cached("SELECT id FROM drawer WHERE name = ?1 COLLATE NOCASE")?
        .query_row([&it.name], |row| row.get(0))
        .optional()?;
    if same.is_some_and(|same| Some(DrawerId::new(same)) != it.drawer) {
        return Err(Refusal::rule(
            "name",
            format!(
                "there is already a drawer {}: call this one otherwise",
                it.name
            ),
        ));
    }
    let columns: &[Column<'_>] = &[("name", &it.name), ("place", &it.place)];
    let (drawer, made) = if let Some(drawer) = it.drawer {
        door.update("drawer", drawer.get(), columns)?;
        (drawer, Made::Nothing)
    } else {
        let drawer = DrawerId::new(door.insert("drawer", columns)?);
        (drawer, Made::Drawer(drawer))
    };
    let mut outcome = Outcome::new(it, made);
    outcome.drawer = Some(drawer);
    Ok(outcome)
}

/// The part's row, made when it was never kept before.
pub(crate) fn part_of(door: &mut Door<'_>, of: &PartOf) -> Result<PartId, Refusal> {
    check_term("part", &of.part)?;
    check_line("model", &of.model, false)?;
    of.notes_id
        .as_deref()
        .map_or(Ok(()), |id| check_id("notes_id", id))?;
    if of.part.id.is_some() && of.notes_id.is_none() {
        return Err(Refusal::rule(
            "part",
            format!("{} is from service notes: say of which model", of.part),
        ));
    }
    let model = of.notes_id.as_deref().unwrap_or(&of.model);
    let known: Option<i64> = door
        .connection
        .prepare_cached(
            "SELECT id FROM part WHERE ifnull(notes_id, model) = ?1 AND ifnull(term_id, words) = ?2",
        )?
        .query_row((model, of.part.key()), |row| row.get(0))
        .optional()?;
    if let Some(known) = known {
        return Ok(PartId::new(known));
    }
    let at = door.at.clone();
    let id = door.insert(
        "part",
        &[
            ("notes_id", &of.notes_id),
            ("model", &of.model),
            ("term_id", &of.part.id),
            ("words", &of.part.words),
            ("since_utc", &at),
        ],
    )?;
    Ok(PartId::new(id))
}

pub(crate) fn set_minimum(door: &mut Door<'_>, mut it: MinimumSet) -> Result<Outcome, Refusal> {
    it.part = door.known("part", it.part)?;
    check_minimum(it.minimum)?;
    door.update("part", it.part.get(), &[("minimum", &it.minimum)])?;
    let part = it.part;
    let (words, model): (String, String) = door
        .connection
        .prepare_cached("SELECT words, model FROM part WHERE id = ?1")?
        .query_row([part.get()], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let of = PartOf {
        notes_id: None,
        model,
        part: crate::Term::own(words),
    };
    let told = format!("{} of {}", minimum_told(it.minimum), of.name());
    let mut outcome = Outcome::new(it, Made::Nothing).telling(told);
    outcome.part = Some(part);
    Ok(outcome)
}

pub(crate) fn of_lot(mut outcome: Outcome, lot: &LotRow) -> Outcome {
    outcome.part = Some(lot.part);
    outcome.drawer = lot.drawer;
    outcome
}

pub(crate) fn at_visit(outcome: Outcome, visit: Option<VisitRow>) -> Outcome {
    match visit {
        Some(visit) => outcome.at(&visit),
        None => outcome,
    }
}
