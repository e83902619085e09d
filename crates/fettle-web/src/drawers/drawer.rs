//! One drawer: what lies in it, counting it, and what it is called.

use fettle_bench::{BenchError, Change, DrawerId, DrawerLine, DrawerNamed, DrawerView};
use maud::html;

use super::count;
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::state::Desk;
use crate::thing::{Forms, NoMore, Thing};
use crate::{journal, number, urls};

const NAME: &str = "name";

impl Thing for DrawerView {
    type Asked = NoMore;

    const NAME: &'static str = "drawer";
    const ROOM: (&'static str, &'static str) = (urls::DRAWERS, "Go to the drawers");

    fn read(desk: &Desk, number: i64) -> Result<Self, BenchError> {
        desk.bench.drawer(DrawerId::new(number))
    }

    fn address(&self) -> String {
        urls::drawer(self.line.id)
    }

    /// Takes a count, or another name.
    fn asked(
        &self,
        _desk: &Desk,
        deed: &str,
        fields: &Fields,
        wrong: &mut Wrong,
    ) -> Result<Option<Vec<Change>>, PageError> {
        let change = match deed {
            count::NAME => count::read(self, fields, wrong).map(Into::into),
            NAME => name(&self.line, fields, wrong),
            _ => return Ok(None),
        };
        Ok(Some(change.into_iter().collect()))
    }

    fn page(&self, desk: &Desk, returned: &Form, _asked: &NoMore) -> Result<Page, PageError> {
        Ok(page(desk, self, returned))
    }
}

fn name(line: &DrawerLine, fields: &Fields, wrong: &mut Wrong) -> Option<Change> {
    let name = wrong.merged(fields, "name", &line.name);
    let place = wrong.merged(fields, "place", &line.place);
    (name != line.name || place != line.place).then(|| {
        DrawerNamed {
            drawer: Some(line.id),
            name,
            place,
        }
        .into()
    })
}

fn page(desk: &Desk, view: &DrawerView, returned: &Form) -> Page {
    let line = &view.line;
    let deed = |deed: &str| urls::drawer_deed(line.id, deed);
    let forms = Forms {
        desk,
        returned,
        deed: &deed,
    };
    let naming = forms.named(NAME).caught_up([
        ("name".to_owned(), line.name.as_str()),
        ("place".to_owned(), line.place.as_str()),
    ]);
    let body = html! {
        div.title-row {
            div {
                h1 { "Drawer " (line.name) }
                p.sub {
                    @if !line.place.is_empty() { (line.place) "; " }
                    (number::count(line.pieces as usize, "piece", "pieces")) " of " (number::count(line.parts as usize, "part", "parts"))
                }
            }
            div.acts {
                a.button.first href={ (urls::STORE) "?drawer=" (line.id) } { "Put parts away" }
                a.button href={ (urls::LABELS) "?drawer=" (line.id) } { "Its label" }
            }
        }
        (returned.problems())
        section {
            h2 { "What lies in it" }
            (count::draw(&forms, view))
        }
        details.more.no-print open[naming.is_returned()] {
            summary { "Call it otherwise" }
            (forms.around(&naming, NAME, &html! {
                (naming.was("name", &line.name)) (naming.was("place", &line.place))
                div.fields {
                    (naming.line("name", "What stands on its front").holding(&line.name).needed().draw())
                    (naming.line("place", "Where it is").holding(&line.place).draw())
                }
                div.acts { button.first { "Call it so" } }
            }))
        }
        section {
            h2 { "Journal" }
            (journal::draw(&view.journal, desk.now.time_zone(), &urls::drawer(line.id)))
        }
    };
    Page::new(format!("Drawer {}", line.name), body)
        .room(Room::Drawers)
        .about("drawers")
}
