//! `fettle mesh`, `fettle forecast`, `fettle teeth` and `fettle draw`.

use std::fs;

use fettle_measure::synth::{TeethScene, ToothDamage, ToothedPart};
use serde_json::Value;

use crate::run::{Ran, fettle_in};

fn run(arguments: &[&str]) -> Ran {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("use.csv"), USE).unwrap();
    fettle_in(dir.path(), arguments)
}

fn number(json: &Value, key: &str) -> f64 {
    json[key].as_f64().expect(key)
}

#[test]
fn a_small_pinion_on_a_rack_drives_by_what_the_cutter_left() {
    let pair = ["mesh", "--module-mm", "0.5", "--teeth", "12", "--rack"];
    let json = run(&[&pair[..], &["--json"]].concat()).json();
    assert!((number(&json, "contact_ratio") - 1.18).abs() < 0.01);
    assert!((number(&json, "contact_ratio_no_undercut") - 1.41).abs() < 0.01);
    assert!(number(&json, "backlash_mm").abs() < 1e-12);
    assert!((number(&json, "working_depth_mm") - 1.0).abs() < 1e-9);
    assert!(json.get("identified").is_none(), "{json}");

    let apart = [&pair[..], &["--apart-mm", "0.1", "--json"]].concat();
    let json = run(&apart).json();
    let backlash = 2.0 * 0.1 * 20f64.to_radians().tan();
    assert!((number(&json, "backlash_mm") - backlash).abs() < 1e-9);
    let text = run(&pair);
    assert!(text.out.contains("undercut"), "{}", text.out);
}

#[test]
fn play_of_a_bearing_reaches_the_mesh_by_its_arms() {
    let pair = [
        "mesh",
        "--module-mm",
        "0.4",
        "--teeth",
        "17",
        "--mate-teeth",
        "40",
        "--play-mm",
        "0.1",
        "--arm-mm",
        "8",
        "--mesh-arm-mm",
        "16",
        "--json",
    ];
    let json = run(&pair).json();
    assert!((number(&json, "apart_mm") - 0.2).abs() < 1e-12);
    let (limit, play) = (
        number(&json, "apart_limit_mm"),
        number(&json, "play_limit_mm"),
    );
    assert!((play - limit / 2.0).abs() < 1e-9, "{limit} {play}");
}

#[test]
fn a_caliper_tells_the_gear_and_the_gear_the_mesh() {
    // 20 teeth of module 0.5, 20 degrees: spans by W = m cos α (π(k - 0.5) + z inv α), rack of 20 pitches.
    let read = [
        "mesh",
        "--teeth",
        "20",
        "--tip-mm",
        "11.00",
        "--span-mm",
        "2x2.354",
        "--span-mm",
        "3x3.830",
        "--rack-mm",
        "20x31.42",
        "--rack",
        "--json",
    ];
    let json = run(&read).json();
    let module = number(&json["identified"], "module_mm");
    assert!((module - 0.5).abs() < 0.002, "{module}");
    assert!((number(&json["options"], "module_mm") - 0.5).abs() < 0.005);
    assert!(number(&json, "contact_ratio") > 1.2);

    let miscounted = [
        "mesh",
        "--teeth",
        "19",
        "--tip-mm",
        "11.00",
        "--span-mm",
        "2x2.354",
        "--span-mm",
        "3x3.830",
        "--rack-mm",
        "20x31.42",
    ];
    let refused = run(&miscounted);
    assert_eq!(refused.status, 1, "{}", refused.remarks);
    assert!(refused.remarks.contains("20 teeth"), "{}", refused.remarks);
}

#[test]
fn pairs_that_cannot_be_are_wrong_arguments() {
    let cases: [(&[&str], &str); 6] = [
        (&["--module-mm", "0.5", "--teeth", "2", "--rack"], "--teeth"),
        (
            &[
                "--module-mm",
                "0.5",
                "--teeth",
                "12",
                "--rack",
                "--angle-deg",
                "90",
            ],
            "--angle-deg",
        ),
        (
            &["--module-mm", "0", "--teeth", "12", "--rack"],
            "--module-mm",
        ),
        (&["--module-mm", "0.5", "--teeth", "12"], "--mate-teeth"),
        (
            &[
                "--module-mm",
                "0.5",
                "--teeth",
                "12",
                "--rack",
                "--play-mm",
                "0.1",
            ],
            "--arm-mm",
        ),
        (
            &[
                "--teeth",
                "12",
                "--tip-mm",
                "7",
                "--module-mm",
                "0.5",
                "--rack",
            ],
            "--tip-mm",
        ),
    ];
    for (arguments, named) in cases {
        let ran = run(&[&["mesh"], arguments].concat());
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.remarks);
        assert!(
            ran.remarks.contains(named),
            "{arguments:?}: {}",
            ran.remarks
        );
        assert!(ran.out.is_empty(), "{}", ran.out);
    }
}

const USE: &str =
    "date,quantity\n2031-01-01,0\n2031-06-03,1\n2032-02-11,2\n2032-11-30,1\n2033-01-01,0\n";

