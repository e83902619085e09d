//! A visit from arrival to the next stage with the keyboard alone.

use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::key::Key;

use crate::driver::{Browser, serve};
use crate::new_bench;
use crate::page::Page;

/// More presses than any page has places to stop at.
const MOST_STOPS: usize = 400;

/// What holds the keyboard, and whether one sees that it does.
const HELD: &str = "
    const it = document.activeElement;
    const style = getComputedStyle(it);
    const ring = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
    return [it.matches(arguments[0]), ring || it === document.body, it.outerHTML.slice(0, 160)];";

impl Page<'_> {
    /// Presses keys one after the other, wherever the keyboard is.
    async fn type_keys(&self, keys: &str) {
        let mut presses = KeyActions::new("keys".to_owned());
        for value in keys.chars() {
            presses = presses
                .then(KeyAction::Down { value })
                .then(KeyAction::Up { value });
        }
        let pressed = self.client().perform_actions(presses).await;
        pressed.unwrap_or_else(|error| panic!("{keys:?}: {error}"));
    }

    /// Presses Tab until what fits holds the keyboard; every stop on the way must be seen.
    async fn tab_to(&self, css: &str) {
        for _ in 0..MOST_STOPS {
            self.type_keys(&char::from(Key::Tab).to_string()).await;
            let held = self
                .client()
                .execute(HELD, vec![css.into()])
                .await
                .expect("readable");
            let (fits, seen, html): (bool, bool, String) =
                serde_json::from_value(held).expect("three facts");
            assert!(
                seen,
                "the keyboard is at a place that does not show it: {html}"
            );
            if fits {
                return;
            }
        }
        panic!("{}: Tab does not come to {css}", self.path().await);
    }

    /// Goes to a field and types.
    async fn fill_by_keys(&self, css: &str, text: &str) {
        self.tab_to(css).await;
        self.type_keys(text).await;
    }

    /// Goes to a button and presses Enter.
    async fn enter(&self, css: &str) {
        self.tab_to(css).await;
        self.press_key_for_page(Key::Enter).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_visit_goes_on_with_the_keyboard_alone() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let bench = new_bench(folder.path());
    let served = serve(&bench);
    let browser = Browser::start(1366, 768).await;
    let page = Page::of(&browser.client, &served.address);

    // The first stop of every page leads past the head.
    page.go("/").await;
    page.tab_to(".skip").await;
    page.type_keys(&char::from(Key::Enter).to_string()).await;
    page.enter("main a[href='/arrive']").await;
    assert_eq!(page.path().await, "/arrive");

    page.fill_by_keys("[name=owner_name]", "Ottoline Marchbank")
        .await;
    page.fill_by_keys("[name=maker]", "Hollin").await;
    page.fill_by_keys("[name=model]", "Pilot").await;
    page.fill_by_keys("[name='serial.0.number']", "P-1182")
        .await;
    page.tab_to("[name=with][value=case]").await;
    page.type_keys(" ").await;
    page.fill_by_keys("[name=words]", "The film does not stop.")
        .await;
    page.enter("#arrive button.next").await;
    assert_eq!(page.path().await, "/visits/1");
    page.says(&["Ottoline Marchbank", "Hollin Pilot", "P-1182", "case"])
        .await;

    page.go("/visits/1?open=looked-over").await;
    page.fill_by_keys("#form-own-sign [name=what]", "Winds without a stop")
        .await;
    page.enter("#form-own-sign button").await;
    page.says(&["Winds without a stop"]).await;
    page.go("/visits/1?open=looked-over").await;
    page.enter("#form-go-to-looked-over button").await;
    page.says(&["looked over"]).await;

    // The box that finds is one key away.
    page.go("/cameras").await;
    page.key_slash().await;
    page.type_keys("P-1182").await;
    page.press_key_for_page(Key::Enter).await;
    page.says(&["Hollin Pilot"]).await;

    // Undo is reached by keys too.
    page.go("/visits/1").await;
    page.enter("#journal form.undo button").await;
    page.says(&["undone"]).await;
    drop(browser.client.clone().close().await);
}
