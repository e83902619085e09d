//! Drawers and donors.

use fettle_bench::{
    Change, Counted, DonorCorrected, DonorDetails, DonorId, DonorPartId, DonorPartIs,
    DonorPartsNoted, DrawerCounted, DrawerId, DrawerNamed, Grade, LotCorrected, LotId, LotMoved,
    MinimumSet, MovementId, OnDonor, PartId, PartOf, PartReturned, PartSalvaged, PartStored,
    PartTaken, SalvagedTo, Term, VisitId,
};

use super::Dice;

pub(super) fn throw(like: &Change, visit: VisitId, dice: &mut Dice<'_>) -> Change {
    match like {
        Change::DrawerNamed(_) => DrawerNamed {
            drawer: dice.yes().then(|| DrawerId::new(dice.id())),
            name: dice.line(),
            place: dice.line(),
        }
        .into(),
        Change::PartStored(_) => PartStored {
            of: part_of(dice),
            grade: dice.pick(Grade::ALL),
            quantity: 1 + dice.upto(4),
            price: dice.money(),
            source: dice.line(),
            drawer: DrawerId::new(dice.id()),
            minimum: dice.yes().then(|| dice.upto(3)),
            note: dice.text(),
        }
        .into(),
        Change::MinimumSet(_) => MinimumSet {
            part: PartId::new(dice.id()),
            minimum: dice.yes().then(|| dice.upto(3)),
        }
        .into(),
        Change::LotCorrected(_) => LotCorrected {
            lot: LotId::new(dice.id()),
            grade: dice.pick(Grade::ALL),
            price: dice.money(),
            source: dice.line(),
            note: dice.text(),
        }
        .into(),
        Change::LotMoved(_) => LotMoved {
            lot: LotId::new(dice.id()),
            drawer: DrawerId::new(dice.id()),
            quantity: dice.yes().then(|| 1 + dice.upto(1)),
        }
        .into(),
        Change::PartTaken(_) => PartTaken {
            lot: LotId::new(dice.id()),
            visit: dice.yes().then_some(visit),
            quantity: 1 + dice.upto(1),
            price: dice.money(),
            note: dice.text(),
        }
        .into(),
        Change::PartReturned(_) => PartReturned {
            taken: MovementId::new(1 + i64::from(dice.upto(5))),
            quantity: 1 + dice.upto(1),
            drawer: dice.yes().then(|| DrawerId::new(dice.id())),
            note: dice.text(),
        }
        .into(),
        Change::DrawerCounted(_) => DrawerCounted {
            drawer: DrawerId::new(dice.id()),
            counts: vec![Counted {
                lot: LotId::new(dice.id()),
                written: dice.upto(4),
                counted: dice.upto(6),
            }],
            note: dice.text(),
        }
        .into(),
        Change::DonorRegistered(_) => donor(dice).into(),
        Change::DonorCorrected(_) => DonorCorrected {
            donor: DonorId::new(dice.id()),
            details: donor(dice),
        }
        .into(),
        Change::DonorPartsNoted(_) => DonorPartsNoted {
            donor: DonorId::new(dice.id()),
            parts: (0..=dice.upto(1))
                .map(|_| OnDonor {
                    part: dice.term(),
                    quantity: dice.upto(3),
                    state: dice.pick(DonorPartIs::ALL),
                    note: dice.text(),
                })
                .collect(),
        }
        .into(),
        Change::PartSalvaged(_) => {
            let into_drawer = dice.yes();
            PartSalvaged {
                from: DonorPartId::new(dice.id()),
                quantity: 1 + dice.upto(1),
                to: if into_drawer {
                    SalvagedTo::Drawer(DrawerId::new(dice.id()))
                } else {
                    SalvagedTo::Visit(visit)
                },
                price: if into_drawer { None } else { dice.money() },
                note: dice.text(),
            }
            .into()
        }
        other => panic!("{other:?} is thrown elsewhere"),
    }
}

fn part_of(dice: &mut Dice<'_>) -> PartOf {
    let part = dice.term();
    PartOf {
        notes_id: part.id.is_some().then(|| "corran-66".to_owned()),
        model: dice.line(),
        part,
    }
}

fn donor(dice: &mut Dice<'_>) -> DonorDetails {
    DonorDetails {
        maker: dice.line(),
        model: dice.line(),
        notes_id: dice.yes().then(|| "corran-66".to_owned()),
        serial: dice.line(),
        condition: dice.text(),
        source: dice.line(),
    }
}

/// Two drawers with a lot that pieces were taken from, and a donor.
pub(crate) fn stocked() -> Vec<Change> {
    let drawer = |name: &str| DrawerNamed {
        name: name.to_owned(),
        ..DrawerNamed::default()
    };
    let part = || Term::known("gear-train", "gear train");
    vec![
        drawer("A 1").into(),
        drawer("B 2").into(),
        PartStored {
            of: PartOf {
                notes_id: Some("corran-66".to_owned()),
                model: "Aldous Corran 66".to_owned(),
                part: part(),
            },
            grade: Grade::Original,
            quantity: 5,
            price: None,
            source: String::new(),
            drawer: DrawerId::LATEST,
            minimum: None,
            note: String::new(),
        }
        .into(),
        PartTaken {
            lot: LotId::LATEST,
            visit: None,
            quantity: 2,
            price: None,
            note: String::new(),
        }
        .into(),
        DonorDetails {
            model: "Corran 66".to_owned(),
            ..DonorDetails::default()
        }
        .into(),
        DonorPartsNoted {
            donor: DonorId::LATEST,
            parts: vec![OnDonor {
                part: part(),
                quantity: 3,
                state: DonorPartIs::Worn,
                note: String::new(),
            }],
        }
        .into(),
    ]
}

/// One change of each of these kinds, only for its kind.
pub(super) fn kinds() -> Vec<Change> {
    let term = || Term::own("x");
    let text = String::new;
    vec![
        DrawerNamed::default().into(),
        PartStored {
            of: PartOf {
                notes_id: None,
                model: text(),
                part: term(),
            },
            grade: Grade::Made,
            quantity: 1,
            price: None,
            source: text(),
            drawer: DrawerId::new(1),
            minimum: None,
            note: text(),
        }
        .into(),
        MinimumSet {
            part: PartId::new(1),
            minimum: None,
        }
        .into(),
        LotCorrected {
            lot: LotId::new(1),
            grade: Grade::Made,
            price: None,
            source: text(),
            note: text(),
        }
        .into(),
        LotMoved {
            lot: LotId::new(1),
            drawer: DrawerId::new(1),
            quantity: None,
        }
        .into(),
        PartTaken {
            lot: LotId::new(1),
            visit: None,
            quantity: 1,
            price: None,
            note: text(),
        }
        .into(),
        PartReturned {
            taken: MovementId::new(1),
            quantity: 1,
            drawer: None,
            note: text(),
        }
        .into(),
        DrawerCounted {
            drawer: DrawerId::new(1),
            counts: Vec::new(),
            note: text(),
        }
        .into(),
        DonorDetails::default().into(),
        DonorCorrected {
            donor: DonorId::new(1),
            details: DonorDetails::default(),
        }
        .into(),
        DonorPartsNoted {
            donor: DonorId::new(1),
            parts: Vec::new(),
        }
        .into(),
        PartSalvaged {
            from: DonorPartId::new(1),
            quantity: 1,
            to: SalvagedTo::Drawer(DrawerId::new(1)),
            price: None,
            note: text(),
        }
        .into(),
    ]
}
