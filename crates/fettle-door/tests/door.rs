//! Coming in, staying in, being sent out.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::fs;
use std::net::IpAddr;
use std::path::Path;

use fettle_door::{Chance, Cost, Door, DoorError, Entered, Maker, Passphrase, Refusal};
use jiff::{SignedDuration, Timestamp};

const WORDS: &str = "brass shim under lamp";

fn door(bench: &Path) -> Door {
    Door::of_bench(bench, Chance::system()).with_cost(Cost::LEAST)
}

fn at(hours: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000).unwrap() + SignedDuration::from_hours(hours)
}

fn words(text: &str) -> Passphrase {
    Passphrase::new(text).unwrap()
}

const TABLET: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 9));

fn enter(door: &Door, name: &str, typed: &str, now: Timestamp) -> Result<Entered, Refusal> {
    door.enter(name, &Passphrase::typed(typed), TABLET, "the tablet", now)
}

fn with_ines(bench: &Path) -> Door {
    let door = door(bench);
    door.add("Ines", &words(WORDS), at(0)).unwrap();
    door
}

#[test]
fn a_bench_hand_comes_in_by_name_and_passphrase_and_is_known_by_the_token() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    let entered = enter(&door, " ines ", WORDS, at(0)).unwrap();
    let insider = door.insider(&entered.token, at(1)).unwrap().unwrap();
    assert_eq!(insider.hand, "Ines");
    assert_eq!(insider, entered.insider);
    assert!(door.insider("another", at(1)).unwrap().is_none());
    assert!(door.insider("", at(1)).unwrap().is_none());
    assert!(door.insider(&insider.session, at(1)).unwrap().is_none());
}

#[test]
fn a_wrong_name_and_a_wrong_passphrase_are_told_alike() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    for (name, typed) in [
        ("Ines", "brass shim under lamps"),
        ("Tomas", WORDS),
        ("", ""),
    ] {
        let refused = enter(&door, name, typed, at(0)).unwrap_err();
        assert!(
            matches!(refused, Refusal::WrongPassphrase),
            "{name}: {refused:?}"
        );
    }
    let refused = enter(&door, "Ines", WORDS, at(0)).unwrap_err();
    assert!(
        matches!(refused, Refusal::Wait(wait) if wait == SignedDuration::from_secs(1)),
        "{refused:?}"
    );
    assert!(enter(&door, "Ines", WORDS, at(1)).is_ok());
}

#[test]
fn sessions_survive_a_restart_and_the_files_hold_no_token_and_no_passphrase() {
    let dir = tempfile::tempdir().unwrap();
    let token = enter(&with_ines(dir.path()), "Ines", WORDS, at(0))
        .unwrap()
        .token;
    assert!(door(dir.path()).insider(&token, at(2)).unwrap().is_some());
    for entry in fs::read_dir(dir.path().join("door")).unwrap() {
        let text = String::from_utf8(fs::read(entry.unwrap().path()).unwrap()).unwrap();
        assert!(!text.contains(&token) && !text.contains("shim"), "{text}");
    }
}

#[test]
fn a_session_ends_unused_or_when_it_is_ended() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    let begin = || enter(&door, "Ines", WORDS, at(0)).unwrap();
    let (unused, ended, used) = (begin(), begin(), begin());
    assert_eq!(door.sessions(at(0)).unwrap().len(), 3);
    for day in 1..40 {
        assert!(
            door.insider(&used.token, at(day * 24)).unwrap().is_some(),
            "day {day}"
        );
    }
    assert!(door.insider(&unused.token, at(40 * 24)).unwrap().is_none());
    assert!(door.end(&ended.insider.session).unwrap());
    assert!(!door.end(&ended.insider.session).unwrap());
    assert!(door.insider(&ended.token, at(1)).unwrap().is_none());
    assert!(!door.is_still_in(&ended.insider, at(1)).unwrap());
    assert!(door.is_still_in(&used.insider, at(40 * 24)).unwrap());
    let left = door.sessions(at(40 * 24)).unwrap();
    assert_eq!(left.len(), 1);
    assert_eq!(
        (left[0].device.as_str(), left[0].seen),
        ("the tablet", at(39 * 24))
    );
}

#[test]
fn a_new_passphrase_and_a_removal_end_sessions_also_through_another_program() {
    let dir = tempfile::tempdir().unwrap();
    let serving = with_ines(dir.path());
    let first = enter(&serving, "Ines", WORDS, at(0)).unwrap();
    let command_line = door(dir.path());
    command_line
        .change_passphrase("ines", &words("copper washer over glass"))
        .unwrap();
    assert!(serving.insider(&first.token, at(0)).unwrap().is_none());
    assert!(matches!(
        enter(&serving, "Ines", WORDS, at(0)),
        Err(Refusal::WrongPassphrase)
    ));
    let second = enter(&serving, "Ines", "copper washer over glass", at(0)).unwrap();
    command_line.remove("Ines").unwrap();
    assert!(serving.insider(&second.token, at(0)).unwrap().is_none());
    // Somebody else of the same name does not get the sessions of the first.
    command_line.add("Ines", &words(WORDS), at(0)).unwrap();
    assert!(serving.insider(&second.token, at(0)).unwrap().is_none());
    assert!(serving.insider(&first.token, at(0)).unwrap().is_none());
}

