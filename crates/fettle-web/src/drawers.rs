//! Drawers: what have I got, will it last?

mod count;
mod donor;
mod donors;
mod drawer;
mod keep;
mod labels;
mod list;
mod outlook;
mod part;
mod store;

use fettle_bench::{DrawerId, Grade, Lot, PartLine, PartOf, VisitFilter, VisitId};
use maud::{Markup, html};

use crate::error::PageError;
use crate::form::{Fields, Wrong};
use crate::state::Desk;
use crate::urls;

pub(crate) use self::donors::{act as act_donors, list as list_donors};
pub(crate) use self::labels::{pdf as labels_pdf, show as labels};
pub(crate) use self::list::{act, short, show};
pub(crate) use self::part::back;
pub(crate) use self::store::{act as act_store, models, show as show_store};

/// Most visits offered to take a part for: those that are here.
const VISITS: u32 = 200;

/// A link to a part with its model.
fn part_link(id: fettle_bench::PartId, of: &PartOf) -> Markup {
    html! {
        a.what href=(urls::part(id)) { (of.part) }
        @if !of.model.is_empty() { span.aside { ", " (of.model) } }
    }
}

/// The grades with a number each: `3 original, 1 made`.
fn by_grade(line: &PartLine) -> String {
    let told: Vec<String> = line
        .by_grade
        .iter()
        .map(|(grade, pieces)| format!("{pieces} {grade}"))
        .collect();
    told.join(", ")
}

fn grades() -> Vec<(String, String)> {
    Grade::ALL
        .iter()
        .map(|grade| (grade.as_str().to_owned(), grade.to_string()))
        .collect()
}

/// Every drawer to choose from.
fn drawers(desk: &Desk) -> Result<Vec<(String, String)>, PageError> {
    let named = |line: &fettle_bench::DrawerLine| {
        let place = if line.place.is_empty() {
            String::new()
        } else {
            format!(", {}", line.place)
        };
        (line.id.to_string(), format!("{}{place}", line.name))
    };
    Ok(desk.bench.drawers()?.iter().map(named).collect())
}

/// The drawer that a field names.
fn drawer_of(fields: &Fields, name: &str, wrong: &mut Wrong) -> Option<DrawerId> {
    let drawer = fields.text(name).parse().ok().map(DrawerId::new);
    if drawer.is_none() {
        wrong.note(name, "choose the drawer");
    }
    drawer
}

/// The visits that are here, to choose from, after `none`.
fn visits(desk: &Desk, none: &str) -> Result<Vec<(String, String)>, PageError> {
    let here = VisitFilter {
        here: true,
        ..VisitFilter::default()
    };
    let found = desk
        .bench
        .visits(&here, fettle_bench::Page::first(VISITS))?;
    let mut visits = vec![(String::new(), none.to_owned())];
    visits.extend(found.lines.iter().map(|line| {
        let what = format!("{} {}", line.camera_name, line.serial);
        (
            line.visit.to_string(),
            format!(
                "visit {}: {}, {}",
                line.visit,
                what.trim_end(),
                line.owner_name
            ),
        )
    }));
    Ok(visits)
}

/// The visit that a field names; `None` when it names none.
fn visit_of(fields: &Fields, name: &str, wrong: &mut Wrong) -> Option<VisitId> {
    let text = fields.some(name)?;
    let visit = text.parse().ok().map(VisitId::new);
    if visit.is_none() {
        wrong.note(name, format!("“{text}” is no visit; choose one"));
    }
    visit
}

/// A lot as one chooses it: `3 original in A1, EUR 4.00 each`.
pub(crate) fn lot_in_words(lot: &Lot) -> String {
    let place = lot
        .drawer
        .as_ref()
        .map_or_else(String::new, |(_, name)| format!(" in {name}"));
    let price = lot
        .price
        .map_or_else(String::new, |price| format!(", {price} each"));
    format!("{} {}{place}{price}", lot.quantity, lot.grade)
}
