//! One part: its lots, taking and bringing back, what it fits, and what happened with it.

use fettle_bench::{
    BenchError, Change, Grade, Lot, LotCorrected, LotId, LotMoved, MinimumSet, Money, Moved,
    Movement, MovementId, PartId, PartReturned, PartTaken, PartView,
};
use maud::{Markup, html};

use super::outlook;
use super::store::whole_from_none;
use super::{by_grade, drawer_of, drawers, grades, lot_in_words, visit_of, visits};
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{self, Page, Room};
use crate::state::Desk;
use crate::thing::{Forms, Thing};
use crate::{journal, models, number, urls};

/// The forms of the page, by their names in the address.
const TAKE: &str = "take";
const BACK: &str = "back";
const MOVE: &str = "move";
const MINIMUM: &str = "minimum";
const CORRECT: &str = "correct";

impl Thing for PartView {
    /// `visit` to take it for, and what [`outlook`] asks.
    type Asked = Vec<(String, String)>;

    const NAME: &'static str = "part";
    const ROOM: (&'static str, &'static str) = (urls::DRAWERS, "Go to the drawers");

    fn read(desk: &Desk, number: i64) -> Result<Self, BenchError> {
        desk.bench.part(PartId::new(number))
    }

    fn address(&self) -> String {
        urls::part(self.line.id)
    }

    fn asked(
        &self,
        desk: &Desk,
        deed: &str,
        fields: &Fields,
        wrong: &mut Wrong,
    ) -> Result<Option<Vec<Change>>, PageError> {
        let change = match deed {
            TAKE => take(desk, fields, wrong)?,
            BACK => back(fields, wrong),
            MOVE => moved(fields, wrong),
            MINIMUM => minimum(self, fields, wrong),
            CORRECT => correct(desk, self, fields, wrong)?,
            _ => return Ok(None),
        };
        Ok(Some(change.into_iter().collect()))
    }

    fn form_id(deed: &str, fields: &Fields) -> String {
        match deed {
            BACK => format!("{BACK}-{}", fields.text("taken")),
            CORRECT => format!("{CORRECT}-{}", fields.text("lot")),
            _ => deed.to_owned(),
        }
    }

    fn page(
        &self,
        desk: &Desk,
        returned: &Form,
        asked: &Vec<(String, String)>,
    ) -> Result<Page, PageError> {
        page(desk, self, returned, &Fields::new(asked.clone()))
    }
}

fn lot_of(fields: &Fields, wrong: &mut Wrong) -> Option<LotId> {
    let lot = fields.text("lot").parse().ok().map(LotId::new);
    if lot.is_none() {
        wrong.note("lot", "choose from where");
    }
    lot
}

/// How many pieces; one when nothing is written.
pub(super) fn pieces_of(fields: &Fields, wrong: &mut Wrong) -> Option<u32> {
    if fields.text("quantity").is_empty() {
        return Some(1);
    }
    wrong.whole(fields, "quantity", "the pieces")
}

