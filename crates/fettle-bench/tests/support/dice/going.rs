//! Going home, notes and undo.

use fettle_bench::{
    About, CameraId, Change, Currency, DeclaredItem, EntryId, HoldEnded, HoldId, Money,
    NoteWritten, OwnerId, Packed, SendingHeld, Sent, Tick, Undo, VisitId,
};

use super::Dice;

pub(super) fn throw(like: &Change, visit: VisitId, dice: &mut Dice<'_>, last: EntryId) -> Change {
    match like {
        Change::Packed(_) => packed(visit, dice).into(),
        Change::Sent(_) => Sent {
            visit,
            carrier: dice.line(),
            tracking: dice.line(),
            on: dice.day(),
            guarantee_days: dice.yes().then(|| dice.upto(400)),
        }
        .into(),
        Change::SendingHeld(_) => SendingHeld {
            visit,
            reason: dice.line(),
            look_again: dice.yes().then(|| dice.day()),
        }
        .into(),
        Change::HoldEnded(_) => HoldEnded {
            visit,
            hold: HoldId::new(dice.id()),
            note: dice.line(),
        }
        .into(),
        Change::NoteWritten(_) => NoteWritten {
            about: match dice.upto(2) {
                0 => About::Visit(visit),
                1 => About::Camera(CameraId::new(dice.id())),
                _ => About::Owner(OwnerId::new(dice.id())),
            },
            text: dice.line(),
        }
        .into(),
        Change::Undo(_) => Undo {
            entry: EntryId::new((last.get() - i64::from(dice.upto(11))).max(1)),
        }
        .into(),
        other => panic!("{other:?} is thrown elsewhere"),
    }
}

fn packed(visit: VisitId, dice: &mut Dice<'_>) -> Packed {
    let declared = (0..dice.upto(2)).map(|_| DeclaredItem {
        what: dice.line(),
        quantity: 1 + dice.upto(3),
        value: Money::new("12.50".parse().unwrap(), Currency::new("XTS").unwrap()),
        weight_g: dice.yes().then(|| dice.upto(2_000)),
        hs: dice.pick(&["9006", "90065300"]).to_owned(),
        origin: dice.pick(&["", "XA"]).to_owned(),
    });
    Packed {
        declared: declared.collect(),
        ticks: vec![Tick {
            item: dice.line(),
            packed: dice.yes(),
        }],
        note: dice.text(),
        weight_g: dice.yes().then(|| dice.upto(5_000)),
        has_cells: dice.yes(),
        ..Packed::new(visit)
    }
}

/// One change of each of these kinds, only for its kind.
pub(super) fn kinds() -> Vec<Change> {
    let visit = VisitId::new(1);
    let text = String::new;
    let day = || "2026-09-01".parse().unwrap();
    vec![
        Packed::new(visit).into(),
        Sent {
            visit,
            carrier: text(),
            tracking: text(),
            on: day(),
            guarantee_days: None,
        }
        .into(),
        SendingHeld {
            visit,
            reason: text(),
            look_again: None,
        }
        .into(),
        HoldEnded {
            visit,
            hold: HoldId::new(1),
            note: text(),
        }
        .into(),
        NoteWritten {
            about: About::Visit(visit),
            text: text(),
        }
        .into(),
        Undo {
            entry: EntryId::new(1),
        }
        .into(),
    ]
}
