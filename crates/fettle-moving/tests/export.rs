//! A bench written out and read back: without loss, and refused when it was damaged.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod support;

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
    sync::OnceLock,
};

use fettle_bench::{About, Bench, NoteWritten, PaperKind, Undo, VisitId};
use fettle_demo::{Scale, generate};
use fettle_moving::{Manifest, MovingError, export, read_back};
use support::{files, hand, now, tables, today};

/// A small demo bench and its export, made once.
struct Exported {
    _dir: tempfile::TempDir,
    bench: PathBuf,
    export: PathBuf,
    manifest: Manifest,
}

fn exported() -> &'static Exported {
    static MADE: OnceLock<Exported> = OnceLock::new();
    MADE.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let (bench, out) = (dir.path().join("bench"), dir.path().join("out"));
        let scale = Scale {
            cameras: 3,
            recordings: 1,
        };
        let made = generate(&bench, 66, today(), scale, &mut |_| ()).unwrap();
        add_what_the_demo_lacks(&made);
        let manifest = export(&made, &out, now(), &mut |_| ()).unwrap();
        Exported {
            _dir: dir,
            bench,
            export: out,
            manifest,
        }
    })
}

/// A paper, and an entry that was undone.
fn add_what_the_demo_lacks(bench: &Bench) {
    let visit = VisitId::new(1);
    let paper = bench
        .keep_paper(visit, PaperKind::Letter, "a letter", "pdf", b"%PDF-")
        .unwrap();
    let note = NoteWritten {
        about: About::Visit(visit),
        text: "two\nlines, \"quoted\"".to_owned(),
    };
    let made = bench
        .apply(&hand(), now(), vec![paper, note.into()])
        .unwrap();
    let undo = Undo {
        entry: made.entries[1],
    };
    bench.apply(&hand(), now(), vec![undo.into()]).unwrap();
}