fn take(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> Result<Option<Change>, PageError> {
    let settings = desk.bench.settings()?;
    let lot = lot_of(fields, wrong);
    let quantity = pieces_of(fields, wrong);
    let visit = visit_of(fields, "visit", wrong);
    let price = wrong.amount(fields, "price", "the price");
    if price.is_some() && visit.is_none() {
        wrong.note(
            "price",
            "a price is for a visit; choose the visit or empty this",
        );
    }
    Ok(lot.zip(quantity).map(|(lot, quantity)| {
        PartTaken {
            lot,
            visit,
            quantity,
            price: price.map(|amount| Money::new(amount, settings.currency)),
            note: fields.text("note").to_owned(),
        }
        .into()
    }))
}

pub(crate) fn back(fields: &Fields, wrong: &mut Wrong) -> Option<Change> {
    let taken = fields.text("taken").parse().ok().map(MovementId::new);
    if taken.is_none() {
        wrong.note("", "this form names nothing that was taken");
    }
    let quantity = pieces_of(fields, wrong);
    let drawer = if fields.ticked("drawer") {
        drawer_of(fields, "drawer", wrong)
    } else {
        None
    };
    let (taken, quantity) = taken.zip(quantity)?;
    let note = fields.text("note").to_owned();
    Some(
        PartReturned {
            taken,
            quantity,
            drawer,
            note,
        }
        .into(),
    )
}

fn moved(fields: &Fields, wrong: &mut Wrong) -> Option<Change> {
    let lot = lot_of(fields, wrong);
    let drawer = drawer_of(fields, "drawer", wrong);
    let quantity = wrong.whole(fields, "quantity", "the pieces");
    let (lot, drawer) = lot.zip(drawer)?;
    Some(
        LotMoved {
            lot,
            drawer,
            quantity,
        }
        .into(),
    )
}

fn written(minimum: Option<u32>) -> String {
    minimum.map_or_else(String::new, |minimum| minimum.to_string())
}

fn minimum(view: &PartView, fields: &Fields, wrong: &mut Wrong) -> Option<Change> {
    let now = written(view.line.minimum);
    wrong.merged(fields, "minimum", &now);
    let minimum = whole_from_none(fields, "minimum", "the minimum", wrong);
    (wrong.is_empty() && minimum != view.line.minimum).then(|| {
        MinimumSet {
            part: view.line.id,
            minimum,
        }
        .into()
    })
}

/// What the record says of a lot, by the field of its form.
fn standing(lot: &Lot) -> [(String, String); 4] {
    let price = lot
        .price
        .map_or_else(String::new, |price| price.amount.to_string());
    [
        ("grade".to_owned(), lot.grade.as_str().to_owned()),
        ("price".to_owned(), price),
        ("source".to_owned(), lot.source.clone()),
        ("note".to_owned(), lot.note.clone()),
    ]
}

fn correct(
    desk: &Desk,
    view: &PartView,
    fields: &Fields,
    wrong: &mut Wrong,
) -> Result<Option<Change>, PageError> {
    let id = lot_of(fields, wrong);
    let Some(lot) = view.lots.iter().find(|lot| Some(lot.id) == id) else {
        wrong.note("", "this lot is used up or not of this part; look again");
        return Ok(None);
    };
    let [grade, price, source, note] =
        standing(lot).map(|(name, now)| wrong.merged(fields, &name, &now));
    let currency = match lot.price {
        Some(price) => price.currency,
        None => desk.bench.settings()?.currency,
    };
    let price = {
        let typed = Fields::new(vec![("price".to_owned(), price)]);
        wrong.amount(&typed, "price", "the price")
    };
    let Some(grade) = Grade::from_text(&grade) else {
        wrong.note("grade", "choose the part's grade");
        return Ok(None);
    };
    let corrected = LotCorrected {
        lot: lot.id,
        grade,
        price: price.map(|amount| Money::new(amount, currency)),
        source,
        note,
    };
    let same = corrected.grade == lot.grade
        && corrected.price == lot.price
        && corrected.source == lot.source
        && corrected.note == lot.note;
    Ok((!same).then(|| corrected.into()))
}

fn page(desk: &Desk, view: &PartView, returned: &Form, asked: &Fields) -> Result<Page, PageError> {
    let line = &view.line;
    let deed = |deed: &str| urls::part_deed(line.id, deed);
    let forms = Forms {
        desk,
        returned,
        deed: &deed,
    };
    let body = html! {
        div.title-row {
            div {
                h1 { (line.of.part) }
                p.sub { @if line.of.model.is_empty() { "fits anything" } @else { "of the " (line.of.model) } }
            }
            div.acts { a.button href={ (urls::STORE) "?part=" (line.id) } { "Put more away" } }
        }
        (returned.problems())
        (head(desk, view))
        section {
            h2 { "Where it lies" }
            (lots(&forms, view)?)
        }
        @if !view.lots.is_empty() { section.no-print { h2 { "Take from a drawer" } (take_form(&forms, view, asked)?) } }
        section #lasts {
            h2 { "Will it last?" }
            (outlook::draw(desk, view, asked)?)
        }
        @if !view.out.is_empty() { section { h2 { "Taken for something else" } (out(&forms, view)) } }
        @if !view.on_donors.is_empty() { section { h2 { "On donors" } (on_donors(view)) } }
        section {
            h2 { "Movements" }
            (movements(desk, view))
        }
        section {
            h2 { "Journal" }
            (journal::draw(&view.journal, desk.now.time_zone(), &urls::part(line.id)))
        }
    };
    Ok(Page::new(line.of.part.words.clone(), body)
        .room(Room::Drawers)
        .about("forecast"))
}

/// How many there are, and what it fits.
fn head(desk: &Desk, view: &PartView) -> Markup {
    let line = &view.line;
    let fits = fits(desk, view);
    let since = line
        .since
        .to_zoned_datetime(desk.now.time_zone().clone())
        .date();
    html! {
        dl.title-block {
            div { dt { "There" } dd { (line.quantity) @if line.quantity > 0 { span.aside { " – " (by_grade(line)) } } } }
            div {
                dt { "Minimum" }
                dd { @match line.minimum {
                    Some(minimum) if line.is_below() => span.needs-hand { (minimum) ", fewer are there" },
                    Some(minimum) => (minimum),
                    None => "none",
                } }
            }
            div { dt { "Used since " (number::date(since)) } dd { (line.used) } }
            (models::named(&desk.bench, line.of.notes_id.as_deref()))
            @if !fits.is_empty() { div.wide { dt { "Fits too" } dd { (fits.join("; ")) } } }
        }
    }
}

