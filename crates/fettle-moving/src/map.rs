//! Which column holds which field: offered from the headings, and changed by whoever knows better.

use serde::Serialize;

use crate::{
    kind::{Field, Kind},
    problem::Problem,
    table::{Row, Table},
};

/// How alike a heading must be to a known name, from 0 to 1: one letter in six may be wrong.
const NEAR: f64 = 0.83;

/// Where the values of each field come from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Map {
    /// What the table brings.
    pub kind: Kind,
    /// The fields that have a source, in the order of the kind.
    pub sources: Vec<Source>,
    /// The headings of columns that nothing is taken from.
    pub unused: Vec<String>,
    headings: Vec<String>,
}

/// Where one field's values come from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Source {
    /// The field.
    pub field: &'static str,
    /// From what.
    #[serde(flatten)]
    pub from: From,
    /// How the two were brought together.
    pub known_by: How,
}

/// A column, or one value for every row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum From {
    /// The column with this heading.
    Heading(String),
    /// This value in every row.
    Value(String),
}

/// How a field was brought together with its source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// The heading is a name that the field is known by.
    Name,
    /// The heading is nearly such a name.
    Near,
    /// It was told.
    Told,
}

/// Offers a map for a table with these headings: known names in English and German first, then near misspellings. No column is
/// offered twice.
///
/// # Example
/// ```
/// use fettle_moving::{Kind, offer};
///
/// let headings = ["Seriennummer", "Hersteler", "Modell", "Farbe"].map(str::to_owned);
/// let map = offer(Kind::Cameras, &headings);
/// assert_eq!(map.heading("serial"), Some("Seriennummer"));
/// assert_eq!(map.heading("maker"), Some("Hersteler"));
/// assert_eq!(map.unused, ["Farbe"]);
/// ```
#[must_use]
pub fn offer(kind: Kind, headings: &[String]) -> Map {
    let mut map = Map {
        kind,
        sources: Vec::new(),
        unused: headings.to_vec(),
        headings: headings.to_vec(),
    };
    // Best first; among equals the field and the column that stand first.
    let mut fits: Vec<(f64, &Field, &String)> = Vec::new();
    for field in kind.fields() {
        for heading in headings {
            let fit = fit(field, heading);
            if fit >= NEAR {
                fits.push((fit, field, heading));
            }
        }
    }
    fits.sort_by(|(a, ..), (b, ..)| b.total_cmp(a));
    for (fit, field, heading) in fits {
        if map.source(field.name).is_none() && map.unused.contains(heading) {
            let how = if fit >= 1.0 { How::Name } else { How::Near };
            map.put(field.name, From::Heading(heading.clone()), how);
        }
    }
    map
}

impl Map {
    /// Takes a field from the column with this heading; `None` leaves it without a source. A heading that is told need not be
    /// written as in the table: capitals and white space do not count.
    ///
    /// # Errors
    /// When the kind has no such field, or the table no such heading: which there are.
    pub fn set(&mut self, field: &str, heading: Option<&str>) -> Result<(), String> {
        let field = self.known(field)?;
        let Some(heading) = heading else {
            self.drop(field);
            return Ok(());
        };
        let found = self.headings.iter().find(|it| *it == heading);
        let alike = || self.headings.iter().find(|it| plain(it) == plain(heading));
        let Some(found) = found.or_else(alike).cloned() else {
            return Err(format!(
                "the table has no heading `{heading}`; it has {}",
                self.headings.join(", ")
            ));
        };
        self.put(field, From::Heading(found), How::Told);
        Ok(())
    }

    /// Gives a field this value in every row.
    ///
    /// # Errors
    /// When the kind has no such field.
    pub fn set_value(&mut self, field: &str, value: &str) -> Result<(), String> {
        let field = self.known(field)?;
        self.put(field, From::Value(value.trim().to_owned()), How::Told);
        Ok(())
    }

    /// The heading of the column that a field is taken from.
    #[must_use]
    pub fn heading(&self, field: &str) -> Option<&str> {
        match self.source(field) {
            Some(From::Heading(heading)) => Some(heading),
            _ => None,
        }
    }

