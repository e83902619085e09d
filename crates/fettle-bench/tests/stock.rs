//! Drawers, parts taken and brought back, counting, donors, and two bench-hands at one drawer.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::sync::Barrier;

use fettle_bench::{
    Bench, BenchError, Change, Counted, Currency, DonorDetails, DonorId, DonorPartId, DonorPartIs,
    DonorPartsNoted, DrawerCounted, DrawerId, DrawerNamed, EntryId, Grade, HitIn, Lot,
    LotCorrected, LotId, LotMoved, MinimumSet, Money, MovementId, OnDonor, Page, PartFilter,
    PartId, PartLine, PartOf, PartReturned, PartSalvaged, PartStored, PartTaken, SalvagedTo, Term,
    Undo, VisitId,
};
use support::{Shop, at, hand, shop};

const A1: DrawerId = DrawerId::new(1);
const B2: DrawerId = DrawerId::new(2);
const LOT: LotId = LotId::new(1);
const PART: PartId = PartId::new(1);

fn drawer(name: &str) -> Change {
    DrawerNamed {
        name: name.to_owned(),
        ..DrawerNamed::default()
    }
    .into()
}

fn pawl() -> PartOf {
    PartOf {
        notes_id: Some("corran-66".to_owned()),
        model: "Aldous Corran 66".to_owned(),
        part: Term::known("wind-pawl", "wind pawl"),
    }
}

fn own(words: &str) -> PartOf {
    PartOf {
        notes_id: None,
        model: String::new(),
        part: Term::own(words),
    }
}

fn stored(of: PartOf, quantity: u32) -> PartStored {
    PartStored {
        of,
        grade: Grade::Original,
        quantity,
        price: None,
        source: "the estate of a harbour clockmaker".to_owned(),
        drawer: A1,
        minimum: None,
        note: String::new(),
    }
}

fn taken(quantity: u32, visit: Option<VisitId>) -> PartTaken {
    PartTaken {
        lot: LOT,
        visit,
        quantity,
        price: None,
        note: String::new(),
    }
}

fn back(movement: i64, quantity: u32, drawer: Option<DrawerId>) -> Change {
    PartReturned {
        taken: MovementId::new(movement),
        quantity,
        drawer,
        note: String::new(),
    }
    .into()
}

fn counted(counts: &[(i64, u32, u32)]) -> Change {
    DrawerCounted {
        drawer: A1,
        counts: counts
            .iter()
            .map(|&(lot, written, counted)| Counted {
                lot: LotId::new(lot),
                written,
                counted,
            })
            .collect(),
        note: String::new(),
    }
    .into()
}

fn undo(entry: EntryId) -> Change {
    Undo { entry }.into()
}

/// Two drawers, with so many wind pawls in the first.
fn stocked(pieces: u32) -> Shop {
    let shop = shop();
    shop.apply(
        1,
        vec![drawer("A1"), drawer("B2"), stored(pawl(), pieces).into()],
    );
    shop
}

fn lot(shop: &Shop) -> Lot {
    shop.bench.lot(LOT).unwrap()
}

fn line(shop: &Shop) -> PartLine {
    shop.bench.part(PART).unwrap().line
}

fn last_sentence(shop: &Shop) -> String {
    let journal = shop.bench.journal(Page::first(1)).unwrap();
    journal.lines[0].sentence.clone()
}

fn xts(amount: &str) -> Money {
    Money::new(amount.parse().unwrap(), Currency::new("XTS").unwrap())
}

