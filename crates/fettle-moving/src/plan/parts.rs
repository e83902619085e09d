//! Plans parts: lots in drawers, which are named where they are not there yet.

use std::collections::HashMap;

use fettle_bench::{DrawerId, DrawerNamed, Grade, Money, PartOf, PartStored};

use super::{Group, Plan, Same, Terms, row::Reading};
use crate::{
    known::{self, Known, model_name},
    map::{Columns, plain},
    table::Table,
    value::{Unfit, amount, count},
};

/// What each grade is called besides its own name.
const GRADES: [(Grade, &[&str]); 4] = [
    (
        Grade::Original,
        &[
            "original",
            "orig",
            "nos",
            "new old stock",
            "genuine",
            "originalteil",
            "werksteil",
        ],
    ),
    (
        Grade::Reproduction,
        &[
            "reproduction",
            "repro",
            "replica",
            "aftermarket",
            "nachbau",
            "nachfertigung",
            "reproduktion",
        ],
    ),
    (
        Grade::Salvaged,
        &[
            "salvaged",
            "used",
            "second hand",
            "donor",
            "gebraucht",
            "ausgebaut",
            "spender",
            "ausgeschlachtet",
        ],
    ),
    (
        Grade::Made,
        &[
            "made",
            "made here",
            "own make",
            "handmade",
            "eigenbau",
            "selbst gemacht",
            "angefertigt",
        ],
    ),
];

/// New parts of one drawer, with the rows that they come from.
struct Filled {
    /// `None` for a drawer that is not there yet.
    drawer: Option<DrawerId>,
    name: String,
    place: String,
    lots: Vec<((u32, u32), PartStored)>,
}

pub(super) fn plan(
    table: &Table,
    columns: &Columns,
    known: &Known,
    terms: &Terms,
    plan: &mut Plan,
) {
    let mut there = there(known);
    // The record tells drawers apart without regard to the capitals of A to Z.
    let drawers: HashMap<String, DrawerId> = known
        .index
        .drawers
        .iter()
        .map(|(id, name)| (name.to_ascii_lowercase(), *id))
        .collect();
    let mut filled: Vec<Filled> = Vec::new();
    let mut place_of: HashMap<String, usize> = HashMap::new();
    for row in &table.rows {
        let mut reading = Reading::new(row, columns);
        let name = reading.needed("drawer", "the drawer");
        let place = reading.line("place");
        let stored = read(&mut reading, known, terms);
        let Some(mut stored) = stored.filter(|_| reading.wrong.is_empty()) else {
            plan.problems.append(&mut reading.wrong);
            continue;
        };
        let known_lot = there.get_mut(&key(&stored)).and_then(Vec::pop);
        if let Some(lot) = known_lot {
            plan.same.push(Same {
                row: row.row,
                line: row.line,
                known_as: format!("lot {lot}"),
                differs: Vec::new(),
            });
            continue;
        }
        let at = *place_of
            .entry(name.to_ascii_lowercase())
            .or_insert_with(|| {
                filled.push(Filled {
                    drawer: drawers.get(&name.to_ascii_lowercase()).copied(),
                    name: name.clone(),
                    place: String::new(),
                    lots: Vec::new(),
                });
                filled.len() - 1
            });
        if let Some(drawer) = filled.get_mut(at) {
            if drawer.place.is_empty() {
                drawer.place = place;
            }
            stored.drawer = drawer.drawer.unwrap_or(DrawerId::LATEST);
            drawer.lots.push((reading.place(), stored));
        }
    }
    for drawer in filled {
        let mut group = Group::default();
        if let (None, Some((place, _))) = (drawer.drawer, drawer.lots.first()) {
            let named = DrawerNamed {
                drawer: None,
                name: drawer.name,
                place: drawer.place,
            };
            group.push(*place, named);
        }
        for (place, stored) in drawer.lots {
            group.push(place, stored);
        }
        plan.groups.push(group);
    }
}

fn read(reading: &mut Reading<'_>, known: &Known, terms: &Terms) -> Option<PartStored> {
    let words = reading.needed("part", "the part");
    let of = part_of(reading, known, &words);
    let grade = reading.needed_value("grade", "the grade", grade);
    let decimal = terms.habits.decimal;
    let quantity = reading.needed_value("quantity", "the count", |cell| {
        match count(cell, decimal)? {
            0 => Err(Unfit::new("is none", "take the row out: a lot has pieces")),
            pieces => Ok(pieces),
        }
    });
    let currency = reading.value("currency", |cell| {
        cell.parse()
            .map_err(|_| Unfit::new("is not a currency", "write its three letters, such as EUR"))
    });
    let currency = currency.unwrap_or(known.currency);
    let price = reading.value("price", |cell| amount(cell, currency, decimal));
    let minimum = reading.value("minimum", |cell| count(cell, decimal));
    let (source, note) = (reading.line("source"), reading.prose("note"));
    Some(PartStored {
        of,
        grade: grade?,
        quantity: quantity?,
        price,
        source,
        drawer: DrawerId::LATEST,
        minimum,
        note,
    })
}

fn part_of(reading: &mut Reading<'_>, known: &Known, words: &str) -> PartOf {
    let (maker, model) = (reading.line("maker"), reading.line("model"));
    let told = reading.value("service-notes", |id| {
        known.notes(id).ok_or_else(|| {
            Unfit::new(
                "is not the id of service notes of this bench",
                "correct it, or put the notes into its folder first",
            )
        })
    });
    let found = || known.notes_of(&maker, &model).filter(|_| !model.is_empty());
    match told.or_else(found) {
        Some(notes) => PartOf {
            notes_id: Some(notes.model.id.as_str().to_owned()),
            model: model_name(notes),
            part: known::part(Some(notes), words),
        },
        None => PartOf {
            notes_id: None,
            model: format!("{maker} {model}").trim().to_owned(),
            part: known::part(None, words),
        },
    }
}

fn grade(cell: &str) -> Result<Grade, Unfit> {
    let wanted = plain(cell);
    let is = |names: &&[&str]| names.iter().any(|name| plain(name) == wanted);
    GRADES
        .into_iter()
        .find_map(|(grade, names)| is(&names).then_some(grade))
        .ok_or_else(|| {
            Unfit::new(
                "is no grade",
                "write original, reproduction, salvaged or made",
            )
        })
}

/// What tells one lot from another, wherever it lies.
fn key_of(
    of: &PartOf,
    grade: Grade,
    price: Option<Money>,
    source: &str,
    note: &str,
    pieces: u32,
) -> String {
    let model = of.notes_id.as_deref().unwrap_or(&of.model);
    let price = price.map(|price| (price.amount.normalize(), price.currency));
    format!(
        "{model}\n{}\n{grade}\n{price:?}\n{source}\n{note}\n{pieces}",
        of.part.key()
    )
}

fn key(it: &PartStored) -> String {
    key_of(
        &it.of,
        it.grade,
        it.price,
        &it.source,
        &it.note,
        it.quantity,
    )
}

/// Known lots: each stands for one row that says the same.
fn there(known: &Known) -> HashMap<String, Vec<i64>> {
    let mut there: HashMap<String, Vec<i64>> = HashMap::new();
    for lot in known.index.lots.iter().rev() {
        let key = key_of(
            &lot.of,
            lot.grade,
            lot.price,
            &lot.source,
            &lot.note,
            lot.stored,
        );
        there.entry(key).or_default().push(lot.lot.get());
    }
    there
}
