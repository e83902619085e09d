//! What to say of a file that is not TOML.

use crate::desk::{Desk, Draft, Span, shorten};
use crate::problem::ProblemKind;
use crate::source::Source;

/// What a TOML reader says, what it means, and what to do: the first that begins alike holds.
const PLAIN: &[(&str, &str, &str)] = &[
    (
        "string values must be quoted",
        "a text stands here without quotes",
        "put it between quotes: `\"...\"`",
    ),
    (
        "missing opening quote",
        "a text ends with a quote but does not begin with one",
        "put a quote before it, or take the other away",
    ),
    (
        "invalid basic string",
        "a text is not closed, or holds a backslash that means nothing",
        "close it with `\"` on the same line; write `\\\\` for a backslash, and `\"\"\"` round a text of several lines",
    ),
    (
        "invalid multi-line basic string",
        "a text of several lines is not closed",
        "close it with `\"\"\"`",
    ),
    (
        "invalid literal string",
        "a text is not closed",
        "close it with `'` on the same line",
    ),
    (
        "invalid multi-line literal string",
        "a text of several lines is not closed",
        "close it with `'''`",
    ),
    (
        "missing escaped value",
        "a backslash in a text means nothing here",
        "write `\\\\` for a backslash",
    ),
    (
        "unclosed table",
        "the name of a table is not closed",
        "close it with `]`",
    ),
    (
        "unclosed array table",
        "the name of a table is not closed",
        "close it with as many `]` as it has `[`",
    ),
    (
        "unclosed inline table",
        "a brace is open",
        "close it with `}`",
    ),
    (
        "unclosed array",
        "a list is not closed",
        "close it with `]`",
    ),
    (
        "missing comma",
        "two values stand side by side",
        "put a comma between them",
    ),
    ("extra comma", "there is a comma too many", "take it away"),
    (
        "missing value",
        "the key has no value",
        "write a value after `=`, or take the line out",
    ),
    (
        "key with no value",
        "the key has no value",
        "write `key = value`; a text stands between quotes",
    ),
    (
        "missing assignment",
        "a key has no value",
        "write `key = value`",
    ),
    (
        "extra `=`",
        "there is an `=` too many",
        "write `key = value`",
    ),
    (
        "extra assignment",
        "there is an `=` too many",
        "write `key = value`",
    ),
    (
        "unexpected `=` in array",
        "a list holds a key",
        "put keys between braces: `[{ key = value }]`",
    ),
    ("missing key", "a value has no key", "write `key = value`"),
    (
        "unquoted keys cannot be empty",
        "a key is empty",
        "write a name before `=`",
    ),
    (
        "invalid unquoted key",
        "a key holds a character that it cannot",
        "keys are of a-z, 0-9, `-` and `_`",
    ),
    (
        "unexpected leading zero",
        "a figure begins with a nought",
        "take the nought away",
    ),
    (
        "unexpected key or value",
        "something follows the value on its line",
        "begin a new line, or join the value with quotes",
    ),
    (
        "unexpected content",
        "something stands here that does not belong",
        "begin a new line, or put `#` before a remark",
    ),
    (
        "carriage return",
        "a line ends in a lone carriage return",
        "save the file with ordinary line ends",
    ),
    (
        "invalid comment character",
        "a remark holds a control character",
        "take it out",
    ),
    (
        "cannot recurse",
        "brackets are nested too deep",
        "no table of the format is nested so deep",
    ),
    (
        "recursion limit",
        "a key has too many dots",
        "no key of the format has so many",
    ),
];

/// Reports what the TOML reader found; true when the rest of the file can still be trusted.
pub(crate) fn report(desk: &mut Desk<'_>, errors: &[toml::de::Error]) -> bool {
    let place = |e: &toml::de::Error| e.span().unwrap_or(0..0);
    let (twice, broken): (Vec<_>, Vec<_>) = errors.iter().partition(|e| is_duplicate(e.message()));
    let mut twice: Vec<Span> = twice.into_iter().map(place).collect();
    twice.sort_by_key(|span| span.start);
    let mut broken: Vec<(Span, &str)> = broken
        .into_iter()
        .map(|e| (place(e), e.message()))
        .collect();
    broken.sort_by_key(|(span, _)| span.start);

    let open = if broken.is_empty() {
        None
    } else {
        left_open(desk.source.text())
    };
    // Behind an open bracket or text the reader takes everything for its contents.
    let trusted = open.as_ref().map_or(usize::MAX, |open| open.span.start);
    slips(desk, broken.iter().filter(|(span, _)| span.start < trusted));
    if let Some(open) = &open {
        desk.report(open.draft());
    }
    duplicates(desk, twice.iter().filter(|span| span.start < trusted));
    broken.is_empty()
}

fn is_duplicate(message: &str) -> bool {
    message.starts_with("duplicate key") || message.starts_with("cannot extend")
}