fn copied(to: &Path) {
    for (name, bytes) in files(&exported().export) {
        let path = to.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

/// What is said of a copy of the export after a change to it; nothing may be left beside it.
fn refusal(change: impl FnOnce(&Path)) -> String {
    let dir = tempfile::tempdir().unwrap();
    let copy = dir.path().join("copy");
    copied(&copy);
    change(&copy);
    let told = read_back(&copy, &dir.path().join("new"), &mut |_| ())
        .unwrap_err()
        .to_string();
    let left: Vec<_> = fs::read_dir(dir.path())
        .unwrap()
        .map(|it| it.unwrap().file_name())
        .collect();
    assert_eq!(left, ["copy"], "{told}");
    told
}

fn edit(path: &Path, change: impl FnOnce(String) -> String) {
    let text = fs::read_to_string(path).unwrap();
    fs::write(path, change(text)).unwrap();
}

#[test]
fn every_table_and_every_file_comes_back() {
    let made = exported();
    let dir = tempfile::tempdir().unwrap();
    let new = dir.path().join("new");
    let bench = read_back(&made.export, &new, &mut |_| ()).unwrap();
    bench.check().unwrap();
    assert_eq!(tables(&made.bench), tables(&new));
    let kept = |dir: &Path| {
        let mut kept = files(dir);
        // Smaller photographs are made again when they are asked for.
        kept.retain(|name, _| {
            !name.starts_with("bench.db")
                && !name.contains("/display/")
                && !name.contains("/thumb/")
        });
        kept.remove("demo.txt");
        kept
    };
    let files = kept(&made.bench);
    assert_eq!(files, kept(&new));
    for folder in ["photos/", "recordings/", "papers/", "notes/"] {
        assert!(
            files.keys().any(|name| name.starts_with(folder)),
            "nothing in {folder}"
        );
    }
    // And once more: what is written out of the copy is the same to the byte.
    let again = dir.path().join("again");
    export(&bench, &again, now(), &mut |_| ()).unwrap();
    assert_eq!(support::files(&made.export), support::files(&again));
}

#[test]
fn the_manifest_names_every_file_with_its_hash_and_every_table_in_words() {
    let made = exported();
    let mut names: BTreeSet<String> = files(&made.export).into_keys().collect();
    assert!(names.remove("manifest.json"));
    let listed: BTreeSet<String> = made
        .manifest
        .files
        .iter()
        .map(|file| file.name.clone())
        .collect();
    assert_eq!(names, listed);
    for file in &made.manifest.files {
        let bytes = fs::read(made.export.join(&file.name)).unwrap();
        assert_eq!(
            (file.bytes, &file.blake3),
            (
                bytes.len() as u64,
                &blake3::hash(&bytes).to_hex().to_string()
            )
        );
    }
    for table in &made.manifest.tables {
        assert!(
            !table.about.is_empty(),
            "{} needs words in export/tables.rs and a name",
            table.table
        );
    }
    let text = fs::read_to_string(made.export.join("manifest.json")).unwrap();
    assert_eq!(
        serde_json::from_str::<Manifest>(&text).unwrap(),
        made.manifest
    );
}

#[test]
fn every_table_of_the_record_is_in_the_export() {
    let made = exported();
    let mut names: BTreeSet<String> = tables(&made.bench).into_keys().collect();
    for kept_from_others in ["touched", "sqlite_sequence"] {
        assert!(names.remove(kept_from_others));
    }
    let exported: BTreeSet<String> = made
        .manifest
        .tables
        .iter()
        .map(|it| it.table.clone())
        .collect();
    assert_eq!(names, exported);
    let record = tables(&made.bench);
    for table in &made.manifest.tables {
        assert_eq!(
            table.rows,
            record[&table.table].len() as u64,
            "{}",
            table.table
        );
        let mut reader = csv::Reader::from_path(made.export.join(&table.file)).unwrap();
        assert_eq!(
            table.rows,
            reader.records().map(Result::unwrap).count() as u64,
            "{}",
            table.file
        );
    }
}

#[test]
fn a_missing_file_is_told_by_name() {
    let photo = exported()
        .manifest
        .files
        .iter()
        .find(|it| it.name.starts_with("photos/"))
        .unwrap();
    for name in ["journal.jsonl", "tables/owners.csv", &photo.name] {
        let told = refusal(|copy| fs::remove_file(copy.join(name)).unwrap());
        assert!(told.contains(&format!("{name}: is missing")), "{told}");
    }
    let told = refusal(|copy| fs::remove_file(copy.join("manifest.json")).unwrap());
    assert!(told.contains("holds no export"), "{told}");
}

#[test]
fn a_changed_file_is_told_by_name() {
    for prefix in ["photos/", "recordings/", "papers/", "notes/"] {
        let file = exported()
            .manifest
            .files
            .iter()
            .find(|it| it.name.starts_with(prefix))
            .unwrap();
        let told = refusal(|copy| {
            let path = copy.join(&file.name);
            let mut bytes = fs::read(&path).unwrap();
            bytes[0] ^= 1;
            fs::write(path, bytes).unwrap();
        });
        assert!(
            told.contains(&format!("{}: is not as it was written", file.name)),
            "{told}"
        );
    }
}

#[test]
fn a_changed_line_of_the_journal_is_told_by_its_number() {
    let told = refusal(|copy| {
        edit(&copy.join("journal.jsonl"), |text| {
            text.replacen("Saltmere", "Saltmoor", 1)
        });
    });
    assert!(
        told.contains("journal.jsonl, line 1: is not as it was written"),
        "{told}"
    );
    let told = refusal(|copy| {
        edit(&copy.join("journal.jsonl"), |text| {
            let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
            lines.remove(4);
            lines.concat()
        });
    });
    assert!(
        told.contains("journal.jsonl, line 5: is entry 6, where entry 5 is wanted"),
        "{told}"
    );
    let told = refusal(|copy| {
        edit(&copy.join("journal.jsonl"), |text| {
            text[..text.len() - 9].to_owned()
        });
    });
    let last = exported().manifest.entries;
    assert!(
        told.contains(&format!("journal.jsonl, line {last}: is cut off")),
        "{told}"
    );
    let told = refusal(|copy| {
        edit(&copy.join("journal.jsonl"), |text| {
            let lines: Vec<&str> = text.split_inclusive('\n').collect();
            lines[..lines.len() - 1].concat()
        });
    });
    assert!(
        told.contains(&format!(
            "line {}: is the last of {} entries, of which there should be {last}",
            last - 1,
            last - 1
        )),
        "{told}"
    );
}

/// Gives a line of the journal with another change in it and a sum that fits.
fn forged(line: &str, from: &str, to: &str) -> String {
    let said = line
        .trim_end()
        .rsplit_once(",\"sum\":\"")
        .unwrap()
        .0
        .replacen(from, to, 1);
    let sum = blake3::hash(said.as_bytes()).to_hex().to_string();
    format!("{said},\"sum\":\"{}\"}}\n", &sum[..16])
}

fn with_forged_line(copy: &Path, n: usize, from: &str, to: &str) {
    edit(&copy.join("journal.jsonl"), |text| {
        let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
        let line = forged(&lines[n], from, to);
        assert_ne!(line, lines[n]);
        lines[n] = line;
        lines.concat()
    });
    let bytes = fs::read(copy.join("journal.jsonl")).unwrap();
    edit(&copy.join("manifest.json"), |text| {
        let mut manifest: Manifest = serde_json::from_str(&text).unwrap();
        let file = manifest
            .files
            .iter_mut()
            .find(|file| file.name == "journal.jsonl")
            .unwrap();
        (file.bytes, file.blake3) = (
            bytes.len() as u64,
            blake3::hash(&bytes).to_hex().to_string(),
        );
        serde_json::to_string(&manifest).unwrap()
    });
}

#[test]
fn an_unknown_kind_and_an_unknown_field_are_told_as_a_newer_program_s() {
    let told = refusal(|copy| with_forged_line(copy, 0, "bench-settled", "bench-sold"));
    assert!(
        told.contains(
            "journal.jsonl, line 1: holds `bench-sold`, a kind of change that is not known here"
        ),
        "{told}"
    );
    let told = refusal(|copy| with_forged_line(copy, 0, "\"place\"", "\"planet\""));
    assert!(
        told.contains("journal.jsonl, line 1: holds a `bench-settled` that cannot be read here"),
        "{told}"
    );
}

#[test]
fn a_change_that_the_record_refuses_is_told_by_its_line() {
    let told = refusal(|copy| with_forged_line(copy, 0, "\"name\":\"", "\"name\":\"\\u0007"));
    assert!(
        told.contains(
            "journal.jsonl, line 1: is refused: bench-settled: name: holds the control character"
        ),
        "{told}"
    );
}

#[test]
fn a_table_that_does_not_follow_from_the_journal_is_told_by_its_line() {
    let change = |copy: &Path| {
        edit(&copy.join("tables/owners.csv"), |text| {
            let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
            lines[1] = lines[1].replacen("1,", "1,Dr. ", 1);
            lines.concat()
        });
    };
    let told = refusal(change);
    assert!(
        told.contains("tables/owners.csv, line 2: says “Dr. "),
        "{told}"
    );
    let told = refusal(|copy| {
        edit(&copy.join("tables/owners.csv"), |text| {
            format!("{text}99,A,,,,\n")
        });
    });
    assert!(
        told.contains("tables/owners.csv, line ") && told.contains("has more rows"),
        "{told}"
    );
}

#[test]
fn a_newer_format_is_told_as_such() {
    let told = refusal(|copy| {
        edit(&copy.join("manifest.json"), |text| {
            text.replacen("fettle-export-1", "fettle-export-2", 1)
        });
    });
    assert!(
        told.contains("`fettle-export-2`") && told.contains("use the newer program"),
        "{told}"
    );
    let told = refusal(|copy| {
        edit(&copy.join("manifest.json"), |text| {
            text.replacen("\"bytes\"", "\"bites\"", 1)
        });
    });
    assert!(told.contains("manifest.json, line "), "{told}");
}

#[test]
fn a_name_that_leads_out_of_the_folder_is_refused() {
    for name in [
        "../photos/x.png",
        "photos/../../x",
        "/etc/x",
        "bench.db",
        "photos/.x",
        "photos\\\\x",
    ] {
        let told = refusal(|copy| {
            edit(&copy.join("manifest.json"), |text| {
                text.replacen("journal.jsonl", name, 1)
            });
        });
        assert!(
            told.contains("manifest.json: names") || told.contains("manifest.json, line"),
            "{name}: {told}"
        );
    }
}

#[test]
fn places_that_are_taken_are_refused_and_left_as_they_are() {
    let made = exported();
    let before = files(&made.export);
    let bench = Bench::open(&made.bench).unwrap();
    let refused = export(&bench, &made.export, now(), &mut |_| ()).unwrap_err();
    assert!(matches!(refused, MovingError::Place { .. }), "{refused}");
    let refused = export(&bench, &made.bench.join("out"), now(), &mut |_| ()).unwrap_err();
    assert!(
        refused.to_string().contains("lies within the bench"),
        "{refused}"
    );
    assert_eq!(files(&made.export), before);
    let refused = read_back(&made.export, &made.bench, &mut |_| ()).unwrap_err();
    assert!(
        refused.to_string().contains("is a bench already"),
        "{refused}"
    );
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("mine.txt"), "mine").unwrap();
    let refused = read_back(&made.export, dir.path(), &mut |_| ()).unwrap_err();
    assert!(
        refused
            .to_string()
            .contains("is there already and not empty"),
        "{refused}"
    );
}

#[test]
fn a_kept_file_that_was_damaged_stops_the_export_and_leaves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("bench");
    let bench = read_back(&exported().export, &folder, &mut |_| ()).unwrap();
    let file = bench
        .kept_files()
        .unwrap()
        .into_iter()
        .find(|it| it.name.starts_with("papers/"))
        .unwrap();
    fs::write(&file.path, "something else").unwrap();
    let refused = export(&bench, &dir.path().join("out"), now(), &mut |_| ()).unwrap_err();
    assert!(matches!(refused, MovingError::Kept { .. }), "{refused}");
    let left: Vec<_> = fs::read_dir(dir.path())
        .unwrap()
        .map(|it| it.unwrap().file_name())
        .collect();
    assert_eq!(left, ["bench"]);
}
