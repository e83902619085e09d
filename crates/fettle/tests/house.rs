//! Holds the arrows of ARCHITECTURE.md against the manifests.
#![allow(
    clippy::expect_used,
    reason = "a test that cannot go on says so by ending"
)]

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

/// What each room may know of ours, as ARCHITECTURE.md gives it.
const ARROWS: &[(&str, &[&str])] = &[
    ("fettle-notes", &[]),
    ("fettle-measure", &[]),
    ("fettle-draw", &["fettle-measure"]),
    ("fettle-reason", &["fettle-notes"]),
    ("fettle-papers", &["fettle-draw", "fettle-measure"]),
    (
        "fettle-bench",
        &["fettle-measure", "fettle-notes", "fettle-reason"],
    ),
    (
        "fettle-demo",
        &[
            "fettle-bench",
            "fettle-measure",
            "fettle-notes",
            "fettle-reason",
        ],
    ),
    ("fettle-moving", &["fettle-bench", "fettle-notes"]),
    ("fettle-door", &[]),
    (
        "fettle-web",
        &[
            "fettle-bench",
            "fettle-door",
            "fettle-draw",
            "fettle-measure",
            "fettle-moving",
            "fettle-notes",
            "fettle-papers",
            "fettle-reason",
        ],
    ),
    (
        "fettle",
        &[
            "fettle-bench",
            "fettle-demo",
            "fettle-door",
            "fettle-draw",
            "fettle-measure",
            "fettle-moving",
            "fettle-notes",
            "fettle-papers",
            "fettle-reason",
            "fettle-web",
        ],
    ),
];

/// Rooms that only compute: no runtime, no database, no server, no arguments.
const PURE: &[&str] = &[
    "fettle-notes",
    "fettle-measure",
    "fettle-draw",
    "fettle-reason",
    "fettle-papers",
];
const SHELL_ONLY: &[&str] = &["tokio", "rusqlite", "axum", "clap", "tower-http"];

fn crates_folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The names under `[dependencies]` of a crate's manifest.
fn dependencies(name: &str) -> BTreeSet<String> {
    let path = crates_folder().join(name).join("Cargo.toml");
    let text = fs::read_to_string(&path).expect("every room has a manifest");
    let manifest: toml::Table = text.parse().expect("manifests are TOML");
    manifest
        .get("dependencies")
        .and_then(toml::Value::as_table)
        .map(|table| table.keys().cloned().collect())
        .unwrap_or_default()
}

#[test]
fn every_room_is_on_the_plan() {
    let rooms: BTreeSet<String> = fs::read_dir(crates_folder())
        .expect("the crates folder can be listed")
        .map(|entry| {
            entry
                .expect("entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    let planned: BTreeSet<String> = ARROWS.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(rooms, planned);
}

#[test]
fn arrows_point_down_only() {
    for (room, may_know) in ARROWS {
        for dependency in dependencies(room) {
            let ours = dependency == "fettle" || dependency.starts_with("fettle-");
            assert!(
                !ours || may_know.contains(&dependency.as_str()),
                "{room} may not know {dependency}"
            );
        }
    }
}

#[test]
fn pure_rooms_stay_pure() {
    for room in PURE {
        for dependency in dependencies(room) {
            assert!(
                !SHELL_ONLY.contains(&dependency.as_str()),
                "{room} only computes and may not depend on {dependency}"
            );
        }
    }
}

/// The Rust files of the program itself, without the tests that stand in files of their own.
fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("readable").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|it| it == "rs") {
            found.push(path);
        }
    }
}

/// What only some systems have stands in files named `unix.rs`, each with a `portable.rs` beside it that gives the same.
#[test]
fn what_one_system_alone_has_stands_apart() {
    let mut files = Vec::new();
    for (room, _) in ARROWS {
        sources(&crates_folder().join(room).join("src"), &mut files);
    }
    assert!(files.len() > 300, "{} files", files.len());
    for file in files {
        let text = fs::read_to_string(&file).expect("UTF-8");
        // Tests may look at what a system does.
        let program = text.split("#[cfg(test)]").next().unwrap_or_default();
        if file.ends_with("unix.rs") {
            assert!(
                file.with_file_name("portable.rs").is_file(),
                "{} has no portable.rs beside it",
                file.display()
            );
            continue;
        }
        for word in [
            "std::os::",
            "target_os",
            "\"/proc",
            "\"/dev",
            "\"/sys",
            "\"/tmp",
        ] {
            assert!(!program.contains(word), "{} has {word}", file.display());
        }
        for (line, after) in program.lines().zip(program.lines().skip(1)) {
            assert!(
                !line.contains("cfg(unix)")
                    || after.starts_with("mod ")
                    || after.starts_with("use ")
                    || after.starts_with("pub use ")
                    || after.starts_with("pub(crate) use "),
                "{}: more than a module depends on the system: {after}",
                file.display()
            );
        }
    }
}
