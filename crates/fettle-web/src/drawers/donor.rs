//! One donor: what is still on it and in what state, and taking a part off it.

use fettle_bench::{
    BenchError, Change, DonorCorrected, DonorDetails, DonorId, DonorPart, DonorPartId, DonorPartIs,
    DonorPartsNoted, DonorView, DrawerId, Money, OnDonor, PartSalvaged, SalvagedTo, Term, VisitId,
};
use maud::{Markup, html};

use super::part::pieces_of;
use super::store::{term, whole_from_none};
use super::{drawers, visits};
use crate::error::PageError;
use crate::form::{self, Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::state::Desk;
use crate::thing::{Forms, NoMore, Thing};
use crate::{journal, models, number, urls};

/// The forms of the page, by their names in the address.
const TAKE: &str = "take";
const LOOK: &str = "look";
const CORRECT: &str = "correct";
/// The parts of its notes, to choose from.
const LIST: &str = "donor-parts";

impl Thing for DonorView {
    type Asked = NoMore;

    const NAME: &'static str = "donor";
    const ROOM: (&'static str, &'static str) = (urls::DONORS, "Go to the donors");

    fn read(desk: &Desk, number: i64) -> Result<Self, BenchError> {
        desk.bench.donor(DonorId::new(number))
    }

    fn address(&self) -> String {
        urls::donor(self.line.id)
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
            LOOK => look(desk, self, fields, wrong),
            CORRECT => correct(self, fields, wrong),
            _ => return Ok(None),
        };
        Ok(Some(change.into_iter().collect()))
    }

    fn page(&self, desk: &Desk, returned: &Form, _asked: &NoMore) -> Result<Page, PageError> {
        page(desk, self, returned)
    }
}

