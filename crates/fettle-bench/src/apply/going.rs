//! Writes stages, waiting, parcels and notes.

use super::{
    check::{
        check_count, check_country, check_days, check_line, check_money, check_payable, check_prose,
    },
    door::{Column, Door, Outcome, Refusal, VisitRow},
    work::is_whole,
};
use crate::{
    change::{
        About, DeclaredItem, HoldEnded, NoteWritten, Packed, SendingHeld, Sent, StageMoved,
        WaitingBegun, WaitingEnded, held, with,
    },
    ids::{HoldId, WaitId},
    journal::Made,
    view::Wait,
    words::{Stage, WaitFor},
};

pub(crate) fn move_stage(door: &mut Door<'_>, mut it: StageMoved) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_prose("note", &it.note, false)?;
    if let Some(why) = visit.stage.why_not(it.to) {
        return Err(Refusal::rule(
            "to",
            format!(
                "visit {} is {} and cannot be moved to {}: {why}",
                visit.id, visit.stage, it.to
            ),
        ));
    }
    let unrepaired = match it.to {
        Stage::ReturnedUnrepaired => true,
        Stage::Packed | Stage::Home => visit.unrepaired,
        _ => false,
    };
    door.update(
        "visit",
        visit.id.get(),
        &[
            ("stage", &it.to.as_str()),
            ("stage_since_utc", &door.at),
            ("unrepaired", &unrepaired),
        ],
    )?;
    check_tray(
        door,
        &VisitRow {
            stage: it.to,
            unrepaired,
            ..visit
        },
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

/// What is together has nothing left in the tray.
pub(crate) fn check_tray(door: &Door<'_>, visit: &VisitRow) -> Result<(), Refusal> {
    if !is_whole(visit) {
        return Ok(());
    }
    let left: Option<String> = door
        .connection
        .prepare_cached(
            "SELECT group_concat(words, ', ') FROM (SELECT words FROM piece \
             WHERE visit_id = ?1 AND returned_utc IS NULL ORDER BY id LIMIT 5)",
        )?
        .query_row([visit.id.get()], |row| row.get(0))?;
    match left {
        None => Ok(()),
        Some(left) => Err(Refusal::rule(
            "to",
            format!(
                "there is still something in the tray ({left}): put it back, or undo its removal"
            ),
        )),
    }
}

pub(crate) fn begin_waiting(door: &mut Door<'_>, mut it: WaitingBegun) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_line("what", &it.what, false)?;
    let at = door.at.clone();
    let id = door.insert(
        "wait",
        &[
            ("visit_id", &visit.id.get()),
            ("wait_for", &it.wait_for.as_str()),
            ("what", &it.what),
            ("since_utc", &at),
            ("ended_note", &""),
        ],
    )?;
    Ok(Outcome::new(it, Made::Wait(WaitId::new(id))).at(&visit))
}

pub(crate) fn end_waiting(door: &mut Door<'_>, mut it: WaitingEnded) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    it.wait = door.known_at("wait", it.wait, visit.id)?;
    check_line("note", &it.note, false)?;
    let (wait_for, what, ended): (WaitFor, String, bool) = door
        .connection
        .prepare_cached("SELECT wait_for, what, ended_utc IS NOT NULL FROM wait WHERE id = ?1")?
        .query_row([it.wait.get()], |row| {
            Ok((
                crate::read::word(row, 0, WaitFor::from_text)?,
                row.get(1)?,
                row.get(2)?,
            ))
        })?;
    if ended {
        return Err(Refusal::rule(
            "wait",
            format!("wait {} is already over", it.wait),
        ));
    }
    door.update(
        "wait",
        it.wait.get(),
        &[("ended_utc", &door.at), ("ended_note", &it.note)],
    )?;
    let awaited = Wait::name(wait_for, &what);
    let told = with(&format!("no longer waiting for {awaited}"), &it.note, "");
    Ok(Outcome::new(it, Made::Nothing).at(&visit).telling(told))
}

pub(crate) fn pack(door: &mut Door<'_>, mut it: Packed) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_prose("note", &it.note, false)?;
    check_count("ticks", it.ticks.len())?;
    for tick in &it.ticks {
        check_line("ticks", &tick.item, true)?;
    }
    check_count("declared", it.declared.len())?;
    for item in &it.declared {
        check_declared(item)?;
    }
    if !matches!(
        visit.stage,
        Stage::Proved | Stage::Packed | Stage::ReturnedUnrepaired
    ) {
        return Err(Refusal::rule(
            "visit",
            format!(
                "visit {} is {}: it is packed only when proved or returned unrepaired",
                visit.id, visit.stage
            ),
        ));
    }
    let packed: Option<i64> = door
        .connection
        .prepare_cached("SELECT max(id) FROM packing WHERE visit_id = ?1")?
        .query_row([visit.id.get()], |row| row.get(0))?;
    let at = door.at.clone();
    let columns: &[Column<'_>] = &[
        ("note", &it.note),
        ("at_utc", &at),
        ("weight_g", &it.weight_g),
        ("has_cells", &it.has_cells),
    ];
    let id = if let Some(id) = packed {
        door.update("packing", id, columns)?;
        door.delete_of("packing_tick", "packing_id", id)?;
        door.delete_of("packing_declared", "packing_id", id)?;
        id
    } else {
        let visit = visit.id.get();
        let mut all: Vec<Column<'_>> = vec![("visit_id", &visit)];
        all.extend_from_slice(columns);
        door.insert("packing", &all)?
    };
    for tick in &it.ticks {
        door.insert(
            "packing_tick",
            &[
                ("packing_id", &id),
                ("item", &tick.item),
                ("packed", &tick.packed),
            ],
        )?;
    }
    for item in &it.declared {
        door.insert(
            "packing_declared",
            &[
                ("packing_id", &id),
                ("what", &item.what),
                ("quantity", &item.quantity),
                ("value_amount", &item.value.amount.to_string()),
                ("value_currency", &item.value.currency.as_str()),
                ("weight_g", &item.weight_g),
                ("hs", &item.hs),
                ("origin", &item.origin),
            ],
        )?;
    }
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

fn check_declared(item: &DeclaredItem) -> Result<(), Refusal> {
    check_line("declared", &item.what, true)?;
    if item.quantity == 0 {
        return Err(Refusal::rule(
            "declared",
            format!("{} is declared 0 times: give 1 or more", item.what),
        ));
    }
    check_payable("declared", item.value.amount, item.value.currency)?;
    check_money("declared", Some(item.value))?;
    if !(4..=10).contains(&item.hs.len()) || !item.hs.bytes().all(|b| b.is_ascii_digit()) {
        return Err(Refusal::rule(
            "declared",
            format!(
                "`{}` is not a heading of the Harmonized System: give 4 to 10 digits, 9006 for cameras",
                item.hs
            ),
        ));
    }
    check_country("declared", &item.origin)
}

pub(crate) fn hold(door: &mut Door<'_>, mut it: SendingHeld) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_line("reason", &it.reason, true)?;
    if visit.stage == Stage::Home {
        return Err(Refusal::rule(
            "visit",
            format!("visit {} is home: there is nothing to keep back", visit.id),
        ));
    }
    let at = door.at.clone();
    let look_again = it.look_again.map(|day| day.to_string());
    let id = door.insert(
        "hold",
        &[
            ("visit_id", &visit.id.get()),
            ("reason", &it.reason),
            ("look_again_on", &look_again),
            ("since_utc", &at),
            ("ended_note", &""),
        ],
    )?;
    Ok(Outcome::new(it, Made::Hold(HoldId::new(id))).at(&visit))
}

pub(crate) fn end_hold(door: &mut Door<'_>, mut it: HoldEnded) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    it.hold = door.known_at("hold", it.hold, visit.id)?;
    check_line("note", &it.note, false)?;
    let (reason, ended): (String, bool) = door
        .connection
        .prepare_cached("SELECT reason, ended_utc IS NOT NULL FROM hold WHERE id = ?1")?
        .query_row([it.hold.get()], |row| Ok((row.get(0)?, row.get(1)?)))?;
    if ended {
        return Err(Refusal::rule(
            "hold",
            format!("hold {} is already over", it.hold),
        ));
    }
    door.update(
        "hold",
        it.hold.get(),
        &[("ended_utc", &door.at), ("ended_note", &it.note)],
    )?;
    let told = with("no longer held", &held(&reason, None), &it.note);
    Ok(Outcome::new(it, Made::Nothing).at(&visit).telling(told))
}

pub(crate) fn send(door: &mut Door<'_>, mut it: Sent) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_line("carrier", &it.carrier, false)?;
    check_line("tracking", &it.tracking, false)?;
    check_days("guarantee_days", it.guarantee_days)?;
    if !matches!(
        visit.stage,
        Stage::Packed | Stage::Home | Stage::ReturnedUnrepaired
    ) {
        return Err(Refusal::rule(
            "visit",
            format!(
                "visit {} is {}: it is sent only when packed or returned unrepaired",
                visit.id, visit.stage
            ),
        ));
    }
    let at = door.at.clone();
    door.insert(
        "sending",
        &[
            ("visit_id", &visit.id.get()),
            ("carrier", &it.carrier),
            ("tracking", &it.tracking),
            ("sent_on", &it.on.to_string()),
            ("at_utc", &at),
            ("guarantee_days", &it.guarantee_days),
        ],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

pub(crate) fn write_note(door: &mut Door<'_>, mut it: NoteWritten) -> Result<Outcome, Refusal> {
    check_prose("text", &it.text, true)?;
    let at = door.at.clone();
    match it.about {
        About::Visit(visit) => {
            let visit = door.visit(visit)?;
            it.about = About::Visit(visit.id);
            door.insert(
                "note",
                &[
                    ("visit_id", &visit.id.get()),
                    ("text", &it.text),
                    ("at_utc", &at),
                ],
            )?;
            Ok(Outcome::new(it, Made::Nothing).at(&visit))
        }
        About::Camera(camera) => {
            let camera = door.known("about", camera)?;
            it.about = About::Camera(camera);
            door.insert(
                "note",
                &[
                    ("camera_id", &camera.get()),
                    ("text", &it.text),
                    ("at_utc", &at),
                ],
            )?;
            let mut outcome = Outcome::new(it, Made::Nothing);
            outcome.camera = Some(camera);
            Ok(outcome)
        }
        About::Owner(owner) => {
            let owner = door.known("about", owner)?;
            it.about = About::Owner(owner);
            door.insert(
                "note",
                &[
                    ("owner_id", &owner.get()),
                    ("text", &it.text),
                    ("at_utc", &at),
                ],
            )?;
            let mut outcome = Outcome::new(it, Made::Nothing);
            outcome.owner = Some(owner);
            Ok(outcome)
        }
    }
}