#[test]
fn a_part_taken_for_a_visit_stands_among_its_parts_until_it_comes_back() {
    let shop = stocked(5);
    let visit = shop.arrive(2);
    let mut take = taken(3, Some(visit));
    take.price = Some(xts("4.50"));
    let applied = shop.apply(3, vec![take.into()]);
    assert_eq!(
        last_sentence(&shop),
        "took 3 × wind pawl, Aldous Corran 66 (original) from drawer A1 for visit 1"
    );
    assert_eq!(lot(&shop).quantity, 2);
    let view = shop.bench.visit(visit).unwrap();
    let fitted = &view.parts[0].what;
    assert_eq!((fitted.quantity, fitted.grade), (3, Grade::Original));
    assert_eq!(fitted.part, Term::known("wind-pawl", "wind pawl"));
    assert_eq!(fitted.price, Some(xts("13.50")));
    assert_eq!(view.parts[0].entry, applied.entries[0]);
    assert_eq!(view.taken[0].drawer, Some((A1, "A1".to_owned())));

    let movement = applied.taken().unwrap();
    shop.apply(4, vec![back(movement.get(), 2, None)]);
    assert_eq!(
        last_sentence(&shop),
        "brought back 2 × wind pawl, Aldous Corran 66 (original) from visit 1 to drawer A1"
    );
    let view = shop.bench.visit(visit).unwrap();
    assert_eq!(view.parts[0].what.price, Some(xts("4.50")));
    assert_eq!((lot(&shop).quantity, line(&shop).used), (4, 1));
    let uses = shop.bench.uses(&[PART]).unwrap();
    assert_eq!(uses[&PART].iter().map(|it| it.quantity).sum::<u32>(), 1);
    let refused = shop.refusal(5, vec![back(movement.get(), 2, None)]);
    assert!(refused.contains("only 1 of what was taken"), "{refused}");

    shop.apply(6, vec![back(movement.get(), 1, None)]);
    let view = shop.bench.visit(visit).unwrap();
    assert!(view.parts.is_empty() && view.taken.is_empty());
    assert!(shop.bench.uses(&[PART]).unwrap().is_empty());
}

#[test]
fn nobody_takes_more_than_there_is() {
    let shop = stocked(2);
    let refused = shop.refusal(2, vec![taken(3, None).into()]);
    assert!(
        refused.contains(
            "is 3, but only 2 are left of wind pawl, Aldous Corran 66 (original) in drawer A1"
        ),
        "{refused}"
    );
    shop.apply(3, vec![taken(2, None).into()]);
    let refused = shop.refusal(4, vec![taken(1, None).into()]);
    assert!(refused.contains("none is left"), "{refused}");
    let refused = shop.refusal(4, vec![taken(0, None).into()]);
    assert!(refused.contains("give 1 or more"), "{refused}");
}

#[test]
fn two_bench_hands_at_one_drawer_never_take_more_than_there_is() {
    let shop = stocked(7);
    // One in this program and one in another: each has its own connections to the same file.
    let other = Bench::open(shop.dir.path()).unwrap();
    let start = Barrier::new(2);
    let work = |bench: &Bench| {
        start.wait();
        let mut got = 0;
        for second in 0..12 {
            match bench.apply(&hand(), at(10 + second), vec![taken(1, None).into()]) {
                Ok(_) => got += 1,
                Err(BenchError::Rule { field, .. }) => assert_eq!(field, "quantity"),
                Err(error) => panic!("{error}"),
            }
        }
        got
    };
    let (first, second) = std::thread::scope(|scope| {
        let one = scope.spawn(|| work(&shop.bench));
        let two = scope.spawn(|| work(&other));
        (one.join().unwrap(), two.join().unwrap())
    });
    assert_eq!(first + second, 7, "{first} and {second}");
    assert_eq!(lot(&shop).quantity, 0);
    let moved = shop.bench.part(PART).unwrap().moved;
    assert_eq!(moved.len(), 1 + 7, "every movement is in the journal");
    shop.bench.check().unwrap();
}

#[test]
fn two_threads_of_one_program_never_take_more_than_there_is() {
    let shop = stocked(5);
    let start = Barrier::new(4);
    let got: usize = std::thread::scope(|scope| {
        let hands: Vec<_> = (0..4)
            .map(|_| {
                scope.spawn(|| {
                    start.wait();
                    (0..5)
                        .filter(|_| {
                            let taking = vec![taken(1, None).into()];
                            shop.bench.apply(&hand(), at(10), taking).is_ok()
                        })
                        .count()
                })
            })
            .collect();
        hands.into_iter().map(|hand| hand.join().unwrap()).sum()
    });
    assert_eq!((got, lot(&shop).quantity), (5, 0));
}

