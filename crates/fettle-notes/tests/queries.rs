//! Questions that the other rooms ask of service notes, on small notes whose answers can be seen.

use std::error::Error;

use fettle_notes::{DialMark, NodeKind, PartId, ServiceNotes, parse};

type Outcome<T = ()> = Result<T, Box<dyn Error>>;

const HEAD: &str = r#"
format = "fettle-notes-1"
[model]
id = "sprat"
maker = "Aldous"
name = "Sprat"
kind = "half-frame viewfinder camera"
years = "1961-1968"
frame_mm = [18, 24]
shutter = "leaf"
serial_at = "in the film chamber"
summary = "A simple camera."
author = "the bench at Saltmere"
revised = 2026-05-02
"#;

fn notes(body: &str) -> Outcome<ServiceNotes> {
    Ok(parse(&format!("{HEAD}{body}"), None)?.0)
}

/// A part, what must be off before it, and the ways of which one must be.
type Waits<'a> = (&'a str, &'a [&'a str], &'a [&'a [&'a str]]);

/// A table for each part and for its removal.
fn removals(waits: &[Waits<'_>]) -> String {
    let table = |(part, after, either): &Waits<'_>| {
        let either = if either.is_empty() {
            String::new()
        } else {
            format!("either = {either:?}\n")
        };
        format!(
            "[part.{part}]\nname = \"{part}\"\nat = \"top\"\n\
             [removal.{part}]\nafter = {after:?}\n{either}minutes = 1\nside = \"top\"\n"
        )
    };
    waits.iter().map(table).collect()
}

fn off_before(notes: &ServiceNotes, part: &str) -> Outcome<Vec<String>> {
    Ok(notes
        .must_be_off_before(&PartId::new(part)?)
        .into_iter()
        .map(ToString::to_string)
        .collect())
}

#[test]
fn what_must_be_off_before_is_told_in_an_order_in_which_it_comes_off() -> Outcome {
    let notes = notes(&removals(&[
        ("inner", &["middle", "side"], &[]),
        ("middle", &["outer"], &[]),
        ("outer", &[], &[]),
        ("side", &["outer"], &[]),
        ("other", &[], &[]),
    ]))?;
    assert_eq!(off_before(&notes, "inner")?, ["outer", "middle", "side"]);
    assert_eq!(off_before(&notes, "middle")?, ["outer"]);
    assert!(off_before(&notes, "outer")?.is_empty());
    assert!(off_before(&notes, "no-such-part")?.is_empty());
    Ok(())
}

#[test]
fn a_choice_of_ways_leaves_both_open() -> Outcome {
    let notes = notes(&removals(&[
        ("inner", &["cover"], &[&["left"], &["right"]]),
        ("cover", &[], &[]),
        ("left", &[], &[]),
        ("right", &[], &[]),
    ]))?;
    assert_eq!(off_before(&notes, "inner")?, ["cover"]);
    let inner = notes.removals.get("inner").ok_or("a removal")?;
    assert_eq!(
        inner
            .either
            .iter()
            .flatten()
            .map(PartId::as_str)
            .collect::<Vec<_>>(),
        ["left", "right"]
    );
    Ok(())
}

const SETTINGS: &str = r#"
[setting.finder]
name = "finder"
proved_by = ["dark"]
depends_on = ["infinity"]
[setting.meter]
name = "meter"
proved_by = ["dark"]
[setting.infinity]
name = "infinity"
proved_by = ["dark"]
depends_on = ["register"]
[setting.register]
name = "register"
proved_by = ["dark"]
[limit.dark]
kind = "check"
name = "dark"
question = "Is it dark?"
"#;

#[test]
fn settings_follow_what_they_depend_on_and_otherwise_the_file() -> Outcome {
    let notes = notes(SETTINGS)?;
    let order: Vec<&str> = notes
        .settings_in_order()
        .into_iter()
        .map(|(id, _)| id.as_str())
        .collect();
    assert_eq!(order, ["meter", "register", "infinity", "finder"]);
    Ok(())
}

const CAUSES: &str = r#"
[circumstance.rest]
name = "rest"
question = "Has it lain?"
chance = 0.5
[fault.grease]
name = "grease"
is = "cause"
leak = 0.02
brought_on_by = { rest = 0.4 }
cured_by = ["clean"]
[fault.pawl]
name = "pawl"
is = "damage"
leak = 0.01
brought_on_by = { grease = 0.1 }
cured_by = ["clean"]
[sign.hang]
question = "Do the speeds hang?"
at = "shutter"
minutes = 1
links = { grease = 0.9 }
leak = 0.01
[sign.slips]
question = "Does the film slip?"
at = "wind"
minutes = 1
links = { pawl = 0.8, grease = 0.1 }
leak = 0.03
[sign.slow]
question = "Are they slow?"
at = "shutter"
minutes = 1
links = { grease = 0.5 }
leak = 0.01
[work.clean]
name = "clean"
minutes = 5
success = 1
"#;

#[test]
fn signs_are_grouped_by_where_they_are_looked_at() -> Outcome {
    let notes = notes(CAUSES)?;
    let groups: Vec<(&str, Vec<&str>)> = notes
        .signs_by_place()
        .into_iter()
        .map(|group| {
            (
                group.at,
                group.signs.into_iter().map(|(id, _)| id.as_str()).collect(),
            )
        })
        .collect();
    assert_eq!(
        groups,
        [("shutter", vec!["hang", "slow"]), ("wind", vec!["slips"])]
    );
    Ok(())
}

/// Kind and id of where an arrow comes from, and its chance.
type Arrow<'a> = (NodeKind, &'a str, f64);