    /// The one value that a field has in every row.
    #[must_use]
    pub fn value(&self, field: &str) -> Option<&str> {
        match self.source(field) {
            Some(From::Value(value)) => Some(value),
            _ => None,
        }
    }

    /// Where a field's values come from.
    #[must_use]
    pub fn source(&self, field: &str) -> Option<&From> {
        let source = self.sources.iter().find(|source| source.field == field);
        source.map(|source| &source.from)
    }

    fn known(&self, name: &str) -> Result<&'static str, String> {
        let fields = self.kind.fields();
        let field = fields.iter().find(|field| field.name == name);
        field.map(|field| field.name).ok_or_else(|| {
            let names: Vec<&str> = fields.iter().map(|field| field.name).collect();
            format!(
                "{} have no field `{name}`; they have {}",
                self.kind,
                names.join(", ")
            )
        })
    }

    /// Each field and each column at most once: what was there gives way.
    fn put(&mut self, field: &'static str, from: From, known_by: How) {
        self.drop(field);
        if let From::Heading(heading) = &from {
            self.sources.retain(|source| source.from != from);
            self.unused.retain(|unused| unused != heading);
        }
        self.sources.push(Source {
            field,
            from,
            known_by,
        });
        let place = |name: &str| {
            self.kind
                .fields()
                .iter()
                .position(|field| field.name == name)
        };
        self.sources.sort_by_key(|source| place(source.field));
    }

    fn drop(&mut self, field: &str) {
        self.sources.retain(|source| source.field != field);
        let used = |heading: &String| {
            let from = From::Heading(heading.clone());
            self.sources.iter().any(|source| source.from == from)
        };
        self.unused = self
            .headings
            .iter()
            .filter(|it| !used(it))
            .cloned()
            .collect();
    }

    /// The columns as numbers, for reading rows; problems when a field that is needed has none.
    pub(crate) fn columns(&self, table: &Table) -> Result<Columns, Vec<Problem>> {
        let mut problems = Vec::new();
        for group in self.kind.needed() {
            if group.iter().all(|field| self.source(field).is_none()) {
                problems.push(self.lacking(group));
            }
        }
        let mut columns = Vec::new();
        for source in &self.sources {
            let from = match &source.from {
                From::Value(value) => Place::Value(value.clone()),
                From::Heading(heading) => {
                    match table.headings.iter().position(|it| it == heading) {
                        Some(column) => Place::Column(column, heading.clone()),
                        None => {
                            problems.push(Problem::whole(
                                format!("the table has no heading `{heading}`"),
                                "offer the columns anew for this table",
                            ));
                            continue;
                        }
                    }
                }
            };
            columns.push((source.field, from));
        }
        if problems.is_empty() {
            Ok(Columns(columns))
        } else {
            Err(problems)
        }
    }

    fn lacking(&self, group: &[&str]) -> Problem {
        let about = self
            .kind
            .fields()
            .iter()
            .find(|field| Some(&field.name) == group.first());
        let about = about.map_or("", |field| field.about);
        let first = group.first().copied().unwrap_or_default();
        Problem::whole(
            format!("no column holds {} ({about})", group.join(" or ")),
            format!(
                "say which does, or give one value for every row (on the command line --map {first}=HEADING or \
                 --set {first}=VALUE); the headings are {}",
                self.headings.join(", ")
            ),
        )
    }
}