#[test]
fn counting_corrects_what_is_written_and_tells_the_difference() {
    let shop = stocked(5);
    let mut springs = stored(own("light spring"), 9);
    springs.grade = Grade::Made;
    shop.apply(2, vec![springs.into()]);
    shop.apply(3, vec![counted(&[(1, 5, 4), (2, 9, 9)])]);
    assert_eq!(
        last_sentence(&shop),
        "drawer A1 counted, 2 of its lots: wind pawl, Aldous Corran 66 (original) 4 instead of 5 (-1)"
    );
    assert_eq!((lot(&shop).quantity, line(&shop).used), (4, 0));
    shop.apply(4, vec![counted(&[(1, 4, 4)])]);
    assert!(last_sentence(&shop).ends_with("1 of its lots: all as written"));

    shop.apply(5, vec![taken(1, None).into()]);
    let refused = shop.refusal(6, vec![counted(&[(2, 9, 8), (1, 4, 4)])]);
    assert!(
        refused.contains("had 4 written when it was counted and has 3 now"),
        "{refused}"
    );
    let refused = shop.refusal(7, vec![counted(&[(1, 3, 3), (1, 3, 3)])]);
    assert!(refused.contains("counted twice"), "{refused}");
    let refused = shop.refusal(8, vec![counted(&[])]);
    assert!(refused.contains("count at least one lot"), "{refused}");
    shop.apply(9, vec![moved(None)]);
    let refused = shop.refusal(10, vec![counted(&[(1, 3, 3)])]);
    assert!(
        refused.contains("in drawer B2, not in the drawer that was counted"),
        "{refused}"
    );
}

fn moved(quantity: Option<u32>) -> Change {
    LotMoved {
        lot: LOT,
        drawer: B2,
        quantity,
    }
    .into()
}

#[test]
fn a_lot_moves_whole_or_in_part_and_keeps_what_is_written_of_it() {
    let shop = stocked(5);
    shop.apply(2, vec![moved(Some(2))]);
    assert_eq!(
        last_sentence(&shop),
        "moved 2 × wind pawl, Aldous Corran 66 (original) from drawer A1 to drawer B2"
    );
    let there = shop.bench.drawer(B2).unwrap();
    assert_eq!((there.lots.len(), there.line.pieces), (1, 2));
    assert_eq!(there.lots[0].source, lot(&shop).source);
    assert_eq!((line(&shop).quantity, line(&shop).used), (5, 0));
    shop.apply(3, vec![moved(None)]);
    assert_eq!(shop.bench.drawer(B2).unwrap().line.pieces, 5);
    assert!(shop.bench.drawer(A1).unwrap().lots.is_empty());
    let refused = shop.refusal(4, vec![moved(None)]);
    assert!(refused.contains("choose another"), "{refused}");
}

#[test]
fn an_entry_whose_pieces_are_gone_is_not_undone() {
    let shop = stocked(1);
    let visit = shop.arrive(2);
    let took = shop.apply(3, vec![taken(1, Some(visit)).into()]);
    let movement = took.taken().unwrap().get();
    let returned = shop.apply(4, vec![back(movement, 1, None)]);
    shop.apply(5, vec![taken(1, None).into()]);
    let refused = shop.refusal(6, vec![undo(returned.entries[0])]);
    assert!(
        refused.contains("what it brought is already taken"),
        "{refused}"
    );
    let refused = shop.refusal(7, vec![undo(took.entries[0])]);
    assert!(refused.contains("came later and builds on it"), "{refused}");
    assert_eq!(lot(&shop).quantity, 0);

    let counted = shop.apply(8, vec![counted(&[(1, 0, 3)])]);
    shop.apply(9, vec![taken(2, None).into()]);
    let refused = shop.refusal(10, vec![undo(counted.entries[0])]);
    assert!(refused.contains("3 fewer would be"), "{refused}");
}

