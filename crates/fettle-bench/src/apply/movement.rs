//! Writes movements of pieces: taken, brought back, counted.

use std::collections::HashSet;

use super::{
    arrival::MoneyText,
    check::{check_count, check_money, check_prose},
    door::{Door, Outcome, Refusal},
    lot::{LotRow, lot},
    stock::{PIECES_MAX, at_visit, check_pieces, of_lot, too_many},
};
use crate::{
    change::{DrawerCounted, PartReturned, PartTaken, for_visit, with},
    ids::{DonorPartId, LotId, MovementId, VisitId},
    journal::Made,
    money::Money,
    words::Movement,
};

/// A row of `movement`, less what is the same for all.
pub(crate) struct Moving<'m> {
    pub(crate) lot: LotId,
    pub(crate) movement: Movement,
    pub(crate) pieces: i64,
    pub(crate) visit: Option<VisitId>,
    pub(crate) taken: Option<MovementId>,
    pub(crate) donor_part: Option<DonorPartId>,
    pub(crate) counted: Option<u32>,
    pub(crate) price: Option<Money>,
    pub(crate) note: &'m str,
}

impl<'m> Moving<'m> {
    pub(crate) fn new(lot: LotId, movement: Movement, pieces: i64, note: &'m str) -> Self {
        Self {
            lot,
            movement,
            pieces,
            visit: None,
            taken: None,
            donor_part: None,
            counted: None,
            price: None,
            note,
        }
    }
}

pub(crate) fn record(door: &mut Door<'_>, it: &Moving<'_>) -> rusqlite::Result<MovementId> {
    let price = MoneyText::new(it.price);
    let at = door.at.clone();
    let (lot, visit) = (it.lot.get(), it.visit.map(VisitId::get));
    let (taken, donor_part) = (
        it.taken.map(MovementId::get),
        it.donor_part.map(DonorPartId::get),
    );
    let id = door.insert(
        "movement",
        &[
            ("lot_id", &lot),
            ("movement", &it.movement.as_str()),
            ("change_pieces", &it.pieces),
            ("visit_id", &visit),
            ("taken_id", &taken),
            ("donor_part_id", &donor_part),
            ("counted", &it.counted),
            ("price_amount", &price.amount),
            ("price_currency", &price.currency),
            ("note", &it.note),
            ("at_utc", &at),
        ],
    )?;
    Ok(MovementId::new(id))
}

/// The lot holds as many pieces as are asked for. The transaction holds the one lock for writing, so nobody takes one in between.
pub(crate) fn check_there(lot: &LotRow, pieces: u32) -> Result<(), Refusal> {
    if pieces <= lot.quantity {
        return Ok(());
    }
    let there = match lot.quantity {
        0 => "none is left".to_owned(),
        1 => "only 1 is left".to_owned(),
        left => format!("only {left} are left"),
    };
    Err(Refusal::rule(
        "quantity",
        format!(
            "is {pieces}, but {there} of {}: take fewer, or count the drawer",
            lot.told()
        ),
    ))
}

pub(crate) fn take(door: &mut Door<'_>, mut it: PartTaken) -> Result<Outcome, Refusal> {
    let from = lot(door, it.lot)?;
    it.lot = from.id;
    let visit = it.visit.map(|visit| door.visit(visit)).transpose()?;
    it.visit = visit.map(|visit| visit.id);
    check_pieces("quantity", it.quantity)?;
    check_money("price", it.price)?;
    check_prose("note", &it.note, false)?;
    check_there(&from, it.quantity)?;
    let mut moving = Moving::new(from.id, Movement::Taken, -i64::from(it.quantity), &it.note);
    (moving.visit, moving.price) = (it.visit, it.price);
    let id = record(door, &moving)?;
    let told = with(
        &format!(
            "took {} × {} ({}) {}{}",
            it.quantity,
            from.name,
            from.grade,
            from.place("from"),
            for_visit(it.visit)
        ),
        &it.note,
        "",
    );
    let outcome = of_lot(Outcome::new(it, Made::Taken(id)), &from).telling(told);
    Ok(at_visit(outcome, visit))
}

