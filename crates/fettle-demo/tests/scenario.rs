//! The bench as generated: the same for the same seed and day, and telling a story that holds together.

#![expect(clippy::unwrap_used, reason = "a helper that fails ends its test")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use fettle_bench::{
    Bench, Entry, FaultIs, Page, PartFilter, Phase, Stage, VisitFilter, VisitView, WaitFor,
};
use fettle_demo::{SEED, Scale, generate, is_demo};
use jiff::civil::{Date, date};

const TODAY: Date = date(2026, 11, 25);
/// Enough cameras for every stage.
const EVERY_STAGE: Scale = Scale {
    cameras: 36,
    recordings: 2,
};

fn made(dir: &Path, seed: u64, today: Date, scale: Scale) -> Bench {
    generate(dir, seed, today, scale, &mut |_| ()).unwrap()
}

fn journal(bench: &Bench) -> Vec<Entry> {
    let mut entries: Vec<Entry> = Vec::new();
    loop {
        let page = Page {
            skip: entries.len() as u32,
            take: 500,
        };
        let got = bench.journal(page).unwrap();
        if got.lines.is_empty() {
            return entries;
        }
        entries.extend(got.lines);
    }
}

fn visits(bench: &Bench) -> Vec<VisitView> {
    let page = Page { skip: 0, take: 500 };
    let lines = bench.visits(&VisitFilter::default(), page).unwrap().lines;
    lines
        .iter()
        .map(|line| bench.visit(line.visit).unwrap())
        .collect()
}