#[test]
fn an_earlier_taking_can_be_undone_while_later_ones_stand() {
    let shop = stocked(5);
    let first = shop.apply(2, vec![taken(2, None).into()]);
    shop.apply(3, vec![taken(1, None).into()]);
    shop.apply(4, vec![undo(first.entries[0])]);
    assert_eq!((lot(&shop).quantity, line(&shop).used), (4, 1));
    let part = shop.bench.part(PART).unwrap();
    assert_eq!(part.moved.len(), 2);
    assert!(
        part.journal
            .iter()
            .any(|entry| entry.id == first.entries[0] && entry.struck_by.is_some()),
        "the struck entry stays legible"
    );
}

#[test]
fn what_is_below_its_minimum_comes_first_and_then_what_lasts_least() {
    let shop = shop();
    shop.apply(1, vec![drawer("A1"), drawer("B2")]);
    for (words, pieces) in [("quiet", 4), ("used", 6), ("scarce", 1), ("short", 2)] {
        shop.apply(2, vec![stored(own(words), pieces).into()]);
    }
    let minimum = |part, minimum| MinimumSet {
        part: PartId::new(part),
        minimum,
    };
    shop.apply(
        3,
        vec![minimum(3, Some(4)).into(), minimum(4, Some(3)).into()],
    );
    let mut take = taken(2, None);
    take.lot = LotId::new(2);
    shop.apply(90_000, vec![take.into()]);
    let list = |filter: &PartFilter| {
        let list = shop
            .bench
            .parts(filter, Page::first(10), at(200_000))
            .unwrap();
        let words = list.lines.into_iter().map(|line| line.of.part.words);
        (words.collect::<Vec<_>>(), list.below, list.pieces)
    };
    let all = list(&PartFilter::default());
    let order = ["scarce", "short", "used", "quiet"]
        .map(str::to_owned)
        .to_vec();
    assert_eq!(all, (order, 2, 11));
    let below = PartFilter {
        below: true,
        text: "SH".to_owned(),
        ..PartFilter::default()
    };
    assert_eq!(list(&below), (vec!["short".to_owned()], 1, 2));
    shop.apply(90_001, vec![minimum(4, None).into()]);
    assert_eq!(last_sentence(&shop), "no minimum of short");
}

#[test]
fn parts_are_listed_by_drawer_model_and_grade() {
    let shop = stocked(5);
    let mut other = stored(own("leather"), 1);
    (other.drawer, other.grade) = (B2, Grade::Made);
    shop.apply(2, vec![other.into()]);
    let list = |filter: PartFilter| {
        let list = shop.bench.parts(&filter, Page::first(10), at(3)).unwrap();
        let ids = list.lines.into_iter().map(|line| line.id.get());
        ids.collect::<Vec<_>>()
    };
    let all = PartFilter::default;
    assert_eq!(
        list(PartFilter {
            drawer: Some(B2),
            ..all()
        }),
        [2]
    );
    assert_eq!(
        list(PartFilter {
            grade: Some(Grade::Original),
            ..all()
        }),
        [1]
    );
    let sprat = PartFilter {
        notes_id: Some("sprat".to_owned()),
        ..all()
    };
    assert_eq!(list(sprat.clone()), [0_i64; 0]);
    let fitting = vec![("corran-66".to_owned(), "wind-pawl".to_owned())];
    assert_eq!(list(PartFilter { fitting, ..sprat }), [1]);
    assert_eq!(line(&shop).drawers, [(A1, "A1".to_owned())]);
}