pub(crate) fn give_back(door: &mut Door<'_>, mut it: PartReturned) -> Result<Outcome, Refusal> {
    it.taken = door.known("taken", it.taken)?;
    check_pieces("quantity", it.quantity)?;
    check_prose("note", &it.note, false)?;
    let (id, movement, pieces, visit): (i64, Movement, i64, Option<i64>) = door
        .connection
        .prepare_cached(
            "SELECT lot_id, movement, change_pieces, visit_id FROM movement WHERE id = ?1",
        )?
        .query_row([it.taken.get()], |row| {
            Ok((
                row.get(0)?,
                crate::read::word(row, 1, Movement::from_text)?,
                row.get(2)?,
                row.get(3)?,
            ))
        })?;
    let to = lot(door, LotId::new(id))?;
    if movement != Movement::Taken {
        return Err(Refusal::rule(
            "taken",
            format!("movement {} took nothing: name the taking", it.taken),
        ));
    }
    let back: i64 = door
        .connection
        .prepare_cached("SELECT ifnull(sum(change_pieces), 0) FROM movement WHERE taken_id = ?1")?
        .query_row([it.taken.get()], |row| row.get(0))?;
    let out = -pieces - back;
    if i64::from(it.quantity) > out {
        return Err(Refusal::rule(
            "quantity",
            format!(
                "is {}, but only {out} of what was taken are still out: bring back fewer, or store the others as new",
                it.quantity
            ),
        ));
    }
    it.drawer = match (to.drawer, it.drawer) {
        (Some(_), None) => None,
        (None, Some(drawer)) => Some(door.known("drawer", drawer)?),
        (None, None) => {
            return Err(Refusal::rule(
                "drawer",
                format!(
                    "{} came straight from a donor: say into which drawer it goes",
                    to.name
                ),
            ));
        }
        (Some(_), Some(_)) => {
            return Err(Refusal::rule(
                "drawer",
                format!(
                    "it goes back where it was, {}: move it afterwards",
                    to.place("in")
                ),
            ));
        }
    };
    if let Some(drawer) = it.drawer {
        let drawer = drawer.get();
        door.update("lot", to.id.get(), &[("drawer_id", &drawer)])?;
    }
    let mut moving = Moving::new(to.id, Movement::Returned, i64::from(it.quantity), &it.note);
    moving.visit = visit.map(VisitId::new);
    moving.taken = Some(it.taken);
    record(door, &moving)?;
    let to = lot(door, to.id)?;
    let from = visit.map_or(String::new(), |visit| format!(" from visit {visit}"));
    let told = with(
        &format!(
            "brought back {} × {} ({}){from} {}",
            it.quantity,
            to.name,
            to.grade,
            to.place("to")
        ),
        &it.note,
        "",
    );
    let visit = visit
        .map(|visit| door.visit(VisitId::new(visit)))
        .transpose()?;
    Ok(at_visit(
        of_lot(Outcome::new(it, Made::Nothing), &to).telling(told),
        visit,
    ))
}

pub(crate) fn count(door: &mut Door<'_>, mut it: DrawerCounted) -> Result<Outcome, Refusal> {
    it.drawer = door.known("drawer", it.drawer)?;
    check_prose("note", &it.note, false)?;
    check_count("counts", it.counts.len())?;
    if it.counts.is_empty() {
        return Err(Refusal::rule("counts", "has none: count at least one lot"));
    }
    let mut once = HashSet::new();
    let mut differ = Vec::new();
    for counted in &mut it.counts {
        let of = lot(door, counted.lot)?;
        counted.lot = of.id;
        if !once.insert(of.id) {
            return Err(Refusal::rule(
                "counts",
                format!("{} is counted twice: once is enough", of.told()),
            ));
        }
        if of.drawer != Some(it.drawer) {
            return Err(Refusal::rule(
                "counts",
                format!(
                    "{}, not in the drawer that was counted: count it there",
                    of.told()
                ),
            ));
        }
        if counted.counted > PIECES_MAX {
            return Err(too_many("counts", counted.counted));
        }
        if counted.written != of.quantity {
            return Err(Refusal::rule(
                "counts",
                format!(
                    "{} had {} written when it was counted and has {} now, for somebody took or brought some meanwhile: count it again",
                    of.told(),
                    counted.written,
                    of.quantity
                ),
            ));
        }
        let change = i64::from(counted.counted) - i64::from(of.quantity);
        if change != 0 {
            let differs = format!(
                "{} ({}) {} instead of {} ({change:+})",
                of.name, of.grade, counted.counted, of.quantity
            );
            differ.push(differs);
        }
        let mut moving = Moving::new(of.id, Movement::Counted, change, &it.note);
        moving.counted = Some(counted.counted);
        record(door, &moving)?;
    }
    let name: String = door
        .connection
        .prepare_cached("SELECT name FROM drawer WHERE id = ?1")?
        .query_row([it.drawer.get()], |row| row.get(0))?;
    let told = if differ.is_empty() {
        "all as written".to_owned()
    } else {
        differ.join("; ")
    };
    let lots = it.counts.len();
    let told = with(
        &format!("drawer {name} counted, {lots} of its lots"),
        &told,
        &it.note,
    );
    let drawer = it.drawer;
    let mut outcome = Outcome::new(it, Made::Nothing).telling(told);
    outcome.drawer = Some(drawer);
    Ok(outcome)
}