#[test]
fn a_drawer_is_forecast_from_its_use() {
    let asked = ["forecast", "use.csv", "--on-hand", "6", "--years", "5"];
    let json = run(&[&asked[..], &["--json"]].concat()).json();
    let lasts = number(&json, "lasts_probability");
    assert!((0.05..0.6).contains(&lasts), "{lasts}");
    assert_eq!(json["today"], "2033-01-01");
    assert_eq!(json["prior"]["shape"], serde_json::json!(0.5));
    assert!(json["buy_now"].as_u64().unwrap() >= 4);
    let (early, late) = (
        json["runs_out"]["p10"].as_str(),
        json["runs_out"]["p50"].as_str(),
    );
    assert!(early < late, "{json}");
    let text = run(&asked);
    assert!(text.out.contains("buy now, once"), "{}", text.out);

    // Twice the visits use it up sooner.
    let visits = |per_year: &str| {
        let by = [
            "--visits-seen",
            "20",
            "--visits-per-year",
            per_year,
            "--json",
        ];
        number(
            &run(&[&asked[..], &by].concat()).json(),
            "lasts_probability",
        )
    };
    assert!(visits("20") + 0.02 < visits("10"));
    let lone = run(&[&asked[..], &["--visits-seen", "20"]].concat());
    assert_eq!(lone.status, 2, "{}", lone.remarks);

    // A like part that is needed ten times as often is expected to be needed more.
    let until = [
        "forecast",
        "use.csv",
        "--on-hand",
        "6",
        "--until",
        "2038-01-01",
        "--prior-shape",
        "50",
        "--prior-years",
        "5",
        "--json",
    ];
    assert!(number(&run(&until).json(), "lasts_probability") < 0.05);
}

#[test]
fn scarce_pieces_are_kept_back_for_the_work_that_is_worth_most() {
    let asked = [
        "forecast",
        "use.csv",
        "--on-hand",
        "2",
        "--years",
        "3",
        "--work",
        "overhaul=60@use.csv",
        "--work",
        "quick repair=10@use.csv",
    ];
    let json = run(&[&asked[..], &["--json"]].concat()).json();
    let keep = json["keep"].as_array().unwrap();
    assert_eq!(keep.len(), 2);
    assert_eq!(keep[0]["name"], "overhaul");
    assert_eq!(
        (&keep[0]["keep_back"], &keep[0]["may_take"]),
        (&0.into(), &true.into())
    );
    assert!(keep[1]["keep_back"].as_u64().unwrap() >= 2, "{json}");
    assert_eq!(keep[1]["may_take"], false);
    let text = run(&asked);
    assert!(text.out.contains("make do without"), "{}", text.out);
    let wrong = run(&[
        "forecast",
        "use.csv",
        "--on-hand",
        "2",
        "--years",
        "3",
        "--work",
        "overhaul",
    ]);
    assert_eq!(wrong.status, 2, "{}", wrong.remarks);
}

#[test]
fn use_that_is_none_is_told_with_its_line() {
    let cases = [
        (
            "date,quantity\n2031-06-03,1\n2031-01-01,1\n",
            "line 3, column `date`: 2031-01-01 is before 2031-06-03",
        ),
        (
            "date;quantity\n2031-06-03;1,5\n",
            "line 2, column `quantity`: 1,5 is no whole number",
        ),
        (
            "date,quantity\n3.6.2031,1\n",
            "line 2, column `date`: `3.6.2031` is no date",
        ),
        (
            "date,pieces\n2031-06-03,1\n",
            "line 1, column `quantity`: is missing",
        ),
        (
            "date,quantity\n2041-06-03,1\n",
            "line 2, column `date`: 2041-06-03 is after today",
        ),
    ];
    for (text, told) in cases {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("use.csv"), text).unwrap();
        let ran = fettle_in(
            dir.path(),
            &[
                "forecast",
                "use.csv",
                "--on-hand",
                "3",
                "--years",
                "2",
                "--today",
                "2033-01-01",
            ],
        );
        assert_eq!(ran.status, 1, "{text}: {}", ran.remarks);
        assert!(
            ran.remarks.contains(&format!("use.csv: {told}")),
            "{text}: {}",
            ran.remarks
        );
    }
    let ran = run(&[
        "forecast",
        "use.csv",
        "--on-hand",
        "3",
        "--until",
        "2030-01-01",
    ]);
    assert_eq!(ran.status, 2, "{}", ran.remarks);
    assert!(ran.remarks.contains("not after today"), "{}", ran.remarks);
}

