//! The service notes in a bench's folder.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use fettle_bench::HitIn;
use fettle_notes::{Date, ModelId, template};
use support::shop;

fn text(id: &str, name: &str) -> String {
    let revised = Date::new(2026, 3, 14).unwrap();
    template(&ModelId::new(id).unwrap(), "Aldous", name, revised)
}

#[test]
fn notes_are_read_again_when_their_file_changes() {
    let shop = shop();
    let file = shop.dir.path().join("notes/corran-66.toml");
    assert!(shop.bench.models().is_empty());
    std::fs::write(&file, text("corran-66", "Corran 66")).unwrap();
    assert_eq!(
        shop.bench.notes("corran-66").unwrap().model.name,
        "Corran 66"
    );
    std::fs::write(&file, text("corran-66", "Corran 66 second series")).unwrap();
    assert_eq!(
        shop.bench.notes("corran-66").unwrap().model.name,
        "Corran 66 second series"
    );
    std::fs::remove_file(&file).unwrap();
    assert!(shop.bench.notes("corran-66").is_none());
}

#[test]
fn broken_notes_are_listed_with_their_place_and_stop_nothing() {
    let shop = shop();
    let notes = shop.dir.path().join("notes");
    std::fs::write(notes.join("corran-66.toml"), text("corran-66", "Corran 66")).unwrap();
    std::fs::write(
        notes.join("sprat.toml"),
        "format = \"fettle-notes-1\"\n[model\n",
    )
    .unwrap();
    std::fs::write(notes.join("meridian.toml"), [0xFF, 0xFE, 0]).unwrap();
    std::fs::write(notes.join("readme.txt"), "not notes").unwrap();
    std::fs::create_dir(notes.join("folder.toml")).unwrap();
    let models = shop.bench.models();
    let ids: Vec<&str> = models.iter().map(|model| model.id.as_str()).collect();
    assert_eq!(ids, ["corran-66", "meridian", "sprat"]);
    assert!(models[0].notes.is_some());
    assert!(models[1].notes.is_none() && models[2].notes.is_none());
    assert!(
        models[2].problems[0].starts_with("sprat.toml:2:"),
        "{:?}",
        models[2].problems
    );
    assert!(shop.bench.notes("sprat").is_none());
    shop.arrive(1);
}

#[test]
fn models_are_found_by_the_words_of_their_notes() {
    let shop = shop();
    let file = shop.dir.path().join("notes/corran-66.toml");
    std::fs::write(&file, text("corran-66", "Corran 66")).unwrap();
    let place = HitIn::Notes("corran-66".to_owned());
    let hits = shop.bench.find("aldóus corr", 10).unwrap();
    assert_eq!(
        (&hits[0].place, hits[0].title.as_str()),
        (&place, "Aldous Corran 66")
    );
    std::fs::write(&file, text("corran-66", "Heron")).unwrap();
    assert!(shop.bench.find("corran", 10).unwrap().is_empty());
    assert_eq!(shop.bench.find("heron", 10).unwrap()[0].place, place);
    for hostile in ["\"", "NEAR(", "*", "id:corran", "\0"] {
        shop.bench.find(hostile, 10).unwrap();
    }
}
