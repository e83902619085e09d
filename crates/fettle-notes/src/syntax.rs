//! What to say of a file that is not TOML.

use std::ops::Range;

use crate::desk::{Desk, Draft, Span};
use crate::problem::ProblemKind;

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
    ("duplicate key", "", ""),
    ("cannot extend", "", ""),
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
    let mut last_line = None;
    let mut sound = true;
    for error in errors {
        let span = error.span().unwrap_or(0..0);
        if is_duplicate(error.message()) {
            duplicate(desk, &span);
            continue;
        }
        sound = false;
        // One slip makes the reader stumble several times in the same line.
        let line = desk.source.line_of(span.start);
        if last_line == Some(line) {
            continue;
        }
        last_line = Some(line);
        let draft = broken(desk, error.message(), &span);
        desk.report(draft);
    }
    sound
}

fn is_duplicate(message: &str) -> bool {
    message.starts_with("duplicate key") || message.starts_with("cannot extend")
}

fn broken(desk: &Desk<'_>, message: &str, span: &Span) -> Draft {
    let known = PLAIN
        .iter()
        .find(|(begins, ..)| message.starts_with(begins));
    let given = crate::desk::shorten(desk.source.slice(span).lines().next().unwrap_or(""));
    match known {
        Some((_, what, help)) => Draft::error(ProblemKind::Syntax, span, *what).help(*help),
        None if given.is_empty() => Draft::error(
            ProblemKind::Syntax,
            span,
            format!("this is not TOML: {message}"),
        )
        .help("write `key = value`, texts between quotes, lists between `[` and `]`"),
        None => Draft::error(
            ProblemKind::Syntax,
            span,
            format!("`{given}` is not TOML: {message}"),
        )
        .help("write texts between quotes, figures and dates without, lists between `[` and `]`"),
    }
}

/// Reports a key or table that stands twice, with the place of the first when it can be found.
fn duplicate(desk: &mut Desk<'_>, span: &Span) {
    let source = desk.source;
    let name = source.slice(span).to_owned();
    let line = source.line_of(span.start);
    let text = source.line(line).trim();
    let (what, first) = if text.starts_with('[') {
        let header = text.split('#').next().unwrap_or("").trim();
        (
            format!("the table `{}`", crate::desk::shorten(header)),
            earlier_header(desk, line, header),
        )
    } else {
        (
            format!("the key `{}`", crate::desk::shorten(&name)),
            earlier_key(desk, line, &name),
        )
    };
    let draft = Draft::error(ProblemKind::Duplicate, span, format!("{what} stands twice"))
        .help("keep one of them, or give this one another name");
    desk.report(match first {
        Some(first) => draft.also(&first, "it stands here already"),
        None => draft,
    });
}

fn earlier_header(desk: &Desk<'_>, line: usize, header: &str) -> Option<Range<usize>> {
    let at = (0..line).find(|&n| {
        desk.source
            .line(n)
            .split('#')
            .next()
            .is_some_and(|l| l.trim() == header)
    })?;
    let start = desk.source.start_of(at);
    Some(start..start + header.len())
}

/// The same key at the beginning of a line, no further back than the table's header.
fn earlier_key(desk: &Desk<'_>, line: usize, name: &str) -> Option<Range<usize>> {
    for n in (0..line).rev() {
        let text = desk.source.line(n);
        let trimmed = text.trim_start();
        let begins = trimmed
            .strip_prefix(name)
            .is_some_and(|rest| rest.trim_start().starts_with('='));
        if begins {
            let start = desk.source.start_of(n) + text.len() - trimmed.len();
            return Some(start..start + name.len());
        }
        if trimmed.starts_with('[') {
            return None;
        }
    }
    None
}
