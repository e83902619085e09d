//! Work at the bench.

use fettle_bench::{
    Change, Grade, Instrument, PartFitted, Phase, PhotoId, PieceId, PieceRemoved, PieceReturned,
    ReadingRow, ReadingTaken, RecordingId, SettingProved, ShortfallNoted, Term, TrialMade,
    TrialReading, Turned, Verdict, VisitId, WorkDone,
};

use super::Dice;

pub(super) fn throw(like: &Change, visit: VisitId, dice: &mut Dice<'_>) -> Change {
    match like {
        Change::PieceRemoved(_) => PieceRemoved {
            visit,
            piece: dice.term(),
            cell: dice.yes().then(|| 1 + dice.upto(20)),
            note: dice.text(),
            photo: dice.yes().then(|| PhotoId::new(dice.id())),
        }
        .into(),
        Change::PieceReturned(_) => PieceReturned {
            visit,
            piece: PieceId::new(dice.id()),
            note: dice.text(),
        }
        .into(),
        Change::WorkDone(_) => WorkDone {
            visit,
            work: dice.term(),
            minutes: Some(12.75),
            note: dice.text(),
        }
        .into(),
        Change::PartFitted(_) => PartFitted {
            visit,
            part: dice.term(),
            grade: dice.pick(Grade::ALL),
            quantity: 1 + dice.upto(3),
            price: dice.money(),
            note: dice.text(),
        }
        .into(),
        Change::ReadingTaken(_) => reading(visit, dice).into(),
        Change::SettingProved(_) => SettingProved {
            visit,
            setting: dice.term(),
            held: dice.yes(),
            note: dice.text(),
        }
        .into(),
        Change::TrialMade(_) => trial(visit, dice).into(),
        Change::ShortfallNoted(_) => ShortfallNoted {
            visit,
            what: dice.line(),
            correction: dice.text(),
        }
        .into(),
        other => panic!("{other:?} is thrown elsewhere"),
    }
}

fn reading(visit: VisitId, dice: &mut Dice<'_>) -> ReadingTaken {
    ReadingTaken {
        visit,
        phase: dice.pick(Phase::ALL),
        instrument: dice.pick(Instrument::ALL),
        limit_id: dice.yes().then(|| "shutter".to_owned()),
        rows: vec![ReadingRow {
            name: dice.line(),
            unit: "s".to_owned(),
            nominal: dice.maybe_number(),
            value: dice.maybe_number(),
            error: dice.maybe_number(),
            error_unit: "stops".to_owned(),
            uncertainty: dice.width(),
            limit: dice.width(),
            verdict: dice.yes().then(|| dice.pick(Verdict::ALL)),
        }],
        findings: vec![dice.line()],
        recording: dice.yes().then(|| RecordingId::new(dice.id())),
        method: dice.text(),
        detail: dice.yes().then(
            || serde_json::json!({"n": 1, "effective_s": dice.number(), "flags": [dice.text()]}),
        ),
    }
}

fn trial(visit: VisitId, dice: &mut Dice<'_>) -> TrialMade {
    let as_found = dice.yes();
    TrialMade {
        visit,
        setting: dice.term(),
        as_found,
        turned: vec![Turned {
            adjuster: dice.line(),
            turns: if as_found { 0.0 } else { dice.number() },
        }],
        readings: vec![TrialReading {
            limit_id: "register".to_owned(),
            value: dice.maybe_number(),
            repeatability: 0.01,
        }],
        note: dice.text(),
    }
}

/// One change of each of these kinds, only for its kind.
pub(super) fn kinds() -> Vec<Change> {
    let visit = VisitId::new(1);
    let term = || Term::own("x");
    let text = String::new;
    vec![
        PieceRemoved {
            visit,
            piece: term(),
            cell: None,
            note: text(),
            photo: None,
        }
        .into(),
        PieceReturned {
            visit,
            piece: PieceId::new(1),
            note: text(),
        }
        .into(),
        WorkDone {
            visit,
            work: term(),
            minutes: None,
            note: text(),
        }
        .into(),
        PartFitted {
            visit,
            part: term(),
            grade: Grade::Made,
            quantity: 1,
            price: None,
            note: text(),
        }
        .into(),
        ReadingTaken {
            visit,
            phase: Phase::After,
            instrument: Instrument::Other,
            limit_id: None,
            rows: Vec::new(),
            findings: Vec::new(),
            recording: None,
            method: text(),
            detail: None,
        }
        .into(),
        SettingProved {
            visit,
            setting: term(),
            held: true,
            note: text(),
        }
        .into(),
        TrialMade {
            visit,
            setting: term(),
            as_found: true,
            turned: Vec::new(),
            readings: Vec::new(),
            note: text(),
        }
        .into(),
        ShortfallNoted {
            visit,
            what: text(),
            correction: text(),
        }
        .into(),
    ]
}
