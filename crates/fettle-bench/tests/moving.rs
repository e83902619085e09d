//! Many changes in one transaction, the record told whole, and a bench made from a journal.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod support;

use fettle_bench::{
    Bench, BenchError, CameraId, Change, DrawerId, DrawerNamed, Grade, Out, OwnerId, Page, PartOf,
    PartStored, Stage, Term, VisitId, VisitOpened,
};
use support::{arrival, arrival_details, at, camera, hand, owner, settings, shop};

fn count(bench: &Bench) -> u32 {
    bench.journal(Page::first(0)).unwrap().total
}

#[test]
fn groups_told_together_stand_together_and_know_the_ids_of_those_before() {
    let shop = shop();
    let visit = shop
        .bench
        .apply_together(|apply| {
            let owner = apply(&hand(), at(1), vec![owner("Ana Berg").into()])?
                .owner()
                .unwrap();
            let camera = apply(&hand(), at(1), vec![camera("K 1").into()])?
                .camera()
                .unwrap();
            let arrival = arrival_details(owner);
            let visit = VisitOpened { camera, arrival };
            Ok::<_, BenchError>(apply(&hand(), at(2), vec![visit.into()])?.visit().unwrap())
        })
        .unwrap();
    let view = shop.bench.visit(visit).unwrap();
    assert_eq!(view.owner.details.name, "Ana Berg");
    // Each group is one of its own in the journal.
    let groups: Vec<i64> = view.journal.iter().map(|entry| entry.group.get()).collect();
    assert_eq!(groups, [4]);
}

#[test]
fn when_one_group_is_refused_none_stands() {
    let shop = shop();
    let before = count(&shop.bench);
    let refused = shop.bench.apply_together(|apply| {
        apply(&hand(), at(1), vec![owner("Ana Berg").into()])?;
        apply(&hand(), at(1), vec![owner("").into()])?;
        Ok::<_, BenchError>(())
    });
    assert!(
        matches!(refused, Err(BenchError::Rule { index: 0, .. })),
        "{refused:?}"
    );
    let went_on = shop.bench.apply_together(|apply| {
        let _ = apply(
            &hand(),
            at(1),
            vec![owner("Ana Berg").into(), owner("").into()],
        );
        apply(&hand(), at(1), vec![owner("Bo Lind").into()])?;
        Ok::<_, BenchError>(())
    });
    assert!(
        matches!(went_on, Err(BenchError::Database { .. })),
        "{went_on:?}"
    );
    assert_eq!(count(&shop.bench), before);
    assert_eq!(shop.bench.owners(Page::first(5)).unwrap().total, 0);
}

#[test]
fn the_index_holds_all_that_came() {
    let shop = shop();
    let visit = shop.arrive(1);
    let stored = PartStored {
        of: PartOf {
            notes_id: None,
            model: String::new(),
            part: Term::own("foam"),
        },
        grade: Grade::Made,
        quantity: 3,
        price: None,
        source: "the yard".to_owned(),
        drawer: DrawerId::LATEST,
        minimum: None,
        note: String::new(),
    };
    let drawer = DrawerNamed {
        name: "A1".to_owned(),
        ..DrawerNamed::default()
    };
    shop.apply(2, vec![drawer.into(), stored.clone().into()]);
    let index = shop.bench.index().unwrap();
    assert_eq!(index.owners[0].id, OwnerId::new(1));
    assert_eq!(index.cameras[0].details.serial(), "K 10482");
    assert_eq!((index.visits[0].visit, index.visits[0].here), (visit, true));
    assert_eq!(index.drawers, [(DrawerId::new(1), "A1".to_owned())]);
    assert_eq!((&index.lots[0].of, index.lots[0].stored), (&stored.of, 3));
    shop.go(3, visit, &[Stage::ReturnedUnrepaired, Stage::Home]);
    assert!(!shop.bench.index().unwrap().visits[0].here);
}

