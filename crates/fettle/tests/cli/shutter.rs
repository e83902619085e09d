//! `fettle shutter`.

use std::fs;
use std::path::Path;

use crate::run::fettle_in;

const DIAL: &str = "1,1/2,1/5,1/10,1/25,1/50,1/100,1/250,1/500";

/// A table at 8 kHz of a shutter with these effective times: flanks of a millisecond, half a second
/// dark between, a little ripple.
fn table(dir: &Path, name: &str, times: &[f64]) {
    const RATE: f64 = 8000.0;
    let flank = (1..=8).map(|step| f64::from(step) / 8.5);
    let mut light = vec![0.0; 4000];
    for time in times {
        light.extend(flank.clone());
        light.extend(vec![1.0; (time * RATE) as usize - 8]);
        light.extend(flank.clone().rev());
        light.extend(vec![0.0; 4000]);
    }
    let mut text = String::from("time_s,volts\n");
    for (n, level) in light.iter().enumerate() {
        let ripple = 0.001 * ((n * 7919 % 13) as f64 - 6.0);
        text.push_str(&format!(
            "{:.6},{:.5}\n",
            n as f64 / RATE,
            0.8 * level + ripple
        ));
    }
    fs::write(dir.join(name), text).unwrap();
}

#[test]
fn a_table_is_measured_and_the_json_reads_back() {
    let dir = tempfile::tempdir().unwrap();
    table(dir.path(), "slow.csv", &[0.5, 0.5, 0.1]);
    let arguments = ["shutter", "slow.csv", "--speeds", DIAL, "--json"];
    let json = fettle_in(dir.path(), &arguments).json();
    assert_eq!(json["shots"].as_array().unwrap().len(), 3);
    let speeds = json["speeds"].as_array().unwrap();
    assert_eq!(speeds[0]["marked"], "1/2");
    assert_eq!(speeds[0]["shots"], 2);
    let mean = speeds[0]["mean_s"].as_f64().unwrap();
    assert!((mean - 0.5).abs() < 0.002, "{mean}");
    assert_eq!(speeds[0]["verdict"], "in");
}

#[test]
fn text_and_json_are_the_same_every_time() {
    let dir = tempfile::tempdir().unwrap();
    table(dir.path(), "slow.csv", &[0.5, 0.1]);
    for arguments in [
        &["shutter", "slow.csv"][..],
        &["shutter", "slow.csv", "--json"],
    ] {
        let first = fettle_in(dir.path(), arguments).done();
        assert_eq!(first, fettle_in(dir.path(), arguments).done());
    }
}

#[test]
fn the_text_names_every_speed_with_its_verdict() {
    let dir = tempfile::tempdir().unwrap();
    table(dir.path(), "slow.csv", &[1.0, 0.5, 0.2, 0.122, 0.04]);
    let out = fettle_in(dir.path(), &["shutter", "slow.csv", "--speeds", DIAL]).done();
    let line = |mark: &str| {
        out.lines()
            .rev()
            .find(|line| line.trim_start().starts_with(mark))
            .unwrap_or_default()
    };
    assert!(line("1/2 ").ends_with("in"), "{out}");
    assert!(line("1/10 ").ends_with("out"), "{out}");
    // Of two times alone the other may have been at 1/5.
    table(dir.path(), "two.csv", &[0.5, 0.132]);
    let out = fettle_in(dir.path(), &["shutter", "two.csv", "--speeds", DIAL]).done();
    assert!(out.contains("undecided: mark not sure"), "{out}");
}

#[test]
fn the_dial_comes_from_service_notes() {
    let dir = tempfile::tempdir().unwrap();
    table(dir.path(), "slow.csv", &[0.5]);
    let notes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fettle-demo/notes/corran-66.toml");
    let notes = notes.to_str().unwrap();
    let json = fettle_in(
        dir.path(),
        &["shutter", "slow.csv", "--notes", notes, "--json"],
    )
    .json();
    assert_eq!(json["shots"][0]["marked"], "1/2");
    assert_eq!(json["shots"][0]["guessed"], false);
}

