//! Finds what was opened and never closed.

use crate::desk::{Draft, Span};
use crate::problem::ProblemKind;

/// A bracket, brace or text that is not closed before the next table begins or the file ends.
pub(super) struct Opening {
    pub(super) span: Span,
    what: Opened,
    next_table: Option<usize>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Opened {
    List,
    Braces,
    Text,
}

impl Opening {
    pub(super) fn draft(&self) -> Draft {
        let (what, close) = match self.what {
            Opened::List => ("list", "]"),
            Opened::Braces => ("table in braces", "}"),
            Opened::Text => ("text of several lines", "the same three quotes"),
        };
        let close = if close.len() == 1 {
            format!("`{close}`")
        } else {
            close.to_owned()
        };
        let message = format!("the {what} that opens here is not closed");
        let draft = Draft::error(ProblemKind::Syntax, &self.span, message).help(format!(
            "close it with {close}; what follows could not be read and may hold more"
        ));
        match self.next_table {
            Some(at) => draft.also(&(at..at + 1), "here the next table begins"),
            None => draft,
        }
    }
}

/// Finds the first bracket of a value, or text of several lines, that stays open; reads quotes and remarks as TOML does.
pub(super) fn left_open(text: &str) -> Option<Opening> {
    let mut open: Vec<(usize, Opened)> = Vec::new();
    let mut at = 0;
    let mut line_begins = true;
    let first = |open: &[(usize, Opened)], next_table| {
        open.first().map(|&(at, what)| Opening {
            span: at..at + 1,
            what,
            next_table,
        })
    };
    while let Some(c) = text.get(at..).and_then(|rest| rest.chars().next()) {
        let rest = &text[at..];
        if line_begins && c == '[' && (open.is_empty() || is_header(rest)) {
            if !open.is_empty() {
                return first(&open, Some(at));
            }
            at += line_length(rest);
            continue;
        }
        line_begins = c == '\n' || (line_begins && c.is_whitespace());
        at += match c {
            '#' => line_length(rest),
            '"' | '\'' => match quoted_length(rest, c) {
                Some(length) => length,
                None if open.is_empty() => {
                    return Some(Opening {
                        span: at..at + 3,
                        what: Opened::Text,
                        next_table: None,
                    });
                }
                None => return first(&open, None),
            },
            '[' | '{' => {
                open.push((
                    at,
                    if c == '[' {
                        Opened::List
                    } else {
                        Opened::Braces
                    },
                ));
                1
            }
            ']' | '}' => {
                open.pop();
                1
            }
            _ => c.len_utf8(),
        };
    }
    first(&open, None)
}

/// Whether the line is the head of a table, such as `[part.cover]`, and not a list of figures or texts.
fn is_header(rest: &str) -> bool {
    let line = rest[..line_length(rest)]
        .split('#')
        .next()
        .unwrap_or("")
        .trim();
    let name = line.trim_start_matches('[').trim_end_matches(']');
    let of_name = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_');
    line.ends_with(']')
        && name.starts_with(|c: char| c.is_ascii_alphabetic())
        && name.chars().all(of_name)
}

/// Bytes up to the line's end, without the line break.
fn line_length(rest: &str) -> usize {
    rest.find('\n').unwrap_or(rest.len())
}

/// Bytes of a quoted text with its quotes. One on a single line ends with its line at the latest; `None` when one of
/// several lines is not closed.
fn quoted_length(rest: &str, quote: char) -> Option<usize> {
    let triple: String = std::iter::repeat_n(quote, 3).collect();
    let several_lines = rest.starts_with(&triple);
    let mut escaped = false;
    for (n, c) in rest.char_indices().skip(if several_lines { 3 } else { 1 }) {
        if c == '\n' && !several_lines {
            return Some(n);
        }
        if escaped {
            escaped = false;
        } else if c == '\\' && quote == '"' {
            escaped = true;
        } else if several_lines && rest[n..].starts_with(&triple) {
            return Some(n + triple.len());
        } else if !several_lines && c == quote {
            return Some(n + 1);
        }
    }
    if several_lines {
        None
    } else {
        Some(rest.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn open_at(text: &str) -> Option<usize> {
        left_open(text).map(|open| open.span.start)
    }

    #[test]
    fn an_open_bracket_or_text_is_found_where_it_opens() {
        assert_eq!(open_at("[a]\nx = [1, 2\ny = 3\n[b]\n"), Some(8));
        assert_eq!(open_at("x = { a = 1\ny = 2"), Some(4));
        assert_eq!(open_at("x = [[1], [2]\n[a.b] # remark\n"), Some(4));
        assert_eq!(open_at("x = \"\"\"a\n[b]\n\"\""), Some(4));
    }

    #[test]
    fn brackets_in_texts_and_remarks_do_not_count() {
        let closed = [
            "x = \"[\" # [\n[a]\n",
            "x = '''\n[[\n'''\n",
            "x = [\n  [1, 2],\n  [3, 4],\n]\n",
            "x = \"\\\"[\"\n",
        ];
        for text in closed {
            assert_eq!(open_at(text), None, "{text}");
        }
    }
}
