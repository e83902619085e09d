//! What a person does with a page: go there, read, write into fields, choose, press.

use std::{path::Path, time::Duration};

use fantoccini::{Client, Locator, elements::Element, key::Key};
use tokio::time::sleep;

/// A page in a browser, with the site's address before every path.
pub struct Page<'a> {
    client: &'a Client,
    site: String,
}

impl<'a> Page<'a> {
    /// Pages of this site.
    pub fn of(client: &'a Client, site: &str) -> Self {
        Self {
            client,
            site: site.to_owned(),
        }
    }

    /// What drives the browser.
    pub fn client(&self) -> &Client {
        self.client
    }

    /// Goes to a path of the site.
    pub async fn go(&self, path: &str) {
        let url = format!("{}{path}", self.site);
        self.client
            .goto(&url)
            .await
            .unwrap_or_else(|error| panic!("{url}: {error}"));
        self.await_whole(&url).await;
    }

    /// The path of the page that is open.
    pub async fn path(&self) -> String {
        self.client
            .current_url()
            .await
            .expect("a page is open")
            .path()
            .to_owned()
    }

    /// All that can be read on the page, hidden parts too.
    pub async fn text(&self) -> String {
        let script = "return document.body.textContent";
        let text = self
            .client
            .execute(script, Vec::new())
            .await
            .expect("the page can be read");
        text.as_str()
            .unwrap_or_default()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// The rows of a table's body, cell by cell.
    pub async fn table(&self, css: &str) -> Vec<Vec<String>> {
        let script = "const rows = document.querySelectorAll(arguments[0] + ' tbody tr');
            return [...rows].map(row => [...row.cells].map(cell => cell.textContent));";
        let rows = self
            .client
            .execute(script, vec![css.into()])
            .await
            .expect("a table is there");
        serde_json::from_value(rows).expect("a table is rows of cells")
    }

    /// Claims that the page says all of these.
    pub async fn says(&self, words: &[&str]) {
        let text = self.text().await;
        for wanted in words {
            assert!(
                text.contains(wanted),
                "{}: no “{wanted}” in: {text}",
                self.path().await
            );
        }
    }

    /// The element, once it is there.
    pub async fn element(&self, css: &str) -> Element {
        self.client
            .wait()
            .at_most(Duration::from_secs(10))
            .for_element(Locator::Css(css))
            .await
            .unwrap_or_else(|error| panic!("nothing on the page fits {css}: {error}"))
    }

    /// How many elements fit.
    pub async fn count(&self, css: &str) -> usize {
        self.client
            .find_all(Locator::Css(css))
            .await
            .expect("the page can be read")
            .len()
    }

    /// Writes into a field in place of what it holds.
    pub async fn write(&self, css: &str, text: &str) {
        let field = self.element(css).await;
        field
            .clear()
            .await
            .unwrap_or_else(|error| panic!("{css}: {error}"));
        field
            .send_keys(text)
            .await
            .unwrap_or_else(|error| panic!("{css}: {error}"));
    }

    /// Chooses an option of a list by its value.
    pub async fn choose(&self, css: &str, value: &str) {
        let list = self.element(css).await;
        list.select_by_value(value)
            .await
            .unwrap_or_else(|error| panic!("{css}: {error}"));
    }

    /// Chooses files.
    pub async fn choose_files(&self, css: &str, files: &[&Path]) {
        let field = self.element(css).await;
        let names: Vec<_> = files
            .iter()
            .map(|file| file.display().to_string())
            .collect();
        field
            .send_keys(&names.join("\n"))
            .await
            .unwrap_or_else(|error| panic!("{css}: {error}"));
    }

    /// Clicks something that stays on the page.
    pub async fn click(&self, css: &str) {
        let element = self.element(css).await;
        element
            .click()
            .await
            .unwrap_or_else(|error| panic!("{css}: {error}"));
    }

    /// Presses a key outside any field.
    pub async fn key(&self, key: Key) {
        let body = self.element("body").await;
        body.send_keys(&char::from(key).to_string())
            .await
            .unwrap_or_else(|error| panic!("{key:?}: {error}"));
    }

    /// Presses the key that leads to the box that finds.
    pub async fn key_slash(&self) {
        let body = self.element("body").await;
        body.send_keys("/").await.expect("the key is taken");
    }

    /// Presses a key where the keyboard is and waits for the page that answers.
    pub async fn press_key_for_page(&self, key: Key) {
        self.mark_as_before().await;
        let held = self
            .client
            .active_element()
            .await
            .expect("something holds the keyboard");
        held.send_keys(&char::from(key).to_string())
            .await
            .unwrap_or_else(|error| panic!("{key:?}: {error}"));
        self.await_the_next(&format!("{key:?}")).await;
    }

    /// Sends a form with its button and waits for the page that answers.
    pub async fn press(&self, css: &str) {
        self.mark_as_before().await;
        self.click(css).await;
        self.await_the_next(css).await;
    }

    /// Runs a script that leads to another page, and waits for that.
    pub async fn run_for_page(&self, script: &str, argument: &str) {
        self.mark_as_before().await;
        self.client
            .execute(script, vec![argument.into()])
            .await
            .unwrap_or_else(|error| panic!("{argument}: {error}"));
        self.await_any(argument).await;
    }

    async fn mark_as_before(&self) {
        let mark = "document.documentElement.dataset.before = 'yes'";
        self.client
            .execute(mark, Vec::new())
            .await
            .expect("the page can be marked");
    }

    /// Waits for a page that is not the marked one.
    async fn await_any(&self, css: &str) {
        let fresh = Locator::Css("html:not([data-before]) body");
        self.client
            .wait()
            .at_most(Duration::from_secs(60))
            .for_element(fresh)
            .await
            .unwrap_or_else(|error| panic!("no page came after {css}: {error}"));
        self.await_whole(css).await;
    }

    /// Waits until all of the page has come: the driver may take the end of the page before for it.
    async fn await_whole(&self, after: &str) {
        for _ in 0..600 {
            let script = "return document.readyState === 'complete'";
            let whole = self.client.execute(script, Vec::new()).await;
            if whole.is_ok_and(|whole| whole == true) {
                return;
            }
            sleep(Duration::from_millis(100)).await;
        }
        panic!("the page that came after {after} was not whole within a minute");
    }

    /// Waits for the next page, and claims that it tells of no problem.
    async fn await_the_next(&self, css: &str) {
        self.await_any(css).await;
        let problems = self
            .client
            .find_all(Locator::Css("[role=alert]"))
            .await
            .expect("readable");
        if let Some(problem) = problems.first() {
            panic!(
                "{css} was refused: {}",
                problem.text().await.unwrap_or_default()
            );
        }
    }
}