fn donor(shop: &Shop) -> DonorId {
    let details = DonorDetails {
        maker: "Aldous".to_owned(),
        model: "Corran 66".to_owned(),
        notes_id: Some("corran-66".to_owned()),
        serial: "K 3301".to_owned(),
        condition: "lens fogged, body sound".to_owned(),
        source: String::new(),
    };
    let on = |id: &str, quantity, state| OnDonor {
        part: Term::known(id, id.replace('-', " ")),
        quantity,
        state,
        note: String::new(),
    };
    let parts = vec![
        on("wind-pawl", 2, DonorPartIs::Good),
        on("lens", 1, DonorPartIs::Spoiled),
    ];
    let noted = DonorPartsNoted {
        donor: DonorId::LATEST,
        parts,
    };
    let applied = shop.apply(2, vec![details.into(), noted.into()]);
    applied.donor().unwrap()
}

fn salvaged(to: SalvagedTo) -> PartSalvaged {
    PartSalvaged {
        from: DonorPartId::new(1),
        quantity: 1,
        to,
        price: None,
        note: String::new(),
    }
}

#[test]
fn a_part_of_a_donor_goes_into_a_drawer_or_straight_to_a_visit() {
    let shop = stocked(1);
    let donor = donor(&shop);
    assert_eq!(shop.bench.donor(donor).unwrap().line.parts, 1);
    let visit = shop.arrive(3);
    assert_eq!(shop.bench.part(PART).unwrap().on_donors.len(), 1);

    shop.apply(4, vec![salvaged(SalvagedTo::Drawer(B2)).into()]);
    assert_eq!(
        last_sentence(&shop),
        "took 1 × wind pawl (good) off donor 1, Aldous Corran 66 K 3301: \
         wind pawl, Aldous Corran 66 (salvaged) in drawer B2"
    );
    assert_eq!(line(&shop).by_grade[&Grade::Salvaged], 1);
    let straight = shop.apply(5, vec![salvaged(SalvagedTo::Visit(visit)).into()]);
    let view = shop.bench.visit(visit).unwrap();
    assert_eq!(view.parts[0].what.grade, Grade::Salvaged);
    assert_eq!(view.taken[0].drawer, None);
    assert_eq!((line(&shop).quantity, line(&shop).used), (2, 1));

    let refused = shop.refusal(6, vec![salvaged(SalvagedTo::Drawer(A1)).into()]);
    assert!(
        refused.contains("but 0 of wind pawl are left on donor 1"),
        "{refused}"
    );
    let seen = shop.bench.donor(donor).unwrap();
    assert_eq!((seen.parts[0].on.quantity, seen.parts[0].taken), (0, 2));
    assert_eq!((seen.line.parts, seen.line.taken), (0, 2));
    assert!(shop.bench.part(PART).unwrap().on_donors.is_empty());

    let movement = straight.taken().unwrap().get();
    let refused = shop.refusal(7, vec![back(movement, 1, None)]);
    assert!(refused.contains("say into which drawer"), "{refused}");
    shop.apply(8, vec![back(movement, 1, Some(A1))]);
    assert_eq!(shop.bench.drawer(A1).unwrap().line.pieces, 2);
}

#[test]
fn what_was_noted_of_a_donor_is_not_undone_below_what_was_taken() {
    let shop = stocked(1);
    donor(&shop);
    let more = shop.apply(
        3,
        vec![
            DonorPartsNoted {
                donor: DonorId::new(1),
                parts: vec![OnDonor {
                    part: Term::known("wind-pawl", "wind pawl"),
                    quantity: 5,
                    state: DonorPartIs::Good,
                    note: String::new(),
                }],
            }
            .into(),
        ],
    );
    let mut take = salvaged(SalvagedTo::Drawer(A1));
    take.quantity = 4;
    let took = shop.apply(4, vec![take.into()]);
    let refused = shop.refusal(5, vec![undo(more.entries[0])]);
    assert!(
        refused.contains("more than would have been on it"),
        "{refused}"
    );
    shop.apply(6, vec![undo(took.entries[0])]);
    shop.apply(7, vec![undo(more.entries[0])]);
    let seen = shop.bench.donor(DonorId::new(1)).unwrap();
    assert_eq!(seen.parts[0].on.quantity, 2);
}