#[test]
fn the_network_has_every_circumstance_fault_and_sign_with_its_arrows() -> Outcome {
    let network = notes(CAUSES)?.network();
    let told: Vec<(NodeKind, &str, f64, Vec<Arrow<'_>>)> = network
        .iter()
        .map(|node| {
            let parents = node
                .parents
                .iter()
                .map(|p| (p.kind, p.id.as_str(), p.chance.to_f64()))
                .collect();
            (node.kind, node.id.as_str(), node.leak.to_f64(), parents)
        })
        .collect();
    let fault = |id, chance| (NodeKind::Fault, id, chance);
    assert_eq!(
        told,
        [
            (NodeKind::Circumstance, "rest", 0.5, vec![]),
            (
                NodeKind::Fault,
                "grease",
                0.02,
                vec![(NodeKind::Circumstance, "rest", 0.4)]
            ),
            (NodeKind::Fault, "pawl", 0.01, vec![fault("grease", 0.1)]),
            (NodeKind::Sign, "hang", 0.01, vec![fault("grease", 0.9)]),
            (
                NodeKind::Sign,
                "slips",
                0.03,
                vec![fault("pawl", 0.8), fault("grease", 0.1)]
            ),
            (NodeKind::Sign, "slow", 0.01, vec![fault("grease", 0.5)]),
        ]
    );
    Ok(())
}

const SHUTTER: &str = r#"
[limit.dark]
kind = "check"
name = "dark"
question = "Is it dark?"
[limit.times]
kind = "shutter"
name = "times"
marks = ["1", "1/2", "1/100", "1/250", "1/500"]
tolerances = [{ to = "1/100", stops = 0.25 }, { to = "1/500", stops = 0.33 }]
"#;

#[test]
fn the_tolerance_of_a_mark_is_that_of_the_stretch_in_which_it_lies() -> Outcome {
    let notes = notes(SHUTTER)?;
    let (id, limit) = notes.shutter_limit().ok_or("a limit on exposure times")?;
    assert_eq!(id.as_str(), "times");
    let stops = |mark: &str| mark.parse::<DialMark>().map(|m| limit.tolerance_stops(m));
    assert_eq!(stops("1")?, Some(0.25));
    assert_eq!(stops("1/100")?, Some(0.25));
    assert_eq!(stops("1/250")?, Some(0.33));
    assert_eq!(stops("1/500")?, Some(0.33));
    assert_eq!(stops("1/125")?, None, "not on this dial");
    Ok(())
}

#[test]
fn entries_keep_the_files_order() -> Outcome {
    let notes = notes(&removals(&[
        ("zeal", &[], &[]),
        ("amber", &[], &[]),
        ("moss", &[], &[]),
    ]))?;
    assert_eq!(
        notes.parts.ids().map(PartId::as_str).collect::<Vec<_>>(),
        ["zeal", "amber", "moss"]
    );
    assert_eq!(notes.parts.position("moss"), Some(2));
    assert_eq!(notes.counts().removals, 3);
    Ok(())
}

#[test]
fn notes_and_problems_are_written_as_json() -> Outcome {
    let json = serde_json::to_value(notes(CAUSES)?)?;
    assert_eq!(json["model"]["revised"], "2026-05-02");
    assert_eq!(json["faults"]["grease"]["is"], "cause");
    assert_eq!(
        json["faults"]["grease"]["brought_on_by"][0]["kind"],
        "circumstance"
    );
    assert_eq!(json["signs"]["hang"]["minutes"], 1.0);

    let problems = parse("format = 3", Some("x.toml"))
        .err()
        .ok_or("a problem")?;
    let json = serde_json::to_value(&problems)?;
    assert_eq!(json[1]["kind"], "wrong-type");
    assert_eq!(json[1]["severity"], "error");
    assert_eq!(
        (&json[1]["line"], &json[1]["column"]),
        (&1.into(), &10.into())
    );
    assert_eq!(json[1]["source_line"], "format = 3");
    let mut keys: Vec<&String> = json[1].as_object().ok_or("an object")?.keys().collect();
    keys.sort();
    let promised = [
        "also",
        "column",
        "file",
        "help",
        "kind",
        "line",
        "message",
        "severity",
        "source_line",
    ];
    assert_eq!(keys, promised);
    Ok(())
}

#[test]
fn ids_are_read_from_json_only_when_they_are_ids() {
    assert!(serde_json::from_str::<PartId>("\"wind-pawl\"").is_ok());
    assert!(serde_json::from_str::<PartId>("\"Wind Pawl\"").is_err());
}