/// The other models that it fits by the service notes, and what it may be replaced by.
fn fits(desk: &Desk, view: &PartView) -> Vec<String> {
    let of = &view.line.of;
    let (Some(notes_id), Some(part)) = (of.notes_id.as_deref(), of.part.id.as_deref()) else {
        return Vec::new();
    };
    let name = |id: &str| {
        desk.bench
            .notes(id)
            .map_or_else(|| id.to_owned(), |notes| super::store::model_name(&notes))
    };
    let mut told: Vec<String> = Vec::new();
    if let Some(notes) = desk.bench.notes(notes_id)
        && let Some(known) = notes.parts.get(part)
    {
        told.extend(known.fits.iter().map(|model| name(model.as_str())));
    }
    for (other, id) in desk.bench.fitting(notes_id) {
        if id == part {
            told.push(format!("that of the {} fits in its place", name(&other)));
        }
    }
    told
}

fn lots(forms: &Forms<'_>, view: &PartView) -> Result<Markup, PageError> {
    let minimum = forms.named(MINIMUM);
    let now = written(view.line.minimum);
    let minimum = minimum.caught_up([("minimum".to_owned(), now.as_str())]);
    let moving = forms.named(MOVE);
    let mut places = vec![(String::new(), "choose".to_owned())];
    places.extend(drawers(forms.desk)?);
    Ok(html! {
        @if view.lots.is_empty() { p.empty { "None is left in a drawer." } }
        @else {
            div.table-wrap { table.stock {
                thead { tr { th { "Drawer" } th { "Grade" } th.num { "Pieces" } th.num { "One cost" } th { "From" } th { "Since" } td {} } }
                tbody { @for lot in &view.lots { (lot_row(forms, lot)) } }
            } }
        }
        @if !view.lots.is_empty() {
            details.more.no-print open[moving.is_returned()] {
                summary { "Move to another drawer" }
                (forms.around(&moving, MOVE, &html! {
                    div.fields {
                        (moving.choice("lot", "From", lot_choices(view)).draw())
                        (moving.choice("drawer", "To", places).class("short").needed().draw())
                        (moving.line("quantity", "Pieces").hint("empty for all").class("short").draw())
                    }
                    div.acts { button.first { "Move" } }
                }))
            }
        }
        @for lot in &view.lots {
            @let form = forms.named(&format!("{CORRECT}-{}", lot.id));
            @let standing = standing(lot);
            @let form = form.caught_up(standing.iter().map(|(name, now)| (name.clone(), now.as_str())));
            details.more.no-print id={ "lot-" (lot.id) } open[form.is_returned()] {
                summary { "Correct what is written of the " (lot_in_words(lot)) }
                (forms.around(&form, CORRECT, &html! {
                    input type="hidden" name="lot" value=(lot.id);
                    @for (name, now) in &standing { (form.was(name, now)) }
                    @let [(_, grade), (_, price), (_, source), (_, note)] = &standing;
                    div.fields {
                        (form.choice("grade", "Grade", grades()).holding(grade).class("short").draw())
                        (form.line("price", "One cost").holding(price).class("short").draw())
                        (form.line("source", "Where they came from").holding(source).draw())
                        (form.line("note", "Note").holding(note).class("wide").draw())
                    }
                    div.acts { button.first { "Correct it" } span.quiet-text { "How many there are is corrected by counting the drawer." } }
                }))
            }
        }
        details.more.no-print open[minimum.is_returned()] {
            summary { "Change the minimum" }
            (forms.around(&minimum, MINIMUM, &html! {
                (minimum.was("minimum", &now))
                div.fields {
                    (minimum.line("minimum", "Never fewer than").hint("over all grades; empty for none").holding(&now).class("short").draw())
                    div.acts { button.first { "Set it" } }
                }
            }))
        }
    })
}

