//! The pictures of the handbook, made from the demo's bench so that they stay true.
//!
//! `FETTLE_PICTURES=docs/pictures cargo test -p fettle --test browser pictures` makes them anew.

use std::{collections::BTreeSet, env, fs, path::Path};

use crate::driver::{Browser, Light};
use crate::every_page::demo;
use crate::page::Page;

/// A picture: its name, the page, and what stands at the top of the window.
const PICTURES: [(&str, &str, &str); 5] = [
    ("bench", "/", "#sheet"),
    ("visit", "/visits/58", "#sheet"),
    ("causes", "/visits/69?open=cause", "#likely"),
    ("shutter", "/visits/40?open=proof", "#limit-shutter"),
    ("removals", "/models/sprat", "#removal"),
];

/// Opens what is folded within the element and brings its top to the window's.
const BRING: &str = "
    const it = document.querySelector(arguments[0]);
    if (it.tagName === 'MAIN') return;
    it.querySelectorAll('details').forEach(details => details.open = true);
    it.scrollIntoView({ block: 'start', behavior: 'instant' });
    window.scrollBy(0, -24);";

#[tokio::test(flavor = "multi_thread")]
async fn the_handbooks_pictures_can_be_made_from_the_demo() {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/pictures");
    let there: BTreeSet<String> = fs::read_dir(&kept)
        .expect("the pictures' folder")
        .filter_map(|entry| entry.expect("readable").file_name().into_string().ok())
        .filter_map(|name| name.strip_suffix(".png").map(str::to_owned))
        .collect();
    let known: BTreeSet<String> = PICTURES
        .iter()
        .map(|(name, ..)| (*name).to_owned())
        .collect();
    assert_eq!(
        there, known,
        "pictures there, and pictures that can be made"
    );

    let folder = tempfile::tempdir().expect("a temporary folder");
    let served = demo(folder.path());
    let browser = Browser::start_in(1180, 800, Light::Day).await;
    let page = Page::of(&browser.client, &served.address);
    for (name, url, top) in PICTURES {
        page.go(url).await;
        page.element(top).await;
        let brought = browser.client.execute(BRING, vec![top.into()]).await;
        brought.unwrap_or_else(|error| panic!("{name}: {error}"));
        let picture = browser.client.screenshot().await.expect("a picture");
        assert!(image::load_from_memory(&picture).is_ok(), "{name}");
        if let Some(into) = env::var_os("FETTLE_PICTURES") {
            // Tests run in the crate's folder; the path is meant from the project's.
            let into = Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("../..")
                .join(into);
            fs::write(into.join(format!("{name}.png")), picture).expect("it can be kept");
        }
    }
    drop(browser.client.clone().close().await);
}
