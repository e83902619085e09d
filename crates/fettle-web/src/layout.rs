//! The sheet that every page is drawn on.

use maud::{DOCTYPE, Markup, html};

use crate::assets::Asset;
use crate::error::PageError;
use crate::urls;

/// The rooms of the head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Room {
    Bench,
    Cameras,
    Models,
    Drawers,
    Instruments,
    GoingHome,
    Owners,
}

impl Room {
    const ALL: [Self; 7] = [
        Self::Bench,
        Self::Cameras,
        Self::Models,
        Self::Drawers,
        Self::Instruments,
        Self::GoingHome,
        Self::Owners,
    ];

    fn name(self) -> &'static str {
        match self {
            Self::Bench => "Bench",
            Self::Cameras => "Cameras",
            Self::Models => "Models",
            Self::Drawers => "Drawers",
            Self::Instruments => "Instruments",
            Self::GoingHome => "Going home",
            Self::Owners => "Owners",
        }
    }

    fn url(self) -> &'static str {
        match self {
            Self::Bench => urls::BENCH,
            Self::Cameras => urls::CAMERAS,
            Self::Models => urls::MODELS,
            Self::Drawers => urls::DRAWERS,
            Self::Instruments => urls::INSTRUMENTS,
            Self::GoingHome => urls::GOING_HOME,
            Self::Owners => urls::OWNERS,
        }
    }
}

/// What the foot of every page leads to.
const FURTHER: [(&str, &str); 6] = [
    (urls::HANDBOOK, "Handbook"),
    (urls::LEARNED, "What was learned"),
    (urls::IMPORT, "Take in what was kept elsewhere"),
    (urls::BACKUP, "Backup"),
    (urls::HANDS, "Bench-hands and tablets"),
    (urls::SETTINGS, "The bench’s terms"),
];

/// What has just been recorded, with the way to take it back.
#[derive(Clone, Debug)]
pub(crate) struct Recorded {
    /// The journal's sentence.
    pub(crate) sentence: String,
    /// The entries that undo takes back, if they still stand.
    pub(crate) undo: Option<String>,
    /// Where to come back to after the undo.
    pub(crate) back_to: String,
}

/// A page before the sheet is drawn around it.
#[derive(Clone, Debug)]
pub(crate) struct Page {
    title: String,
    room: Option<Room>,
    query: String,
    recorded: Option<Recorded>,
    scripts: Vec<Asset>,
    about: Option<&'static str>,
    bare: bool,
    body: Markup,
}

impl Page {
    /// A page with its title and body; the body begins with the heading.
    pub(crate) fn new(title: impl Into<String>, body: Markup) -> Self {
        Self {
            title: title.into(),
            room: None,
            query: String::new(),
            recorded: None,
            scripts: Vec::new(),
            about: None,
            bare: false,
            body,
        }
    }

    /// The room it lies in.
    pub(crate) fn room(self, room: Room) -> Self {
        Self {
            room: Some(room),
            ..self
        }
    }

    /// What stands in the box that finds.
    pub(crate) fn query(self, query: impl Into<String>) -> Self {
        Self {
            query: query.into(),
            ..self
        }
    }

    /// The line that says what was just recorded.
    pub(crate) fn recorded(self, recorded: Option<Recorded>) -> Self {
        Self { recorded, ..self }
    }

    /// A script it uses.
    pub(crate) fn script(mut self, script: Asset) -> Self {
        self.scripts.push(script);
        self
    }

    /// The page of the handbook that tells how it is used.
    pub(crate) fn about(self, page: &'static str) -> Self {
        Self {
            about: Some(page),
            ..self
        }
    }

    /// A paper to print: without the head.
    pub(crate) fn bare(self) -> Self {
        Self { bare: true, ..self }
    }