fn take(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> Result<Option<Change>, PageError> {
    let settings = desk.bench.settings()?;
    let from = fields.text("part").parse().ok().map(DonorPartId::new);
    if from.is_none() {
        wrong.note("part", "choose the part");
    }
    let quantity = pieces_of(fields, wrong);
    let to = place(fields.text("to"));
    if to.is_none() {
        wrong.note("to", "choose where it goes");
    }
    let price = wrong.amount(fields, "price", "the price");
    if price.is_some() && matches!(to, Some(SalvagedTo::Drawer(_))) {
        wrong.note("price", "a price is for a visit; empty this for a drawer");
    }
    let Some(((from, quantity), to)) = from.zip(quantity).zip(to) else {
        return Ok(None);
    };
    Ok(Some(
        PartSalvaged {
            from,
            quantity,
            to,
            price: price.map(|amount| Money::new(amount, settings.currency)),
            note: fields.text("note").to_owned(),
        }
        .into(),
    ))
}

/// `drawer-3` or `visit-12`.
fn place(text: &str) -> Option<SalvagedTo> {
    let (kind, id) = text.split_once('-')?;
    let id = id.parse().ok()?;
    match kind {
        "drawer" => Some(SalvagedTo::Drawer(DrawerId::new(id))),
        "visit" => Some(SalvagedTo::Visit(VisitId::new(id))),
        _ => None,
    }
}

/// The fields of a part's line, and what the record says in each.
fn standing(part: &DonorPart) -> [(String, String); 3] {
    let field = |name: &str| format!("{name}.{}", part.id);
    [
        (field("quantity"), part.on.quantity.to_string()),
        (field("state"), part.on.state.as_str().to_owned()),
        (field("note"), part.on.note.clone()),
    ]
}

fn look(desk: &Desk, view: &DonorView, fields: &Fields, wrong: &mut Wrong) -> Option<Change> {
    let mut parts = Vec::new();
    for part in &view.parts {
        let named = standing(part);
        let [quantity, state, note] = named
            .clone()
            .map(|(name, now)| wrong.merged(fields, &name, &now));
        let quantity = on_it(&quantity, &named[0].0, &part.on.part, wrong);
        let state = DonorPartIs::from_text(&state).unwrap_or(part.on.state);
        let on = OnDonor {
            part: part.on.part.clone(),
            quantity: quantity.unwrap_or(part.on.quantity),
            state,
            note,
        };
        if on != part.on {
            parts.push(on);
        }
    }
    if let Some(name) = fields.some("part") {
        let notes = view.line.details.notes_id.as_deref();
        let notes = notes.and_then(|id| desk.bench.notes(id));
        let part = match &notes {
            Some(notes) => term(notes, &name),
            None => Term::own(name),
        };
        if view
            .parts
            .iter()
            .any(|known| known.on.part.key() == part.key())
        {
            wrong.note(
                "part",
                format!("{part} stands in the table already; change it there"),
            );
        }
        let state = DonorPartIs::from_text(fields.text("state"));
        parts.push(OnDonor {
            part,
            quantity: whole_from_none(fields, "quantity", "the pieces", wrong).unwrap_or(1),
            state: state.unwrap_or(DonorPartIs::NotLooked),
            note: fields.text("note").to_owned(),
        });
    }
    (wrong.is_empty() && !parts.is_empty()).then(|| {
        DonorPartsNoted {
            donor: view.line.id,
            parts,
        }
        .into()
    })
}

fn on_it(text: &str, name: &str, part: &Term, wrong: &mut Wrong) -> Option<u32> {
    let number = text.trim().parse().ok();
    if number.is_none() {
        wrong.note(
            name,
            format!("{part}: “{text}” is not a whole number from 0"),
        );
    }
    number
}

fn correct(view: &DonorView, fields: &Fields, wrong: &mut Wrong) -> Option<Change> {
    let now = &view.line.details;
    let details = DonorDetails {
        serial: wrong.merged(fields, "serial", &now.serial),
        source: wrong.merged(fields, "source", &now.source),
        condition: wrong.merged(fields, "condition", &now.condition),
        ..now.clone()
    };
    (wrong.is_empty() && details != *now).then(|| {
        DonorCorrected {
            donor: view.line.id,
            details,
        }
        .into()
    })
}

fn page(desk: &Desk, view: &DonorView, returned: &Form) -> Result<Page, PageError> {
    let details = &view.line.details;
    let since = view
        .line
        .at
        .to_zoned_datetime(desk.now.time_zone().clone())
        .date();
    let deed = |deed: &str| urls::donor_deed(view.line.id, deed);
    let forms = Forms {
        desk,
        returned,
        deed: &deed,
    };
    let body = html! {
        div.title-row {
            div {
                h1 { (details.name()) " " span.serial { (details.serial) } }
                p.sub { "Donor " (view.line.id) ", here since " (number::date(since)) }
            }
            div.acts { a.button href=(urls::DONORS) { "All donors" } }
        }
        (returned.problems())
        dl.title-block {
            div { dt { "Parts on it" } dd { (view.line.parts) } }
            div { dt { "Pieces taken" } dd { (view.line.taken) } }
            @if !details.source.is_empty() { div { dt { "Came from" } dd { (details.source) } } }
            (models::named(&desk.bench, details.notes_id.as_deref()))
            @if !details.condition.is_empty() { div.wide { dt { "Condition" } dd.words { (details.condition) } } }
        }
        (correct_form(&forms, view))
        section.no-print {
            h2 { "Take a part off it" }
            (take_form(&forms, view)?)
        }
        section {
            h2 { "What is on it" }
            (look_form(&forms, view))
        }
        section {
            h2 { "Journal" }
            (journal::draw(&view.journal, desk.now.time_zone(), &urls::donor(view.line.id)))
        }
    };
    Ok(Page::new(details.name(), body)
        .room(Room::Drawers)
        .about("drawers"))
}

fn correct_form(forms: &Forms<'_>, view: &DonorView) -> Markup {
    let now = &view.line.details;
    let standing = [
        ("serial", now.serial.as_str()),
        ("source", &now.source),
        ("condition", &now.condition),
    ];
    let standing_now = standing.map(|(name, now)| (name.to_owned(), now));
    let form = forms.named(CORRECT).caught_up(standing_now);
    html! {
        details.more.no-print open[form.is_returned()] {
            summary { "Correct what is written here" }
            (forms.around(&form, CORRECT, &html! {
                @for (name, now) in standing { (form.was(name, now)) }
                div.fields {
                    (form.line("serial", "Serial number").holding(&now.serial).draw())
                    (form.line("source", "Where it came from").holding(&now.source).draw())
                    (form.area("condition", "Condition that one can see").holding(&now.condition).class("wide").draw())
                }
                div.acts { button.first { "Correct it" } }
            }))
        }
    }
}

fn take_form(forms: &Forms<'_>, view: &DonorView) -> Result<Markup, PageError> {
    let (desk, form) = (forms.desk, forms.named(TAKE));
    let choose = |what: &str| (String::new(), what.to_owned());
    let mut parts = vec![choose("choose")];
    let left = |part: &&DonorPart| part.on.quantity > 0 && part.on.state != DonorPartIs::Spoiled;
    parts.extend(view.parts.iter().filter(left).map(|part| {
        let pieces = part.on.quantity;
        let on = if pieces > 1 {
            format!("{}, {pieces} on it, {}", part.on.part, part.on.state)
        } else {
            format!("{}, {}", part.on.part, part.on.state)
        };
        (part.id.to_string(), on)
    }));
    if parts.len() == 1 {
        return Ok(html! { p.empty { "Nothing that can be used is on it." } });
    }
    let mut places = vec![choose("choose")];
    places.extend(
        drawers(desk)?
            .into_iter()
            .map(|(id, name)| (format!("drawer-{id}"), format!("into drawer {name}"))),
    );
    places.extend(
        visits(desk, "")?
            .into_iter()
            .skip(1)
            .map(|(id, name)| (format!("visit-{id}"), format!("straight to {name}"))),
    );
    let settings = desk.bench.settings()?;
    Ok(forms.around(&form, TAKE, &html! {
        div.fields {
            (form.choice("part", "Part", parts).draw())
            (form.choice("to", "Where to", places).draw())
            (form.line("quantity", "Pieces").holding("1").class("short").draw())
            (form.line("price", "Charged for one").unit(settings.currency.as_str()).hint("when it goes to a visit").class("short").draw())
            (form.line("note", "Note").draw())
        }
        div.acts { button.next { "Take it off" } }
    }))
}

fn states() -> Vec<(&'static str, String)> {
    DonorPartIs::ALL
        .iter()
        .map(|state| (state.as_str(), state.to_string()))
        .collect()
}

fn look_form(forms: &Forms<'_>, view: &DonorView) -> Markup {
    let standing: Vec<[(String, String); 3]> = view.parts.iter().map(standing).collect();
    let form = forms.named(LOOK).caught_up(
        standing
            .iter()
            .flatten()
            .map(|(name, now)| (name.clone(), now.as_str())),
    );
    let notes = view.line.details.notes_id.as_deref();
    let notes = notes.and_then(|id| forms.desk.bench.notes(id));
    let names: Vec<&str> = notes
        .iter()
        .flat_map(|notes| notes.parts.iter())
        .map(|(_, part)| part.name.as_str())
        .collect();
    let choices: Vec<(String, String)> = states()
        .into_iter()
        .map(|(value, label)| (value.to_owned(), label))
        .collect();
    forms.around(&form, LOOK, &html! {
        (form::offers(LIST, names))
        @if view.parts.is_empty() { p.empty { "Nothing was written down yet." } }
        @else {
            div.table-wrap { table.stock.look {
                thead { tr { th { "Part" } th { "On it" } th { "State" } th { "Note" } th.num { "Taken" } } }
                tbody { @for (part, fields) in view.parts.iter().zip(&standing) { (look_row(&form, part, fields)) } }
            } }
        }
        h3 { "A part that is not in the table" }
        div.fields {
            (form.line("part", "Part").offering(LIST).draw())
            (form.line("quantity", "On it").holding("1").class("short").draw())
            (form.choice("state", "State", choices).class("short").draw())
            (form.line("note", "Note").class("wide").draw())
        }
        div.acts { button.first { "Record what is on it" } }
    })
}

fn look_row(form: &Form, part: &DonorPart, fields: &[(String, String); 3]) -> Markup {
    let [(quantity, on_it), (state, is), (note, noted)] = fields;
    let name = &part.on.part;
    html! {
        tr {
            th scope="row" { (name) }
            td.count {
                (form.was(quantity, on_it))
                (form.cell(quantity, &format!("On it: {name}"), on_it, None))
                (form.error(quantity))
            }
            td {
                (form.was(state, is))
                select id=(form.field_id(state)) name=(state) aria-label={ "State: " (name) } {
                    @for (value, label) in states() { option value=(value) selected[form.value(state, is) == value] { (label) } }
                }
                (form.error(state))
            }
            td {
                (form.was(note, noted))
                (form.cell(note, &format!("Note: {name}"), noted, None))
                (form.error(note))
            }
            td.num { @if part.taken > 0 { (part.taken) } }
        }
    }
}