#[test]
fn no_more_comes_back_by_restoring_a_return_than_was_taken() {
    let shop = stocked(2);
    let taking = shop.apply(2, vec![taken(1, None).into()]).taken().unwrap();
    let first = shop.apply(3, vec![back(taking.get(), 1, None)]).entries[0];
    let undone = shop.apply(4, vec![undo(first)]).entries[0];
    let second = shop.apply(5, vec![back(taking.get(), 1, None)]).entries[0];
    let refused = shop.refusal(6, vec![undo(undone)]);
    assert!(
        refused.contains(&format!(
            "2 would have come back of 1 taken, for entry {second} brought some back"
        )),
        "{refused}"
    );
    assert_eq!((lot(&shop).quantity, line(&shop).used), (2, 0));
    shop.apply(7, vec![undo(second)]);
    shop.apply(8, vec![undo(undone)]);
    assert_eq!((lot(&shop).quantity, line(&shop).used), (2, 0));
}

#[test]
fn every_kind_of_movement_is_restored_as_it_was() {
    let shop = stocked(5);
    donor(&shop);
    let visit = shop.arrive(3);
    let taking = shop.apply(4, vec![taken(2, None).into()]).taken().unwrap();
    let mut bought_again = stored(own("leather"), 3);
    bought_again.minimum = Some(2);
    let changes: Vec<Change> = vec![
        stored(pawl(), 4).into(),
        bought_again.into(),
        taken(1, Some(visit)).into(),
        back(taking.get(), 1, None),
        counted(&[(1, 3, 2)]),
        moved(Some(2)),
        moved(None),
        salvaged(SalvagedTo::Drawer(B2)).into(),
        salvaged(SalvagedTo::Visit(visit)).into(),
    ];
    let seen = || {
        let part = shop.bench.part(PART).unwrap();
        let drawers = [A1, B2].map(|drawer| shop.bench.drawer(drawer).unwrap());
        let lots = drawers.map(|drawer| (drawer.line, drawer.lots));
        let visit = shop.bench.visit(visit).unwrap();
        let donor = shop.bench.donor(DonorId::new(1)).unwrap();
        (
            part.line,
            part.lots,
            part.moved,
            lots,
            visit.taken,
            donor.parts,
        )
    };
    for change in changes {
        let before = seen();
        let kind = change.kind();
        let applied = shop.apply(5, vec![change]).entries[0];
        let after = seen();
        assert_ne!(before, after, "{kind}");
        let undone = shop.apply(6, vec![undo(applied)]).entries[0];
        assert_eq!(seen(), before, "{kind} undone");
        let restored = shop.apply(7, vec![undo(undone)]).entries[0];
        assert_eq!(seen(), after, "{kind} restored");
        shop.apply(8, vec![undo(restored)]);
        assert_eq!(seen(), before, "{kind} undone again");
    }
    shop.bench.check().unwrap();
}

#[test]
fn a_taking_from_a_donor_is_not_restored_when_another_took_the_pieces() {
    let shop = stocked(1);
    donor(&shop);
    let mut both = salvaged(SalvagedTo::Drawer(A1));
    both.quantity = 2;
    let first = shop.apply(3, vec![both.clone().into()]).entries[0];
    let undone = shop.apply(4, vec![undo(first)]).entries[0];
    let second = shop.apply(5, vec![both.into()]).entries[0];
    let refused = shop.refusal(6, vec![undo(undone)]);
    assert!(
        refused.contains("4 × wind pawl would be taken")
            && refused.contains("undo the later taking first"),
        "{refused}"
    );
    shop.apply(7, vec![undo(second)]);
    shop.apply(8, vec![undo(undone)]);
    assert_eq!(line(&shop).quantity, 3);
}

