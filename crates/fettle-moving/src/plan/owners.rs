//! Plans owners: names with their mail, telephone and address.

use std::collections::HashMap;

use fettle_bench::{Language, OwnerDetails};

use super::{As, Group, Plan, Same, row::Reading};
use crate::{
    known::Known,
    map::{Columns, plain},
    table::Table,
    value::Unfit,
};

/// Those who may be meant by a name.
type ByName = HashMap<String, Vec<As>>;

pub(super) fn plan(table: &Table, columns: &Columns, known: &Known, plan: &mut Plan) {
    let mut by_name = ByName::new();
    let places: HashMap<i64, &OwnerDetails> = known
        .index
        .owners
        .iter()
        .map(|owner| (owner.id.get(), &owner.details))
        .collect();
    for owner in &known.index.owners {
        let as_known = As::Known(owner.id.get());
        by_name
            .entry(name_key(&owner.details.name))
            .or_default()
            .push(as_known);
    }
    // With the row in which each stands.
    let mut new: Vec<((u32, u32), OwnerDetails)> = Vec::new();
    for row in &table.rows {
        let mut reading = Reading::new(row, columns);
        let details = read(&mut reading);
        let place = reading.place();
        if !reading.wrong.is_empty() {
            plan.problems.append(&mut reading.wrong);
            continue;
        }
        let called = by_name.entry(name_key(&details.name)).or_default();
        let details_of = |it: As| match it {
            As::Known(id) => places.get(&id).copied(),
            As::Row(_, n) => new.get(n).map(|(_, details)| details),
        };
        let same = called
            .iter()
            .copied()
            .find(|it| details_of(*it).is_some_and(|other| is_same(other, &details)));
        let Some(same) = same else {
            called.push(As::Row(row.row, new.len()));
            new.push((place, details));
            continue;
        };
        let differs = match same {
            As::Known(_) => details_of(same).map(|other| differing(other, &details)),
            // What an earlier row left empty is filled from this one.
            As::Row(_, n) => new.get_mut(n).map(|(_, first)| {
                complete(first, &details);
                differing(first, &details)
            }),
        };
        plan.same.push(Same {
            row: place.0,
            line: place.1,
            known_as: same.told("owner"),
            differs: differs.unwrap_or_default(),
        });
    }
    for (place, details) in new {
        let mut group = Group::default();
        group.push(place, details);
        plan.groups.push(group);
    }
}

/// A name as it tells one owner from another; one without letters stands for itself.
pub(super) fn name_key(name: &str) -> String {
    match plain(name) {
        key if key.is_empty() => name.to_owned(),
        key => key,
    }
}

fn read(reading: &mut Reading<'_>) -> OwnerDetails {
    let parts = [reading.line("given-name"), reading.line("family-name")];
    let parts: Vec<&str> = parts
        .iter()
        .map(String::as_str)
        .filter(|part| !part.is_empty())
        .collect();
    let (whole, parts) = (reading.line("name"), parts.join(" "));
    let name = if whole.is_empty() {
        if parts.is_empty() {
            reading.needed("name", "the name")
        } else {
            parts
        }
    } else {
        whole
    };
    let (phone, mobile) = (reading.line("phone"), reading.line("mobile"));
    let mut note = reading.prose("note");
    let phone = if phone.is_empty() {
        mobile
    } else {
        if !mobile.is_empty() && mobile != phone {
            append(&mut note, &format!("mobile: {mobile}"));
        }
        phone
    };
    let country = reading.line("country");
    let code = is_code(&country).then(|| country.to_ascii_uppercase());
    OwnerDetails {
        name,
        email: reading.line("email"),
        phone,
        address: address(reading),
        note,
        language: reading.value("language", language),
        country: code.unwrap_or_default(),
    }
}

/// Whether a country is given by its two letters of ISO 3166-1; else it belongs into the address.
fn is_code(country: &str) -> bool {
    country.len() == 2 && country.bytes().all(|byte| byte.is_ascii_alphabetic())
}

fn language(cell: &str) -> Result<Language, Unfit> {
    match plain(cell).as_str() {
        "en" | "eng" | "english" | "englisch" => Ok(Language::English),
        "de" | "deu" | "ger" | "german" | "deutsch" => Ok(Language::German),
        _ => Err(Unfit::new(
            "is not a language of the papers",
            "write en or de, or leave it empty",
        )),
    }
}

/// The address as it is given, or in lines from its parts.
fn address(reading: &mut Reading<'_>) -> String {
    let mut address = reading.prose("address");
    let town = [reading.line("postcode"), reading.line("town")].join(" ");
    for part in [
        reading.line("street"),
        town.trim().to_owned(),
        Some(reading.line("country"))
            .filter(|country| !is_code(country))
            .unwrap_or_default(),
    ] {
        if !part.is_empty() && !plain(&address).contains(&plain(&part)) {
            append(&mut address, &part);
        }
    }
    address
}

fn append(text: &mut String, line: &str) {
    if !text.is_empty() {
        text.push('\n');
    }
    text.push_str(line);
}

fn contact(details: &OwnerDetails) -> [(&'static str, String); 3] {
    let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect();
    [
        ("email", details.email.to_lowercase()),
        ("phone", digits(&details.phone)),
        ("address", plain(&details.address)),
    ]
}

/// Whether two of one name are one: something by which they are reached is the same, or nothing that both have differs.
fn is_same(a: &OwnerDetails, b: &OwnerDetails) -> bool {
    let (a, b) = (contact(a), contact(b));
    let mut both = a
        .iter()
        .zip(&b)
        .filter(|((_, a), (_, b))| !a.is_empty() && !b.is_empty());
    let alike = |((_, a), (_, b)): (&(_, String), &(_, String))| a == b;
    both.clone().any(alike) || both.next().is_none()
}

/// Fields that both have and in which they differ, and those that only the row has.
fn differing(known: &OwnerDetails, row: &OwnerDetails) -> Vec<String> {
    let note = |details: &OwnerDetails| ("note", plain(&details.note));
    let of = |details| contact(details).into_iter().chain([note(details)]);
    of(known)
        .zip(of(row))
        .filter(|((_, known), (_, row))| !row.is_empty() && known != row)
        .map(|((name, _), _)| name.to_owned())
        .collect()
}

/// Fills what is empty.
fn complete(first: &mut OwnerDetails, other: &OwnerDetails) {
    for (field, value) in [
        (&mut first.email, &other.email),
        (&mut first.phone, &other.phone),
        (&mut first.address, &other.address),
        (&mut first.note, &other.note),
        (&mut first.country, &other.country),
    ] {
        if field.is_empty() {
            field.clone_from(value);
        }
    }
    first.language = first.language.or(other.language);
}
