//! Backing up and bringing back, as the tests do it.

use std::{fs, path::Path};

use fettle_bench::{
    About, BackedUp, Change, HowToRestore, NoteWritten, Restored, Stage, VisitId, back_up, restore,
    verify,
};

use super::{Shop, arrival, at, noise, shop};

pub(crate) fn note(text: &str) -> Change {
    NoteWritten {
        about: About::Visit(VisitId::new(1)),
        text: text.to_owned(),
    }
    .into()
}

pub(crate) fn photograph(shop: &Shop, second: i64, width: u32) {
    let kept = shop
        .bench
        .keep_photo(VisitId::new(1), Stage::Arrived, "", &noise(width, 16));
    shop.apply(second, vec![kept.unwrap()]);
}

pub(crate) fn backed_up(bench: &Path, to: &Path, second: i64) -> BackedUp {
    back_up(bench, to, at(second), false, &mut |_| {}).unwrap()
}

pub(crate) fn whole(dir: &Path) {
    assert_eq!(verify(dir).unwrap().findings, [], "{}", dir.display());
}

pub(crate) fn bring_back(from: &Path, to: &Path, how: HowToRestore<'_>) -> Restored {
    restore(from, to, how, &mut |_| {}).unwrap()
}

/// A bench with some visits, photographs and service notes, and an empty folder for everything else.
pub(crate) fn furnished() -> (Shop, tempfile::TempDir) {
    let shop = shop();
    for n in 0..3 {
        shop.apply(n, arrival(&format!("A {n}")));
    }
    for width in 20..26 {
        photograph(&shop, i64::from(width), width);
    }
    let notes = shop.dir.path().join("notes");
    fs::create_dir_all(notes.join("drawings/old")).unwrap();
    fs::write(notes.join("corran.toml"), "name = \"Corran\"").unwrap();
    fs::write(notes.join("drawings/old/tray.svg"), "<svg/>").unwrap();
    fs::write(notes.join(".hidden"), "x").unwrap();
    (shop, tempfile::tempdir().unwrap())
}