/// Reports one slip a line: the reader stumbles over the same one several times.
fn slips<'e>(desk: &mut Desk<'_>, broken: impl Iterator<Item = &'e (Span, &'e str)>) {
    let mut last_line = None;
    for (span, message) in broken {
        let line = desk.source.line_of(span.start);
        if last_line != Some(line) {
            desk.report(slip(desk.source, message, span));
        }
        last_line = Some(line);
    }
}

/// What to say of one slip.
fn slip(source: &Source<'_>, message: &str, span: &Span) -> Draft {
    let given = shorten(source.slice(span).lines().next().unwrap_or(""));
    let rest = source
        .text()
        .get(span.start..)
        .unwrap_or("")
        .lines()
        .next()
        .unwrap_or("")
        .trim_start();
    let error = |what: &str, help: &str| Draft::error(ProblemKind::Syntax, span, what).help(help);
    let unquoted = message.starts_with("string values must be quoted");
    if unquoted && given.is_empty() {
        return error(
            "the key has no value",
            "write a value after `=`, or take the line out",
        );
    }
    if unquoted && given.starts_with(|c: char| c.is_ascii_digit()) {
        let help = "write a figure alone, without unit or percent sign (50 % is 0.5), and a text between quotes";
        return error(&format!("`{given}` is neither a figure nor a text"), help);
    }
    if rest.starts_with(':') {
        return error("a colon stands where `=` should", "write `key = value`");
    }
    if rest.starts_with(',') && message.starts_with("unexpected key or value") {
        let help = "write a decimal point in figures, and a list between `[` and `]`";
        return error("a comma follows the value", help);
    }
    match PLAIN
        .iter()
        .find(|(begins, ..)| message.starts_with(begins))
    {
        Some((_, what, help)) => error(what, help),
        None if given.is_empty() => {
            let help = "write `key = value`, texts between quotes, lists between `[` and `]`";
            error(&format!("this is not TOML: {message}"), help)
        }
        None => {
            let help =
                "write texts between quotes, figures and dates without, lists between `[` and `]`";
            error(&format!("`{given}` is not TOML: {message}"), help)
        }
    }
}

/// A bracket, brace or text that is not closed before the next table begins or the file ends.
struct Opening {
    span: Span,
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
    fn draft(&self) -> Draft {
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
fn left_open(text: &str) -> Option<Opening> {
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

/// Reports keys and tables that stand twice, but not again every key of a table that does.
fn duplicates<'e>(desk: &mut Desk<'_>, twice: impl Iterator<Item = &'e Span>) {
    let mut within_table_to = 0;
    for span in twice {
        if span.start < within_table_to {
            continue;
        }
        let source = desk.source;
        let line = source.line_of(span.start);
        let is_table = source.line(line).trim_start().starts_with('[');
        if is_table {
            let next =
                (line + 1..source.lines()).find(|&n| source.line(n).trim_start().starts_with('['));
            within_table_to = next.map_or(usize::MAX, |n| source.start_of(n));
        }
        let draft = duplicate(source, span, line, is_table);
        desk.report(draft);
    }
}

/// What to say of a key or table that stands twice, with the place of the first when it can be found.
fn duplicate(source: &Source<'_>, span: &Span, line: usize, is_table: bool) -> Draft {
    let (what, first) = if is_table {
        let header = source.line(line).split('#').next().unwrap_or("").trim();
        (
            format!("the table `{}`", shorten(header)),
            earlier_header(source, line, header),
        )
    } else {
        let name = source.slice(span);
        (
            format!("the key `{}`", shorten(name)),
            earlier_key(source, line, name),
        )
    };
    let draft = Draft::error(ProblemKind::Duplicate, span, format!("{what} stands twice"))
        .help("keep one of them, or give this one another name");
    match first {
        Some(first) => draft.also(&first, "it stands here already"),
        None => draft,
    }
}

fn earlier_header(source: &Source<'_>, line: usize, header: &str) -> Option<Span> {
    let same = |&n: &usize| {
        source
            .line(n)
            .split('#')
            .next()
            .is_some_and(|l| l.trim() == header)
    };
    let start = (0..line).find(same).map(|n| source.start_of(n))?;
    Some(start..start + header.len())
}

/// The same key at the beginning of a line, no further back than the table's header.
fn earlier_key(source: &Source<'_>, line: usize, name: &str) -> Option<Span> {
    for n in (0..line).rev() {
        let text = source.line(n);
        let trimmed = text.trim_start();
        if trimmed
            .strip_prefix(name)
            .is_some_and(|rest| rest.trim_start().starts_with('='))
        {
            let start = source.start_of(n) + text.len() - trimmed.len();
            return Some(start..start + name.len());
        }
        if trimmed.starts_with('[') {
            return None;
        }
    }
    None
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
