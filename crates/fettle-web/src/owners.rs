//! Owners: who, what cameras, what passed between us.

use axum::extract::{Query, State};
use fettle_bench::{
    BenchError, Change, Language, OwnerCorrected, OwnerDetails, OwnerId, OwnerView,
};
use maud::{Markup, html};

use crate::cameras::Part;
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::state::{AppState, Desk};
use crate::thing::{Forms, NoMore, Thing};
use crate::{journal, lines, number, settings, urls};

/// The form of the page, by its name in the address.
const CORRECT: &str = "correct";

pub(crate) async fn list(
    State(state): State<AppState>,
    Query(part): Query<Part>,
) -> Result<Markup, PageError> {
    let owners = state
        .at_bench(move |desk| Ok(desk.bench.owners(part.page())?))
        .await?;
    let body = html! {
        h1 { "Owners" }
        @if owners.lines.is_empty() { p.empty { "No owner is known yet; the first is written down when a camera comes." } }
        @else {
            div.table-wrap { table {
                thead { tr { th { "Owner" } th { "Mail" } th.num { "Here now" } th.num { "Visits" } th { "Last arrival" } } }
                tbody {
                    @for line in &owners.lines {
                        tr {
                            th scope="row" { a href=(urls::owner(line.owner.id)) { (line.owner.details.name) } }
                            td { (line.owner.details.email) }
                            td.num { (line.here) }
                            td.num { (line.visits) }
                            td.day { @if let Some(date) = line.last_arrived { (number::date(date)) } }
                        }
                    }
                }
            } }
            (lines::pager(urls::OWNERS, owners.page.skip, owners.page.take, owners.total))
        }
    };
    Ok(state.draw(&Page::new("Owners", body).room(Room::Owners).about("owners")))
}

impl Thing for OwnerView {
    type Asked = NoMore;

    const NAME: &'static str = "owner";
    const ROOM: (&'static str, &'static str) = (urls::OWNERS, "Go to the owners");

    fn read(desk: &Desk, number: i64) -> Result<Self, BenchError> {
        desk.bench.owner(OwnerId::new(number))
    }

    fn address(&self) -> String {
        urls::owner(self.owner.id)
    }

    fn asked(
        &self,
        _desk: &Desk,
        deed: &str,
        fields: &Fields,
        wrong: &mut Wrong,
    ) -> Result<Option<Vec<Change>>, PageError> {
        if deed != CORRECT {
            return Ok(None);
        }
        let (owner, now) = (self.owner.id, &self.owner.details);
        let details = corrected(now, fields, wrong);
        let change = (details != *now).then(|| OwnerCorrected { owner, details }.into());
        Ok(Some(change.into_iter().collect()))
    }

    fn page(&self, desk: &Desk, returned: &Form, _asked: &NoMore) -> Result<Page, PageError> {
        Ok(page(desk, self, returned))
    }
}

/// The details with what the form altered in them.
fn corrected(now: &OwnerDetails, fields: &Fields, wrong: &mut Wrong) -> OwnerDetails {
    let name = wrong.merged(fields, "name", &now.name);
    if name.is_empty() {
        wrong.note("name", "the name is missing");
    }
    OwnerDetails {
        name,
        email: wrong.merged(fields, "email", &now.email),
        phone: wrong.merged(fields, "phone", &now.phone),
        address: wrong.merged(fields, "address", &now.address),
        country: wrong.merged(fields, "country", &now.country).to_uppercase(),
        language: Language::from_text(&wrong.merged(fields, "language", spoken(now))),
        note: wrong.merged(fields, "note", &now.note),
    }
}

/// The language of an owner's papers as the form holds it: empty for the bench's own.
fn spoken(details: &OwnerDetails) -> &'static str {
    details.language.map_or("", Language::as_str)
}

/// The fields of the form and what the record says in each.
fn standing(details: &OwnerDetails) -> [(String, &str); 7] {
    [
        ("name", details.name.as_str()),
        ("email", &details.email),
        ("phone", &details.phone),
        ("address", &details.address),
        ("country", &details.country),
        ("language", spoken(details)),
        ("note", &details.note),
    ]
    .map(|(name, now)| (name.to_owned(), now))
}

fn page(desk: &Desk, view: &OwnerView, returned: &Form) -> Page {
    let owner = &view.owner;
    let details = &owner.details;
    let deed = |deed: &str| urls::owner_deed(owner.id, deed);
    let forms = Forms {
        desk,
        returned,
        deed: &deed,
    };
    let form = forms.named(CORRECT).caught_up(standing(details));
    let mut languages = vec![(String::new(), "the bench’s language".to_owned())];
    languages.extend(settings::languages());
    let body = html! {
        div.title-row {
            h1 { (details.name) }
            div.acts { a.button.first href={ (urls::ARRIVE) "?owner=" (owner.id) } { "A camera of theirs has come" } }
        }
        dl.title-block {
            @if !details.email.is_empty() { div { dt { "Mail" } dd { (details.email) } } }
            @if !details.phone.is_empty() { div { dt { "Telephone" } dd { (details.phone) } } }
            @if !details.address.is_empty() { div { dt { "Address" } dd.words { (details.address) @if !details.country.is_empty() { "\n" (details.country) } } } }
            @if let Some(language) = details.language { div { dt { "Papers in" } dd { (settings::language_name(language)) } } }
            @if !details.note.is_empty() { div.wide { dt { "Note" } dd.words { (details.note) } } }
        }
        details.more.no-print open[form.is_returned()] {
            summary { "Correct what is written here" }
            (forms.around(&form, CORRECT, &html! {
                (form.problems())
                @for (name, now) in standing(details) { (form.was(&name, now)) }
                div.fields {
                    (form.line("name", "Name").holding(&details.name).needed().draw())
                    (form.typed("email", "Mail address", "email").holding(&details.email).draw())
                    (form.typed("phone", "Telephone", "tel").holding(&details.phone).draw())
                    (form.area("address", "Postal address").holding(&details.address).draw())
                    (form.line("country", "Country").holding(&details.country).hint("two letters; empty: the bench’s own").class("third").draw())
                    (form.choice("language", "Papers and mails in", languages).holding(spoken(details)).class("third").draw())
                    (form.area("note", "Note").holding(&details.note).class("wide").draw())
                }
                div.acts { button.first { "Correct it" } }
            }))
        }
        section {
            h2 { "Cameras that came" }
            @if view.visits.is_empty() { p.empty { "None yet." } }
            ul.lines {
                @for line in &view.visits {
                    @let said = html! { "came " (number::date(line.arrived)) };
                    li { (lines::visit(line, &said)) }
                }
            }
        }
        section {
            h2 { "What passed between us" }
            (journal::draw(&view.journal, desk.now.time_zone(), &urls::owner(owner.id)))
        }
    };
    Page::new(details.name.clone(), body)
        .room(Room::Owners)
        .about("owners")
}
