//! Writes pieces off and on, work, parts, readings, settings and shortfalls.

use super::{
    arrival::MoneyText,
    check::{
        check_count, check_finite, check_id, check_line, check_minutes, check_money, check_prose,
        check_term,
    },
    door::{Door, Outcome, Refusal, VisitRow},
    finding::to_json,
};
use crate::{
    change::{
        PartFitted, PieceRemoved, PieceReturned, ReadingRow, ReadingTaken, SettingProved,
        ShortfallNoted, TrialMade, WorkDone,
    },
    ids::{PhotoId, PieceId, ReadingId, RecordingId},
    journal::Made,
    words::Stage,
};

pub(crate) fn remove_piece(door: &mut Door<'_>, mut it: PieceRemoved) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_term("piece", &it.piece)?;
    check_prose("note", &it.note, false)?;
    if it.cell == Some(0) {
        return Err(Refusal::rule(
            "cell",
            "is 0: the cells of the tray count from 1",
        ));
    }
    if is_whole(&visit) {
        return Err(Refusal::rule(
            "visit",
            format!(
                "visit {} is {}: move it back to `apart` before taking a piece off",
                visit.id, visit.stage
            ),
        ));
    }
    if let Some(photo) = it.photo {
        it.photo = Some(door.known_at("photo", photo, visit.id)?);
    }
    let out = door
        .connection
        .prepare_cached(
            "SELECT 1 FROM piece WHERE visit_id = ?1 AND term_id = ?2 AND returned_utc IS NULL",
        )?
        .exists((visit.id.get(), &it.piece.id))?;
    if out {
        return Err(Refusal::rule(
            "piece",
            format!("{} already lies in the tray", it.piece),
        ));
    }
    let photo = it.photo.map(PhotoId::get);
    let at = door.at.clone();
    let id = door.insert(
        "piece",
        &[
            ("visit_id", &visit.id.get()),
            ("term_id", &it.piece.id),
            ("words", &it.piece.words),
            ("cell", &it.cell),
            ("note", &it.note),
            ("photo_id", &photo),
            ("at_utc", &at),
            ("returned_note", &""),
        ],
    )?;
    Ok(Outcome::new(it, Made::Piece(PieceId::new(id))).at(&visit))
}

/// Whether nothing of it may lie in the tray.
pub(crate) fn is_whole(visit: &VisitRow) -> bool {
    let together = matches!(
        visit.stage,
        Stage::Together | Stage::Proved | Stage::Packed | Stage::Home
    );
    together && !visit.unrepaired
}

pub(crate) fn return_piece(door: &mut Door<'_>, mut it: PieceReturned) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    it.piece = door.known_at("piece", it.piece, visit.id)?;
    check_prose("note", &it.note, false)?;
    let (words, cell, returned): (String, Option<u32>, bool) = door
        .connection
        .prepare_cached("SELECT words, cell, returned_utc IS NOT NULL FROM piece WHERE id = ?1")?
        .query_row([it.piece.get()], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })?;
    if returned {
        return Err(Refusal::rule(
            "piece",
            format!("{words} is already back on"),
        ));
    }
    door.update(
        "piece",
        it.piece.get(),
        &[("returned_utc", &door.at), ("returned_note", &it.note)],
    )?;
    let from = cell.map_or(String::new(), |cell| format!(" from cell {cell}"));
    let told = crate::change::with(&format!("{words} put back{from}"), &it.note, "");
    Ok(Outcome::new(it, Made::Nothing).at(&visit).telling(told))
}

