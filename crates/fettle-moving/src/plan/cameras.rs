//! Plans cameras: models with their serial numbers.

use std::collections::HashMap;

use fettle_bench::{CameraDetails, Serial};

use super::{As, Group, Plan, Same, Terms, row::Reading};
use crate::{
    known::Known,
    map::{Columns, plain},
    table::Table,
    value::Unfit,
};

/// Fields that hold serial numbers, and where on the camera each stands.
const SERIALS: [(&str, &str); 2] = [("serial", "body"), ("lens-serial", "lens")];

/// Cameras with a serial number, by it.
#[derive(Default)]
pub(super) struct BySerial(HashMap<String, Vec<(As, CameraDetails)>>);

/// A serial number as it tells one camera from another.
pub(super) fn serial_key(number: &str) -> String {
    match plain(number) {
        key if key.is_empty() => number.to_owned(),
        key => key,
    }
}

impl BySerial {
    pub(super) fn of(known: &Known) -> Self {
        let mut by_serial = Self::default();
        for camera in &known.index.cameras {
            by_serial.add(As::Known(camera.id.get()), &camera.details);
        }
        by_serial
    }

    fn add(&mut self, it: As, details: &CameraDetails) {
        for serial in &details.serials {
            let key = serial_key(&serial.number);
            self.0.entry(key).or_default().push((it, details.clone()));
        }
    }

    /// Those with this number.
    pub(super) fn with(&self, number: &str) -> &[(As, CameraDetails)] {
        self.0.get(&serial_key(number)).map_or(&[], Vec::as_slice)
    }
}

pub(super) fn plan(
    table: &Table,
    columns: &Columns,
    known: &Known,
    terms: &Terms,
    plan: &mut Plan,
) {
    let mut by_serial = BySerial::of(known);
    let mut without_serial = without_serial(known);
    for row in &table.rows {
        let mut reading = Reading::new(row, columns);
        let details = read(&mut reading, known);
        let place = reading.place();
        let same = same(&mut reading, &details, &by_serial, terms).or_else(|| {
            let left = without_serial.get_mut(&key_without_serial(&details)?)?;
            Some((As::Known(left.pop()?), Vec::new()))
        });
        if !reading.wrong.is_empty() {
            plan.problems.append(&mut reading.wrong);
            continue;
        }
        if let Some((same, differs)) = same {
            plan.same.push(Same {
                row: place.0,
                line: place.1,
                known_as: same.told("camera"),
                differs,
            });
            continue;
        }
        by_serial.add(As::Row(row.row, 0), &details);
        let mut group = Group::default();
        group.push(place, details);
        plan.groups.push(group);
    }
}

fn read(reading: &mut Reading<'_>, known: &Known) -> CameraDetails {
    let (maker, model) = (reading.line("maker"), reading.needed("model", "the model"));
    let notes_id = reading.value("service-notes", |id| {
        known
            .notes(id)
            .map(|notes| notes.model.id.as_str().to_owned())
            .ok_or_else(|| {
                Unfit::new(
                    "is not the id of service notes of this bench",
                    "correct it, or put the notes into its folder first",
                )
            })
    });
    let found = || {
        known
            .notes_of(&maker, &model)
            .map(|notes| notes.model.id.as_str().to_owned())
    };
    let serials = SERIALS
        .iter()
        .map(|(field, at)| Serial {
            at: (*at).to_owned(),
            number: reading.line(field),
        })
        .filter(|serial| !serial.number.is_empty())
        .collect();
    CameraDetails {
        notes_id: notes_id.or_else(found),
        maker,
        model,
        serials,
        note: reading.prose("note"),
    }
}

/// Whether makers and models are the same; a maker may be missing.
pub(super) fn same_model(a: &CameraDetails, b: &CameraDetails) -> bool {
    let (makers, models) = (
        [plain(&a.maker), plain(&b.maker)],
        [plain(&a.model), plain(&b.model)],
    );
    let [a_maker, b_maker] = &makers;
    let [a_model, b_model] = &models;
    let makers_fit = a_maker == b_maker || a_maker.is_empty() || b_maker.is_empty();
    (makers_fit && a_model == b_model)
        || format!("{a_maker}{a_model}") == format!("{b_maker}{b_model}")
}

/// The camera that a row's serial numbers are already those of, with the fields that differ. A number that is another camera's is a
/// problem.
fn same(
    reading: &mut Reading<'_>,
    details: &CameraDetails,
    by_serial: &BySerial,
    terms: &Terms,
) -> Option<(As, Vec<String>)> {
    let mut same: Option<(As, Vec<String>)> = None;
    for (field, at) in SERIALS {
        let Some(serial) = details.serials.iter().find(|serial| serial.at == at) else {
            continue;
        };
        let others = by_serial.with(&serial.number);
        let alike = others.iter().find(|(_, other)| same_model(other, details));
        match alike {
            Some((it @ As::Known(_), other)) => {
                same.get_or_insert((*it, differing(other, details)));
            }
            Some((it @ As::Row(..), other)) if other == details => {
                same.get_or_insert((*it, Vec::new()));
            }
            Some((As::Row(row, _), _)) => {
                let why = format!("stands in row {row} too, which is otherwise not the same");
                reading.unfit(
                    field,
                    Unfit::new(why, "make the rows equal, or correct one number"),
                );
            }
            None if terms.same_serials || same.is_some() => {}
            None => {
                if let Some((it, other)) = others.first() {
                    let of = match it {
                        As::Known(id) => format!("is that of camera {id}, {}", other.name()),
                        As::Row(row, _) => format!("stands in row {row} too, for {}", other.name()),
                    };
                    let remedy = "correct it, or let cameras of different models have the same number with --same-serials";
                    reading.unfit(field, Unfit::new(of, remedy));
                }
            }
        }
    }
    same
}

fn differing(known: &CameraDetails, row: &CameraDetails) -> Vec<String> {
    let mut differs = Vec::new();
    let has = |serial: &Serial| {
        let key = serial_key(&serial.number);
        known
            .serials
            .iter()
            .any(|other| serial_key(&other.number) == key)
    };
    if !row.serials.iter().all(has) {
        differs.push("serial".to_owned());
    }
    if !row.note.is_empty() && plain(&row.note) != plain(&known.note) {
        differs.push("note".to_owned());
    }
    differs
}

/// How one tells cameras without a serial number; `None` for one with.
fn key_without_serial(details: &CameraDetails) -> Option<String> {
    let words = [&details.maker, &details.model, &details.note].map(|text| plain(text));
    details.serials.is_empty().then(|| words.join("\n"))
}

/// Known cameras without a serial number: each stands for one row of the same words.
fn without_serial(known: &Known) -> HashMap<String, Vec<i64>> {
    let mut by_words: HashMap<String, Vec<i64>> = HashMap::new();
    for camera in known.index.cameras.iter().rev() {
        if let Some(key) = key_without_serial(&camera.details) {
            by_words.entry(key).or_default().push(camera.id.get());
        }
    }
    by_words
}