/// Where each field stands in a row.
pub(crate) struct Columns(Vec<(&'static str, Place)>);

enum Place {
    Column(usize, String),
    Value(String),
}

impl Columns {
    /// What a row holds of a field; empty without a source.
    pub(crate) fn cell<'r>(&'r self, row: &'r Row, field: &str) -> &'r str {
        match self.place(field) {
            Some(Place::Column(column, _)) => row.cells.get(*column).map_or("", String::as_str),
            Some(Place::Value(value)) => value,
            None => "",
        }
    }

    /// What a field's column is called in problems.
    pub(crate) fn called<'r>(&'r self, field: &'r str) -> &'r str {
        match self.place(field) {
            Some(Place::Column(_, heading)) => heading,
            _ => field,
        }
    }

    fn place(&self, field: &str) -> Option<&Place> {
        let found = self.0.iter().find(|(name, _)| *name == field);
        found.map(|(_, place)| place)
    }
}

/// How well a heading fits a field, from 0 to 1.
fn fit(field: &Field, heading: &str) -> f64 {
    let heading = plain(heading);
    let names = std::iter::once(&field.name).chain(field.called);
    names
        .map(|name| {
            let name = plain(name);
            // Of very short names every second one is near.
            if name == heading {
                1.0
            } else if name.chars().count() < 4 {
                0.0
            } else {
                // A near name never beats a name.
                strsim::normalized_damerau_levenshtein(&name, &heading).min(0.99)
            }
        })
        .fold(0.0, f64::max)
}

/// A name without what writers differ in: capitals, accents of German, white space and signs.
pub(crate) fn plain(name: &str) -> String {
    let mut plain = String::new();
    for letter in name.chars().flat_map(char::to_lowercase) {
        match letter {
            'ä' => plain.push_str("ae"),
            'ö' => plain.push_str("oe"),
            'ü' => plain.push_str("ue"),
            'ß' => plain.push_str("ss"),
            letter if letter.is_alphanumeric() => plain.push(letter),
            _ => {}
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headings(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| (*name).to_owned()).collect()
    }

    #[test]
    fn every_field_is_offered_for_its_own_name_and_for_each_name_it_is_known_by() {
        for kind in Kind::ALL {
            for field in kind.fields() {
                for name in std::iter::once(&field.name).chain(field.called) {
                    let map = offer(kind, &headings(&["zzzz", name]));
                    let found: Vec<_> = map.sources.iter().map(|it| it.field).collect();
                    assert_eq!(found, [field.name], "{kind}: {name}");
                }
            }
        }
    }

    #[test]
    fn headings_are_known_in_two_languages_with_capitals_signs_and_slips() {
        let map = offer(
            Kind::Visits,
            &headings(&[
                "Kunde",
                "SERIEN-NR.",
                "Eingansdatum",
                "Ausgang",
                "Preis (€)",
                "Farbe",
            ]),
        );
        let got: Vec<_> = map
            .sources
            .iter()
            .map(|it| (it.field, map.heading(it.field).unwrap_or(""), it.known_by))
            .collect();
        assert_eq!(
            got,
            [
                ("owner", "Kunde", How::Name),
                ("serial", "SERIEN-NR.", How::Name),
                ("arrived", "Eingansdatum", How::Near),
                ("home", "Ausgang", How::Name),
                ("price", "Preis (€)", How::Name),
            ]
        );
        assert_eq!(map.unused, ["Farbe"]);
    }

    #[test]
    fn a_column_is_offered_once_and_the_better_name_has_it() {
        let map = offer(Kind::Owners, &headings(&["Name", "Nachname", "Vorname"]));
        assert_eq!(map.heading("name"), Some("Name"));
        assert_eq!(map.heading("family-name"), Some("Nachname"));
        assert_eq!(map.heading("given-name"), Some("Vorname"));
    }

    #[test]
    fn what_is_told_takes_the_place_of_what_was_offered() {
        let mut map = offer(Kind::Owners, &headings(&["Name", "Firma", "Mail"]));
        map.set("name", Some("firma")).unwrap();
        assert_eq!(map.heading("name"), Some("Firma"));
        assert_eq!(map.unused, ["Name"]);
        map.set("email", None).unwrap();
        assert_eq!(map.unused, ["Name", "Mail"]);
        map.set_value("country", "Norland").unwrap();
        assert_eq!(
            map.source("country"),
            Some(&From::Value("Norland".to_owned()))
        );
        let wrong = map.set("shoe", Some("Name")).unwrap_err();
        assert!(wrong.contains("family-name"), "{wrong}");
        let wrong = map.set("name", Some("Nome")).unwrap_err();
        assert!(wrong.contains("Name, Firma, Mail"), "{wrong}");
    }
}
