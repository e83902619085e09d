//! Small recordings and what must be said of each: `tests/recordings/expected.json` lists them.
//!
//! A line names a file of that folder and either the effective times in milliseconds with the findings that must
//! be told, or a part of the reason why nothing is measured. Findings may be more than those named.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::collections::BTreeSet;
use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use fettle_measure::recording;
use fettle_measure::shutter::{self, Options, Report, Sense};
use serde::Deserialize;

/// What the times may be off by where the line does not say.
const WITHIN_MS: f64 = 0.05;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    file: String,
    #[serde(default)]
    by_sound: bool,
    #[serde(default)]
    effective_ms: Vec<f64>,
    within_ms: Option<f64>,
    #[serde(default)]
    findings: Vec<String>,
    refused: Option<String>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/recordings")
}

fn expected() -> Vec<Expected> {
    serde_json::from_slice(&fs::read(folder().join("expected.json")).unwrap()).unwrap()
}

fn listen(it: &Expected) -> Result<Report, String> {
    let bytes = fs::read(folder().join(&it.file)).unwrap();
    let recording =
        recording::read(&it.file, Cursor::new(bytes)).map_err(|error| error.to_string())?;
    let options = Options {
        clock_ppm: Some(0.0),
        sense: if it.by_sound {
            Sense::Sound
        } else {
            Sense::default()
        },
        ..Options::default()
    };
    shutter::analyse(&[recording], &options).map_err(|error| error.to_string())
}

#[test]
fn every_recording_is_measured_or_refused_as_listed() {
    for it in expected() {
        let heard = listen(&it);
        let file = &it.file;
        let Some(reason) = &it.refused else {
            let report = heard.unwrap_or_else(|error| panic!("{file}: {error}"));
            let told: Vec<f64> = report
                .shots
                .iter()
                .filter_map(|shot| shot.effective_s)
                .map(fettle_measure::Seconds::to_ms)
                .collect();
            assert_eq!(told.len(), it.effective_ms.len(), "{file}: {told:?}");
            let within = it.within_ms.unwrap_or(WITHIN_MS);
            for (got, want) in told.iter().zip(&it.effective_ms) {
                assert!((got - want).abs() <= within, "{file}: {told:?}");
            }
            let json = serde_json::to_value(&report.findings).unwrap();
            let kinds: BTreeSet<&str> = json
                .as_array()
                .unwrap()
                .iter()
                .filter_map(|finding| finding["kind"].as_str())
                .collect();
            for finding in &it.findings {
                assert!(kinds.contains(finding.as_str()), "{file}: {kinds:?}");
            }
            continue;
        };
        let error = heard.map_or_else(|error| error, |report| format!("{:?}", report.shots));
        assert!(error.contains(reason), "{file}: {error}");
    }
}

#[test]
fn every_recording_of_the_folder_is_listed() {
    let listed: BTreeSet<String> = expected().into_iter().map(|it| it.file).collect();
    let there: BTreeSet<String> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| name != "expected.json")
        .collect();
    assert_eq!(listed, there);
}