#[test]
fn no_undo_leaves_pieces_in_no_drawer() {
    let shop = stocked(1);
    donor(&shop);
    let visit = shop.arrive(3);
    let mut both = salvaged(SalvagedTo::Visit(visit));
    both.quantity = 2;
    let taking = shop.apply(4, vec![both.into()]).taken().unwrap().get();
    let first = shop.apply(5, vec![back(taking, 1, Some(B2))]).entries[0];
    let second = shop.apply(6, vec![back(taking, 1, None)]).entries[0];
    let refused = shop.refusal(7, vec![undo(first)]);
    assert!(
        refused.contains("in no drawer would be left over")
            && refused.contains(&format!("entry {second} brought them")),
        "{refused}"
    );
    assert_eq!(shop.bench.drawer(B2).unwrap().line.pieces, 2);

    let second_undone = shop.apply(8, vec![undo(second)]).entries[0];
    let first_undone = shop.apply(9, vec![undo(first)]).entries[0];
    let refused = shop.refusal(10, vec![undo(second_undone)]);
    assert!(
        refused.contains(&format!("entry {first_undone} took the drawer away")),
        "{refused}"
    );
    shop.apply(11, vec![undo(first_undone)]);
    shop.apply(12, vec![undo(second_undone)]);
    assert_eq!(shop.bench.drawer(B2).unwrap().line.pieces, 2);
}

#[test]
fn a_wrong_drawer_part_or_price_is_refused_with_the_way_out() {
    let shop = stocked(1);
    let refusals = [
        (drawer("a1"), "there is already a drawer a1"),
        (drawer(" "), "write something"),
        (stored(pawl(), 0).into(), "give 1 or more"),
        (stored(pawl(), 2_000_000).into(), "the most is 1000000"),
        (
            PartStored {
                price: Some(xts("-1")),
                ..stored(pawl(), 1)
            }
            .into(),
            "give 0 or more",
        ),
        (
            stored(
                PartOf {
                    notes_id: None,
                    ..pawl()
                },
                1,
            )
            .into(),
            "say of which model",
        ),
        (back(1, 1, None), "took nothing"),
        (
            LotCorrected {
                lot: LotId::new(9),
                grade: Grade::Made,
                price: None,
                source: String::new(),
                note: String::new(),
            }
            .into(),
            "there is no lot 9",
        ),
        (DonorDetails::default().into(), "write something"),
    ];
    for (change, want) in refusals {
        let refused = shop.refusal(2, vec![change]);
        assert!(refused.contains(want), "{refused}");
    }
}

#[test]
fn parts_drawers_and_donors_are_found_by_their_words() {
    let shop = stocked(1);
    donor(&shop);
    let found = |text: &str| -> Vec<HitIn> {
        let hits = shop.bench.find(text, 20).unwrap();
        hits.into_iter().map(|hit| hit.place).collect()
    };
    assert_eq!(found("A1"), [HitIn::Drawer(A1)]);
    assert_eq!(found("wind corran"), [HitIn::Part(PART)]);
    assert_eq!(found("clockmaker"), [HitIn::Part(PART)]);
    assert_eq!(found("3301"), [HitIn::Donor(DonorId::new(1))]);
}

#[test]
fn what_fits_a_camera_is_offered_its_own_first() {
    let shop = stocked(1);
    std::fs::create_dir_all(shop.dir.path().join("notes")).unwrap();
    let mut other = stored(
        PartOf {
            notes_id: Some("sprat".to_owned()),
            model: "Aldous Sprat".to_owned(),
            part: Term::known("wind-pawl", "wind pawl"),
        },
        2,
    );
    other.drawer = B2;
    shop.apply(2, vec![other.into(), stored(own("light seal"), 3).into()]);
    let mut for_others = stored(own("meter cell"), 1);
    for_others.of.model = "Hollin Meridian".to_owned();
    shop.apply(3, vec![for_others.into()]);
    let offered = || -> Vec<i64> {
        let lots = shop.bench.lots_for(&support::camera("K 1")).unwrap();
        lots.into_iter().map(|lot| lot.id.get()).collect()
    };
    assert_eq!(offered(), [3, 1]);
    let sprat = include_str!("../../fettle-demo/notes/sprat.toml");
    std::fs::write(shop.dir.path().join("notes/sprat.toml"), sprat).unwrap();
    assert_eq!(
        offered(),
        [3, 1, 2],
        "the other model's pawl fits by its notes"
    );
}