    /// The whole HTML; `hand` is who is in, where that is not clear of itself.
    pub(crate) fn draw(&self, bench_name: &str, hand: Option<&str>) -> Markup {
        html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    title { (self.title) " – " (bench_name) }
                    link rel="stylesheet" href=(Asset::Style.url());
                    link rel="icon" href=(Asset::Mark.url()) type="image/svg+xml";
                    script src=(Asset::Find.url()) defer {}
                    @for script in &self.scripts { script src=(script.url()) defer {} }
                }
                body class=[self.bare.then_some("bare")] {
                    a.skip href="#sheet" { "To the page" }
                    @if !self.bare { (self.head(bench_name, hand)) }
                    main id="sheet" tabindex="-1" {
                        @if let Some(recorded) = &self.recorded { (recorded_line(recorded)) }
                        (self.body)
                    }
                    @if !self.bare { (self.foot()) }
                }
            }
        }
    }

    /// What is not of one day: how it is done, what was learned, the bench's own matters.
    fn foot(&self) -> Markup {
        html! {
            footer.foot.no-print {
                nav aria-label="Further" {
                    ul {
                        @if let Some(page) = self.about { li { a href=(urls::handbook(page)) { "About this page" } } }
                        @for (url, name) in FURTHER { li { a href=(url) { (name) } } }
                    }
                }
            }
        }
    }

    fn head(&self, bench_name: &str, hand: Option<&str>) -> Markup {
        html! {
            header.head {
                a.bench-name href=(urls::BENCH) { (bench_name) }
                form.find role="search" action=(urls::FIND) method="get" {
                    label.unseen for="find" { "Find anything: serial number, owner, visit, model, part, words in a note" }
                    input type="search" id="find" name="q" value=(self.query) autocomplete="off"
                        placeholder="Serial number, owner, visit, words …" aria-keyshortcuts="/";
                    button { "Find" }
                }
                nav aria-label="Rooms" {
                    ul {
                        @for room in Room::ALL {
                            li {
                                a href=(room.url()) aria-current=[(self.room == Some(room)).then_some("page")] {
                                    (room.name())
                                }
                            }
                        }
                        @if let Some(hand) = hand { li.hand { a href=(urls::HANDS) { span.unseen { "In as " } bdi { (hand) } } } }
                    }
                }
            }
        }
    }
}

fn recorded_line(recorded: &Recorded) -> Markup {
    html! {
        div.recorded role="status" {
            p { span.word { "Recorded:" } " " (recorded.sentence) }
            @if let Some(entries) = &recorded.undo {
                (undo_button(entries, &recorded.back_to, "Undo"))
            }
        }
    }
}

/// A button that takes a journal entry back.
pub(crate) fn undo_button(entries: &str, back_to: &str, label: &str) -> Markup {
    html! {
        form.undo method="post" action=(urls::UNDO) {
            input type="hidden" name="entry" value=(entries);
            input type="hidden" name="back_to" value=(back_to);
            button.quiet { (label) }
        }
    }
}

/// The page around an error; `bare` for those who see nothing else of the bench.
pub(crate) fn error_page(error: &PageError, bare: bool) -> Page {
    let body = html! {
        h1 { (error.title) }
        p.lead { (error.text) }
        ul.ways {
            @for (url, label) in &error.ways_out { li { a href=(url) { (label) } } }
            @if !bare { li { a href=(urls::BENCH) { "Go to the bench" } } }
        }
        @if !bare { p.quiet-text { "Or use the box above: it finds serial numbers, owners, visits, models and words in notes." } }
    };
    let page = Page::new(error.title, body);
    if bare { page.bare() } else { page }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_and_queries_are_escaped() {
        let page = Page::new("<i>", html! { h1 { "x" } }).query("\"><script>");
        let html = page.draw("A & B", None).into_string();
        assert!(
            html.contains("<title>&lt;i&gt; – A &amp; B</title>"),
            "{html}"
        );
        assert!(html.contains("&quot;&gt;&lt;script&gt;"), "{html}");
    }

    #[test]
    fn the_room_is_marked() {
        let page = Page::new("Owners", html! {}).room(Room::Owners);
        let html = page.draw("Bench", None).into_string();
        assert!(
            html.contains(r#"<a href="/owners" aria-current="page">Owners</a>"#),
            "{html}"
        );
        assert_eq!(html.matches("aria-current").count(), 1);
    }
}