fn lot_row(forms: &Forms<'_>, lot: &Lot) -> Markup {
    let since = lot
        .at
        .to_zoned_datetime(forms.desk.now.time_zone().clone())
        .date();
    html! {
        tr {
            td { @if let Some((id, name)) = &lot.drawer { a href=(urls::drawer(*id)) { (name) } } }
            td { (lot.grade) }
            td.num { (lot.quantity) }
            td.num { @if let Some(price) = &lot.price { (price) } }
            td {
                @if let Some(donor) = lot.donor { a href=(urls::donor(donor)) { (lot.source) } } @else { (lot.source) }
                @if !lot.note.is_empty() { div.aside { (lot.note) } }
            }
            td { (number::date(since)) }
            td.row-acts.no-print { @if let Some((id, _)) = &lot.drawer { a href={ (urls::drawer(*id)) "#count" } { "Count" } } }
        }
    }
}

fn lot_choices(view: &PartView) -> Vec<(String, String)> {
    view.lots
        .iter()
        .map(|lot| (lot.id.to_string(), lot_in_words(lot)))
        .collect()
}

fn take_form(forms: &Forms<'_>, view: &PartView, asked: &Fields) -> Result<Markup, PageError> {
    let form = forms.named(TAKE);
    let settings = forms.desk.bench.settings()?;
    let visits = visits(forms.desk, "no visit: for something else")?;
    let visit = asked.text("visit");
    Ok(forms.around(&form, TAKE, &html! {
        div.fields {
            (form.choice("lot", "From", lot_choices(view)).draw())
            (form.choice("visit", "For", visits).holding(visit).draw())
            (form.line("quantity", "Pieces").holding("1").class("short").draw())
            (form.line("price", "Charged for one").unit(settings.currency.as_str()).hint("empty when not").class("short").draw())
            (form.line("note", "Note").draw())
        }
        div.acts { button.next { "Take" } }
    }))
}

fn out(forms: &Forms<'_>, view: &PartView) -> Markup {
    html! {
        ul.lines {
            @for taken in &view.out {
                @let form = forms.named(&format!("{BACK}-{}", taken.id));
                @let holding = taken.quantity.to_string();
                li { div.row {
                    span {
                        (taken.quantity) " × " (taken.grade)
                        span.aside { ", " (number::date(taken.at.to_zoned_datetime(forms.desk.now.time_zone().clone()).date())) }
                        @if !taken.note.is_empty() { div.aside { (taken.note) } }
                    }
                    div.row-acts {
                        (forms.around(&form, BACK, &html! {
                            input type="hidden" name="taken" value=(taken.id);
                            (form.cell("quantity", "Pieces to bring back", &holding, None))
                            button { "Bring back" }
                        }))
                        (form.error("quantity"))
                    }
                } }
            }
        }
    }
}

fn on_donors(view: &PartView) -> Markup {
    html! {
        ul.lines {
            @for (donor, part) in &view.on_donors {
                li { div.row {
                    span {
                        a.what href=(urls::donor(donor.id)) { (donor.details.name()) " " span.serial { (donor.details.serial) } }
                        span.aside { " – donor " (donor.id) }
                    }
                    span { (part.on.quantity) " × " (part.on.state) }
                } }
            }
        }
    }
}

fn movements(desk: &Desk, view: &PartView) -> Markup {
    let back_to = urls::part(view.line.id);
    html! {
        @if view.moved.is_empty() { p.empty { "None yet." } }
        @else {
            div.table-wrap { table.stock {
                thead { tr { th { "When" } th.num { "Pieces" } th { "What" } th { "Drawer" } th { "Note" } td {} } }
                tbody {
                    @for moved in &view.moved {
                        tr {
                            td { (number::date(moved.at.to_zoned_datetime(desk.now.time_zone().clone()).date())) }
                            td.num { (number::signed(moved.pieces)) }
                            td {
                                (what(moved)) ", " (moved.grade)
                                @if let Some(visit) = moved.visit { ", " a href=(urls::visit(visit)) { "visit " (visit) } }
                            }
                            td { (moved.drawer) }
                            td { (moved.note) }
                            td.row-acts.no-print { (layout::undo_button(&moved.entry.to_string(), &back_to, "Undo")) }
                        }
                    }
                }
            } }
        }
    }
}

fn what(moved: &Moved) -> String {
    match (moved.movement, moved.counted) {
        (Movement::Stored, _) => "put away".to_owned(),
        (Movement::Salvaged, _) => "taken off a donor".to_owned(),
        (Movement::Moved, _) if moved.pieces < 0 => "moved to another drawer".to_owned(),
        (Movement::Moved, _) => "moved from another drawer".to_owned(),
        (Movement::Taken, _) => "taken".to_owned(),
        (Movement::Returned, _) => "brought back".to_owned(),
        (Movement::Counted, Some(counted)) => format!("counted {counted}"),
        (Movement::Counted, None) => "counted".to_owned(),
    }
}
