//! Writes drawers, lots and movements of parts.

use std::collections::HashSet;

use rusqlite::OptionalExtension;

use super::{
    arrival::MoneyText,
    check::{check_count, check_id, check_line, check_money, check_prose, check_term},
    door::{Column, Door, Outcome, Refusal, VisitRow},
};
use crate::{
    change::{
        DrawerCounted, DrawerNamed, LotCorrected, LotMoved, MinimumSet, PartOf, PartReturned,
        PartStored, PartTaken, for_visit, minimum_told, with,
    },
    ids::{DonorPartId, DrawerId, LotId, MovementId, PartId, VisitId},
    journal::Made,
    money::Money,
    words::{Grade, Movement},
};

/// The most pieces in one movement or asked for as a minimum.
const PIECES_MAX: u32 = 1_000_000;

/// A lot as the rules need it.
pub(crate) struct LotRow {
    pub(crate) id: LotId,
    pub(crate) part: PartId,
    pub(crate) drawer: Option<DrawerId>,
    pub(crate) quantity: u32,
    grade: Grade,
    /// The part and its model in words.
    name: String,
    drawer_name: Option<String>,
}

impl LotRow {
    /// What it is and where it lies: `wind pawl, Aldous Corran 66 (original) in drawer A3`.
    pub(crate) fn told(&self) -> String {
        format!("{} ({}) {}", self.name, self.grade, self.place("in"))
    }

    fn place(&self, word: &str) -> String {
        match &self.drawer_name {
            Some(drawer) => format!("{word} drawer {drawer}"),
            None => format!("{word} no drawer"),
        }
    }
}

pub(crate) fn lot(door: &Door<'_>, id: LotId) -> Result<LotRow, Refusal> {
    let id = door.known("lot", id)?;
    let row = door
        .connection
        .prepare_cached(
            "SELECT l.part_id, l.drawer_id, s.quantity, l.grade, p.words, p.model, d.name \
             FROM lot l JOIN stock s ON s.id = l.id JOIN part p ON p.id = l.part_id \
             LEFT JOIN drawer d ON d.id = l.drawer_id WHERE l.id = ?1",
        )?
        .query_row([id.get()], |row| {
            Ok(LotRow {
                id,
                part: PartId::new(row.get(0)?),
                drawer: row.get::<_, Option<i64>>(1)?.map(DrawerId::new),
                quantity: row.get(2)?,
                grade: crate::read::word(row, 3, Grade::from_text)?,
                name: PartOf {
                    notes_id: None,
                    model: row.get(5)?,
                    part: crate::Term::own(row.get::<_, String>(4)?),
                }
                .name(),
                drawer_name: row.get(6)?,
            })
        })?;
    Ok(row)
}

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

fn check_minimum(minimum: Option<u32>) -> Result<(), Refusal> {
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

/// What a new lot is, besides its part.
pub(crate) struct NewLot<'n> {
    pub(crate) drawer: Option<DrawerId>,
    pub(crate) donor: Option<crate::DonorId>,
    pub(crate) grade: Grade,
    pub(crate) price: Option<Money>,
    pub(crate) source: &'n str,
    pub(crate) note: &'n str,
}

pub(crate) fn make_lot(
    door: &mut Door<'_>,
    part: PartId,
    it: &NewLot<'_>,
) -> rusqlite::Result<LotId> {
    let price = MoneyText::new(it.price);
    let at = door.at.clone();
    let drawer = it.drawer.map(DrawerId::get);
    let donor = it.donor.map(crate::DonorId::get);
    let id = door.insert(
        "lot",
        &[
            ("part_id", &part.get()),
            ("drawer_id", &drawer),
            ("donor_id", &donor),
            ("grade", &it.grade.as_str()),
            ("price_amount", &price.amount),
            ("price_currency", &price.currency),
            ("source", &it.source),
            ("note", &it.note),
            ("at_utc", &at),
        ],
    )?;
    Ok(LotId::new(id))
}