/// A photograph of a rack of 12 teeth, the fourth worn.
fn rack() -> Vec<u8> {
    let scene = TeethScene {
        width: 1500,
        height: 500,
        damage: vec![(3, ToothDamage::Flank(-1.0, 6.0))],
        ..TeethScene::plain(ToothedPart::Rack, 12, 0.5, 60.0)
    };
    let shot = scene.take().unwrap();
    let picture = image::GrayImage::from_raw(1500, 500, shot.grey).unwrap();
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

#[test]
fn a_photograph_tells_the_worn_tooth() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("rack.png"), rack()).unwrap();
    let asked = [
        "teeth",
        "rack.png",
        "--kind",
        "rack",
        "--pitch-mm",
        "1.5708",
        "--limit-mm",
        "0.05",
    ];
    let json = fettle_in(dir.path(), &[&asked[..], &["--json"]].concat()).json();
    assert!((number(&json, "module_mm") - 0.5).abs() < 0.003);
    let teeth = json["teeth"].as_array().unwrap();
    assert_eq!(teeth.len(), 12);
    for (i, tooth) in teeth.iter().enumerate() {
        let verdict = if i == 3 { "worn" } else { "sound" };
        assert_eq!(tooth["verdict"], verdict, "{tooth}");
    }
    assert!((number(&teeth[3], "flank_mm") - 0.1).abs() < 0.01);
    let text = fettle_in(dir.path(), &asked);
    assert!(text.out.contains("11 sound, 1 worn"), "{}", text.out);

    let miscounted = [&asked[..], &["--teeth", "11"]].concat();
    let ran = fettle_in(dir.path(), &miscounted);
    assert_eq!(ran.status, 1, "{}", ran.remarks);
    assert!(ran.remarks.contains("12 teeth"), "{}", ran.remarks);
    assert!(ran.out.is_empty());
    let against = [&asked[..], &["--against", "rack.png"]].concat();
    let ran = fettle_in(dir.path(), &against);
    assert!(
        ran.out.contains("against the other photograph"),
        "{}",
        ran.out
    );
}

#[test]
fn what_is_no_photograph_of_teeth_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("text.jpg"), "no picture").unwrap();
    let of = |arguments: &[&str]| fettle_in(dir.path(), &[&["teeth"], arguments].concat());
    let ran = of(&["text.jpg", "--kind", "rack", "--pitch-mm", "1"]);
    assert_eq!(ran.status, 1, "{}", ran.remarks);
    assert!(
        ran.remarks
            .contains("text.jpg: the file is not a photograph"),
        "{}",
        ran.remarks
    );
    assert_eq!(
        of(&["none.jpg", "--kind", "rack", "--pitch-mm", "1"]).status,
        1
    );
    for arguments in [
        &["text.jpg", "--kind", "rack"][..],
        &["text.jpg", "--kind", "comb", "--pitch-mm", "1"],
        &[
            "text.jpg",
            "--kind",
            "gear",
            "--pitch-mm",
            "1",
            "--teeth",
            "3",
        ],
        &[
            "text.jpg",
            "--kind",
            "gear",
            "--pitch-mm",
            "1",
            "--angle-deg",
            "90",
        ],
    ] {
        let ran = of(arguments);
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.remarks);
    }
}

#[test]
fn a_part_is_drawn_in_each_format_and_nothing_is_half_written() {
    let dir = tempfile::tempdir().unwrap();
    let gear = [
        "draw",
        "gear",
        "--module-mm",
        "0.4",
        "--teeth",
        "14",
        "--thickness-mm",
        "2",
        "--bore-mm",
        "2.5",
        "-o",
    ];
    for (file, begins) in [
        ("pinion.svg", "<svg"),
        ("pinion.dxf", "0\n"),
        ("pinion.step", "ISO-10303-21;"),
    ] {
        let ran = fettle_in(dir.path(), &[&gear[..], &[file]].concat());
        assert_eq!(ran.status, 0, "{}", ran.remarks);
        assert!(ran.out.contains(file), "{}", ran.out);
        let text = fs::read_to_string(dir.path().join(file)).unwrap();
        assert!(text.trim_start().starts_with(begins.trim_start()), "{file}");
    }
    let json = fettle_in(dir.path(), &[&gear[..], &["again.step", "--json"]].concat()).json();
    assert!((number(&json["dimensions"], "pitch_diameter_mm") - 5.6).abs() < 1e-9);
    let written = fs::read(dir.path().join("again.step")).unwrap();
    assert_eq!(json["bytes"].as_u64(), Some(written.len() as u64));
    let rack = [
        "draw",
        "rack",
        "--module-mm",
        "0.4",
        "--teeth",
        "22",
        "--thickness-mm",
        "2",
        "--hole-mm",
        "1@4,-1.1",
        "-o",
        "rack.dxf",
    ];
    assert_eq!(fettle_in(dir.path(), &rack).status, 0);

    for (arguments, status) in [
        (&["--teeth", "3", "-o", "x.svg"][..], 2),
        (&["--teeth", "14", "-o", "x.png"], 2),
        (&["--teeth", "14", "--angle-deg", "90", "-o", "x.svg"], 2),
        (&["--teeth", "14", "--hole-mm", "5", "-o", "x.svg"], 2),
        (&["--teeth", "14", "-o", "no/folder/x.svg"], 1),
    ] {
        let of = ["draw", "gear", "--module-mm", "0.4", "--thickness-mm", "2"];
        let ran = fettle_in(dir.path(), &[&of[..], arguments].concat());
        assert_eq!(ran.status, status, "{arguments:?}: {}", ran.remarks);
    }
    let left: Vec<_> = fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .filter(|name| name.to_string_lossy().ends_with(".part"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}