pub(crate) fn do_work(door: &mut Door<'_>, mut it: WorkDone) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_term("work", &it.work)?;
    check_minutes("minutes", it.minutes)?;
    check_prose("note", &it.note, false)?;
    let at = door.at.clone();
    door.insert(
        "work",
        &[
            ("visit_id", &visit.id.get()),
            ("term_id", &it.work.id),
            ("words", &it.work.words),
            ("minutes", &it.minutes),
            ("note", &it.note),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

pub(crate) fn fit_part(door: &mut Door<'_>, mut it: PartFitted) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_term("part", &it.part)?;
    check_money("price", it.price)?;
    check_prose("note", &it.note, false)?;
    if it.quantity == 0 {
        return Err(Refusal::rule("quantity", "is 0: give 1 or more"));
    }
    let price = MoneyText::new(it.price);
    let at = door.at.clone();
    door.insert(
        "part_fitted",
        &[
            ("visit_id", &visit.id.get()),
            ("term_id", &it.part.id),
            ("words", &it.part.words),
            ("grade", &it.grade.as_str()),
            ("quantity", &it.quantity),
            ("price_amount", &price.amount),
            ("price_currency", &price.currency),
            ("note", &it.note),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

pub(crate) fn take_reading(door: &mut Door<'_>, mut it: ReadingTaken) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_reading(&it)?;
    if let Some(recording) = it.recording {
        it.recording = Some(door.known_at("recording", recording, visit.id)?);
    }
    let recording = it.recording.map(RecordingId::get);
    let findings = to_json("findings", &it.findings)?;
    let detail = it
        .detail
        .as_ref()
        .map(|detail| to_json("detail", detail))
        .transpose()?;
    let at = door.at.clone();
    let id = door.insert(
        "reading",
        &[
            ("visit_id", &visit.id.get()),
            ("phase", &it.phase.as_str()),
            ("instrument", &it.instrument.as_str()),
            ("limit_id", &it.limit_id),
            ("recording_id", &recording),
            ("method", &it.method),
            ("findings_json", &findings),
            ("detail_json", &detail),
            ("at_utc", &at),
        ],
    )?;
    for row in &it.rows {
        write_row(door, id, row)?;
    }
    Ok(Outcome::new(it, Made::Reading(ReadingId::new(id))).at(&visit))
}

fn check_reading(it: &ReadingTaken) -> Result<(), Refusal> {
    it.limit_id
        .as_deref()
        .map_or(Ok(()), |id| check_id("limit_id", id))?;
    check_prose("method", &it.method, false)?;
    check_count("findings", it.findings.len())?;
    for finding in &it.findings {
        check_prose("findings", finding, true)?;
    }
    check_count("rows", it.rows.len())?;
    if it.rows.is_empty() {
        return Err(Refusal::rule(
            "rows",
            "has none: a reading needs at least one figure",
        ));
    }
    for row in &it.rows {
        check_line("rows", &row.name, true)?;
        check_line("rows", &row.unit, false)?;
        check_line("rows", &row.error_unit, false)?;
        for number in [
            row.nominal,
            row.value,
            row.error,
            row.uncertainty,
            row.limit,
        ] {
            check_finite("rows", number)?;
        }
        for (what, number) in [("uncertainty", row.uncertainty), ("limit", row.limit)] {
            if let Some(number) = number
                && number < 0.0
            {
                return Err(Refusal::rule(
                    "rows",
                    format!(
                        "the {what} of {} is {number}: it is a width, give 0 or more",
                        row.name
                    ),
                ));
            }
        }
    }
    Ok(())
}

fn write_row(door: &mut Door<'_>, reading: i64, row: &ReadingRow) -> rusqlite::Result<()> {
    let verdict = row.verdict.map(crate::Verdict::as_str);
    door.insert(
        "reading_row",
        &[
            ("reading_id", &reading),
            ("name", &row.name),
            ("unit", &row.unit),
            ("nominal", &row.nominal),
            ("value", &row.value),
            ("error", &row.error),
            ("error_unit", &row.error_unit),
            ("uncertainty", &row.uncertainty),
            ("limit_value", &row.limit),
            ("verdict", &verdict),
        ],
    )?;
    Ok(())
}

pub(crate) fn prove_setting(
    door: &mut Door<'_>,
    mut it: SettingProved,
) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_term("setting", &it.setting)?;
    check_prose("note", &it.note, false)?;
    door.say(
        "setting",
        visit.id,
        &it.setting,
        &[("held", &it.held), ("note", &it.note)],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

pub(crate) fn make_trial(door: &mut Door<'_>, mut it: TrialMade) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_trial(&it)?;
    let turned = to_json("turned", &it.turned)?;
    let readings = to_json("readings", &it.readings)?;
    let at = door.at.clone();
    door.insert(
        "trial",
        &[
            ("visit_id", &visit.id.get()),
            ("term_id", &it.setting.id),
            ("words", &it.setting.words),
            ("as_found", &it.as_found),
            ("turned_json", &turned),
            ("readings_json", &readings),
            ("note", &it.note),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}

fn check_trial(it: &TrialMade) -> Result<(), Refusal> {
    check_term("setting", &it.setting)?;
    check_prose("note", &it.note, false)?;
    check_count("turned", it.turned.len())?;
    check_count("readings", it.readings.len())?;
    for one in &it.turned {
        check_line("turned", &one.adjuster, true)?;
        check_finite("turned", Some(one.turns))?;
        if it.as_found && one.turns != 0.0 {
            return Err(Refusal::rule(
                "turned",
                format!(
                    "{} was turned by {}: as found nothing is turned yet; record it as the next trial",
                    one.adjuster, one.turns
                ),
            ));
        }
    }
    if it.readings.iter().all(|one| one.value.is_none()) {
        return Err(Refusal::rule(
            "readings",
            "has none: a trial needs at least one reading",
        ));
    }
    for one in &it.readings {
        check_id("readings", &one.limit_id)?;
        check_finite("readings", one.value)?;
        check_finite("readings", Some(one.repeatability))?;
        if one.repeatability <= 0.0 {
            return Err(Refusal::rule(
                "readings",
                format!(
                    "the repeatability of {} is {}: give how far one reading differs from the next, more than 0",
                    one.limit_id, one.repeatability
                ),
            ));
        }
    }
    Ok(())
}

pub(crate) fn note_shortfall(
    door: &mut Door<'_>,
    mut it: ShortfallNoted,
) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_prose("what", &it.what, true)?;
    check_prose("correction", &it.correction, false)?;
    let at = door.at.clone();
    door.insert(
        "shortfall",
        &[
            ("visit_id", &visit.id.get()),
            ("what", &it.what),
            ("correction", &it.correction),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Nothing).at(&visit))
}