/// Every kept file by its path in the bench, the database aside.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![dir.to_owned()];
    while let Some(folder) = open.pop() {
        for item in fs::read_dir(&folder).unwrap() {
            let path = item.unwrap().path();
            let name = path.strip_prefix(dir).unwrap().display().to_string();
            if path.is_dir() {
                open.push(path);
            } else if !name.starts_with("bench.db") {
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    found
}

#[test]
fn the_same_seed_and_day_make_the_same_journal_and_files() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let first = made(one.path(), SEED, TODAY, Scale::SMALL);
    let second = made(two.path(), SEED, TODAY, Scale::SMALL);
    let told = journal(&first);
    assert!(told.len() > 200, "only {} entries", told.len());
    assert_eq!(told, journal(&second));
    for entry in &told {
        assert_eq!(
            first.entry(entry.id).unwrap().1,
            second.entry(entry.id).unwrap().1
        );
    }
    assert!(files(one.path()) == files(two.path()), "the files differ");
    assert!(is_demo(one.path()));
}

#[test]
fn another_day_shifts_the_story_and_another_seed_makes_another() {
    let dirs: Vec<_> = (0..3).map(|_| tempfile::tempdir().unwrap()).collect();
    let scale = Scale {
        cameras: 3,
        recordings: 0,
    };
    let here = made(dirs[0].path(), SEED, TODAY, scale);
    let later = made(dirs[1].path(), SEED, date(2026, 12, 5), scale);
    let other = made(dirs[2].path(), SEED + 1, TODAY, scale);
    let days = |bench: &Bench| -> Vec<Date> {
        visits(bench)
            .iter()
            .map(|visit| visit.arrival.arrived)
            .collect()
    };
    let shifted: Vec<Date> = days(&here)
        .iter()
        .map(|day| *day + jiff::Span::new().days(10))
        .collect();
    assert_eq!(days(&later), shifted);
    assert_ne!(journal(&here), journal(&other));
}

#[test]
fn the_journal_runs_in_the_order_of_time() {
    let dir = tempfile::tempdir().unwrap();
    let entries = journal(&made(dir.path(), SEED, TODAY, EVERY_STAGE));
    assert!(
        entries
            .windows(2)
            .all(|pair| pair[0].id > pair[1].id && pair[0].at >= pair[1].at)
    );
    assert!(
        entries.iter().any(|entry| entry.struck_by.is_some()),
        "nothing was ever undone"
    );
    let hands: BTreeSet<_> = entries.iter().map(|entry| entry.hand.as_str()).collect();
    assert_eq!(hands.len(), 2);
}

#[test]
fn visits_stand_at_every_stage_and_wait_for_everything() {
    let dir = tempfile::tempdir().unwrap();
    let visits = visits(&made(dir.path(), SEED, TODAY, EVERY_STAGE));
    let stages: BTreeSet<Stage> = visits.iter().map(|visit| visit.line.stage).collect();
    for stage in Stage::ALL {
        assert!(stages.contains(stage), "no visit is {stage}");
    }
    let waits: BTreeSet<WaitFor> = visits
        .iter()
        .flat_map(VisitView::waiting)
        .map(|wait| wait.wait_for)
        .collect();
    for wait in WaitFor::ALL {
        assert!(waits.contains(wait), "no visit waits for {wait}");
    }
    assert!(
        visits
            .iter()
            .any(|visit| visit.arrival.guarantee_of.is_some())
    );
}

#[test]
fn a_visit_tells_one_story() {
    let dir = tempfile::tempdir().unwrap();
    let visits = visits(&made(dir.path(), SEED, TODAY, EVERY_STAGE));
    let mut brought_on = 0;
    for visit in &visits {
        let stage = visit.line.stage;
        let at = stage.to_string();
        // Only what lies apart has pieces in the tray.
        assert_eq!(
            visit.tray().count() > 0,
            stage == Stage::Apart,
            "{at}: {:?}",
            visit.line.visit
        );
        if matches!(stage, Stage::Proved | Stage::Packed | Stage::Home) && !visit.works.is_empty() {
            let known = visit.camera.details.notes_id.is_some();
            let phases: BTreeSet<Phase> = visit.readings.iter().map(|it| it.what.phase).collect();
            assert!(!known || phases.len() == 2, "{at}: {phases:?}");
        }
        for fault in &visit.faults {
            let Some(cause) = fault.what.because_of else {
                continue;
            };
            brought_on += 1;
            let cause = visit.faults.iter().find(|it| it.id == cause);
            assert!(cause.is_some_and(|it| it.what.found == fault.what.found));
        }
        assert!(!visit.photos.is_empty());
    }
    assert!(brought_on > 0, "no fault was brought on by another");
    let is = |wanted| {
        visits
            .iter()
            .flat_map(|it| &it.faults)
            .any(|it| it.what.is == wanted)
    };
    assert!(is(FaultIs::Damage) && is(FaultIs::Cause));
}

#[test]
fn a_kept_recording_has_its_reading_with_the_whole_report() {
    let dir = tempfile::tempdir().unwrap();
    let bench = made(dir.path(), SEED, TODAY, Scale::SMALL);
    let mut kept = 0;
    for visit in visits(&bench) {
        for reading in visit.readings {
            let Some(recording) = reading.what.recording else {
                continue;
            };
            let file = bench.recording_file(recording).unwrap();
            assert_eq!(file.media_type, "audio/wav");
            assert!(reading.what.rows.len() >= 5, "{:?}", reading.what.rows);
            assert!(
                reading
                    .what
                    .findings
                    .iter()
                    .any(|it| it.contains("steady light"))
            );
            let report: fettle_measure::shutter::Report =
                serde_json::from_value(reading.what.detail.unwrap()).unwrap();
            assert!(
                report
                    .shots
                    .iter()
                    .all(|shot| !shot.trace.points.is_empty())
            );
            kept += 1;
        }
    }
    assert_eq!(kept, Scale::SMALL.recordings);
}

#[test]
fn a_bench_is_never_made_over_another() {
    let dir = tempfile::tempdir().unwrap();
    made(
        dir.path(),
        SEED,
        TODAY,
        Scale {
            cameras: 1,
            recordings: 0,
        },
    );
    let again = generate(dir.path(), SEED, TODAY, Scale::SMALL, &mut |_| ());
    assert!(again.unwrap_err().to_string().contains("already a bench"));
}

#[test]
fn drawers_are_used_filled_up_and_counted_and_donors_give_parts() {
    let dir = tempfile::tempdir().unwrap();
    let bench = made(dir.path(), SEED, TODAY, EVERY_STAGE);
    let kinds: BTreeSet<String> = journal(&bench).into_iter().map(|it| it.kind).collect();
    for kind in [
        "part-stored",
        "part-taken",
        "part-salvaged",
        "drawer-counted",
    ] {
        assert!(kinds.contains(kind), "never {kind}");
    }
    let now = TODAY.at(12, 0, 0, 0).in_tz("UTC").unwrap().timestamp();
    let page = Page { skip: 0, take: 500 };
    let parts = bench.parts(&PartFilter::default(), page, now).unwrap();
    let used = parts.lines.iter().filter(|line| line.used > 0).count();
    assert!(
        parts.below > 0 && parts.below < parts.total / 2,
        "{} of {} run short",
        parts.below,
        parts.total
    );
    assert!(used > 8, "only {used} parts were ever used");
    assert!(visits(&bench).iter().any(|visit| !visit.taken.is_empty()));
    assert!(bench.donors().unwrap().iter().all(|donor| donor.parts > 10));
    bench.check().unwrap();
}