pub(crate) fn store(door: &mut Door<'_>, mut it: PartStored) -> Result<Outcome, Refusal> {
    it.drawer = door.known("drawer", it.drawer)?;
    check_pieces("quantity", it.quantity)?;
    check_money("price", it.price)?;
    check_line("source", &it.source, false)?;
    check_minimum(it.minimum)?;
    check_prose("note", &it.note, false)?;
    let part = part_of(door, &it.of)?;
    if let Some(minimum) = it.minimum {
        door.update("part", part.get(), &[("minimum", &minimum)])?;
    }
    let new = NewLot {
        drawer: Some(it.drawer),
        donor: None,
        grade: it.grade,
        price: it.price,
        source: &it.source,
        note: &it.note,
    };
    let id = make_lot(door, part, &new)?;
    let pieces = i64::from(it.quantity);
    record(door, &Moving::new(id, Movement::Stored, pieces, ""))?;
    let lot = lot(door, id)?;
    let told = format!("stored {} × {}", it.quantity, lot.told());
    let told = with(&told, &it.source, &it.note);
    Ok(of_lot(Outcome::new(it, Made::Lot(id)), &lot).telling(told))
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

pub(crate) fn correct_lot(door: &mut Door<'_>, mut it: LotCorrected) -> Result<Outcome, Refusal> {
    it.lot = door.known("lot", it.lot)?;
    check_money("price", it.price)?;
    check_line("source", &it.source, false)?;
    check_prose("note", &it.note, false)?;
    let price = MoneyText::new(it.price);
    door.update(
        "lot",
        it.lot.get(),
        &[
            ("grade", &it.grade.as_str()),
            ("price_amount", &price.amount),
            ("price_currency", &price.currency),
            ("source", &it.source),
            ("note", &it.note),
        ],
    )?;
    let lot = lot(door, it.lot)?;
    let told = with(
        &format!("corrected what is written of {}", lot.told()),
        &it.source,
        &it.note,
    );
    Ok(of_lot(Outcome::new(it, Made::Nothing), &lot).telling(told))
}

pub(crate) fn move_lot(door: &mut Door<'_>, mut it: LotMoved) -> Result<Outcome, Refusal> {
    let from = lot(door, it.lot)?;
    it.lot = from.id;
    it.drawer = door.known("drawer", it.drawer)?;
    if from.drawer == Some(it.drawer) {
        return Err(Refusal::rule(
            "drawer",
            format!("{} already: choose another", from.told()),
        ));
    }
    let (id, pieces, made) = match it.quantity {
        None => {
            let drawer = it.drawer.get();
            door.update("lot", from.id.get(), &[("drawer_id", &drawer)])?;
            (from.id, from.quantity, Made::Nothing)
        }
        Some(pieces) => {
            check_pieces("quantity", pieces)?;
            check_there(&from, pieces)?;
            let id = split(door, &from, it.drawer)?;
            let change = i64::from(pieces);
            record(door, &Moving::new(from.id, Movement::Moved, -change, ""))?;
            record(door, &Moving::new(id, Movement::Moved, change, ""))?;
            (id, pieces, Made::Lot(id))
        }
    };
    let to = lot(door, id)?;
    let told = format!(
        "moved {pieces} × {} ({}) {} {}",
        from.name,
        from.grade,
        from.place("from"),
        to.place("to")
    );
    Ok(of_lot(Outcome::new(it, made), &to).telling(told))
}

/// A lot like this one in another drawer, with nothing in it.
fn split(door: &mut Door<'_>, from: &LotRow, drawer: DrawerId) -> rusqlite::Result<LotId> {
    type Like = (Option<i64>, Option<String>, Option<String>, String, String);
    let (donor, amount, currency, source, note): Like = door
        .connection
        .prepare_cached(
            "SELECT donor_id, price_amount, price_currency, source, note FROM lot WHERE id = ?1",
        )?
        .query_row([from.id.get()], |row| {
            Ok((
                row.get(0)?,
                row.get(1)?,
                row.get(2)?,
                row.get(3)?,
                row.get(4)?,
            ))
        })?;
    let (part, drawer, grade) = (from.part.get(), drawer.get(), from.grade.as_str());
    let at = door.at.clone();
    let id = door.insert(
        "lot",
        &[
            ("part_id", &part),
            ("drawer_id", &drawer),
            ("donor_id", &donor),
            ("grade", &grade),
            ("price_amount", &amount),
            ("price_currency", &currency),
            ("source", &source),
            ("note", &note),
            ("at_utc", &at),
        ],
    )?;
    Ok(LotId::new(id))
}

/// The lot holds as many pieces as are asked for. The transaction holds the one lock for writing, so nobody takes one in between.
fn check_there(lot: &LotRow, pieces: u32) -> Result<(), Refusal> {
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