#[test]
fn names_are_given_once() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    assert!(matches!(
        door.add("INES", &words(WORDS), at(0)),
        Err(DoorError::Taken(_))
    ));
    assert!(matches!(door.remove("Tomas"), Err(DoorError::Unknown(_))));
    assert!(matches!(
        door.change_passphrase("Tomas", &words(WORDS)),
        Err(DoorError::Unknown(_))
    ));
    let names: Vec<_> = door
        .hands()
        .unwrap()
        .into_iter()
        .map(|hand| hand.name)
        .collect();
    assert_eq!(names, ["Ines"]);
}

#[test]
fn a_pairing_code_lets_one_tablet_in() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    let open = door.open_code("Ines", Maker::Here, at(0)).unwrap();
    assert_eq!(door.code_of(&Maker::Here, at(0)), Some(open.clone()));
    assert!(
        door.code_of(&Maker::Session("x".to_owned()), at(0))
            .is_none()
    );
    let entered = door.enter_by_code(&open.code, TABLET, "", at(0)).unwrap();
    assert_eq!(
        door.insider(&entered.token, at(0)).unwrap().unwrap().hand,
        "Ines"
    );
    let again = door.enter_by_code(&open.code, TABLET, "", at(0));
    assert!(matches!(again, Err(Refusal::WrongCode)), "{again:?}");
    assert!(door.code_of(&Maker::Here, at(0)).is_none());
    assert_eq!(door.sessions(at(0)).unwrap()[0].device, "tablet");
    assert!(matches!(
        door.open_code("Tomas", Maker::Here, at(0)),
        Err(DoorError::Unknown(_))
    ));
}

#[test]
fn a_code_closes_with_its_time_its_maker_and_its_bench_hand() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    let old = door.open_code("Ines", Maker::Here, at(0)).unwrap();
    let refused = |code: &str, now| {
        matches!(
            door.enter_by_code(code, TABLET, "", now),
            Err(Refusal::WrongCode)
        )
    };
    assert!(refused(&old.code, at(1)));
    let session = enter(&door, "Ines", WORDS, at(1)).unwrap().insider.session;
    let of_session = door
        .open_code("Ines", Maker::Session(session.clone()), at(1))
        .unwrap();
    door.end(&session).unwrap();
    assert!(refused(&of_session.code, at(1)));
    let of_hand = door.open_code("Ines", Maker::Here, at(1)).unwrap();
    door.change_passphrase("Ines", &words("copper washer over glass"))
        .unwrap();
    assert!(refused(&of_hand.code, at(1)));
}

#[test]
fn codes_cannot_be_guessed_in_their_life() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    door.open_code("Ines", Maker::Here, at(0)).unwrap();
    let mut tried = 0;
    // A thousand addresses, each trying every second for five minutes.
    for second in 0..300 {
        for n in 0..1000_u32 {
            let from = IpAddr::V4((0xC633_6400 + n).into());
            let now = at(0) + SignedDuration::from_secs(second);
            match door.enter_by_code("AAAA-AAAA", from, "", now) {
                Err(Refusal::WrongCode) => tried += 1,
                Err(Refusal::Wait(_)) => {}
                other => panic!("{other:?}"),
            }
        }
    }
    assert!((100..250).contains(&tried), "{tried}");
}

#[test]
fn the_certificate_is_made_once_and_stays_when_addresses_change() {
    let dir = tempfile::tempdir().unwrap();
    let names = |address: &str| vec!["localhost".to_owned(), address.to_owned()];
    let (made, new) = door(dir.path())
        .certificate(&names("192.0.2.7"), at(0))
        .unwrap();
    assert!(new);
    let (kept, new) = door(dir.path())
        .certificate(&names("192.0.2.8"), at(24))
        .unwrap();
    assert!(!new);
    assert_eq!(kept, made);
    let (later, new) = door(dir.path())
        .certificate(&names("192.0.2.8"), at(819 * 24))
        .unwrap();
    assert!(new);
    assert_ne!(later.fingerprint(), made.fingerprint());
}

#[test]
fn damaged_files_let_nobody_in() {
    let dir = tempfile::tempdir().unwrap();
    let door = with_ines(dir.path());
    let token = enter(&door, "Ines", WORDS, at(0)).unwrap().token;
    fs::write(dir.path().join("door/hands.json"), "{\"hands\": 7}").unwrap();
    assert!(matches!(
        door.insider(&token, at(0)),
        Err(DoorError::Damaged { .. })
    ));
    assert!(matches!(
        enter(&door, "Ines", WORDS, at(0)),
        Err(Refusal::Fault(_))
    ));
}
