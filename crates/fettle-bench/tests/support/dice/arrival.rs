//! The bench itself, owners, cameras, arrivals, stages and waiting.

use fettle_bench::{
    ArrivalCorrected, ArrivalDetails, BenchSettings, CameraCorrected, CameraDetails, CameraId,
    Change, Currency, Language, OwnerCorrected, OwnerDetails, OwnerId, PaperSize, Serial, Stage,
    StageMoved, VisitId, VisitOpened, WaitFor, WaitId, WaitingBegun, WaitingEnded,
};

use super::Dice;
use crate::support;

pub(super) fn throw(like: &Change, visit: VisitId, dice: &mut Dice<'_>) -> Change {
    match like {
        Change::BenchSettled(_) => settings(dice).into(),
        Change::OwnerAdded(_) => owner(dice).into(),
        Change::OwnerCorrected(_) => OwnerCorrected {
            owner: OwnerId::new(dice.id()),
            details: owner(dice),
        }
        .into(),
        Change::CameraAdded(_) => camera(dice).into(),
        Change::CameraCorrected(_) => CameraCorrected {
            camera: CameraId::new(dice.id()),
            details: camera(dice),
        }
        .into(),
        Change::VisitOpened(_) => VisitOpened {
            camera: CameraId::new(dice.id()),
            arrival: arrival(dice),
        }
        .into(),
        Change::ArrivalCorrected(_) => ArrivalCorrected {
            visit,
            arrival: arrival(dice),
        }
        .into(),
        Change::StageMoved(_) => StageMoved {
            visit,
            to: stage(dice),
            note: dice.text(),
        }
        .into(),
        Change::WaitingBegun(_) => WaitingBegun {
            visit,
            wait_for: dice.pick(WaitFor::ALL),
            what: dice.line(),
        }
        .into(),
        Change::WaitingEnded(_) => WaitingEnded {
            visit,
            wait: WaitId::new(dice.id()),
            note: dice.line(),
        }
        .into(),
        other => panic!("{other:?} is thrown elsewhere"),
    }
}

fn settings(dice: &mut Dice<'_>) -> BenchSettings {
    let maybe = |dice: &mut Dice<'_>, days| dice.yes().then(|| dice.upto(days));
    BenchSettings {
        place: dice.line(),
        address: dice.text(),
        contact: dice.text(),
        hourly_rate: dice.money().map(|money| money.amount),
        tax_name: dice.line(),
        tax_percent: dice.percent(),
        tax_number: dice.line(),
        deposit_percent: dice.percent(),
        round_to: dice.yes().then(|| "0.50".parse().unwrap()),
        quote_days: maybe(dice, 60),
        guarantee_repair_days: maybe(dice, 400),
        guarantee_overhaul_days: maybe(dice, 800),
        payment: dice.text(),
        pay_days: maybe(dice, 30),
        country: dice.pick(&["", "XA", "ZZ"]).to_owned(),
        language: dice.pick(Language::ALL),
        paper_size: dice.pick(PaperSize::ALL),
        ..BenchSettings::new(dice.line(), Currency::new("XTS").unwrap())
    }
}

/// Mostly towards home, so that parcels are packed and sent.
fn stage(dice: &mut Dice<'_>) -> Stage {
    if dice.yes() {
        return dice.pick(Stage::ALL);
    }
    dice.pick(&[
        Stage::Apart,
        Stage::Proved,
        Stage::ReturnedUnrepaired,
        Stage::Packed,
        Stage::Packed,
        Stage::Home,
    ])
}

fn owner(dice: &mut Dice<'_>) -> OwnerDetails {
    OwnerDetails {
        name: dice.line(),
        email: dice.line(),
        phone: dice.line(),
        address: dice.text(),
        note: dice.text(),
        language: dice.yes().then(|| dice.pick(Language::ALL)),
        country: dice.pick(&["", "XA"]).to_owned(),
    }
}

fn camera(dice: &mut Dice<'_>) -> CameraDetails {
    let serials = (0..dice.upto(2)).map(|_| Serial {
        at: "body".to_owned(),
        number: dice.line(),
    });
    CameraDetails {
        serials: serials.collect(),
        maker: dice.line(),
        model: dice.line(),
        notes_id: dice.yes().then(|| "corran-66".to_owned()),
        note: dice.text(),
    }
}

fn arrival(dice: &mut Dice<'_>) -> ArrivalDetails {
    let arrived = dice.day();
    let came_with = (0..dice.upto(2)).map(|_| dice.line()).collect();
    ArrivalDetails {
        owner: OwnerId::new(dice.id()),
        arrived,
        words: dice.text(),
        wanted: dice.text(),
        condition: dice.text(),
        came_with,
        declared: dice.money(),
        promised: dice.yes().then_some(arrived),
        guarantee_of: (dice.upto(3) == 0).then(|| VisitId::new(dice.id())),
    }
}

/// One change of each of these kinds, only for its kind.
pub(super) fn kinds() -> Vec<Change> {
    let visit = VisitId::new(1);
    let text = String::new;
    vec![
        support::settings().into(),
        OwnerDetails::default().into(),
        OwnerCorrected {
            owner: OwnerId::new(1),
            details: OwnerDetails::default(),
        }
        .into(),
        CameraDetails::default().into(),
        CameraCorrected {
            camera: CameraId::new(1),
            details: CameraDetails::default(),
        }
        .into(),
        VisitOpened {
            camera: CameraId::new(1),
            arrival: support::arrival_details(OwnerId::new(1)),
        }
        .into(),
        ArrivalCorrected {
            visit,
            arrival: support::arrival_details(OwnerId::new(1)),
        }
        .into(),
        StageMoved {
            visit,
            to: Stage::Home,
            note: text(),
        }
        .into(),
        WaitingBegun {
            visit,
            wait_for: WaitFor::Part,
            what: text(),
        }
        .into(),
        WaitingEnded {
            visit,
            wait: WaitId::new(1),
            note: text(),
        }
        .into(),
    ]
}
