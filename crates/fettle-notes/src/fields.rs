//! Reads the keys of one TOML table: each reader takes a key, reports what is wrong with it and goes on.

use std::collections::HashMap;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::desk::{Desk, Draft, Kind, Span, shorten};
use crate::model::{Chance, Date, Id, Minutes, Word};
use crate::problem::ProblemKind;
use crate::range::{self, Range};

/// Longest text, in characters: a long page.
const TEXT_MAX: usize = 20_000;
/// Longest list.
const LIST_MAX: usize = 1000;

/// A value of the document with its place and its path for messages.
pub(crate) struct Field<'t> {
    pub(crate) value: &'t DeValue<'t>,
    pub(crate) span: Span,
    pub(crate) path: String,
}

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

/// The entries of a table in the file's order.
pub(crate) fn entries<'t>(
    table: &'t DeTable<'t>,
) -> Vec<(&'t str, Span, &'t Spanned<DeValue<'t>>)> {
    let mut entries: Vec<_> = table
        .iter()
        .map(|(key, value)| (key.get_ref().as_ref(), key.span(), value))
        .collect();
    entries.sort_by_key(|(_, span, _)| span.start);
    entries
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
            Some(field) => self.desk.count(&field),
            None => Some(1),
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

/// A resolved reference with its place.
pub(crate) struct Ref<I> {
    pub(crate) id: I,
    /// Where in its kind the thing stands.
    pub(crate) at: usize,
    pub(crate) span: Span,
}

/// The ids alone.
pub(crate) fn ids<I>(refs: Vec<Ref<I>>) -> Vec<I> {
    refs.into_iter().map(|r| r.id).collect()
}

impl<'s> Desk<'s> {
    /// Says that a value is not of the type asked for.
    pub(crate) fn wrong_type(&mut self, field: &Field<'_>, wanted: &str, help: &str) {
        let message = format!(
            "`{}` should be {wanted}, not {}",
            field.path,
            type_name(field.value)
        );
        self.report(Draft::error(ProblemKind::WrongType, &field.span, message).help(help));
    }

    pub(crate) fn text(&mut self, field: &Field<'_>) -> Option<String> {
        let Some(text) = field.value.as_str() else {
            let given = shorten(self.source.slice(&field.span));
            let help = if is_plain(field.value) {
                format!("put it between quotes: `\"{given}\"`")
            } else {
                "write a text between quotes".to_owned()
            };
            self.wrong_type(field, "a text", &help);
            return None;
        };
        let trimmed = text.trim();
        let draft = if trimmed.is_empty() {
            Draft::error(
                ProblemKind::Empty,
                &field.span,
                format!("`{}` is empty", field.path),
            )
            .help("write what is known, or leave the key out where the format allows it")
        } else if trimmed.chars().nth(TEXT_MAX).is_some() {
            Draft::error(
                ProblemKind::BadText,
                &field.span,
                format!("`{}` is longer than {TEXT_MAX} characters", field.path),
            )
            .help("say it shorter")
        } else if trimmed
            .chars()
            .any(|c| c.is_control() && c != '\n' && c != '\t' && c != '\r')
        {
            Draft::error(
                ProblemKind::BadText,
                &field.span,
                format!("`{}` holds a control character", field.path),
            )
            .help("write plain text; only line breaks and tabs are allowed beside it")
        } else {
            return Some(trimmed.to_owned());
        };
        self.report(draft);
        None
    }

    pub(crate) fn number(&mut self, field: &Field<'_>, range: &Range) -> Option<f64> {
        let value = match field.value {
            // A decimal integer reads as a float as it stands; only the other radices need the detour.
            DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse::<f64>().ok(),
            #[expect(
                clippy::cast_precision_loss,
                reason = "figures beyond 2^53 are far outside every range"
            )]
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix())
                .ok()
                .map(|n| n as f64),
            DeValue::Float(f) => f.as_str().parse::<f64>().ok(),
            _ => {
                let quoted = field
                    .value
                    .as_str()
                    .is_some_and(|t| t.trim().parse::<f64>().is_ok());
                let help = if quoted {
                    "take the quotes away"
                } else {
                    "write a figure with a decimal point and no unit"
                };
                self.wrong_type(field, "a number", help);
                return None;
            }
        };
        match value {
            // Adding nought turns a negative nought into a plain one.
            Some(value) if range.contains(value) => Some(value + 0.0),
            _ => {
                self.out_of_range(field, range);
                None
            }
        }
    }

    fn out_of_range(&mut self, field: &Field<'_>, range: &Range) {
        let given = shorten(self.source.slice(&field.span));
        let message = format!("`{}` is {given}", field.path);
        let help = if *range == range::CHANCE {
            "a chance lies from 0 to 1; write 25 % as 0.25".to_owned()
        } else {
            format!("it must be {range}")
        };
        self.report(Draft::error(ProblemKind::OutOfRange, &field.span, message).help(help));
    }

    /// A whole number from 1.
    pub(crate) fn count(&mut self, field: &Field<'_>) -> Option<u32> {
        let DeValue::Integer(i) = field.value else {
            self.wrong_type(
                field,
                "a whole number",
                "write a whole number without quotes, such as `2`",
            );
            return None;
        };
        let value = u32::from_str_radix(i.as_str(), i.radix()).ok();
        let value = value.filter(|v| range::COUNT.contains(f64::from(*v)));
        if value.is_none() {
            self.out_of_range(field, &range::COUNT);
        }
        value
    }

    pub(crate) fn word<W: Word>(&mut self, field: &Field<'_>) -> Option<W> {
        let spelled: Vec<String> = W::ALL.iter().map(ToString::to_string).collect();
        let all = listed(spelled.iter().map(String::as_str));
        let Some(text) = field.value.as_str() else {
            self.wrong_type(
                field,
                "a word",
                &format!("write one of {all}, between quotes"),
            );
            return None;
        };
        let found = W::from_word(text);
        if found.is_none() {
            let near = self.nearest_word(text, spelled.iter().map(String::as_str));
            let help = match near {
                Some(near) => format!("did you mean `{near}`? the words are {all}"),
                None => format!("write one of {all}"),
            };
            let message = format!(
                "`{}` is `{}`, which is not one of its words",
                field.path,
                shorten(text)
            );
            self.report(Draft::error(ProblemKind::UnknownWord, &field.span, message).help(help));
        }
        found
    }

    pub(crate) fn date(&mut self, field: &Field<'_>) -> Option<Date> {
        const HELP: &str = "write year, month and day without quotes, such as `2026-03-14`";
        let Some(stamp) = field.value.as_datetime() else {
            self.wrong_type(field, "a date", HELP);
            return None;
        };
        let day = stamp
            .date
            .filter(|_| stamp.time.is_none() && stamp.offset.is_none());
        let date = day.and_then(|d| Date::new(d.year, d.month, d.day));
        if date.is_none() {
            self.wrong_type(field, "a date alone", HELP);
        }
        date
    }

    /// The items of a list; a bare value is reported.
    pub(crate) fn list<'t>(&mut self, field: &Field<'t>, of: &str) -> Vec<Field<'t>> {
        let Some(array) = field.value.as_array() else {
            let given = shorten(self.source.slice(&field.span));
            let help = if is_plain(field.value) {
                format!("put it between square brackets: `[{given}]`")
            } else {
                "write a list between square brackets".to_owned()
            };
            self.wrong_type(field, &format!("a list of {of}"), &help);
            return Vec::new();
        };
        if array.len() > LIST_MAX {
            let message = format!("`{}` holds {} entries", field.path, array.len());
            self.report(
                Draft::error(ProblemKind::OutOfRange, &field.span, message)
                    .help(format!("a list holds at most {LIST_MAX}")),
            );
            return Vec::new();
        }
        array
            .iter()
            .enumerate()
            .map(|(n, item)| Field {
                value: item.get_ref(),
                span: item.span(),
                path: format!("{}[{}]", field.path, n + 1),
            })
            .collect()
    }

    pub(crate) fn numbers(&mut self, field: &Field<'_>, range: &Range) -> Vec<(f64, Span)> {
        let items = self.list(field, "numbers");
        items
            .iter()
            .filter_map(|item| Some((self.number(item, range)?, item.span.clone())))
            .collect()
    }

    pub(crate) fn pair(&mut self, field: &Field<'_>, range: &Range) -> Option<[f64; 2]> {
        let items = self.list(field, "two numbers");
        if field.value.is_array() && items.len() != 2 {
            let message = format!("`{}` holds {} figures, not two", field.path, items.len());
            self.report(
                Draft::error(ProblemKind::WrongType, &field.span, message)
                    .help("write two figures, such as `[36, 24]`"),
            );
            return None;
        }
        let figures: Vec<f64> = items
            .iter()
            .filter_map(|item| self.number(item, range))
            .collect();
        figures.try_into().ok()
    }

    /// The keys of a table.
    pub(crate) fn table<'t>(&mut self, field: &Field<'t>) -> Option<Fields<'_, 's, 't>> {
        let Some(table) = field.value.as_table() else {
            self.wrong_type(
                field,
                "a table",
                "write keys and values between braces: `{ key = value }`",
            );
            return None;
        };
        Some(Fields::new(
            self,
            table,
            field.span.clone(),
            field.path.clone(),
        ))
    }

    /// The entries of a table whose keys are ids or words of the author's choice, in the file's order.
    pub(crate) fn entries<'t>(&mut self, field: &Field<'t>) -> Vec<(&'t str, Span, Field<'t>)> {
        let Some(table) = field.value.as_table() else {
            self.wrong_type(
                field,
                "a table",
                "write keys and values between braces: `{ key = value }`",
            );
            return Vec::new();
        };
        entries(table)
            .into_iter()
            .map(|(key, span, value)| {
                let path = format!("{}.{}", field.path, shorten(key));
                (
                    key,
                    span,
                    Field {
                        value: value.get_ref(),
                        span: value.span(),
                        path,
                    },
                )
            })
            .collect()
    }

    /// A list of references.
    pub(crate) fn refs<I: Id>(&mut self, field: &Field<'_>, kind: Kind) -> Vec<Ref<I>> {
        let items = self.list(field, "ids");
        let mut seen: HashMap<&str, Span> = HashMap::new();
        let mut found = Vec::new();
        for item in &items {
            let Some(text) = item.value.as_str() else {
                self.wrong_type(item, "an id", "write the id between quotes");
                continue;
            };
            if let Some(first) = seen.get(text) {
                let message = format!("`{}` names `{}` twice", field.path, shorten(text));
                let draft = Draft::error(ProblemKind::Repeated, &item.span, message);
                self.report(
                    draft
                        .help("take one of them out")
                        .also(first, "it stands here already"),
                );
                continue;
            }
            seen.insert(text, item.span.clone());
            let at = self.resolve(kind, text, &item.span, &field.path);
            if let (Some(at), Some(id)) = (at, I::from_text(text)) {
                found.push(Ref {
                    id,
                    at,
                    span: item.span.clone(),
                });
            }
        }
        found
    }
}

/// Whether a value is written without brackets, braces or line breaks, so that it can be shown in a help.
fn is_plain(value: &DeValue<'_>) -> bool {
    match value {
        DeValue::Array(_) | DeValue::Table(_) => false,
        DeValue::String(text) => !text.contains('\n'),
        _ => true,
    }
}

/// The type of a value in plain words.
fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
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

/// Words in a row: `a`, `b`, `c`.
pub(crate) fn listed<'w>(words: impl Iterator<Item = &'w str>) -> String {
    words
        .map(|w| format!("`{w}`"))
        .collect::<Vec<_>>()
        .join(", ")
}
