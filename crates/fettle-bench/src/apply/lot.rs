//! Writes lots: pieces of one part that came together.

use super::{
    arrival::MoneyText,
    check::{check_line, check_money, check_prose},
    door::{Door, Outcome, Refusal},
    movement::{Moving, check_there, record},
    stock::{check_minimum, check_pieces, of_lot, part_of},
};
use crate::{
    change::{LotCorrected, LotMoved, PartOf, PartStored, with},
    ids::{DrawerId, LotId, PartId},
    journal::Made,
    money::Money,
    words::{Grade, Movement},
};

/// A lot as the rules need it.
pub(crate) struct LotRow {
    pub(crate) id: LotId,
    pub(crate) part: PartId,
    pub(crate) drawer: Option<DrawerId>,
    pub(crate) quantity: u32,
    pub(crate) grade: Grade,
    /// The part and its model in words.
    pub(crate) name: String,
    drawer_name: Option<String>,
}

impl LotRow {
    /// What it is and where it lies: `wind pawl, Aldous Corran 66 (original) in drawer A3`.
    pub(crate) fn told(&self) -> String {
        format!("{} ({}) {}", self.name, self.grade, self.place("in"))
    }

    pub(crate) fn place(&self, word: &str) -> String {
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