#[test]
fn broken_service_notes_end_the_work() {
    let dir = tempfile::tempdir().unwrap();
    table(dir.path(), "slow.csv", &[0.5]);
    fs::write(
        dir.path().join("x.toml"),
        "format = \"fettle-notes-1\"\nmodle = 3\n",
    )
    .unwrap();
    let message = fettle_in(dir.path(), &["shutter", "slow.csv", "--notes", "x.toml"]).failed();
    assert!(message.contains("x.toml:2:1"), "{message}");
}

#[test]
fn a_missing_recording_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let message = fettle_in(dir.path(), &["shutter", "gone.wav"]).failed();
    assert!(
        message.contains("cannot read gone.wav: there is no such file"),
        "{message}"
    );
}

#[test]
fn a_text_called_wav_is_no_recording() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("letter.wav"), "dear mechanic, it clicks\n").unwrap();
    let message = fettle_in(dir.path(), &["shutter", "letter.wav"]).failed();
    assert!(message.contains("letter.wav"), "{message}");
}

#[test]
fn an_empty_file_and_a_folder_are_no_recordings() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("empty.wav"), "").unwrap();
    fs::create_dir(dir.path().join("folder.wav")).unwrap();
    for name in ["empty.wav", "folder.wav"] {
        let message = fettle_in(dir.path(), &["shutter", name]).failed();
        assert!(message.contains(name), "{message}");
    }
}

#[test]
fn where_no_time_can_be_told_it_is_reported_and_failed() {
    let dir = tempfile::tempdir().unwrap();
    // The shutter opens and the recording ends.
    let mut rows = String::from("time,light\n");
    for n in 0..20_000 {
        let light = if n < 10_000 { 0.0 } else { 1.0 };
        let noise = 1e-3 * f64::from((n * 7919) % 101) / 101.0;
        rows.push_str(&format!("{},{}\n", f64::from(n) * 1e-4, light + noise));
    }
    fs::write(dir.path().join("open.csv"), rows).unwrap();
    let ran = fettle_in(dir.path(), &["shutter", "open.csv"]);
    assert_eq!(ran.status, 1);
    assert!(ran.out.contains("cut-off, cannot-tell"), "{}", ran.out);
    let told = "open.csv: the time of no shot can be told";
    assert!(ran.remarks.contains(told), "{}", ran.remarks);
}

#[test]
fn a_mark_that_is_none_is_a_wrong_argument() {
    let dir = tempfile::tempdir().unwrap();
    for arguments in [
        ["shutter", "a.wav", "--speeds", "1,B"],
        ["shutter", "a.wav", "--limit-stops", "-1"],
        ["shutter", "a.wav", "--channels", "0"],
        ["shutter", "a.wav", "--stops-f", "8"],
        ["shutter", "a.wav", "--clock-ppm", "nan"],
    ] {
        fettle_in(dir.path(), &arguments).refused();
    }
}

#[test]
fn a_chain_is_proved_from_a_card_moved_by_hand() {
    let dir = tempfile::tempdir().unwrap();
    table(dir.path(), "hand.csv", &[1.2, 1.5]);
    let arguments = [
        "shutter", "--check", "hand.csv", "--speeds", "1,1/30", "--json",
    ];
    let json = fettle_in(dir.path(), &arguments).json();
    let channel = &json["channels"][0];
    assert_eq!(channel["held"], 2);
    assert_eq!(channel["coupling"]["poles"], 0);
    assert_eq!(channel["marks"][1]["marked"], "1/30");
    assert_eq!(channel["marks"][1]["proves"], true);
    let text = fettle_in(dir.path(), &arguments[..5]).done();
    assert!(text.contains("what it proves"), "{text}");
    table(dir.path(), "once.csv", &[1.2]);
    let refused = fettle_in(dir.path(), &["shutter", "--check", "once.csv"]);
    assert!(refused.failed().contains("at least twice"));
}
