//! The notes of the demo's models check clean and are as full as a mechanic's would be.

use std::collections::BTreeSet;
use std::error::Error;
use std::fs;
use std::path::PathBuf;

use fettle_notes::{Limit, LimitKind, ServiceNotes, ShutterKind, parse};

type Outcome<T = ()> = Result<T, Box<dyn Error>>;

/// The demo's notes with their files' names, in the order of the names; a problem or warning in one is an error.
fn demo_notes() -> Outcome<Vec<(String, ServiceNotes)>> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../fettle-demo/notes");
    let mut read = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let (notes, warnings) = parse(&fs::read_to_string(path)?, Some(&name))?;
        if let Some(warning) = warnings.first() {
            return Err(warning.to_string().into());
        }
        read.push((name, notes));
    }
    read.sort_by(|(a, _), (b, _)| a.cmp(b));
    Ok(read)
}

#[test]
fn the_demo_has_three_models_that_check_clean() -> Outcome {
    let names: Vec<String> = demo_notes()?.into_iter().map(|(name, _)| name).collect();
    assert_eq!(names, ["corran-66.toml", "meridian.toml", "sprat.toml"]);
    Ok(())
}

#[test]
fn every_demo_model_is_written_in_full() -> Outcome {
    for (name, notes) in demo_notes()? {
        let counts = notes.counts();
        assert!(counts.parts >= 40, "{name}: {} parts", counts.parts);
        assert!(
            counts.removals >= 35,
            "{name}: {} removals",
            counts.removals
        );
        assert!(counts.faults >= 20, "{name}: {} faults", counts.faults);
        assert!(counts.signs >= 25, "{name}: {} signs", counts.signs);
        assert!(counts.settings >= 8, "{name}: {} settings", counts.settings);
    }
    Ok(())
}

#[test]
fn every_demo_model_proves_what_its_build_needs() -> Outcome {
    for (name, notes) in demo_notes()? {
        let proved: BTreeSet<LimitKind> = notes.limits.values().map(Limit::kind).collect();
        let every = [
            LimitKind::Shutter,
            LimitKind::Register,
            LimitKind::Reading,
            LimitKind::Check,
        ];
        let mut needed = BTreeSet::from(every);
        if name == "sprat.toml" {
            needed.insert(LimitKind::Meter);
        }
        if notes.model.shutter == ShutterKind::FocalPlane {
            needed.insert(LimitKind::Rangefinder);
        }
        assert!(proved.is_superset(&needed), "{name} proves {proved:?}");
    }
    Ok(())
}

#[test]
fn settings_of_the_demo_come_after_what_they_depend_on() -> Outcome {
    for (name, notes) in demo_notes()? {
        let order = notes.settings_in_order();
        assert_eq!(order.len(), notes.settings.len(), "{name}");
        for (n, (_, setting)) in order.iter().enumerate() {
            for before in &setting.depends_on {
                assert!(
                    order[..n].iter().any(|(id, _)| *id == before),
                    "{name}: {before}"
                );
            }
        }
    }
    Ok(())
}

#[test]
fn prerequisites_of_the_demo_can_come_off_in_the_order_told() -> Outcome {
    for (name, notes) in demo_notes()? {
        for part in notes.removals.ids() {
            let before = notes.must_be_off_before(part);
            assert!(!before.contains(&part), "{name}: {part}");
            for (n, earlier) in before.iter().enumerate() {
                let after = &notes.removals.get(*earlier).ok_or("a removal")?.after;
                assert!(
                    after.iter().all(|p| before[..n].contains(&p)),
                    "{name}: {part}"
                );
            }
        }
    }
    Ok(())
}
