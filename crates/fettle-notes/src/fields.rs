//! Reads the keys of one TOML table: each reader takes a key, reports what is wrong with it and goes on.

use toml::de::DeTable;

use crate::desk::{Desk, Draft, Kind, Span, shorten};
use crate::model::{Chance, Date, Id, Minutes, Word};
use crate::problem::ProblemKind;
use crate::range::{self, Range};
use crate::values::{Field, Ref, entries, listed};

/// The keys of one table, read one by one; `finish` reports those that nobody asked for.
pub(crate) struct Fields<'d, 's, 't> {
    pub(crate) desk: &'d mut Desk<'s>,
    table: &'t DeTable<'t>,
    /// Where a missing key is told: the table's name or opening bracket.
    pub(crate) span: Span,
    /// The table as messages name it; empty for the file itself.
    pub(crate) path: String,
    asked: Vec<&'static str>,
    disregarded: bool,
}

impl<'d, 's, 't> Fields<'d, 's, 't> {
    pub(crate) fn new(
        desk: &'d mut Desk<'s>,
        table: &'t DeTable<'t>,
        span: Span,
        path: String,
    ) -> Self {
        Self {
            desk,
            table,
            span,
            path,
            asked: Vec::new(),
            disregarded: false,
        }
    }

    fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// The value of a key, when there is one.
    pub(crate) fn optional(&mut self, key: &'static str) -> Option<Field<'t>> {
        self.asked.push(key);
        let value = self.table.get(key)?;
        Some(Field {
            value: value.get_ref(),
            span: value.span(),
            path: self.path_of(key),
        })
    }

    /// The value of a key that must be there; `example` is a line that would be right.
    pub(crate) fn required(&mut self, key: &'static str, example: &str) -> Option<Field<'t>> {
        let field = self.optional(key);
        if field.is_none() {
            let inside = if self.path.is_empty() {
                "the file".to_owned()
            } else {
                format!("`{}`", self.path)
            };
            let draft = Draft::error(
                ProblemKind::Missing,
                &self.span,
                format!("{inside} lacks the key `{key}`"),
            );
            self.desk
                .report(draft.help(format!("add, for example, `{key} = {example}`")));
        }
        field
    }

    pub(crate) fn text(&mut self, key: &'static str, example: &str) -> Option<String> {
        let field = self.required(key, example)?;
        self.desk.text(&field)
    }

    pub(crate) fn text_if_any(&mut self, key: &'static str) -> Option<String> {
        let field = self.optional(key)?;
        self.desk.text(&field)
    }

    pub(crate) fn number(
        &mut self,
        key: &'static str,
        range: &Range,
        example: &str,
    ) -> Option<f64> {
        let field = self.required(key, example)?;
        self.desk.number(&field, range)
    }

    pub(crate) fn number_if_any(&mut self, key: &'static str, range: &Range) -> Option<f64> {
        let field = self.optional(key)?;
        self.desk.number(&field, range)
    }

    pub(crate) fn chance(&mut self, key: &'static str, example: &str) -> Option<Chance> {
        self.number(key, &range::CHANCE, example)
            .and_then(|value| Chance::new(value).ok())
    }

    pub(crate) fn minutes(&mut self, example: &str) -> Option<Minutes> {
        self.number("minutes", &range::MINUTES, example)
            .and_then(|value| Minutes::new(value).ok())
    }

    /// A whole number from 1; 1 when the key is not there.
    pub(crate) fn count(&mut self) -> Option<u32> {
        match self.optional("count") {
            Some(field) => self.desk.whole(&field, &range::COUNT),
            None => Some(1),
        }
    }

    /// Whether something holds; not when the key is not there.
    pub(crate) fn flag(&mut self, key: &'static str) -> Option<bool> {
        match self.optional(key) {
            Some(field) => self.desk.flag(&field),
            None => Some(false),
        }
    }

    pub(crate) fn word<W: Word>(&mut self, key: &'static str) -> Option<W> {
        let example = W::ALL
            .first()
            .map_or_else(String::new, |w| format!("\"{w}\""));
        let field = self.required(key, &example)?;
        self.desk.word(&field)
    }

    pub(crate) fn word_if_any<W: Word>(&mut self, key: &'static str) -> Option<W> {
        let field = self.optional(key)?;
        self.desk.word(&field)
    }

    pub(crate) fn date(&mut self, key: &'static str) -> Option<Date> {
        let field = self.required(key, "2026-03-14")?;
        self.desk.date(&field)
    }

    pub(crate) fn texts(&mut self, key: &'static str) -> Vec<String> {
        let Some(field) = self.optional(key) else {
            return Vec::new();
        };
        let items = self.desk.list(&field, "texts");
        items
            .iter()
            .filter_map(|item| self.desk.text(item))
            .collect()
    }

    pub(crate) fn numbers(&mut self, key: &'static str, range: &Range) -> Vec<(f64, Span)> {
        let Some(field) = self.optional(key) else {
            return Vec::new();
        };
        self.desk.numbers(&field, range)
    }

    /// Exactly two figures, such as width and height.
    pub(crate) fn pair(
        &mut self,
        key: &'static str,
        range: &Range,
        example: &str,
    ) -> Option<[f64; 2]> {
        let field = self.required(key, example)?;
        self.desk.pair(&field, range)
    }

    /// The id of one thing; a reference that leads nowhere is reported.
    pub(crate) fn some_ref<I: Id>(&mut self, key: &'static str, kind: Kind) -> Option<Ref<I>> {
        let field = self.required(key, "\"...\"")?;
        self.desk.reference(&field, &field.path, kind)
    }

    pub(crate) fn ref_if_any<I: Id>(&mut self, key: &'static str, kind: Kind) -> Option<Ref<I>> {
        let field = self.optional(key)?;
        self.desk.reference(&field, &field.path, kind)
    }

    /// Ids of one kind; references that lead nowhere or stand twice are reported.
    pub(crate) fn refs<I: Id>(&mut self, key: &'static str, kind: Kind) -> Vec<Ref<I>> {
        let Some(field) = self.optional(key) else {
            return Vec::new();
        };
        self.desk.refs(&field, kind)
    }

    /// Ids of one kind, at least one.
    pub(crate) fn some_refs<I: Id>(
        &mut self,
        key: &'static str,
        kind: Kind,
    ) -> Option<Vec<Ref<I>>> {
        let field = self.required(key, &format!("[\"{}\"]", example_id(kind)))?;
        let found = self.desk.refs(&field, kind);
        if field.value.as_array().is_some_and(|a| a.is_empty()) {
            self.desk.report(
                Draft::error(
                    ProblemKind::Empty,
                    &field.span,
                    format!("`{}` is empty", field.path),
                )
                .help(format!("name at least one {}", kind.as_str())),
            );
        }
        Some(found)
    }

    /// A table within this one.
    pub(crate) fn table(&mut self, key: &'static str) -> Option<Fields<'_, 's, 't>> {
        let field = self.optional(key)?;
        self.desk.table(&field)
    }

    /// A list of tables within this one, each read by `read`.
    pub(crate) fn tables<T>(
        &mut self,
        key: &'static str,
        mut read: impl FnMut(Fields<'_, 's, 't>) -> Option<T>,
    ) -> Vec<T> {
        let Some(field) = self.optional(key) else {
            return Vec::new();
        };
        let items = self.desk.list(&field, "tables in braces");
        let mut found = Vec::new();
        for item in &items {
            if let Some(fields) = self.desk.table(item) {
                found.extend(read(fields));
            }
        }
        found
    }

    /// Lets keys stand that nobody asks for.
    pub(crate) fn disregard(&mut self) {
        self.disregarded = true;
    }

    /// Reports every key that nobody asked for.
    pub(crate) fn finish(self) {
        if self.disregarded {
            return;
        }
        for (key, span, _) in entries(self.table) {
            if self.asked.contains(&key) {
                continue;
            }
            let inside = if self.path.is_empty() {
                "a file of service notes".to_owned()
            } else {
                format!("`{}`", self.path)
            };
            let message = format!("`{}` is not a key of {inside}", shorten(key));
            let near = self.desk.nearest_word(key, self.asked.iter().copied());
            let help = match near {
                Some(near) if self.table.contains_key(near) => {
                    format!("`{near}` stands there already; take this one out")
                }
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the keys here are {}", listed(self.asked.iter().copied())),
            };
            self.desk
                .report(Draft::error(ProblemKind::UnknownKey, &span, message).help(help));
        }
    }
}

fn example_id(kind: Kind) -> &'static str {
    match kind {
        Kind::Part | Kind::Removal => "top-cover",
        Kind::Circumstance => "long-rest",
        Kind::Fault => "hardened-grease",
        Kind::Sign => "slow-speeds-hang",
        Kind::Work => "clean-gear-train",
        Kind::Setting => "focus-register",
        Kind::Limit => "register",
    }
}
