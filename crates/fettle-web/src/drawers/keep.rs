//! Which work may still take a piece, when there are fewer than all will want.

use fettle_bench::{PartView, Use};
use fettle_reason::demand::Kept;
use maud::{Markup, html};

use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::number;
use crate::state::Desk;

/// Most works that a part is asked about; those that used it most.
const MOST: usize = 8;
/// A piece is worth at most this.
const MOST_WORTH: f64 = 1e9;

/// The works that used a part, and what follows for each where the mechanic said what a piece is worth to them.
pub(super) struct Keep {
    works: Vec<(String, usize)>,
    kept: Option<Vec<Kept>>,
    currency: String,
    on_hand: u32,
}

fn field(place: usize) -> String {
    format!("worth.{place}")
}

pub(super) fn draw(
    desk: &Desk,
    view: &PartView,
    asked: &Fields,
    years: f64,
    wrong: &mut Wrong,
) -> Result<Keep, PageError> {
    let mut used_for = desk.bench.used_for(&view.line)?;
    used_for.truncate(MOST);
    let mut weighed: Vec<(String, f64, Vec<Use>)> = Vec::new();
    for (place, (work, uses)) in used_for.iter().enumerate() {
        let name = field(place);
        let what = format!("what a piece is worth to “{work}”");
        let Some(worth) = wrong.number(asked, &name, &what) else {
            continue;
        };
        if (0.0..=MOST_WORTH).contains(&worth) {
            weighed.push((work.to_string(), worth, uses.clone()));
        } else {
            wrong.note(name, format!("{what} is 0 or more"));
        }
    }
    // One work alone has nothing to be kept from it.
    let kept = if weighed.len() < 2 {
        None
    } else {
        desk.bench
            .kept_for(&view.line, &weighed, desk.now.date(), years)?
    };
    Ok(Keep {
        works: used_for
            .into_iter()
            .map(|(work, uses)| (work.words, uses.len()))
            .collect(),
        kept,
        currency: desk.bench.settings()?.currency.to_string(),
        on_hand: view.line.quantity,
    })
}

impl Keep {
    /// The fields that ask what a piece is worth to each work; nothing where one work alone wants it.
    pub(super) fn asked(&self, form: &Form) -> Markup {
        if self.works.len() < 2 {
            return html! {};
        }
        html! {
            details.more open[self.kept.is_some()] {
                summary { "Which work may take one while they are scarce?" }
                p.quiet-text { "Say what a piece is worth to each work: what you would pay more to have it there than to make do without it. A work left empty is not weighed." }
                div.fields {
                    @for (place, (work, uses)) in self.works.iter().enumerate() {
                        (form.line(&field(place), work).unit(&self.currency).hint(&format!("wanted in {}", number::count(*uses, "visit", "visits"))).class("third").draw())
                    }
                }
            }
        }
    }

    /// What follows.
    pub(super) fn told(&self) -> Markup {
        let Some(kept) = &self.kept else {
            return html! {};
        };
        html! {
            div.table-wrap { table {
                caption { "While " (number::count(self.on_hand as usize, "piece is", "pieces are")) " there" }
                thead { tr { th { "Work" } th.num { "A piece is worth, " (self.currency) } th.num { "Will want about" } th.num { "Kept back for better" } th { "Now" } } }
                tbody { @for it in kept { tr {
                    th scope="row" { (it.name) }
                    td.num { (number::plain(it.value)) }
                    td.num { (format!("{:.1}", it.expected)) }
                    td.num { (it.keep_back) }
                    td { @if it.may_take { "may take one" } @else { strong { "make do without" } } }
                } } }
            } }
        }
    }
}