/// A table by its name, an entry by its number.
fn told(bench: &Bench) -> (Vec<String>, Vec<(i64, Change)>) {
    let (mut tables, mut entries) = (Vec::new(), Vec::new());
    bench
        .tell_out(|out| {
            match out {
                Out::Table { name, .. } => tables.push(name.to_owned()),
                Out::Row(_) => {}
                Out::Entry { id, change, .. } => {
                    entries.push((id.get(), serde_json::from_str(change).unwrap()));
                }
            }
            Ok::<_, BenchError>(())
        })
        .unwrap();
    (tables, entries)
}

#[test]
fn the_record_is_told_table_by_table_and_then_entry_by_entry() {
    let shop = shop();
    shop.arrive(1);
    let (tables, entries) = told(&shop.bench);
    assert!(
        ["bill", "journal", "owner", "stock", "struck"]
            .iter()
            .all(|it| tables.contains(&(*it).to_owned()))
    );
    assert!(
        !tables.iter().any(|name| name == "touched"
            || name.starts_with("find_")
            || name.starts_with("sqlite_"))
    );
    let numbers: Vec<i64> = entries.iter().map(|(id, _)| *id).collect();
    assert_eq!(numbers, [1, 2, 3, 4]);
    assert_eq!(entries[0].1, settings().into());
}

#[test]
fn what_is_told_ends_with_the_first_refusal() {
    let shop = shop();
    let mut seen = 0;
    let refused = shop.bench.tell_out(|_| {
        seen += 1;
        Err(BenchError::Unknown { what: "end", id: 7 })
    });
    assert!(matches!(refused, Err(BenchError::Unknown { id: 7, .. })));
    assert_eq!(seen, 1);
}

#[test]
fn only_files_of_a_bench_are_put_into_it_and_only_under_the_name_of_their_content() {
    let shop = shop();
    let hash = {
        let kept = shop
            .bench
            .keep_recording(VisitId::LATEST, Stage::Arrived, "", "a.wav", b"RIFF")
            .unwrap();
        let Change::RecordingAttached(kept) = kept else {
            unreachable!("a recording was kept")
        };
        kept.file.hash
    };
    shop.bench
        .put_file(&format!("papers/{hash}.pdf"), b"RIFF")
        .unwrap();
    shop.bench.put_file("notes/sprat.toml", b"").unwrap();
    let names: Vec<String> = shop
        .bench
        .kept_files()
        .unwrap()
        .into_iter()
        .map(|file| file.name)
        .collect();
    assert_eq!(
        names,
        [
            "notes/sprat.toml".to_owned(),
            format!("papers/{hash}.pdf"),
            format!("recordings/{hash}.wav")
        ]
    );
    let wrong = [
        format!("papers/{hash}.pdf"),
        format!("shelf/{hash}.pdf"),
        format!("papers/../{hash}.pdf"),
        "bench.db".to_owned(),
        "notes/../bench.db".to_owned(),
        "notes/.hidden".to_owned(),
        "notes/".to_owned(),
        "papers/x".to_owned(),
    ];
    for name in wrong {
        assert!(shop.bench.put_file(&name, b"other").is_err(), "{name}");
    }
}

#[test]
fn a_bench_is_made_from_a_journal_or_not_at_all() {
    let shop = shop();
    shop.apply(1, arrival("K 1"));
    let (_, entries) = told(&shop.bench);
    let made = Bench::make_from_journal(&shop.dir.path().join("new"), |bench| {
        for (_, change) in entries {
            bench.apply(&hand(), at(1), vec![change])?;
        }
        Ok::<_, BenchError>(())
    });
    assert_eq!(
        made.unwrap()
            .camera(CameraId::new(1))
            .unwrap()
            .camera
            .details
            .serial(),
        "K 1"
    );
    let other = shop.dir.path().join("other");
    let refused = Bench::make_from_journal(&other, |bench| {
        bench
            .apply(&hand(), at(1), vec![owner("").into()])
            .map(drop)
    });
    assert!(refused.is_err());
    assert!(!other.exists());
}
