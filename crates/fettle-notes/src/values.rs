//! Reads single values: each reader reports what is wrong with its value and goes on.

use std::collections::HashMap;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::desk::{Desk, Draft, Kind, Span, shorten};
use crate::fields::Fields;
use crate::model::{Date, Id, Word};
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

    pub(crate) fn whole(&mut self, field: &Field<'_>, range: &Range) -> Option<u32> {
        let DeValue::Integer(i) = field.value else {
            self.wrong_type(
                field,
                "a whole number",
                "write a whole number without quotes, such as `2`",
            );
            return None;
        };
        let value = u32::from_str_radix(i.as_str(), i.radix()).ok();
        let value = value.filter(|v| range.contains(f64::from(*v)));
        if value.is_none() {
            self.out_of_range(field, range);
        }
        value
    }

    pub(crate) fn flag(&mut self, field: &Field<'_>) -> Option<bool> {
        if let DeValue::Boolean(flag) = field.value {
            return Some(*flag);
        }
        self.wrong_type(
            field,
            "true or false",
            "write `true` or `false` without quotes",
        );
        None
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

    /// One reference; `path` names it in what is told.
    pub(crate) fn reference<I: Id>(
        &mut self,
        field: &Field<'_>,
        path: &str,
        kind: Kind,
    ) -> Option<Ref<I>> {
        let Some(text) = field.value.as_str() else {
            self.wrong_type(field, "an id", "write the id between quotes");
            return None;
        };
        let at = self.resolve(kind, text, &field.span, path)?;
        Some(Ref {
            id: I::from_text(text)?,
            at,
            span: field.span.clone(),
        })
    }

    /// A list of references.
    pub(crate) fn refs<I: Id>(&mut self, field: &Field<'_>, kind: Kind) -> Vec<Ref<I>> {
        let items = self.list(field, "ids");
        let mut seen: HashMap<&str, Span> = HashMap::new();
        let mut found = Vec::new();
        for item in &items {
            let text = item.value.as_str().unwrap_or_default();
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
            if !text.is_empty() {
                seen.insert(text, item.span.clone());
            }
            found.extend(self.reference(item, &field.path, kind));
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

/// Words in a row: `a`, `b`, `c`.
pub(crate) fn listed<'w>(words: impl Iterator<Item = &'w str>) -> String {
    words
        .map(|w| format!("`{w}`"))
        .collect::<Vec<_>>()
        .join(", ")
}
